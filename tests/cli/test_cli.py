"""The command as a person calls it."""

import json
import re
import subprocess
import sys
from io import BytesIO

import pytest
from evenfall.cli.command import main
from evenfall.record.file import read_record
from evenfall.record.samples import SHOWS, folder
from evenfall.result.assessment import assess

from ..conftest import GRID


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "test.toml"
    path.write_text(GRID, "utf-8")
    return path


@pytest.mark.parametrize("name", SHOWS)
@pytest.mark.parametrize("units", ["metric", "US"])
def test_the_text_fits_eighty_columns(name, units, capsys):
    assert main(["assess", str(folder() / f"{name}.toml"), "--units", units]) == 0
    shown = capsys.readouterr().out
    assert max(map(len, shown.splitlines())) <= 80
    assert not re.search(r"\bnan\b|\bNone\b|(?<!\d)-0|\x1b", shown)


def test_text_and_json_give_the_same_figures(file, capsys):
    main(["assess", str(file)])
    shown = capsys.readouterr().out
    main(["assess", str(file), "--json"])
    plain = json.loads(capsys.readouterr().out)
    assert re.search(rf"CU +{plain['at_the_cans']['cu']:.0f} % ", shown)
    assert re.search(rf"DUlq +{plain['at_the_cans']['du_low_quarter']:.0f} % ", shown)
    assert plain["catch"]["mean_mm"] == pytest.approx(assess(read_record(file)).catch.mean_mm, rel=1e-5)


def test_the_small_map_has_its_dry_end_below(file, capsys):
    main(["assess", str(file)])
    drawn = [line.split("|")[1] for line in capsys.readouterr().out.splitlines() if line.count("|") == 2]
    assert drawn[-1][0] in "23" and drawn[0][-1] in "o#"  # the inlet end at the left edge got least


def test_units_follow_the_record(capsys):
    main(["assess", str(folder() / "blocked-head.toml")])
    assert " ft from the inlet end" in capsys.readouterr().out
    main(["assess", str(folder() / "commissioning.toml")])
    assert " m from the inlet end" in capsys.readouterr().out


def test_dry_under_moves_the_threshold(capsys):
    counts = []
    for percent in ("50", "75", "95"):
        main(["assess", str(folder() / "commissioning.toml"), "--json", "--dry-under", percent])
        counts.append(sum(spot["area_m2"] for spot in json.loads(capsys.readouterr().out)["dry_spots"]))
    assert counts[0] < counts[1] < counts[2]


@pytest.mark.parametrize("words", [["assess", "x.toml", "--dry-under", "3"], ["assess"], ["nothing"], []])
def test_wrong_words_end_two(words, capsys):
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 2
    assert capsys.readouterr().out == ""


