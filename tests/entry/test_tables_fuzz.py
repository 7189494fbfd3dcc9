"""Spoilt tables by the thousand: each is understood, doubted or refused in one sentence (`--fuzz 20000` for more)."""

import math
import random

import pytest
from evenfall.entry.grids.doubts import ASKED, EDGES, ROLES
from evenfall.entry.grids.into import check_fit, merge_cans, replaced
from evenfall.entry.grids.reading import GridError, read_file, read_text, to_cans
from evenfall.record.checks import build
from evenfall.record.faults import RecordFaults
from evenfall.record.file import parse_toml, plain_text

from ..conftest import GRID
from .workbooks import book, packed, unpacked

TABLES = [
    "31,28,29\n30,27,26\n28,26,25\n29,26,28", ";1 m;3 m;5 m\n1 m;11;21;31\n4 m;21;31,5;\n7 m;31;41;51\n10 m;41;51;61",
    "y \\ x (m)\t0.6\t1.9\n1.2\t31\t28\n3.6\t30\t27", "row,can,reading\n1,1,31\n1,2,28\n2,1,30\n2,2,27",
    "x (m),y (m),catch (mL),note\n0.6,1.2,31,\n1.9,1.2,x,windy\n3.2,3.6,0,", "mL,can\n31,1\n28,2\n29,3",
    "Heron Bank\n18 March\n\nrow\tleft\tright\tmean\nA\t31\t28\t29.5\nB\t30\t27\t28.5\nMean\t30.5\t27.5\t29",
    "12,5 13,1 14,0\n11 12,5 13", "| a | b |\n|---|:--|\n| 31 | 28 |\n| 30 | 27 |", "31\n\n28\n\n29",
    "A,B\nmL,mL\n31,28\n30,27", "1,17,29,27\n2,18,30,28\n3,16,28,25", "3,1,2,8\n2,9,3,0", "1.234\t1.100\n1.050\t1.300",
    "31\t28\n30\t27\n\n12\t13\n11\t10", '"12,5","13,1"\n"14,0","0"',
]
TOKENS = ["", "", "x", "-", "0", "31", "28.5", "12,5", "1,200", "1.200", "1 200", "1e9", "-5", "3l", "7 mL", "0.6 m",
          "2 ft 6 in", "5%", "46464", "#DIV/0!", "#N/A", "mean", "Total", "row", "can", "catch (mL)", "x (m)", "y",
          "mL", "L", "a b", '"', "'", "=1+1", "2O", "١٢", "½", "∞", "\u00a0", "\u202e31", "\x1b[31m", "1/0", "1/2",
          "nan", "inf", "1" * 400, "word " * 90, "![](//host/x)", "\\", "|", "2027-03-18"]
SEPARATORS = [",", ";", "\t", "|", " ", ", "]


def spoilt(chance):
    """A table with one to four things changed: a cell, a row, a column, the separator, a letter."""
    text = chance.choice(TABLES)
    mark = next((mark for mark in "\t;|," if mark in text), " ")
    rows = [line.split(mark) for line in text.split("\n")]
    for _ in range(chance.randint(1, 4)):
        row = chance.choice(rows)
        at = chance.randrange(len(row)) if row else 0
        what = chance.randrange(9)
        if what < 3 and row:
            row[at] = chance.choice(TOKENS)
        elif what == 3:
            row.insert(at, chance.choice(TOKENS))
        elif what == 4 and row:
            del row[at]
        elif what == 5:
            rows.insert(chance.randrange(len(rows) + 1), list(chance.choice([row, [], [chance.choice(TOKENS)]])))
        elif what == 6:
            for number, line in enumerate(rows):
                line.insert(min(at, len(line)), str(number + 1) if chance.random() < 0.5 else chance.choice(TOKENS))
        elif what == 7:
            mark = chance.choice(SEPARATORS)
        elif len(rows) > 1:
            rows.remove(row)
    text = "\n".join(mark.join(line) for line in rows)
    if chance.random() < 0.2 and text:
        at = chance.randrange(len(text))
        text = text[:at] + chance.choice(["", "\n", "\x00", chr(chance.randrange(32, 0x3000)), '"']) + text[at + 1:]
    return text * chance.choice([1, 1, 1, 1, 2])


