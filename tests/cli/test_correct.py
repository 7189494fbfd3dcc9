"""`evenfall correct`: before and after first, nothing in silence, what was read is kept, what was checked stays."""

import json

import numpy as np
import pytest
from evenfall.cli.command import main
from evenfall.record.file import parse_record, plain_text, read_record
from evenfall.record.places import all_readings
from evenfall.record.said import as_read
from evenfall.result.assessment import assess
from jsonschema import validate

from ..families.plants import FAMILIES


def planted(tmp_path, name, seed):
    plant = FAMILIES[name](np.random.default_rng([seed, *name.encode()]))
    path = tmp_path / "test.toml"
    path.write_text(plain_text(plant.record), "utf-8")
    return path


@pytest.fixture
def off(tmp_path):
    """A test whose record has one line 40 cm off."""
    return planted(tmp_path, "one line 40 cm off", 2)


def test_a_place_is_put_right_in_a_new_file_after_a_look_at_before_and_after(off, capsys):
    before = off.read_bytes()
    assert main(["correct", str(off), "--rival", "1"]) == 0
    shown = capsys.readouterr().out
    assert "lines.right.x: 4.24 m -> 4.6" in shown and "before" in shown and "Nothing was written." in shown
    assert list(off.parent.iterdir()) == [off] and off.read_bytes() == before
    assert main(["correct", str(off), "--rival", "1", "--yes"]) == 0
    made = off.with_name("test-corrected.toml")
    assert f"Written: {made}\n" in capsys.readouterr().out and off.read_bytes() == before
    record = read_record(made)
    assert record.lines[1].x.si == pytest.approx(4.64, abs=0.06)
    assert assess(record, rivals=True).fit.grade == "good"


def test_a_file_that_is_there_is_never_written_over_without_being_told(off, capsys):
    taken = off.with_name("taken.toml")
    taken.write_text("mine", "utf-8")
    assert main(["correct", str(off), "--checked", "1", "--yes", "--to", str(taken)]) == 2
    assert "which is there already" in capsys.readouterr().err and taken.read_text("utf-8") == "mine"
    assert main(["correct", str(off), "--checked", "1", "--yes", "--to", "x.toml", "--in-place"]) == 2
    capsys.readouterr()
    assert main(["correct", str(off), "--checked", "1", "--yes", "--in-place"]) == 0
    assert read_record(off).checked[0].where == "lines.right.x"


def test_what_was_checked_is_not_told_again_until_its_key_changes(off, capsys):
    told = assess(read_record(off), rivals=True)
    assert told.fit.rivals[0].kind == "line place" and not told.fixes
    main(["correct", str(off), "--checked", "1", "--yes", "--in-place"])
    capsys.readouterr()
    result = assess(read_record(off), rivals=True)
    assert "line place" not in [rival.kind for rival in result.fit.rivals]
    assert "was checked and left out: lines.right.x stays." in result.fit.says
    assert main(["assess", str(off), "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert main(["schema", "result"]) == 0
    validate(plain, json.loads(capsys.readouterr().out))
    moved = off.read_text("utf-8").replace('x = "4.24 m"', 'x = "4.25 m"')
    assert "line place" in [rival.kind for rival in assess(parse_record(moved), rivals=True).fit.rivals]


def test_readings_are_put_right_with_what_was_read_beside_them(tmp_path, capsys):
    path = planted(tmp_path, "rows reversed", 1)
    was = all_readings(read_record(path).cans)
    assert main(["correct", str(path), "--rival", "1", "--yes"]) == 0
    after = read_record(path.with_name("test-corrected.toml"))
    assert all_readings(after.cans) != was and sorted(all_readings(after.cans)) == sorted(was)
    assert after.corrected[0].what == "cans.rows" and all_readings(as_read(after).cans) == was
    result = assess(after, rivals=True)
    assert result.fit.grade == "good" and any("was put right after the fact" in says for says in result.cautions)


def test_what_cannot_be_settled_so_is_said(off, capsys):
    assert main(["correct", str(off), "--rival", "2", "--yes"]) == 2
    assert "no change of the record settles" in capsys.readouterr().err
    assert main(["correct", str(off), "--rival", "9", "--yes"]) == 2
    assert "received rival 9, expected a number from 1 to 4" in capsys.readouterr().err
    assert main(["correct", str(off)]) == 0
    assert "1. line place (of the record, " in capsys.readouterr().out


def test_what_no_change_of_the_record_settles_is_said_with_what_to_look_at(tmp_path, capsys):
    path = planted(tmp_path, "a column of missing cans as 0", 77)
    kinds = [rival.kind for rival in assess(read_record(path), rivals=True).fit.rivals]
    assert main(["correct", str(path), "--rival", str(kinds.index("missing as 0") + 1), "--yes"]) == 2
    assert "look at the cans and the field sheet: Look at the field sheet" in capsys.readouterr().err
    assert list(path.parent.iterdir()) == [path]
