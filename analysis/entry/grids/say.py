"""Sentences about readings from elsewhere: what was understood, and what to look at."""

from __future__ import annotations

import math
import re
from collections import Counter

from ...units.quantity import clip_text
from .cells import MOST_READING, READS, Meaning
from .heads import Block
from .table import MOST_CANS, MOST_COLUMNS, MOST_ROWS, GridError, count_of

_SINGLY = 20  # doubtful cells that get a sentence of their own
_WIDE = 78  # columns of a line of the preview
_TALL = 8  # rows of the preview


def where(block: Block, row: int, column: int, sheet: bool) -> str:
    """Name a can, and its cell in the source where that is another."""
    return name_cell(block.lines, block.columns, row, column, sheet)


def name_cell(lines, columns, row: int, column: int | None, sheet: bool) -> str:
    """Name a can, and its cell in the source where that is another."""
    line = lines[row]
    if column is None:
        return f"row {row + 1}" + (f" (line {line})" if line != row + 1 else "")
    at = columns[min(column, len(columns) - 1)]
    text = f"row {row + 1}, column {column + 1}"
    if sheet:
        letters = ""
        while at:
            at, left = divmod(at - 1, 26)
            letters = chr(65 + left) + letters
        return f"{text} (cell {letters}{line})"
    return text if (line, at) == (row + 1, column + 1) else f"{text} (line {line}, cell {at})"


def refuse(block: Block, sheet: bool, points: bool) -> None:
    """Refuse readings that cannot be: too many, or below zero."""
    rows, columns = len(block.rows), max(map(len, block.rows))
    if rows > MOST_ROWS and not points or columns > MOST_COLUMNS:
        raise GridError(f"received {count_of(rows, 'row')} and {count_of(columns, 'column')} of readings",
                        f"expected at most {MOST_ROWS} rows and {MOST_COLUMNS} columns", "send one zone's readings")
    cans = sum(map(len, block.rows))
    if cans > MOST_CANS:
        raise GridError(f"received {count_of(cans, 'can')}", f"expected at most {MOST_CANS}",
                        "send one zone's readings")
    below = [f"{clip_text(cell.raw)} at {where(block, at, number, sheet)}" for at, row in enumerate(block.rows)
             for number, cell in enumerate(row) if cell.value < 0]
    if below:
        more = f" and {len(below) - 10} more" if len(below) > 10 else ""
        raise GridError(f"received {'; '.join(below[:10])}{more}", "expected readings of 0 or more",
                        "correct them, or leave a cell blank where there is no reading")


def settle_unit(block: Block, default: str | None, notes: list[str], doubts: list[str]) -> str | None:
    """Find the unit of the readings, and say where it comes from."""
    beside = Counter(cell.unit for row in block.rows for cell in row if cell.unit in READS)
    named = list(dict.fromkeys(block.units))
    unit = named[0] if named else beside.most_common(1)[0][0] if beside else default
    if len(named) > 1:
        doubts.append(f"The headings name several units ({', '.join(named)}): {unit} was taken.")
    if unit is None:
        doubts.append("No unit of the readings was found: say which it is.")
    elif not named and not beside:
        notes.append(f"No unit of the readings was found: {unit} was taken, as set.")
    else:
        notes.append(f"The readings are in {unit} ({READS[unit]}).")
        if default and default != unit:
            doubts.append(f"The table says {unit}, not {default}: {unit} was taken.")
    bare = sum(cell.kind == "number" for row in block.rows for cell in row)
    if beside and bare and not named:
        doubts.append(f"{count_of(bare, 'reading')} without a unit: {unit} was taken, as for the others.")
    return unit


def value_of(cell: Meaning, unit: str | None) -> float:
    """Take a cell as a reading."""
    taken = cell.kind == "number" or cell.kind == "measure" and cell.unit == unit
    return cell.value if taken and cell.value <= MOST_READING else math.nan


def doubt_cells(block: Block, unit: str | None, sheet: bool) -> list[str]:
    """Name every cell that was not understood."""
    found = []
    for at, row in enumerate(block.rows):
        for number, cell in enumerate(row):
            if cell.kind in ("blank", "mark") or not math.isnan(value_of(cell, unit)):
                continue
            why = cell.why
            if cell.kind == "measure" and not why:
                why = f"is in {cell.unit}, not in {unit}" if cell.unit != unit else ""
            found.append((where(block, at, number, sheet), clip_text(cell.raw), why or "is over 1,000,000"))
    said = [f"{place[0].upper()}{place[1:]}: {text} {why}; it was taken as no reading."
            for place, text, why in found[:_SINGLY]]
    if len(found) > _SINGLY:
        rest = "; ".join(f"{place} {text}" for place, text, _ in found[_SINGLY:])
        said.append(f"{count_of(len(found) - _SINGLY, 'more cell')} taken as no reading: {rest}.")
    return said


