"""The command as a person calls it."""

import json
import re
import subprocess
import sys
from io import BytesIO

import pytest

from analysis.assess import assess
from analysis.cli import main
from analysis.record_file import read_record
from analysis.samples import SHOWS, folder

from .conftest import GRID


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
    assert plain["catch"]["mean_mm"] == assess(read_record(file)).catch.mean_mm


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
    assert "expected 4, one for each place in along" in capsys.readouterr().err
    assert not new.exists()


def test_import_without_a_record_prints_the_cans(tmp_path, capsys):
    grid = tmp_path / "grid.txt"
    grid.write_text("1\t2\n3\t4\n", "utf-8")
    assert main(["import", str(grid)]) == 0
    out, err = capsys.readouterr()
    assert "[cans]" in out and "[1, 2]" in out and "Tabs" in err


def test_a_pipe_that_closes_early_is_no_fault():
    command = f"{sys.executable} -m analysis.cli assess {folder() / 'bare.toml'} | head -1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, timeout=120)
    assert done.stderr == "" and "Small tunnel" in done.stdout
