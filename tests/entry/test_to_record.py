"""From a draft's texts to a record, and the cans in walking order."""

import datetime
import json
import math

import pytest
from evenfall.entry.cans import cans_in, key_words, read_text, reading_texts
from evenfall.entry.to_record import NEW_TEST, plain_of, record_of, split_list
from evenfall.record.checks import build
from evenfall.record.file import parse_record, record_text
from evenfall.record.kinds import about, choices, key_type
from evenfall.record.model import MOST_HEADS, to_plain
from evenfall.record.samples import SHOWS, sample_text
from evenfall.units.quantity import QuantityError
from hypothesis import given, settings
from hypothesis import strategies as st

from ..record.test_file import in_any_order, plain_records, same
from ..record_texts import FULL, POINTS, ROWS

LAYOUT = {"cans.across": "1 m, 2 m, 3 m", "cans.along": "1 m, 2 m, 3 m"}


def plain(**values):
    return plain_of({key.replace("__", "."): value for key, value in values.items()})[0]


def order(values):
    return [can.key for can in cans_in(plain_of(values)[0])]


# --- the whole way ---------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(plain_records())
def test_any_record_is_the_draft_that_began_from_it(values):
    record = build(values)
    base = record_text(record)
    draft = {"base": base}
    draft |= reading_texts(draft)
    again, faults, unread = record_of(draft)
    assert faults == [] and unread == []
    assert in_any_order(without_empty(to_plain(again))) == in_any_order(without_empty(to_plain(record)))


def without_empty(record):
    """A draft drops tables and lists with nothing in them; they say nothing."""
    def strip(value):
        return {key: item for key, item in value.items() if item not in ({}, [])} if isinstance(value, dict) else value

    return strip({key: strip(value) for key, value in record.items()})


@pytest.mark.parametrize("text", [FULL, ROWS, POINTS, *(sample_text(name) for name in SHOWS)],
                         ids=["full", "rows", "points", *SHOWS])
def test_every_sample_is_the_draft_that_began_from_it(text):
    again, faults, unread = record_of({"base": text})
    assert (faults, unread) == ([], [])
    assert same(again, parse_record(text))


def test_a_test_typed_from_nothing():
    values = {
        "test.title": "By the ditch", "test.date": "2027-05-01", "floor.width": "6 m", "floor.length": "12 m",
        **LAYOUT, "cans.opening": "84 mm", "run.duration": "30 min", "run.lines": "in turn",
        "r1c1": "31", "r1c2": "30,5", "r1c3": "x", "r2c1": "0", "r2c2": "28.0", "r3c3": " 7 ",
        "aside.r3c3": "kicked over"}
    record, faults, unread = record_of(values)
    assert (faults, unread) == ([], [])
    assert record.test.date == datetime.date(2027, 5, 1)
    assert repr(record.cans.grid) == repr([[31, 30.5, math.nan], [0, 28.0, math.nan], [math.nan, math.nan, 7]])
    assert [(item.row, item.column, item.why) for item in record.cans.set_aside] == [(3, 3, "kicked over")]
    assert record.cans.reads == "volume" and record.cans.unit == "mL"


def test_an_empty_draft_lists_what_is_missing():
    record, faults, unread = record_of({})
    assert record is None and unread == []
    assert [fault.key for fault in faults] == ["test.title", "floor", "cans.opening", "cans.grid", "run"]


def test_a_base_that_is_no_record_is_a_new_test():
    for base in ("", "no TOML", "a = [" + "[" * 5000, "a = " + "9" * 5000):
        assert plain_of({"base": base}) == plain_of({"base": NEW_TEST})


# --- the order of arrival --------------------------------------------------------------------------


def test_the_newest_text_of_a_key_stands_and_a_blank_takes_the_key_out():
    values = {"base": FULL, "heads.flow": "50 L/h", "heads.label": "", "target.figure": " ",
              "target.du_low_quarter": ""}
    found = plain_of(values)[0]
    assert found["heads"]["flow"] == "50 L/h"
    assert "label" not in found["heads"] and "target" not in found


def test_a_whole_list_replaces_what_came_before_it_and_not_what_came_after():
    lines = json.dumps([{"name": "n", "x": "1 m", "count": 3, "installed": "2026-01-02"}])
    found = plain_of({"base": FULL, "lines.0.name": "before", "lines": lines, "lines.0.x": "2 m",
                      "lines.1.name": "m"})[0]
    assert found["lines"] == [{"name": "n", "x": "2 m", "count": 3, "installed": datetime.date(2026, 1, 2)},
                              {"name": "m"}]


