"""`evenfall import` and what a table leaves in doubt: refused unseen, asked at a terminal, answered by options."""

import io
import os

import pytest
from evenfall.cli.command import main
from evenfall.record.file import read_record

from ..conftest import GRID

NUMBERED = "1,17,29,27\n2,18,30,28\n3,16,28,25\n4,18,26,29\n"


@pytest.fixture
def take(tmp_path, capsys):
    """Run the import of a text into a record: exit code, the new record or None, the lines on stderr."""
    def run(text, *words, to="new.toml"):
        (tmp_path / "test.toml").write_text(GRID, "utf-8")
        (tmp_path / "readings.csv").write_text(text, "utf-8")
        new = tmp_path / to
        code = main(["import", str(tmp_path / "readings.csv"), "--into", str(tmp_path / "test.toml"),
                     "--to", str(new), *words])
        out, err = capsys.readouterr()
        assert out == ""
        return code, read_record(new) if os.path.exists(new) else None, err.splitlines()
    return run


class Terminal(io.StringIO):
    """Standard input of a person at a terminal."""

    def isatty(self):
        return True


def test_a_table_in_doubt_is_refused_with_yes_and_taken_with_the_answer(take):
    code, new, lines = take(NUMBERED, "--yes")
    assert code == 2 and new is None
    assert lines[-1].endswith(
        "readings.csv: received a table in doubt (The first column (1, 2, 3, 4) counts in steps of one: it was taken "
        "as numbers of the rows), expected none with --yes, add --first-column number, or heading, total or reading")
    code, new, _ = take(NUMBERED, "--yes", "--first-column", "number")
    assert code == 0 and new.cans.grid == [[17, 29, 27], [18, 30, 28], [16, 28, 25], [18, 26, 29]]


def test_a_doubt_that_no_option_settles_says_what_to_do(take):
    code, new, lines = take("31,2O,29\n30,27,26\n28,26,25\n27,25,27\n", "--yes")
    assert code == 2 and new is None
    assert lines[-1].endswith("readings.csv: received a table in doubt (Row 1, column 2: '2O' is not a number; it was "
                              "taken as no reading), expected none with --yes, correct the table, or leave --yes out "
                              "and look at it")


def test_one_typo_does_not_change_the_unit_of_the_table(take):
    text = "31,28,29\n3l,27,26\n28,26,25\n27,25,24\n"
    assert take(text, "--yes", "--unit", "mL")[:2] == (2, None)
    assert take(text, "--yes")[:2] == (2, None)


@pytest.mark.parametrize("words", [("--decimal", ","), ("--last-row", "total"), ("--first-row", "number")])
def test_answers_reach_the_reader(take, words):
    text = {"--decimal": "3,1,2,8,4,0\n2,9,3,0,4,1\n3,3,2,7,3,9\n3,0,3,1,4,4\n",
            "--last-row": "31,28,29\n30,27,26\n28,26,25\n29,26,27\n118,107,107\n",
            "--first-row": "1,2,3\n31,28,29\n30,27,26\n28,26,25\n29,26,27\n"}[words[0]]
    assert take(text, "--yes")[0] == 2
    code, new, _ = take(text, "--yes", *words)
    assert code == 0 and len(new.cans.grid) == 4 and len(new.cans.grid[0]) == 3


def test_a_person_at_a_terminal_is_asked(take, monkeypatch):
    monkeypatch.setattr("sys.stdin", Terminal("\ny\n"))
    code, new, lines = take(NUMBERED)
    assert code == 0 and new.cans.grid[0] == [17, 29, 27]
    assert any(line.startswith("First column: heading, number, total, reading? [number]") for line in lines)


def test_a_wrong_answer_is_asked_again(take, monkeypatch):
    monkeypatch.setattr("sys.stdin", Terminal("numbers\nnumber\nn\n"))
    code, new, lines = take(NUMBERED)
    assert code == 2 and new is None and lines[-1].endswith("Nothing was written.")
    assert any("received a first column of 'numbers', expected heading, number, total or reading" in line
               for line in lines)


def test_another_reading_must_fit_the_record_too(take, monkeypatch):
    monkeypatch.setattr("sys.stdin", Terminal("reading\ny\n"))
    code, new, lines = take(NUMBERED)
    assert code == 2 and new is None and "received a table of 4 rows of 4 cans" in lines[-1]


def test_a_folder_that_is_missing_is_one_sentence(take, tmp_path):
    code, new, lines = take("31,28,29\n30,27,26\n28,26,25\n29,26,28\n", "--yes", to="nowhere/new.toml")
    assert (code, new) == (2, None)
    assert lines[-1] == (f"{tmp_path / 'nowhere' / 'new.toml'}: received a place that cannot be written to (no such "
                         "file or directory), expected a folder that is there and has room, name another with --to")


def test_a_disk_that_is_full_is_one_sentence(take, tmp_path, monkeypatch):
    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    code, new, lines = take("31,28,29\n30,27,26\n28,26,25\n29,26,28\n", "--yes")
    assert (code, new) == (2, None) and "(no space left on device)" in lines[-1]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["readings.csv", "test.toml"]


def test_a_name_that_is_too_long_is_one_sentence(take):
    code, new, lines = take("31,28,29\n30,27,26\n28,26,25\n29,26,28\n", "--yes", to="n" * 300 + ".toml")
    assert code == 2 and "(file name too long)" in lines[-1]
