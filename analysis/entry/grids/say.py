"""Sentences about readings from elsewhere: what was understood, and what to look at."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from ...units.quantity import clip_text
from .block import Block, filled, values_of
from .cells import Meaning
from .edges import transposed
from .table import count_of

_WIDE = 78  # columns of a line of the preview
_TALL = 8  # rows of the preview


def where(cell: Meaning, row: int, column: int | None, sheet: bool) -> str:
    """Name a can (counted from 0), and its cell in the source where that is another: `row 2, column 3 (cell D5)`."""
    if column is None:
        return f"row {row + 1}" + (f" (line {cell.line})" if cell.line not in (0, row + 1) else "")
    text = f"row {row + 1}, column {column + 1}"
    if not cell.line:
        return text
    if sheet:
        return f"{text} (cell {_letters(cell.column)}{cell.line})"
    same = (cell.line, cell.column) == (row + 1, column + 1)
    return text if same else f"{text} (line {cell.line}, cell {cell.column})"


def _letters(column: int) -> str:
    letters = ""
    while column:
        column, left = divmod(column - 1, 26)
        letters = chr(65 + left) + letters
    return letters


def say_merged(block: Block, ranges: list[str]) -> None:
    """Name the merged cells among the readings."""
    places = {f"{_letters(cell.column)}{cell.line}": cell for row in block.rows for cell in filled(row)}
    for name in ranges:
        cell = places.get(name.partition(":")[0])
        if cell is not None:
            block.remarks.append(f"The merged cells {name} hold {clip_text(cell.raw)}: it was taken for the first of "
                                 "them only.")


def say_numbers(block: Block, style: str | None) -> None:
    """Say how decimals and thousands were read."""
    cells = [cell for row in block.rows for cell in row if not math.isnan(cell.value)]
    comma = next((cell for cell in cells if "," in cell.text and not cell.grouped), None)
    grouped = next((cell for cell in cells if cell.grouped), None)
    if comma:
        block.notes.append(f"Decimal commas: {comma.text} was read as {comma.value:.10g}.")
    if style == "both":
        block.remarks.append("Decimal points and decimal commas both occur: check the numbers.")
    if grouped:
        block.notes.append(f"Thousands: {grouped.text} was read as {grouped.value:.10g}.")


def say_blanks(block: Block) -> None:
    """Say which cells hold no reading, and which cans were dry."""
    cells = [cell for row in block.rows for cell in row]
    blank = sum(cell.kind == "blank" for cell in cells)
    if blank:
        block.notes.append(f"{count_of(blank, 'blank cell')}: no reading.")
    for mark, number in Counter(cell.text for cell in cells if cell.kind == "mark").items():
        block.notes.append(f"{count_of(number, 'cell')} with '{mark}': no reading.")
    dry = sum(value == 0 for value in values_of(cells))
    if dry:
        block.notes.append(f"{dry} dry cans with 0: counted." if dry > 1 else "1 dry can with 0: it counts.")
    sizes = list(map(len, block.rows))
    if len(set(sizes)) > 1:
        block.remarks.append(f"The rows hold different numbers of cells ({', '.join(map(str, sizes[:12]))}"
                             f"{', …' if len(sizes) > 12 else ''}): no cell was made up.")
    for name, lines in (("Row", block.rows), ("Column", transposed(block.rows))):
        numbers = [str(at) for at, line in enumerate(lines, 1) if not filled(line)]
        if numbers:
            block.remarks.append(f"{name}{'s' * (len(numbers) > 1)} {', '.join(numbers)} "
                                 f"{'have' if len(numbers) > 1 else 'has'} only blank cells: taken as no readings.")


def preview(readings: Sequence[Sequence[float]], across: Sequence[str] | None, along: Sequence[str] | None,
            points: Sequence[tuple[str, str, float]] | None) -> list[str]:
    """Draw the first rows of a table."""
    shown: Sequence[Sequence[float]] = readings if points is None else [(point[2],) for point in points]
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