def answers(chance):
    """None, or what a person may have answered."""
    given = {edge: chance.choice(ROLES) for edge in EDGES if chance.random() < 0.2}
    if chance.random() < 0.2:
        given["decimal"] = chance.choice(".,")
    if chance.random() < 0.3:
        given["unit"] = chance.choice(["mL", "L", "mm", "g", "litres", "kPa"])
    return given


def check(understood, given):
    """What must hold of whatever was understood."""
    said = " ".join([*understood.notes, *understood.remarks, *(doubt.says for doubt in understood.doubts)])
    assert all(len(line) <= 80 for line in understood.says.split("\n")), understood.says
    for row, texts in zip(understood.readings, understood.texts, strict=True):
        for value, text in zip(row, texts, strict=True):
            assert math.isnan(value) or 0 <= value <= 1e6
            assert not math.isnan(value) or not text.strip() or "no reading" in said
    for doubt in understood.doubts:
        assert doubt.says.endswith(".") and "\n" not in doubt.says
        assert not doubt.asks or doubt.asks in ASKED and doubt.choices and doubt.taken in ("", *doubt.choices)
        assert doubt.asks not in EDGES or doubt.asks not in given  # an answer settles what it was asked for
    cans = to_cans(understood)
    if not understood.doubts:
        assert parse_toml(plain_text({"cans": cans}))["cans"].keys() == cans.keys()
    return cans


def into_a_record(cans):
    """Whether the readings make a record: a fault is a sentence, never anything else."""
    raw = parse_toml(GRID)
    try:
        check_fit(raw["cans"], cans)
        replaced(raw["cans"], cans)
        raw["cans"] = merge_cans(raw["cans"], cans)
        return build(raw) is not None
    except (GridError, RecordFaults) as error:
        assert "received " in str(error) and "expected " in str(error)
        return False


def tried(read, given):
    """Read a table; what became of it."""
    try:
        understood = read(given)
    except GridError as error:
        said = str(error)
        assert said.startswith("received ") and ", expected " in said and "\n" not in said and len(said) < 5000, said
        return "refused"
    taken = into_a_record(check(understood, given))
    return "doubted" if understood.doubts else "taken" if taken else "understood"


def test_spoilt_tables(cases):
    became = {"refused": 0, "doubted": 0, "taken": 0, "understood": 0}
    for case in range(cases):
        chance = random.Random(case)
        text, given = spoilt(chance), answers(chance)
        try:
            became[tried(lambda given, text=text: read_text(text, given, default_unit="mL"), given)] += 1
        except Exception as error:
            pytest.fail(f"case {case}: {text!r} with {given}: {error!r}")
    assert min(became.values()) > cases / 200, became  # the spoilt tables try every way through


def test_spoilt_workbooks(cases):
    rows = [[None, "0.6 m", "1.9 m"], ["1.2 m", 31, 28.5], ["3.6 m", "x", "=B2+1"], ["Mean", 30, 27]]
    good = book(rows, sheets={"Later": [[1, 2], [3, 4]]})
    members, refused = unpacked(good), 0
    for case in range(cases // 20):
        chance = random.Random(case)
        name = chance.choice(list(members))
        part = bytearray(members[name])
        for _ in range(chance.randint(1, 6)):
            at = chance.randrange(len(part))
            piece = chance.choice([b"", b"<", b">", b'"', b"9999999999", b"<c/>", b'<row r="1048577"/>', b"\xff",
                                   b"&#0;", bytes([chance.randrange(256)]), part[at // 2:at // 2 + 40]])
            part[at:at + chance.randint(0, 3)] = piece
        whole = bytearray(good)
        whole[chance.randrange(len(good))] = chance.randrange(256)
        del whole[len(whole) - chance.choice([0, 0, 1, 400]):]
        for data in (packed(members | {name: bytes(part)}), bytes(whole)):
            try:
                refused += tried(lambda given, data=data: read_file(data, "a.xlsx", given), {}) == "refused"
            except Exception as error:
                pytest.fail(f"case {case}: {name}: {error!r}")
    assert 0 < refused < cases // 10