def doubt_merged(ranges: list[str], block: Block) -> list[str]:
    """Name the merged cells among the readings."""
    said, places = [], {(line, column): cell for row, line in zip(block.rows, block.lines, strict=True)
                        for column, cell in zip(block.columns, row, strict=False)}
    for name in ranges:
        column, line = re.match(r"([A-Z]+)(\d+)", name).groups()
        number = 0
        for letter in column:
            number = number * 26 + ord(letter) - 64
        cell = places.get((int(line), number))
        if cell is not None and cell.kind != "blank":
            said.append(f"The merged cells {name} hold {clip_text(cell.raw)}: it was taken for the first of them only.")
    return said


def say_numbers(block: Block, style: str | None, notes: list[str], doubts: list[str]) -> None:
    """Say how decimals and thousands were read."""
    cells = [cell for row in block.rows for cell in row if not math.isnan(cell.value)]
    comma = next((cell for cell in cells if "," in cell.text and not cell.grouped), None)
    grouped = next((cell for cell in cells if cell.grouped), None)
    if comma:
        notes.append(f"Decimal commas: {comma.text} was read as {comma.value:.10g}.")
    if style == "both":
        doubts.append("Decimal points and decimal commas both occur: check the numbers.")
    if grouped:
        notes.append(f"Thousands: {grouped.text} was read as {grouped.value:.10g}.")


def say_blanks(block: Block, notes: list[str], doubts: list[str]) -> None:
    """Say which cells hold no reading, and which cans were dry."""
    cells = [cell for row in block.rows for cell in row]
    blank = sum(cell.kind == "blank" for cell in cells)
    if blank:
        notes.append(f"{count_of(blank, 'blank cell')}: no reading.")
    for mark, number in Counter(cell.text for cell in cells if cell.kind == "mark").items():
        notes.append(f"{count_of(number, 'cell')} with '{mark}': no reading.")
    dry = sum(cell.value == 0 for cell in cells)
    if dry:
        notes.append(f"{count_of(dry, 'dry can')} with 0: counted." if dry > 1 else "1 dry can with 0: it counts.")
    if len(set(map(len, block.rows))) > 1:
        doubts.append("The rows hold different numbers of cells ("
                      + ", ".join(map(str, map(len, block.rows[:12]))) + (", …" if len(block.rows) > 12 else "")
                      + "): no cell was made up.")
    empty = [at + 1 for at, row in enumerate(block.rows) if all(cell.kind == "blank" for cell in row)]
    wide = [at + 1 for at in range(max(map(len, block.rows)))
            if all(row[at].kind == "blank" for row in block.rows if at < len(row))]
    for name, numbers in (("Row", empty), ("Column", wide)):
        if numbers:
            doubts.append(f"{name}{'s' * (len(numbers) > 1)} {', '.join(map(str, numbers))} "
                          f"{'have' if len(numbers) > 1 else 'has'} only blank cells: taken as no readings.")


def preview(readings, across, along, points) -> list[str]:
    """Draw the first rows of a table."""
    shown = readings if points is None else [(point[2],) for point in points]
    table = [["-" if math.isnan(value) else f"{value:.6g}" for value in row] for row in shown[:_TALL]]
    if points is not None:
        table = [[point[0], point[1], *row] for point, row in zip(points, table, strict=False)]
        table.insert(0, ["x", "y", "catch"])
    else:
        sides = along or [str(at + 1) for at in range(len(readings))]
        table = [[side, *row] for side, row in zip(sides, table, strict=False)]
        width = max(len(row) for row in table) - 1
        table.insert(0, ["", *(across[:width] if across else map(str, range(1, width + 1)))])
    table = [[text if len(text) <= 14 else text[:13] + "…" for text in row] for row in table]
    widths = [max(len(row[at]) for row in table if at < len(row)) for at in range(max(map(len, table)))]
    fit = len(widths)
    while sum(widths[:fit]) + 2 * fit + 2 > _WIDE:
        fit -= 1
    lines = ["  ".join(text.rjust(size) for text, size in zip(row[:fit], widths, strict=False))
             + ("  …" if len(row) > fit else "") for row in table]
    more = len(shown) - _TALL
    return lines + ([f"… and {count_of(more, 'more row')}"] if more > 0 else [])
