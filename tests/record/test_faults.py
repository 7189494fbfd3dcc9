"""What stops a record: every fault at its line, all of them at once, each in one sentence."""

import os
import tomllib
from pathlib import Path

import pytest
from evenfall.record.checks import MOST_FAULTS, build
from evenfall.record.doubts import doubts
from evenfall.record.faults import RecordFaults, key_text
from evenfall.record.file import MOST_BYTES, parse_record, read_record
from evenfall.record.keys import field_of, inner_model, keys_of, path_order
from evenfall.record.model import Record

from ..record_texts import FULL, LINE, NO_GRID, POINTS, ROWS, cans, more, said, text_of

# --- sound records ---------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [FULL, ROWS, POINTS, text_of()], ids=["grid", "rows", "points", "least"])
def test_sound_records_have_no_fault(text):
    assert said(text) == []
    assert doubts(parse_record(text)) == []


def keys_in(value, path=()):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield (*path, key)
            yield from keys_in(inner, (*path, key))
    if isinstance(value, list):
        for inner in value:
            yield from keys_in(inner, path)


def keys_of_the_model(model=Record, path=()):
    for key in keys_of(model):
        yield (*path, key)
        inner = inner_model(field_of(model, key).annotation)
        if inner:
            yield from keys_of_the_model(inner, (*path, key))


def test_the_full_records_use_every_key():
    used = {key for text in (FULL, ROWS, POINTS) for key in keys_in(tomllib.loads(text))}
    assert used == set(keys_of_the_model())


# --- the file itself -------------------------------------------------------------------------------


def file_said(path):
    with pytest.raises(RecordFaults) as caught:
        read_record(path)
    return list(caught.value.lines)


@pytest.mark.parametrize(("data", "says"), [
    (b"", "1: received an empty file, expected a record in TOML, start from one of the sample records"),
    (b"\xef\xbb\xbf \n\n",
     "1: received an empty file, expected a record in TOML, start from one of the sample records"),
    (b"PK\x03\x04\x00\x00\x08\x00abc\x00", "1: received a binary file, expected a record in TOML, "
     "check that it is the right file"),
    (b"\x89PNG\r\n\x1a\n\x00\x00", "1: received a file that is not UTF-8 text, expected a record in TOML, save it as "
     "plain text in UTF-8; spreadsheets go through `evenfall import`"),
    ("title = 'für'".encode("latin-1"), "1: received a file that is not UTF-8 text, expected a record in TOML, save "
     "it as plain text in UTF-8; spreadsheets go through `evenfall import`"),
    ("a = 1".encode("utf-16"), "1: received a file that is not UTF-8 text, expected a record in TOML, save it as "
     "plain text in UTF-8; spreadsheets go through `evenfall import`"),
    (b"record = 1\n[test]\ntitle = no quotes\n", "3: received text that is not TOML (invalid value, column 9), "
     "expected TOML 1.0, correct this line"),
    (b"record = 1\r\nrecord = 2\r\n", "2: received text that is not TOML (cannot overwrite a value, column 11), "
     "expected TOML 1.0, correct this line"),
    (b"x,y,catch\n1,2,30\n", "1: received text that is not TOML (expected '=' after a key in a key/value pair, "
     "column 2), expected TOML 1.0, correct this line"),
], ids=["empty", "blank", "zip", "picture", "latin-1", "utf-16", "not TOML", "twice", "CSV"])
def test_files_that_are_no_records(tmp_path, data, says):
    path = tmp_path / "f.toml"
    path.write_bytes(data)
    assert file_said(path) == [f"{path}:{says}"]


def test_a_huge_file_is_refused_without_being_read(tmp_path):
    path = tmp_path / "f.toml"
    with open(path, "wb") as file:
        file.truncate(50_000_000)
    assert file_said(path) == [f"{path}:1: received a file of more than 1 MB, expected a record of at most 1 MB, "
                               "check that it is the right file"]
    path.write_text("#" * (MOST_BYTES - len(text_of()) - 1) + "\n" + text_of())
    assert read_record(path).test.title == "t"