def test_faults_end_two_with_a_line_each_and_nothing_on_stdout(tmp_path, capsys):
    path = tmp_path / "bad.toml"
    path.write_text(GRID.replace('"6 m"', "6").replace('"30 min"', '"30 kPa"'), "utf-8")
    assert main(["assess", str(path), "--json"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines() == [
        f'{path}:5: floor.width: received the bare number 6, expected a length in m, cm, mm, ft or in, add the unit in '
        f'quotes, such as "6 m"',
        f"{path}:15: run.duration: received '30 kPa', which is a pressure, expected a time in s, min or h, use one of "
        "these units",
    ]
    assert list(tmp_path.glob("*")) == [path]


def test_import_shows_what_it_understood_and_writes_only_when_told(file, tmp_path, capsys):
    grid = tmp_path / "readings.csv"
    grid.write_text(";1 m;3 m;5 m\n1 m;11;21;31\n4 m;21;31,5;\n7 m;31;41;51\n10 m;41;51;61\n", "utf-8")
    new = tmp_path / "new.toml"
    assert main(["import", str(grid), "--into", str(file), "--to", str(new)]) == 2
    assert "--yes" in capsys.readouterr().err and not new.exists()
    assert main(["import", str(grid), "--into", str(file), "--to", str(new), "--yes", "--unit", "mL"]) == 0
    assert "Written:" in capsys.readouterr().err
    taken = read_record(new).cans
    assert taken.grid[0] == [11, 21, 31] and taken.grid[1][1] == 31.5 and taken.grid[1][2] != taken.grid[1][2]
    assert main(["import", str(grid), "--into", str(file), "--to", str(new), "--yes"]) == 2
    assert "received the name of a file that exists" in capsys.readouterr().err


def test_import_of_a_workbook(file, tmp_path, capsys):
    from openpyxl import Workbook

    book, data = Workbook(), BytesIO()
    for row in ([7, 8, 9], [1, 2, 3], [4, 5, None], [1, 1, 1]):
        book.active.append(row)
    book.save(data)
    path = tmp_path / "cans.xlsx"
    path.write_bytes(data.getvalue())
    new = tmp_path / "new.toml"
    assert main(["import", str(path), "--into", str(file), "--to", str(new), "--yes"]) == 0
    kept = read_record(new)
    assert kept.cans.grid[0] == [7, 8, 9] and [place.text for place in kept.cans.across] == ["1 m", "3 m", "5 m"]


def test_import_that_does_not_fit_writes_nothing(file, tmp_path, capsys):
    grid = tmp_path / "small.csv"
    grid.write_text("1,2\n3,4\n", "utf-8")
    new = tmp_path / "new.toml"
    assert main(["import", str(grid), "--into", str(file), "--to", str(new), "--yes"]) == 2
    assert capsys.readouterr().err.splitlines()[-1] == (
        f"{grid}: received a table of 2 rows of 2 cans, expected 4 rows of 3 cans as in the record, correct the table, "
        "or write the distances of its columns and rows beside the readings (first row and first column) if it is "
        "another layout")
    assert not new.exists()


def imported(file, tmp_path, capsys, text, name="readings.csv"):
    """Exit code, the new record (None where none was written) and the lines on stderr."""
    grid, new = tmp_path / name, tmp_path / "new.toml"
    grid.write_text(text, "utf-8")
    code = main(["import", str(grid), "--into", str(file), "--to", str(new), "--yes"])
    out, err = capsys.readouterr()
    assert out == ""
    return code, read_record(new) if new.exists() else None, err.splitlines()


def test_import_takes_the_unit_of_the_record(file, tmp_path, capsys):
    code, new, lines = imported(file, tmp_path, capsys, "1,2,3\n4,5,6\n7,8,9\n10,11,12\n")
    assert code == 0 and new.cans.unit == "mL"
    assert not any("say which it is" in line for line in lines)
    assert lines[0] == "4 rows of 3 cans: 12 readings, in mL (volume)."


def test_import_with_distances_of_its_own_is_another_layout(file, tmp_path, capsys):
    file.write_text(GRID.replace("grid =", 'stagger = "20 cm"\ngrid ='), "utf-8")
    code, new, lines = imported(file, tmp_path, capsys, ";1 m;2 m\n2 m;11;12\n5 m;13;14\n")
    assert code == 0 and new.cans.grid == [[11, 12], [13, 14]] and new.cans.stagger is None
    assert [place.text for place in new.cans.along] == ["2 m", "5 m"]
    assert "The record has 4 rows of 3 cans with 12 readings: 2 rows of 2 cans take their place." in lines


def test_import_of_uneven_rows_says_both_shapes(file, tmp_path, capsys):
    code, new, lines = imported(file, tmp_path, capsys, "1,2,3\n4,5\n7,8,9\n10,11,12\n")
    assert code == 2 and new is None
    assert "received a table of rows of 3, 2, 3 and 3 cans, expected 4 rows of 3 cans as in the record" in lines[-1]


def test_faults_of_an_import_are_named_where_they_stand(file, tmp_path, capsys):
    file.write_text(GRID.replace('"30 min"', '"30"'), "utf-8")
    code, new, lines = imported(
        file, tmp_path, capsys, "Tunnel four\n;1 m;3 m;7 m\n1 m;11;21;31\n4 m;21;31;5\n7 m;31;41;51\n13 m;41;51;61\n")
    assert code == 2 and new is None
    grid = tmp_path / "readings.csv"
    assert lines[-3:] == [
        f"{grid}: distance over column 3: received 3 cans at x = 7.00 m, expected a place on the floor of 6 m by 12 m, "
        "correct the place, the stagger or the floor",
        f"{grid}: distance beside row 4: received 3 cans at y = 13.00 m, expected a place on the floor of 6 m by 12 m, "
        "correct the place, the stagger or the floor",
        f"{file}:15: run.duration: received '30' without a unit, expected a time in s, min or h, add the unit, such as "
        '"30 min"']
    code, new, lines = imported(file, tmp_path, capsys, "x [m];y [m];mL\n1;2;11\n1;5;12\n9;2;13\n3;5;14\n")
    assert code == 2 and lines[-2].startswith(f"{grid}: row 3, column 1 (line 4, cell 3): received a can at x = 9.00 m")
    code, new, lines = imported(file, tmp_path, capsys, "1,7,3\n4,-5,6\n7,8,9\n10,11,12\n")
    assert code == 2 and lines[-1].startswith(f"{grid}: received '-5' at row 2, column 2")


def test_help_promises_what_is_there(capsys):
    with pytest.raises(SystemExit):
        main(["--help"])
    assert "and why" not in capsys.readouterr().out


def test_import_without_a_record_prints_the_cans(tmp_path, capsys):
    grid = tmp_path / "grid.txt"
    grid.write_text("1\t2\n3\t4\n", "utf-8")
    assert main(["import", str(grid)]) == 0
    out, err = capsys.readouterr()
    assert "[cans]" in out and "[1, 2]" in out and "Tabs" in err


def test_a_pipe_that_closes_early_is_no_fault():
    command = f"{sys.executable} -m evenfall.cli assess {folder() / 'bare.toml'} | head -1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, timeout=120)
    assert done.stderr == "" and "Small tunnel" in done.stdout
