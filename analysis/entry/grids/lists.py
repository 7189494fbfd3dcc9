"""A long list, one can a line: with x and y, with row and can, or with the can's number alone."""

from __future__ import annotations

import math
from collections import Counter

from ...units.quantity import clip_text
from .block import Block, column_of, filled, line_of, shown, values_of
from .cells import BLANK, CATCH_WORDS, LENGTHS, READS, Meaning, distance_text, heading_units, heading_words, unit_of
from .table import GridError, count_of

_SEARCHED = 30  # rows from the top in which the headings may stand
_NAMED = {"x": frozenset({"x", "across"}), "y": frozenset({"y", "along"}), "row": frozenset({"row", "rows"}),
          "can": frozenset("can cans column columns col position no nr number station point".split())}


def take_list(block: Block) -> bool:
    """Take a list of cans, if it is one; after, the block is a grid or one column of readings, or has places too."""
    found = next(((at, roles) for at, row in enumerate(block.rows[:-1][:_SEARCHED])
                  if (roles := _roles(row, block.rows[at + 1:]))), None)
    if found is None:
        return False
    at, roles = found
    headings, rows = block.rows[at], block.rows[at + 1:]
    for row in filter(filled, block.rows[:at]):
        text = " ".join(cell.text for cell in filled(row))
        block.units += [unit for unit in heading_units(text) if unit in READS]
        block.notes.append(f"Line {line_of(row)}, {clip_text(text, 60)}, was taken as a title.")
    units = {role: _units(headings[column]) for role, column in roles.items()}
    if len(rows) > 1 and all(unit_of(cell.text) for cell in filled(rows[0])):
        under = rows.pop(0)
        block.notes.append(f"Line {line_of(under)}, {shown(under)}, was taken as units.")
        units |= {role: named for role, column in roles.items() if (named := _units(_cell(under, column)))}
    block.units += [unit for unit in units["catch"] if unit in READS]
    _say_unused(block, headings, rows, set(roles.values()))
    told = [f"{clip_text(headings[at].text)} was taken as {role}" for role, at in roles.items()]
    block.notes.append(f"A list of cans: {', '.join(told)}.")
    cans = _cans(block, rows, roles)
    if "x" in roles:
        _take_places(block, cans, units)
    else:
        _take_numbers(block, cans)
    return True


def _cell(row: list[Meaning], at: int) -> Meaning:
    return row[at] if at < len(row) else BLANK


def _units(heading: Meaning) -> list[str]:
    return heading_units(heading.raw.replace("_", " "))


def _role(cell: Meaning) -> str:
    """What a heading names: x, y, row, can or catch; empty for anything else."""
    words = heading_words(cell.text.replace("_", " "))
    named = [role for role, known in _NAMED.items() if words & known]
    if cell.kind not in ("word", "mark") or {"x", "y"} <= set(named):
        return ""
    if {"x", "y"} & set(named):
        return named[0]
    return "catch" if words & CATCH_WORDS or unit_of(cell.text) in READS else "".join(named[:1])


def _roles(row: list[Meaning], below: list[list[Meaning]]) -> dict[str, int] | None:
    """Which column is which, where a row heads a list."""
    named = [_role(cell) for cell in row]
    times = Counter(named)
    if times["x"] == times["y"] == 1:
        return _placed(row, named)
    numbers = [role for role in ("row", "can") if times[role]]
    if not numbers or {times[role] for role in (*numbers, "catch")} != {1} or not {
            cell.kind for cell in row} <= {"word", "blank"}:
        return None
    cells = [cell for role in numbers for cell in filled(column_of(below, named.index(role)))]
    whole = [cell.value.is_integer() for cell in cells].count(True)
    return {role: named.index(role) for role in (*numbers, "catch")} if 2 * whole > len(cells) else None


def _placed(row: list[Meaning], named: list[str]) -> dict[str, int] | None:
    """x, y and the catch: named so, or the only other column."""
    others = [at for at, cell in enumerate(row) if cell.kind == "word" and named[at] not in ("x", "y")]
    if "catch" not in named and len(filled(row)) == 3 and others:
        named[others[0]] = "catch"
    return {role: named.index(role) for role in ("x", "y", "catch")} if "catch" in named else None