def test_an_emptied_item_leaves_its_list():
    found = plain_of({"base": FULL, "lines.2.name": "third", "lines.2.x": "3 m"})[0]
    assert [line["name"] for line in found["lines"]] == ["left", "right", "third"]
    found = plain_of({"base": FULL, "lines.2.name": ""})[0]
    assert [line["name"] for line in found["lines"]] == ["left", "right"]
    assert "patches" not in plain_of({"patches.0.note": ""})[0]


@pytest.mark.parametrize("key", ["lines.a", "lines.a.b", "lines.0.x.y", "lines.99999999999.x", "test.title.deep.er",
                                 "record.x", "cans.grid.0.0", "a", "a.b.c", "cans.set_aside.0.row", "lines",
                                 f"lines.{MOST_HEADS}.x", "cans", "cans.points.0", "floor.beds.0.from", "cans.rows"])
@pytest.mark.parametrize("text", ["", "7", "1e999", "[1, 2]", "{}", "[[[", "nan", '[{"x": 1}]'])
def test_odd_keys_and_texts_break_nothing(key, text):
    record, faults, _ = record_of({"base": FULL, key: text})
    assert record is not None or faults
    cans_in(plain_of({"base": FULL, key: text})[0])


@settings(max_examples=60, deadline=None)
@given(st.dictionaries(
    st.one_of(st.from_regex(r"[a-z]{1,6}(\.[a-z0-9]{1,4}){0,3}", fullmatch=True),
              st.sampled_from(["cans.across", "cans.along", "cans.stagger", "cans.points", "cans.rows", "lines.0.count",
                               "r1c1", "p1", "aside.r1c1", "aside.x", "base", "run.lines", "floor.beds.0.to"])),
    st.text(max_size=12), max_size=6))
def test_any_texts_make_a_record_or_a_list_of_faults(values):
    record, faults, _ = record_of(values)
    assert (record is None) == bool(faults)
    cans_in(plain_of(values)[0])


# --- kinds of keys ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("key", "kind"), [
    ("test.title", "text"), ("test.date", "date"), ("test.purpose", "choice"), ("floor.width", "text"),
    ("floor.hangs_at", "list"), ("floor.beds.0.from", "text"), ("heads.exponent", "number"),
    ("heads.regulated", "yes or no"), ("lines.0.count", "whole"), ("lines.0.installed", "date"),
    ("lines.0.heads_at", "list"), ("lines.0.heads_at.1", "text"), ("cans.grid", "numbers"), ("cans.across", "list"),
    ("cans.weights", "text"), ("cans.evaporation.start", "number"), ("cans.evaporation.end", "numbers"),
    ("cans.set_aside.0.row", "whole"), ("run.lines", "choice"), ("supply.flowing.0.time", "text"),
    ("target.du_low_quarter", "number"), ("care.lines_flushed", "date"), ("no.such.key", "text"), ("no", "text"),
    ("test.title.deeper", "text")])
def test_kinds(key, kind):
    assert key_type(key.split(".")) == kind


def test_choices_and_descriptions():
    assert choices(["run", "lines"]) == ["together", "in turn"]
    assert choices(["lines", "0", "fed_from"]) == ["near", "far", "middle"]
    assert choices(["floor", "width"]) == choices(["no"]) == []
    assert about(["supply", "hose", "inside"]) == 'the inside diameter, such as "19 mm"'
    assert about(["lines", "3", "x"]).startswith("how far the line runs from the left edge")
    assert about(["no", "such"]) == ""


@pytest.mark.parametrize(("key", "text", "value"), [
    ("heads.regulated", "Yes", True), ("heads.regulated", "false", False), ("heads.regulated", "maybe", "maybe"),
    ("heads.exponent", "0,5", 0.5), ("heads.exponent", "1/2", 0.5), ("heads.exponent", "half", "half"),
    ("test.date", "2027-03-18", datetime.date(2027, 3, 18)), ("test.date", "18.3.2027", "18.3.2027"),
    ("cans.evaporation.end", "49,5; 49 48.5", [49.5, 49, 48.5]), ("cans.evaporation.end", "[49, 48.5]", [49, 48.5]),
    ("cans.weights", "nearest area", "nearest area"), ("cans.weights", "[[1, 2], [3, 4]]", [[1, 2], [3, 4]]),
    ("floor.hangs_at", "1 m, 2 m", ["1 m", "2 m"]), ("floor.width", " 6 m ", "6 m"),
])
def test_values(key, text, value):
    found = plain_of({key: text})[0]
    for part in key.split("."):
        found = found[part]
    assert found == value and type(found) is type(value)


@pytest.mark.parametrize(("text", "value"), [
    ("3", 3), ("3,0", 3), ("3.5", 3.5), ("three", "three"), ("1e999", math.inf)])
def test_whole_numbers(text, value):
    found = plain_of({"lines.0.count": text})[0]["lines"][0]["count"]
    assert found == value and (value != 3 or type(found) is int)