def test_folders_and_missing_files(tmp_path):
    assert file_said(tmp_path) == [
        f"{tmp_path}:1: received a folder, expected a record (a .toml file), name a file in it"]
    assert file_said(tmp_path / "no.toml") == [
        f"{tmp_path / 'no.toml'}:1: received a file that cannot be read (no such file or directory), "
        "expected a record (a .toml file), check its name and place"]
    if os.name == "posix":
        assert "cannot be read (file name too long)" in file_said(Path("a" * 300))[0]


def test_a_byte_order_mark_and_windows_line_ends_are_no_fault(tmp_path):
    path = tmp_path / "f.toml"
    path.write_bytes(text_of().replace("\n", "\r\n").encode("utf-8-sig"))
    assert read_record(path).test.title == "t"
    path.write_bytes(text_of().replace('"6 m"', '"6"').replace("\n", "\r\n").encode("utf-8-sig"))
    assert file_said(path)[0].startswith(f"{path}:5: floor.width: received '6' without a unit")


# --- keys ------------------------------------------------------------------------------------------

RUN_KEYS = "duration, lines, wind, sides, water, metered"


@pytest.mark.parametrize(("text", "lines"), [
    (text_of(record=""), ["1: record: received nothing, expected the version of the format: 1, add it"]),
    (text_of(test=""), ["1: test: received nothing, expected the table [test] with at least a title, add it"]),
    (text_of(test="[test]\n"), ["2: test.title: received nothing, expected the title of this test, in quotes, add it"]),
    (text_of(floor='[floor]\nwidth = "6 m"\n'),
     ['4: floor.length: received nothing, expected the length of the floor, along the lines, such as "22 m", add it']),
    (text_of(run=""), ["1: run: received nothing, expected the table [run] with at least a duration, add it"]),
    (text_of(cans=""), ["1: cans: received nothing, expected the table [cans] with places and readings, add it"]),
    (more('[head]\nflow = "40 L/h"\n'),
     ["16: head: received the unknown key 'head', expected 'heads', did you mean 'heads'? Rename it or take it out"]),
    (more("zzz = 1\n"), [f"16: run.zzz: received the unknown key 'zzz', expected one of {RUN_KEYS}, "
                         "rename it or take it out"]),
    (more('wnd = "1 m/s"\n'),
     ["16: run.wnd: received the unknown key 'wnd', expected 'wind', did you mean 'wind'? Rename it or take it out"]),
    (more('[[lines]]\nname = "a"\nx = "1 m"\n\n[[lines]]\nname = "b"\nx = "2 m"\npip = "3 mm"\n'),
     ["23: lines[2].pip: received the unknown key 'pip', expected 'pipe', did you mean 'pipe'? "
      "Rename it or take it out",
      '14: run.lines: received nothing with 2 lines, expected "together" or "in turn", add it']),
    (more('[supply]\nflowing = [\n  { pressure = "1 bar", volume = "2 L", time = "3 s" },\n'
          '  { presure = "1 bar", volume = "2 L", time = "3 s" },\n]\n'),
     ['19: supply.flowing[2].pressure: received nothing, expected the pressure held meanwhile, such as "330 kPa", '
      "add it",
      "19: supply.flowing[2].presure: received the unknown key 'presure', expected 'pressure', did you mean "
      "'pressure'? Rename it or take it out"]),
    (more('[supply]\nhose = { length = "9 m", inside = "19 mm", colour = "red" }\n'),
     ["17: supply.hose.colour: received the unknown key 'colour', expected one of length, inside, "
      "rename it or take it out"]),
    (cans(more='[cans.evaporation]\nstart = 9\nend = [8]\ntimes = "9 min"\n'),
     ['14: cans.evaporation.time: received nothing, expected the time between the two, such as "45 min", add it',
      "17: cans.evaporation.times: received the unknown key 'times', expected 'time', did you mean 'time'? "
      "Rename it or take it out"]),
    (more('[floor.beds]\n'), ["16: floor.beds: received '{}', expected a list: the cropped ground, if it is not the "
                              "whole floor, put it in square brackets"]),
], ids=lambda value: None)
def test_missing_unknown_and_misspelt_keys(text, lines):
    assert said(text) == [f"f.toml:{line}" for line in lines]