def _say_unused(block: Block, headings: list[Meaning], rows: list[list[Meaning]], used: set[int]) -> None:
    for at, cell in enumerate(headings):
        others = filled(column_of(rows, at))
        if at not in used and others:
            block.remarks.append(f"Column {cell.column}, {clip_text(cell.raw)}, was not used: "
                                 f"{shown(others, 200, '; ')}.")
    for row in rows:
        beyond = row[len(headings):]
        if filled(beyond):
            block.remarks.append(f"Line {line_of(row)}: {shown(beyond, 200, '; ')} has no heading and was not used.")


def _cans(block: Block, rows: list[list[Meaning]], roles: dict[str, int]) -> list[dict[str, Meaning]]:
    """The rows that hold a can, cell by role."""
    found, blank = [], 0
    for row in rows:
        cells = {role: _cell(row, at) for role, at in roles.items()}
        if filled(list(cells.values())):
            found.append(cells)
        elif filled(row):
            block.remarks.append(f"Line {line_of(row)}, {shown(row)}, holds no can and was left out.")
        else:
            blank += 1
    if blank:
        block.notes.append(f"{count_of(blank, 'blank row')} left out.")
    return found


def _left_out(block: Block, cells: dict[str, Meaning], why: str) -> None:
    line = line_of(filled(list(cells.values())))
    text = ", ".join(clip_text(cell.raw) for cell in cells.values())
    block.remarks.append(f"Line {line} ({text}) was left out: {why}.")
    if not math.isnan(cells["catch"].value):
        block.doubt(f"Line {line} holds a reading of a can that is not named: correct the line or take it out.")


def _take_places(block: Block, cans: list[dict[str, Meaning]], units: dict[str, list[str]]) -> None:
    named = {role: next((unit for unit in units[role] if unit in LENGTHS), None) for role in ("x", "y")}
    block.places, block.rows, assumed = [], [], 0
    for cells in cans:
        x, y = (distance_text(cells[role], unit or block.bare_unit) for role, unit in named.items())
        if x is None or y is None:
            _left_out(block, cells, "its place cannot be read")
            continue
        assumed += [cells[role].kind for role, unit in named.items() if unit is None].count("number")
        block.places.append((x, y))
        block.rows.append([cells["catch"]])
    if not any(row[0].unclear or values_of(row) for row in block.rows):
        raise GridError("received a list of cans without one that has a place and a number",
                        "expected x, y and a reading such as 0.6 m, 1.2 m, 31", "correct the list")
    if assumed:
        block.remarks.append(f"{count_of(assumed, 'distance')} without a unit: {block.bare_unit} was assumed.")
    twice = [place for place, times in Counter(map(", ".join, block.places)).items() if times > 1]
    if twice:
        block.doubt(f"{count_of(len(twice), 'place')} more than once: {'; '.join(twice[:5])}: keep one reading of "
                    "each.")


def _take_numbers(block: Block, cans: list[dict[str, Meaning]]) -> None:
    """Put cans with numbers where the numbers say: row by row, or one below the other."""
    found: dict[tuple[float, ...], Meaning] = {}
    for cells in cans:
        place = tuple(cells[role].value for role in ("row", "can") if role in cells)
        if not all(map(float.is_integer, place)):
            _left_out(block, cells, "its number cannot be read")
        elif place in found:
            block.doubt(f"Line {line_of(filled(list(cells.values())))}: this can is listed a second time, with "
                        f"{clip_text(cells['catch'].raw)}: keep one reading of it.")
        found.setdefault(place, cells["catch"])
    found = {place: cell for place, cell in sorted(found.items()) if all(map(float.is_integer, place))}
    if not found:
        raise GridError("received a list of cans without one that has a number", "expected a number and a reading",
                        "correct the list")
    block.rows = [[cell] for cell in found.values()]
    if (first := next(iter(found)))[0] > 1:
        block.notes.append(f"The first number is {first[0]:g}: its reading is put first.")
    sides = [sorted(set(numbers)) for numbers in zip(*found, strict=True)]
    if len(sides) == 2 and min(map(len, sides)) > 1:
        block.rows = [[found.get((row, can), BLANK) for can in sides[1]] for row in sides[0]]