@pytest.mark.parametrize(("text", "parts"), [
    ("0.6 m, 1.9 m", ["0.6 m", "1.9 m"]), ("0,6 m; 1,9 m", ["0,6 m", "1,9 m"]), ("0,6 m, 1,9 m", ["0,6 m", "1,9 m"]),
    ("0.6 m,1.9 m", ["0.6 m", "1.9 m"]), ("1, 2, 3 m", ["1 m", "2 m", "3 m"]),
    ("1; 2,5; 3 ft", ["1 ft", "2,5 ft", "3 ft"]),
    ("1 ft 6 in, 2 ft", ["1 ft 6 in", "2 ft"]), ("1 1/4, 2 in", ["1 1/4 in", "2 in"]), ("1 m\n2 m\n", ["1 m", "2 m"]),
    ("1 m, 2, 3 m", ["1 m", "2", "3 m"]), ("2,4 m", ["2,4 m"]), ("1,2,2,2 m", ["1,2,2,2 m"]),
    ("5 m", ["5 m"]), ("5", ["5"]), ("", []), (" ; ", []), ("1 m, ", ["1 m"]),
])
def test_lists_of_quantities(text, parts):
    assert split_list(text) == parts


# --- cans in walking order -------------------------------------------------------------------------


def test_the_snake_goes_up_one_row_and_back_the_next():
    assert order(LAYOUT) == ["r1c1", "r1c2", "r1c3", "r2c3", "r2c2", "r2c1", "r3c1", "r3c2", "r3c3"]


def test_rows_given_far_end_first_and_columns_right_to_left_are_walked_from_the_inlet_end():
    values = {"cans.across": "3 m, 1 m, 2 m", "cans.along": "9 m, 1 m"}
    assert order(values) == ["r2c2", "r2c3", "r2c1", "r1c1", "r1c3", "r1c2"]


def test_staggered_rows_stand_aside():
    cans = cans_in(plain_of({**LAYOUT, "cans.stagger": "0.5 m"})[0])
    assert [(can.key, can.x, can.y) for can in cans[:6]] == [
        ("r1c1", 0.5, 1), ("r1c2", 1.5, 1), ("r1c3", 2.5, 1), ("r2c3", 3.5, 2), ("r2c2", 2.5, 2), ("r2c1", 1.5, 2)]


def test_the_places_are_the_record_s_own():
    from evenfall.record.places import can_places

    record = parse_record(sample_text("staggered-rows"))
    cans = {can.key: (can.x, can.y) for can in cans_in(plain_of({"base": sample_text("staggered-rows")})[0])}
    columns = len(record.cans.across)
    for number, (_, x, y) in enumerate(can_places(record.cans)):
        assert cans[f"r{number // columns + 1}c{number % columns + 1}"] == (x, y)


def test_rows_of_different_length_and_points():
    assert order({"base": ROWS}) == ["r1c1", "r1c2", "r2c3", "r2c2", "r2c1"]
    cans = cans_in(plain_of({"base": POINTS})[0])
    assert [can.key for can in cans] == ["p1", "p2", "p3", "p4", "p5"]
    assert (cans[2].row, cans[2].column, cans[2].x, cans[2].y) == (0, 3, 5.0, 2.0)


def test_a_layout_that_is_not_there_yet():
    assert cans_in({}) == cans_in({"cans": 3}) == cans_in({"cans": {"across": ["1 m"]}}) == []
    [can] = cans_in({"cans": {"across": ["soon"], "along": ["1"]}})
    assert (can.key, can.x, can.y) == ("r1c1", None, None)
    assert cans_in({"cans": {"points": ["no", {"x": "1 m"}], "rows": 3}})[1].x == 1.0


# --- readings --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "value"), [
    ("31", 31), ("30.5", 30.5), ("30,5", 30.5), (" 7 ", 7), ("0", 0), (".5", 0.5), ("5.", 5.0), ("007", 7)])
def test_readings(text, value):
    assert read_text(text) == value and type(read_text(text)) is type(value)


@pytest.mark.parametrize("text", ["", " ", "x", "X", "-", "–", "nan", "N/A"])
def test_no_reading(text):
    assert math.isnan(read_text(text))


@pytest.mark.parametrize("text", ["-3", "3 mL", "1.2.3", ".", "1e3", "inf", "thirty", "3 1", "9" * 400])
def test_what_is_no_reading(text):
    with pytest.raises(QuantityError, match="expected a number such as 31 or 30.5, or x for no reading, correct it; "
                                            "until then it counts as no reading"):
        read_text(text)