def test_long_and_odd_keys_stay_on_one_short_line():
    line = said(more('"%s" = 1\n' % ("k" * 9000)))[0]
    assert line.startswith("f.toml:16: run.'kkk") and len(line) < 300
    assert said(more('"a\\nb\\u001b" = 1\n'))[0].startswith("f.toml:16: run.'a b?': received the unknown key 'a b?'")


@pytest.mark.parametrize(("record", "says"), [
    ('record = "1"\n', "1: record: received '1', expected record = 1, write it at the top, without quotes"),
    ("record = true\n", "1: record: received 'True', expected record = 1, write it at the top, without quotes"),
    ("record = 0\n", "1: record: received '0', expected record = 1, write it at the top, without quotes"),
    ("record = 1.0\n", "1: record: received '1.0', expected record = 1, write it at the top, without quotes"),
    ("record = 2\n", "1: record: received record = 2, expected record = 1 or older, this file was made by a newer "
                     "version: bring Evenfall up to date"),
])
def test_versions(record, says):
    assert said(text_of(record=record)) == [f"f.toml:{says}"]
    assert said(text_of(record=record, run="[run]\nnew_key = 1\n")) == [f"f.toml:{says}"]


# --- single values ---------------------------------------------------------------------------------

FLOW = "expected a flow in L/h, L/min, L/s, m3/h, gpm or gph"
VALUES = [
    (text_of(floor='[floor]\nwidth = 6\nlength = "12 m"\n'), "5: floor.width: received the bare number 6, expected a "
     'length in m, cm, mm, ft or in, add the unit in quotes, such as "6 m"'),
    (text_of(run='[run]\nduration = "30"\n'), "15: run.duration: received '30' without a unit, expected a time in s, "
     'min or h, add the unit, such as "30 min"'),
    (more('[heads]\nflow = "40 kPa"\n'), f"17: heads.flow: received '40 kPa', which is a pressure, {FLOW}, "
     "use one of these units"),
    (more('[heads]\nflow = "-1 L/h"\n'), f"17: heads.flow: received '-1 L/h', {FLOW}, not below zero, correct it"),
    (more('[heads]\nflow = "1e30 L/h"\n'), f"17: heads.flow: received '1e30 L/h', {FLOW} of finite size, correct it"),
    (more('[heads]\nflow = inf\n'), f"17: heads.flow: received the bare number inf, {FLOW}, add the unit in quotes, "
     'such as "inf L/h"'),
    (more("[heads]\nexponent = -0.5\n"), "17: heads.exponent: received '-0.5', expected a number from 0 to 1,000,000, "
     "correct it"),
    (more("[heads]\nexponent = nan\n"), "17: heads.exponent: received 'nan', expected a number from 0 to 1,000,000, "
     "correct it"),
    (more("[target]\ndu_low_quarter = inf\n"), "17: target.du_low_quarter: received 'inf', expected a number from 0 to "
     "1,000,000, correct it"),
    (more('[target]\ndu_low_quarter = "75"\n'), "17: target.du_low_quarter: received '75', expected a number in "
     "percent, without quotes, write a number such as 75"),
    (more('[target]\ndu_low_quarter = "-5 %"\n'), "17: target.du_low_quarter: received '-5', expected a number from 0 "
     "to 1,000,000, correct it"),
    (more('[heads]\nexponent = "50 %"\n'), "17: heads.exponent: received '50 %', expected a number without quotes, "
     "write a number such as 0.5 or 2"),
    (more('[heads]\nregulated = "yes"\n'), "17: heads.regulated: received 'yes', expected true where the head holds "
     "its flow constant, correct it"),
    (more('[heads]\ninstalled = "2025-04-01"\n'), "17: heads.installed: received '2025-04-01', expected a date such "
     "as 2027-03-18, without quotes, write year-month-day"),
    (more("[heads]\ninstalled = 2025-04-01T08:00:00\n"), "17: heads.installed: received '2025-04-01 08:00:00', "
     "expected a date such as 2027-03-18, without quotes, write year-month-day"),
    (more(LINE + "count = 2.0\n"), "19: lines[1].count: received '2.0', expected a whole number, correct it"),
    (more(LINE + "count = 0\n"), "19: lines[1].count: received '0', expected a number of 1 or more, correct it"),
    (more(LINE + "count = 1001\n"), "19: lines[1].count: received '1001', expected a number of 1000 or less, "
     "correct it"),
    (more(LINE + 'spacing = "0 m"\n'), "19: lines[1].spacing: received '0 m', expected 1 cm to 100 m, check the "
     "number and its unit"),
    (more(LINE + 'fed_from = "nere"\n'), "19: lines[1].fed_from: received 'nere', expected \"near\", \"far\" or "
     "\"middle\", did you mean \"near\"?"),
    (more(LINE + 'fed_from = "top"\n'), "19: lines[1].fed_from: received 'top', expected \"near\", \"far\" or "
     "\"middle\", choose one"),
    (more('[[lines]]\nname = ""\nx = "1 m"\n'), "17: lines[1].name: received an empty one, expected the name of the "
     "line, in quotes, without colon or comma, write it, or take the key out"),
    (more('[[lines]]\nname = "a:b"\nx = "1 m"\n'), "17: lines[1].name: received 'a:b', expected a name without colon "
     "or comma, rename the line"),
    (more('[[lines]]\nname = "a, b"\nx = "1 m"\n'), "17: lines[1].name: received 'a, b', expected a name without "
     "colon or comma, rename the line"),
    (more('[supply]\nhose = "15 m"\n'), "17: supply.hose: received '15 m', expected the hose, write it as a table"),
    (more('[supply]\nflowing = { pressure = "1 bar", volume = "2 L", time = "3 s" }\n'), "17: supply.flowing: "
     "received '{'pressure': '1 bar', 'volume': '2 L', …', expected a list: timed buckets, put it in square brackets"),
    (more('[[patches]]\nx = ["1 m"]\ny = ["1 m", "2 m"]\n'), "17: patches[1].x: received 1 item, expected at least 2 "
     "items, write what is missing"),
    (more('[[patches]]\nx = ["1 m", "2 m", "3 m"]\ny = ["1 m", "2 m"]\n'), "17: patches[1].x: received 3 items, "
     "expected at most 2 items, shorten it"),
    (text_of(test=f'[test]\ntitle = "{"t" * 201}"\n'), "3: test.title: received 201 characters, expected at most 200 "
     "characters, shorten it"),
    (text_of(test='[test]\ntitle = "t"\nid = "../up"\n'), "4: test.id: received '../up', expected a short id of "
     "letters, digits, dots and dashes; made by the tool, correct it"),
    (text_of(test='[test]\ntitle = 5\n'), "3: test.title: received '5', expected the title of this test, in quotes, "
     "correct it"),
    (text_of(test='[test]\ntitle = "t"\nid = "a"\nrechecks = "a"\n'), "5: test.rechecks: received 'a', this test's own "
     "id, expected the id of an earlier test, correct it or take it out"),
    (text_of(run='[run]\nduration = "0 min"\n'), "15: run.duration: received '0 min', expected 10 s to 72 h, check "
     "the number and its unit"),
    (text_of(run='[run]\nduration = "30 min"\nwater = "90 C"\n'), "16: run.water: received '90 C', expected -5 C to "
     "70 C, check the number and its unit"),
    (cans(("[10, 20, 30]", '[10, "20", 30]')), "13: cans.grid[1][2]: received '20', expected a number without quotes, "
     "write a number such as 31 or 30.5, or nan where there is no reading"),
    (cans(("[10, 20, 30]", "[10, -2, 30]")), "13: cans.grid[1][2]: received '-2', expected a reading of 0 or more, "
     "correct it"),
    (cans(("[10, 20, 30]", "[10, inf, 30]")), "13: cans.grid[1][2]: received 'inf', expected a reading of 0 or more, "
     "correct it"),
    (cans(("[10, 20, 30]", "[10, 2e6, 30]")), "13: cans.grid[1][2]: received '2000000.0', expected a reading of at "
     "most 1,000,000, check it and its unit"),
    (cans(("[10, 20, 30]", "30")), "13: cans.grid[1]: received '30', expected a list: the readings, one row for each "
     "place in `along`, put it in square brackets"),
]


