"""Sentences about readings from elsewhere: what was understood, and what to look at."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from itertools import zip_longest

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
    dry = values_of(cells).count(0)
    if dry:
        block.notes.append(f"{dry} dry cans with 0: counted." if dry > 1 else "1 dry can with 0: it counts.")
    sizes = [str(len(row)) for row in block.rows]
    if len(set(sizes)) > 1:
        block.remarks.append(f"The rows hold different numbers of cells ({', '.join(sizes[:12])}"
                             f"{', …' if len(sizes) > 12 else ''}): no cell was made up.")
    _say_empty(block, "Row", block.rows)
    _say_empty(block, "Column", transposed(block.rows))


def _say_empty(block: Block, name: str, lines: list[list[Meaning]]) -> None:
    empty = [str(at) for at, line in enumerate(lines, 1) if not filled(line)]
    if empty:
        several = ("s", "have") if len(empty) > 1 else ("", "has")
        block.remarks.append(f"{name}{several[0]} {', '.join(empty)} {several[1]} only blank cells: taken as no "
                             "readings.")


def preview(readings: Sequence[Sequence[float]], across: Sequence[str] | None, along: Sequence[str] | None,
            points: Sequence[tuple[str, str, float]] | None) -> list[str]:
    """Draw the first rows of a table, or of a list of cans at their places; nan is shown as -."""
    table = [["-" if math.isnan(value) else f"{value:.6g}" for value in row] for row in readings[:_TALL]]
    if points is not None:
        table = [["x", "y", "catch"], *([x, y, *row] for (x, y, _), row in zip(points, table, strict=False))]
    else:
        sides = along or list(map(str, range(1, len(readings) + 1)))
        heads = across or list(map(str, range(1, max(map(len, table)) + 1)))
        table = [["", *heads], *([side, *row] for side, row in zip(sides, table, strict=False))]
    more = len(readings) - _TALL
    return _in_columns(table) + ([f"… and {count_of(more, 'more row')}"] if more > 0 else [])


def _in_columns(table: list[list[str]]) -> list[str]:
    """As many columns as fit a line, each as wide as its widest cell."""
    table = [[text if len(text) <= 14 else text[:13] + "…" for text in row] for row in table]
    widths = [max(map(len, column)) for column in zip_longest(*table, fillvalue="")]
    ends = [sum(widths[:at + 1]) + 2 * at for at in range(len(widths))]
    fit = sum(end <= _WIDE - 4 for end in ends)
    return ["  ".join(text.rjust(size) for text, size in zip(row[:fit], widths, strict=False))
            + ("  …" if len(row) > fit else "") for row in table]