def test_unread_texts_are_named_and_count_as_no_reading():
    values = {"base": FULL, "r1c2": "28 ml", "r2c3": "l7", "r9c9": "lost"}
    record, faults, unread = record_of(values)
    assert record is None and [fault.says for fault in faults] == [
        "received 2 usable cans in the beds, expected at least four, add readings or bring back cans that were set "
        "aside"]
    assert [(item.key, item.says) for item in unread] == [
        ("r1c2", "row 1, can 2: received '28 ml', expected a number such as 31 or 30.5, or x for no reading, correct "
                 "it; until then it counts as no reading."),
        ("r2c3", "row 2, can 3: received 'l7', expected a number such as 31 or 30.5, or x for no reading, correct "
                 "it; until then it counts as no reading.")]
    [unread_point] = plain_of({"base": POINTS, "p2": "?"})[1]
    assert unread_point.says.startswith("can 2: received '?'")


def test_texts_of_readings_are_those_of_the_record_under_those_typed_since():
    assert reading_texts({"base": FULL, "r1c1": "99", "test.title": "t"}) == {
        "r1c1": "99", "r1c2": "28", "r1c3": "29.5", "r2c1": "30", "r2c2": "x", "r2c3": "27"}
    assert reading_texts({"base": ROWS})["r2c3"] == "7"
    assert reading_texts({"base": POINTS})["p3"] == "43.5"
    assert reading_texts({"base": FULL.replace("29.5", "5e-05")})["r1c3"] == "0.00005"
    assert reading_texts({}) == reading_texts({"base": "cans = 3"}) == {}
    assert reading_texts({"base": "[cans]\ngrid = [3]\nrows = [4]\npoints = [5, { x = 1 }]"}) == {"p1": "x", "p2": "x"}


def test_a_smaller_layout_drops_the_readings_beyond_it():
    found = plain_of({"base": FULL, "cans.across": "1 m, 2 m"})[0]
    assert repr(found["cans"]["grid"]) == "[[31, 28], [30, nan]]"


def test_key_words():
    assert key_words("r2c3") == "row 2, can 3"
    assert key_words("p7") == "can 7"
    assert key_words("floor.width") == "floor.width"


# --- cans set aside --------------------------------------------------------------------------------


def aside(values):
    return plain_of(values)[0]["cans"].get("set_aside")


def test_aside_and_back():
    assert aside({"base": FULL}) == [{"row": 2, "column": 1, "why": "kicked over"}]
    assert aside({"base": FULL, "aside.r1c1": " tipped "}) == [
        {"row": 2, "column": 1, "why": "kicked over"}, {"row": 1, "column": 1, "why": "tipped"}]
    assert aside({"base": FULL, "aside.r2c1": "leaked"}) == [{"row": 2, "column": 1, "why": "leaked"}]
    assert aside({"base": FULL, "aside.r2c1": ""}) is None
    assert aside({"base": POINTS, "aside.p2": "on a clod"}) == [
        {"point": 5, "why": "kicked over"}, {"point": 2, "why": "on a clod"}]


def test_cans_that_are_not_there_are_not_set_aside():
    assert aside({"base": FULL, "aside.r9c9": "gone", "aside.p1": "no", "aside.nonsense": "no"}) == [
        {"row": 2, "column": 1, "why": "kicked over"}]
    assert aside({"base": FULL, "cans.along": "1 m"}) is None


# --- texts that could mislead ----------------------------------------------------------------------


@pytest.mark.parametrize("text", ["1,200", "12,125", "999,000"])
def test_thousands_or_a_decimal_comma_is_no_reading_but_a_question(text):
    values = {"base": NEW_TEST, **LAYOUT, "r1c2": text}
    plain_values, unread = plain_of(values)
    assert math.isnan(plain_values["cans"]["grid"][0][1])
    assert [item.says for item in unread] == [
        f"row 1, can 2: received '{text}', which may mean thousands or a decimal comma, write "
        f"{text.replace(',', '')} or {text.replace(',', '.')}; until then it counts as no reading."]
    assert reading_texts(values)["r1c2"] == text  # the draft keeps it as typed


@pytest.mark.parametrize(("text", "value"), [("0,125", 0.125), ("12,5", 12.5), ("1,20", 1.2), ("1200,5", 1200.5)])
def test_a_decimal_comma_that_is_plain_stays_a_reading(text, value):
    assert read_text(text) == value


@pytest.mark.parametrize("text", ["nan", "NaN", " nan "])
def test_a_typed_nan_says_that_it_means_no_reading(text):
    plain_values, unread = plain_of({"base": NEW_TEST, **LAYOUT, "r1c2": text, "r1c3": "x", "r2c1": "-"})
    assert math.isnan(plain_values["cans"]["grid"][0][1])
    assert [item.says for item in unread] == [f"row 1, can 2: '{text.strip()}' means no reading, and is taken as that."]


def test_lists_in_feet_and_inches():
    assert split_list("4',8' 6\",12'") == ["4'", "8' 6\"", "12'"]
    assert split_list("1, 2, 3 feet") == ["1 feet", "2 feet", "3 feet"]