@pytest.mark.parametrize(("text", "says"), VALUES, ids=[item[1].split(":")[1].strip() for item in VALUES])
def test_single_values(text, says):
    assert said(text) == [f"f.toml:{says}"]


# --- limits ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "start"), [
    (cans(NO_GRID, more="points = [" + '{ x = "1 m", y = "2 m", catch = 3 },' * 2001 + "]\n"),
     "f.toml:11: cans.points: received 2001 items, expected at most 2000 items"),
    (text_of(cans=f"""[cans]
reads = "depth"
unit = "mm"
across = [{'"1 m",' * 45}]
along = [{'"1 m",' * 45}]
grid = [{("[" + "1," * 45 + "],") * 45}]
"""), "f.toml:12: cans.grid: received 2025 cans, expected at most 2000, split the test into zones"),
    (more('lines = "together"\n' + "".join(f'[[lines]]\nname = "{n}"\nx = "1 m"\n' for n in range(61))),
     "f.toml:17: lines: received 61 items, expected at most 60 items"),
    (more('lines = "together"\n' + "".join(
        f'[[lines]]\nname = "{n}"\nx = "1 m"\nfirst = "1 m"\nspacing = "1 cm"\ncount = 1000\n' for n in range(4))),
     "f.toml:17: lines: received 4000 heads, expected at most 3000, split the test into zones"),
    (text_of(test=f'[test]\ntitle = "t"\nnotes = "{"n" * 4001}"\n'), "f.toml:4: test.notes: received 4001 characters"),
    (more("[heads]\nflow = " + "[" * 5000 + "]" * 5000 + "\n"), "f.toml:1: received brackets nested too deeply"),
    (more("[heads]\nflow = " + "{a=" * 5000 + "1" + "}" * 5000 + "\n"),
     "f.toml:1: received brackets nested too deeply"),
    (more("[heads]\nflow = " + "[" * 300 + "]" * 300 + "\n"), "f.toml:17: heads.flow: received '[[["),
    (more("[heads]\nflow." + "a." * 60 + "b = 1\n"), "f.toml:17: received a key of more than 50 parts, expected a "
                                                    "record in TOML, check the file"),
    (more("[heads." + "'a'." * 60 + "b]\n"), "f.toml:16: received a key of more than 50 parts"),
    (more("[heads]\nflow = " + "9" * 5000 + "\n"), "f.toml:17: received a number of too many digits, expected a record "
                                                  "in TOML, correct this line"),
    (more("[heads]\nflow = 0x" + "f" * 5000 + "\n"), "f.toml:17: heads.flow: received the bare number 0xfff"),
    (cans(("[10,", "[0x" + "f" * 5000 + ",")), "f.toml:13: cans.grid[1][1]: received '0xfff"),
    (more(LINE + "count = 0x" + "f" * 5000 + "\n"), "f.toml:19: lines[1].count: received '0xfff"),
    (text_of(record="record = 0x" + "f" * 5000 + "\n"), "f.toml:1: record: received record = 0xfff"),
    (more('[heads]\nflow = "1 L/h' + " " * 100_000 + 'x"\n'), "f.toml:17: heads.flow: received '1 L/h', expected a "
                                                            "flow"),
], ids=["cans", "grid", "lines", "heads", "notes", "lists", "tables", "300 lists", "dotted", "header", "digits",
        "hexadecimal", "reading", "count", "version", "spaces"])
