"""A long list with columns x, y and catch -> cans at their places."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from ...units.quantity import clip_text
from .cells import CATCH_WORDS, LENGTHS, READS, Meaning, distance_text, heading_units, heading_words, unit_of
from .heads import Block
from .table import GridError, count_of

_SEARCHED = 30  # rows from the top in which the headings may stand


@dataclass(frozen=True)
class Places:
    """The places of cans in a list.

    Attributes
    ----------
    x, y : tuple of str
        Quantity texts, one a can.
    """

    x: tuple[str, ...]
    y: tuple[str, ...]


def take_points(block: Block) -> Places | None:
    """Take a list of cans with their places."""
    found = next(((at, roles) for at, row in enumerate(block.rows[:_SEARCHED]) if (roles := _roles(row))), None)
    if found is None or found[0] + 1 >= len(block.rows):
        return None
    at, roles = found
    _say_above(block, at)
    headings = block.rows[at]
    shown = [clip_text(headings[roles[role]].text) for role in ("x", "y", "catch")]
    block.notes.append(f"A list of cans: {shown[0]} was taken as x, {shown[1]} as y, {shown[2]} as the catch.")
    units = {role: _unit(headings[roles[role]], role, block) for role in ("x", "y")}
    block.units += [unit for unit in heading_units(headings[roles["catch"]].raw) if unit in READS]
    for column, cell in enumerate(headings):
        filled = [row[column].raw for row in block.rows[at + 1:] if len(row) > column and row[column].kind != "blank"]
        if column not in roles.values() and filled:
            block.doubts.append(f"Column {block.columns[column]}, {clip_text(cell.text)}, was not used: "
                                f"{clip_text('; '.join(filled), 200)}.")
    for row, line in zip(block.rows[at + 1:], block.lines[at + 1:], strict=True):
        beyond = [cell.raw for cell in row[len(headings):] if cell.kind != "blank"]
        if beyond:
            block.doubts.append(f"Line {line}: {clip_text('; '.join(beyond), 200)} has no heading and was not used.")
    xs, ys = _take_rows(block, at + 1, roles, units)
    return Places(tuple(xs), tuple(ys))


def _roles(row: list[Meaning]) -> dict[str, int] | None:
    """Which column is which; None unless x, y and a catch are named."""
    found: dict[str, list[int]] = {"x": [], "y": [], "catch": []}
    for at, cell in enumerate(row):
        words = heading_words(cell.text.replace("_", " "))
        x, y = bool(words & {"x", "across"}), bool(words & {"y", "along"})
        if cell.kind not in ("word", "mark") or x and y:
            continue
        if x or y:
            found["x" if x else "y"].append(at)
        elif words & CATCH_WORDS or unit_of(cell.text) in READS:
            found["catch"].append(at)
    named = [cell for cell in row if cell.kind != "blank"]
    if not found["catch"] and len(named) == 3 and len(found["x"]) == len(found["y"]) == 1:
        placed = (*found["x"], *found["y"])
        found["catch"] = [at for at, cell in enumerate(row) if cell.kind == "word" and at not in placed]
    if len(found["x"]) != 1 or len(found["y"]) != 1 or not found["catch"]:
        return None
    return {role: columns[0] for role, columns in found.items()}


def _say_above(block: Block, at: int) -> None:
    for row, line in zip(block.rows[:at], block.lines[:at], strict=True):
        text = " ".join(cell.text for cell in row if cell.kind != "blank")
        if text:
            block.units += [unit for unit in heading_units(text) if unit in READS]
            block.notes.append(f"Line {line}, {clip_text(text, 60)}, was taken as a title.")


def _unit(heading: Meaning, role: str, block: Block) -> str | None:
    return next((unit for unit in heading_units(heading.raw.replace("_", " ")) if unit in LENGTHS), None)


def _take_rows(block: Block, first: int, roles: dict[str, int], units: dict[str, str | None]):
    xs, ys, readings, lines, assumed, blank = [], [], [], [], 0, 0
    for row, line in zip(block.rows[first:], block.lines[first:], strict=True):
        cells = {role: row[at] if at < len(row) else Meaning("blank") for role, at in roles.items()}
        if all(cell.kind == "blank" for cell in cells.values()):
            words = " ".join(cell.text for cell in row if cell.kind != "blank")
            if words:
                block.doubts.append(f"Line {line}, {clip_text(words, 60)}, holds no can and was left out.")
            blank += not words
            continue
        places = [distance_text(cells[role], units[role] or "m") for role in ("x", "y")]
        if None in places:
            text = ", ".join(clip_text(cells[role].raw) for role in ("x", "y", "catch"))
            block.doubts.append(f"Line {line} ({text}) was left out: its place cannot be read.")
            continue
        assumed += sum(cells[role].kind == "number" and units[role] is None for role in ("x", "y"))
        xs.append(places[0])
        ys.append(places[1])
        readings.append([cells["catch"]])
        lines.append(line)
    if not readings or all(math.isnan(row[0].value) for row in readings):
        raise GridError("received a list of cans without one that has a place and a number",
                        "expected x, y and a reading such as 0.6 m, 1.2 m, 31", "correct the list")
    if assumed:
        block.doubts.append(f"{count_of(assumed, 'distance')} without a unit: m was assumed.")
    if blank:
        block.notes.append(f"{count_of(blank, 'blank row')} left out.")
    twice = [place for place, times in Counter(zip(xs, ys, strict=True)).items() if times > 1]
    if twice:
        block.doubts.append(f"{count_of(len(twice), 'place')} more than once: {'; '.join(map(', '.join, twice[:5]))}.")
    block.rows, block.lines, block.columns = readings, lines, [block.columns[roles["catch"]]]
    return xs, ys
