"""What was said after the readings: checked keys hold until they change, readings that were put right can be undone."""

import datetime
import math

import pytest
from evenfall.record.file import parse_record, record_text
from evenfall.record.places import all_readings
from evenfall.record.said import (
    as_read,
    checked_now,
    corrected_words,
    path_in,
    readings_key,
    value_at,
    with_checked,
    with_readings,
    with_values,
)

from ..record_texts import FULL, POINTS, ROWS

DAY = datetime.date(2027, 3, 20)


def record_of(text=FULL):
    """A full record that says nothing of what was checked or put right."""
    return parse_record(text.split("[[checked]]")[0])


@pytest.mark.parametrize(("where", "path", "value"), [
    ("lines.left.x", ("lines", 0, "x"), "1.9 m"), ("lines[2].x", ("lines", 1, "x"), "5.7 m"),
    ("lines.right.heads_at[2]", ("lines", 1, "heads_at", 1), "11 m"), ("floor.width", ("floor", "width"), "7.6 m"),
    ("cans.grid[2]", ("cans", "grid", 1), "[30, NaN, 27]"), ("heads.exponent", ("heads", "exponent"), "0.5"),
    ("run.gone", ("run", "gone"), ""),
])
def test_keys_are_found_by_names_and_numbers(where, path, value):
    plain = record_of().model_dump(by_alias=True, exclude_none=True)
    assert path_in(plain, where) == path and value_at(record_of(), where) == value


@pytest.mark.parametrize("where", ["lines.north.x", "cans.grid[9]", "lines..x", "a b", "floor.width.more.deep"])
def test_an_item_that_is_not_there_is_no_key(where):
    with pytest.raises(KeyError):
        path_in(record_of().model_dump(by_alias=True, exclude_none=True), where)
    assert value_at(record_of(), where) == ""


def test_a_name_with_dots_is_one_name():
    record = record_of(FULL.replace('name = "right"', 'name = "no. 2"'))
    assert value_at(record, "lines.no. 2.x") == "5.7 m"


def test_a_long_value_leaves_its_fingerprint():
    record = record_of()
    whole = value_at(record, "cans")
    assert len(whole) == 12 and whole == value_at(record, "cans")
    assert whole != value_at(with_values(record, {"cans.opening": "85 mm"}), "cans")


def test_what_was_checked_holds_until_its_key_changes():
    record = with_checked(record_of(), "line place", "lines.left.x", DAY)
    again = parse_record(record_text(record))
    assert checked_now(again) == (("line place", "lines.left.x"),) and again.checked[0].value == "1.9 m"
    assert checked_now(with_values(again, {"lines.right.x": "5.6 m"})) == (("line place", "lines.left.x"),)
    assert checked_now(with_values(again, {"lines.left.x": "2 m"})) == ()
    assert len(with_checked(again, "line place", "lines.left.x", DAY).checked) == 1


def test_first_heads_are_checked_for_all_lines_together():
    record = with_checked(record_of(), "first head", "lines.first", DAY)
    assert checked_now(record) and not checked_now(with_values(record, {"lines.right.heads_at[1]": "1.2 m"}))


def test_an_entry_without_a_value_holds_whatever_stands_there():
    record = record_of(FULL.split("[[checked]]")[0] + '[[checked]]\nwhat = "rain"\nwhere = "run"\n')
    assert checked_now(parse_record(record_text(record))) == ()
    kept = parse_record(FULL.split("[[checked]]")[0] + '[[checked]]\nwhat = "rain"\nwhere = "run"\n')
    assert checked_now(with_values(kept, {"run.wind": "2 m/s"})) == (("rain", "run"),)


@pytest.mark.parametrize("text", [FULL, ROWS, POINTS], ids=["grid", "rows", "points"])
def test_readings_that_are_put_right_are_kept_as_they_were_read(text):
    record = record_of(text)
    was = all_readings(record.cans)
    after = parse_record(record_text(with_readings(record, was[::-1], "rows reversed", DAY)))
    twice = with_readings(after, [2 * value for value in was], "twice", DAY)
    assert after.corrected[0].what == readings_key(record)
    for one, read in ((after, was[::-1]), (twice, [2 * value for value in was]), (as_read(after), was),
                      (as_read(twice), was)):
        assert [-1 if math.isnan(value) else value for value in all_readings(one.cans)] == [
            -1 if math.isnan(value) else value for value in read]
    assert "put right after the fact on 2027-03-20: rows reversed." in corrected_words(after)[0]


def test_one_row_and_the_unit_can_be_put_right_too():
    text = FULL.split("[[checked]]")[0] + ('[[corrected]]\nwhat = "cans.grid[1]"\nwas = [310, 280, 295]\n'
                                           'why = "row times ten"\n[[corrected]]\nwhat = "cans.unit"\nwas = "fl oz"\n'
                                           'why = "unit"\n')
    read = as_read(parse_record(text))
    assert read.cans.grid[0] == [310, 280, 295] and read.cans.unit == "fl oz" and read.cans.grid[1][0] == 30
    plain = record_of()
    assert as_read(plain) is plain