def test_limits(text, start):
    found = said(text)
    assert found[0].startswith(start) and len(found) == 1
    assert len(found[0]) < 400


def test_a_heap_of_faults_ends():
    found = said(more("".join(f"k{number} = 1\n" for number in range(20_000))))
    assert len(found) == MOST_FAULTS


# --- all at once -----------------------------------------------------------------------------------


def test_all_faults_at_once_in_the_order_of_the_format():
    text = """record = 1
[cans]
reads = "volume"
unit = "mL"
opening = 84
across = ["1 m", "3 m"]
along = ["1 m", "4 m"]
grid = [[10, "x"], [20, 30]]
[[lines]]
count = 3
name = "a:b"
x = "9 m"
pipe = "3 L"
[[lines]]
name = "a:b"
x = "1 m"
hieght = "2 m"
[run]
wind = "fresh"
[floor]
length = "12 m"
width = "6 m"
beds = [{ from = "1 m", to = "1 m" }]
[test]
[extra]
"""
    assert [line.split(": received")[0] for line in said(text)] == [
        "f.toml:24: test.title", "f.toml:23: floor.beds[1]", "f.toml:11: lines[1].name", "f.toml:12: lines[1].x",
        "f.toml:13: lines[1].pipe", "f.toml:15: lines[2].name", "f.toml:15: lines[2].name",
        "f.toml:17: lines[2].hieght", "f.toml:5: cans.opening", "f.toml:8: cans.grid[1][2]",
        "f.toml:18: run.duration", "f.toml:19: run.wind", "f.toml:25: extra"]


