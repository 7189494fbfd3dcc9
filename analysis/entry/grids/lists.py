"""A long list, one can a line: with x and y, with row and can, or with the can's number alone."""

from __future__ import annotations

import math
from collections import Counter

from ...units.quantity import clip_text
from .block import Block, column_of, filled, line_of, shown
from .cells import CATCH_WORDS, LENGTHS, READS, Meaning, distance_text, heading_units, heading_words, unit_of
from .table import GridError, count_of

_SEARCHED = 30  # rows from the top in which the headings may stand
_ROW_WORDS = frozenset({"row", "rows"})
_CAN_WORDS = frozenset("can cans column columns col position no nr number station point".split())
_BLANK = Meaning("blank")

Roles = dict[str, int]


def take_list(block: Block) -> bool:
    """Take a list of cans, if it is one; after, the block is a grid or one column of readings, or has places too."""
    found = next(((at, roles) for at, row in enumerate(block.rows[:_SEARCHED])
                  if (roles := _placed_roles(row) or _numbered_roles(row, block.rows[at + 1:]))), None)
    if found is None or found[0] + 1 >= len(block.rows):
        return False
    at, roles = found
    _say_above(block, block.rows[:at])
    headings, rows = block.rows[at], block.rows[at + 1:]
    units = {role: _units(headings[column]) for role, column in roles.items()}
    if all(unit_of(cell.text) for cell in filled(rows[0])) and len(rows) > 1:
        block.notes.append(f"Line {line_of(rows[0])}, {shown(rows[0])}, was taken as units.")
        units = {role: _units(_cell(rows[0], column)) or units[role] for role, column in roles.items()}
        rows = rows[1:]
    block.units += [unit for unit in units["catch"] if unit in READS]
    _say_unused(block, headings, rows, set(roles.values()))
    told = ", ".join(f"{clip_text(headings[at].text)} was taken as {'the ' if role == 'catch' else ''}{role}"
                     for role, at in roles.items())
    block.notes.append(f"A list of cans: {told}.")
    if "x" in roles:
        lengths = {role: next((unit for unit in units[role] if unit in LENGTHS), None) for role in ("x", "y")}
        _take_places(block, rows, roles, lengths)
    else:
        _take_numbers(block, rows, roles)
    return True


def _cell(row: list[Meaning], at: int) -> Meaning:
    return row[at] if at < len(row) else _BLANK


def _units(heading: Meaning) -> list[str]:
    return heading_units(heading.raw.replace("_", " "))


def _words(cell: Meaning) -> set[str]:
    return heading_words(cell.text.replace("_", " "))


def _is_catch(cell: Meaning) -> bool:
    return bool(_words(cell) & CATCH_WORDS) or unit_of(cell.text) in READS


def _placed_roles(row: list[Meaning]) -> Roles | None:
    """Which column is which; None unless x, y and a catch are named."""
    axes: dict[str, list[int]] = {"x": [], "y": []}
    catch = []
    for at, cell in enumerate(row):
        x, y = (bool(_words(cell) & words) for words in ({"x", "across"}, {"y", "along"}))
        if cell.kind not in ("word", "mark") or x and y:
            continue
        if x or y:
            axes["x" if x else "y"].append(at)
        elif _is_catch(cell):
            catch.append(at)
    if len(axes["x"]) != 1 or len(axes["y"]) != 1:
        return None
    if not catch and len(filled(row)) == 3:
        catch = [at for at, cell in enumerate(row) if cell.kind == "word" and at not in (*axes["x"], *axes["y"])]
    return {"x": axes["x"][0], "y": axes["y"][0], "catch": catch[0]} if catch else None


def _numbered_roles(row: list[Meaning], below: list[list[Meaning]]) -> Roles | None:
    """Which column is which; None unless a can's number and one catch are named, and the numbers are whole."""
    if not filled(row) or any(cell.kind not in ("word", "blank") for cell in row):
        return None
    found: dict[str, list[int]] = {"row": [], "can": [], "catch": []}
    for at, cell in enumerate(row):
        words = _words(cell)
        role = ("catch" if _is_catch(cell) else "row" if words & _ROW_WORDS else "can" if words & _CAN_WORDS else None)
        if role:
            found[role].append(at)
    if len(found["catch"]) != 1 or any(len(at) > 1 for at in found.values()) or not (found["row"] or found["can"]):
        return None
    roles = {role: at[0] for role, at in found.items() if at}
    numbers = [cell for role in ("row", "can") if role in roles for cell in filled(column_of(below, roles[role]))]
    whole = [cell for cell in numbers if cell.kind == "number" and cell.value.is_integer()]
    return roles if numbers and 2 * len(whole) > len(numbers) else None