def test_a_wrong_optional_key_hides_no_other_fault():
    found = said(more('lines = "both"\n[[lines]]\nname = "a"\nx = "1 m"\nrise = 2\n[[lines]]\nname = "a"\nx = "7 m"\n'))
    assert [line.split(": received")[0] for line in found] == [
        "f.toml:20: lines[1].rise", "f.toml:22: lines[2].name", "f.toml:23: lines[2].x",
        "f.toml:16: run.lines"]


def test_a_needed_key_that_is_wrong_brings_no_second_complaint():
    assert [line.split(": received")[0] for line in said(cans(('"100 cm2"', '"100"')))] == [
        "f.toml:10: cans.opening_area"]
    assert [line.split(": received")[0] for line in said(text_of(floor='[floor]\nwidth = 6\nlength = "12 m"\n'))] == [
        "f.toml:5: floor.width"]


def test_faults_carry_their_parts():
    with pytest.raises(RecordFaults) as caught:
        build({"record": 1, "test": {}, "floor": {"width": "6 m", "length": "9 m"}, "cans": {}, "run": {}})
    assert [fault.key for fault in caught.value.faults] == ["test.title", "cans.reads", "cans.unit", "run.duration"]
    first = caught.value.faults[0]
    assert first.says == "received nothing, expected the title of this test, in quotes, add it"
    assert caught.value.lines[0] == str(caught.value).splitlines()[0] == f"test.title: {first.says}"


def test_list_items_are_counted_from_one():
    assert key_text(("cans", "grid", 1, 2)) == "cans.grid[2][3]"
    assert key_text(()) == ""


def test_the_order_of_the_format():
    paths = [("floor", "width"), ("floor", "beds", 0, "from"), ("floor", "beds", 1, "from"), ("floor", "no"),
             ("lines", 0), ("lines", 0, "x"), ("cans", "grid", 1), ("nothing",)]
    assert sorted(reversed(paths), key=path_order) == paths


# --- what does not stop a record -------------------------------------------------------------------


@pytest.mark.parametrize("text", [
    '[supply]\nflowing = [{ pressure = "1 bar", volume = "2 L", time = "0 s" }]\n',
    LINE + 'pipe = "2 m"\n',
    '[heads]\nexponent = 5\n',
    '[supply]\nstatic = "1 bar"\nregulator = { set = "2 bar" }\n',
    '[[pressures]]\nat = "line"\nline = "nowhere"\nvalue = "1 bar"\n[[pressures]]\nat = "supply"\nvalue = "2 bar"\n',
    LINE + 'first = "1 m"\nspacing = "1 m"\ncount = 3\n[[head_flows]]\nline = "a"\nhead = 9\nvolume = "1 L"\n'
           'time = "1 min"\n',
    '[[patches]]\nx = ["2 m", "1 m"]\ny = ["1 m", "1 m"]\n',
    '[heads]\nopens_at = "50 kPa"\ncloses_at = "60 kPa"\n',
    '[supply]\ncut_in = "3 bar"\ncut_out = "2 bar"\n',
    '[crop]\ndaily_use = "3 m"\nroot_depth = "9 m"\n',
    '[target]\ndu_low_quarter = 400\n',
    '[heads]\nheight = "30 m"\nwetted_diameter = "90 m"\n',
    '[care]\nfilter_cleaned = 2999-01-01\n',
    LINE,
    "[heads]\n",
    "[supply]\n",
])
def test_well_formed_and_hard_to_believe_stops_nothing(text):
    assert said(more(text)) == []