def _say_above(block: Block, above: list[list[Meaning]]) -> None:
    for row in above:
        text = " ".join(cell.text for cell in filled(row))
        if text:
            block.units += [unit for unit in heading_units(text) if unit in READS]
            block.notes.append(f"Line {line_of(row)}, {clip_text(text, 60)}, was taken as a title.")


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


def _lines(block: Block, rows: list[list[Meaning]], roles: Roles) -> list[dict[str, Meaning]]:
    """The rows that hold a can, cell by role."""
    found, blank = [], 0
    for row in rows:
        cells = {role: _cell(row, at) for role, at in roles.items()}
        if any(cell.kind != "blank" for cell in cells.values()):
            found.append(cells)
        elif filled(row):
            block.remarks.append(f"Line {line_of(row)}, {shown(row)}, holds no can and was left out.")
        else:
            blank += 1
    if blank:
        block.notes.append(f"{count_of(blank, 'blank row')} left out.")
    return found


def _left_out(block: Block, cells: dict[str, Meaning], why: str) -> None:
    line = next(cell.line for cell in cells.values() if cell.kind != "blank")
    text = ", ".join(clip_text(cell.raw) for cell in cells.values())
    block.remarks.append(f"Line {line} ({text}) was left out: {why}.")
    if not math.isnan(cells["catch"].value):
        block.doubt(f"Line {line} holds a reading of a can that is not named: correct the line or take it out.")


def _take_places(block: Block, rows: list[list[Meaning]], roles: Roles,
                 units: dict[str, str | None]) -> None:
    places, readings, assumed = [], [], 0
    for cells in _lines(block, rows, roles):
        x, y = (distance_text(cells[role], units[role] or block.bare_unit) for role in ("x", "y"))
        if x is None or y is None:
            _left_out(block, cells, "its place cannot be read")
            continue
        assumed += sum(cells[role].kind == "number" and units[role] is None for role in ("x", "y"))
        places.append((x, y))
        readings.append([cells["catch"]])
    if not readings or all(math.isnan(row[0].value) and not row[0].unclear for row in readings):
        raise GridError("received a list of cans without one that has a place and a number",
                        "expected x, y and a reading such as 0.6 m, 1.2 m, 31", "correct the list")
    if assumed:
        block.remarks.append(f"{count_of(assumed, 'distance')} without a unit: {block.bare_unit} was assumed.")
    twice = [place for place, times in Counter(places).items() if times > 1]
    if twice:
        block.doubt(f"{count_of(len(twice), 'place')} more than once: {'; '.join(map(', '.join, twice[:5]))}: keep one "
                    "reading of each.")
    block.rows, block.places = readings, places


def _take_numbers(block: Block, rows: list[list[Meaning]], roles: Roles) -> None:
    """Put cans with numbers where the numbers say: row by row, or one below the other."""
    found: dict[tuple[int, int], Meaning] = {}
    for cells in _lines(block, rows, roles):
        keys = [cells[role] for role in ("row", "can") if role in roles]
        if any(key.kind != "number" or not key.value.is_integer() for key in keys):
            _left_out(block, cells, "its number cannot be read")
            continue
        place = (int(cells["row"].value) if "row" in roles else 0, int(cells["can"].value) if "can" in roles else 0)
        if place in found:
            block.doubt(f"Line {cells['catch'].line or keys[0].line}: this can is listed a second time, with "
                        f"{clip_text(cells['catch'].raw)}: keep one reading of it.")
        found.setdefault(place, cells["catch"])
    if not found:
        raise GridError("received a list of cans without one that has a number", "expected a number and a reading",
                        "correct the list")
    across, along = ({place[side] for place in found} for side in (1, 0))
    if len(across) > 1 and len(along) > 1:
        block.rows = [[found.get((row, can), _BLANK) for can in sorted(across)] for row in sorted(along)]
    else:
        block.rows = [[found[place]] for place in sorted(found)]
