"""Catch-can readings from elsewhere: a pasted block, a CSV file or a workbook.

One reading of the table is proposed, with what is doubtful about it; nobody takes it before the doubts are settled by
answers or by another table. A cell that is not understood is no reading and is named; it never becomes 0 and is never
lost in silence. Cans are counted as in a record: row 1, column 1 is the first reading, whatever stands above it.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ...units.quantity import QuantityError, clip_text, parse
from .block import Block, trim
from .cells import BLANK, READS, Meaning, clean_text, decimal_style, meaning, unit_of
from .doubts import EDGES, ROLES, TableDoubt
from .heads import take_heads
from .lists import take_list
from .say import preview, say_blanks, say_merged, say_numbers, where
from .sheet import table_of_sheet
from .table import GridError, Table, count_of
from .text import table_of, text_of
from .values import doubt_decimals, refuse, settle_unit, take_values
from .workbook import is_workbook


@dataclass(frozen=True)
class Understood:
    """What was understood of readings from elsewhere."""

    readings: tuple[tuple[float, ...], ...]  # [unit] row by row; nan = no reading, 0 = a dry can; a list: one column
    texts: tuple[tuple[str, ...], ...]  # the cells of `readings` exactly as received
    across: tuple[str, ...] | None = None  # distances of the columns with their units, such as 0.6 m
    along: tuple[str, ...] | None = None  # of the rows
    unit: str | None = None  # a key of READS; None where nothing says
    reads: str | None = None  # volume, depth or weight, from the unit
    points: tuple[tuple[str, str, float], ...] | None = None  # x, y and reading of each can, for a list with places
    notes: tuple[str, ...] = ()  # what was understood
    remarks: tuple[str, ...] = ()  # what to look at
    doubts: tuple[TableDoubt, ...] = ()  # what must be settled before anybody takes it
    sheet: bool = False  # whether the source is a workbook's sheet
    cells: tuple[tuple[Meaning, ...], ...] = field(default=(), repr=False)  # of `readings`

    @property
    def rows_differ(self) -> bool:
        """Whether the rows hold different numbers of cells; missing cells are not made up."""
        return len(set(map(len, self.readings))) > 1

    def where(self, row: int, column: int | None) -> str:
        """Name a can (from 0; None for a row), and its cell in the source: `row 2, column 3 (cell D5)`."""
        cells = self.cells[row]
        cell = cells[min(column or 0, len(cells) - 1)] if cells else BLANK
        return where(cell, row, column, self.sheet)

    @property
    def says(self) -> str:
        """The whole in lines of at most 80 columns: size and unit, doubts, remarks, notes, the first rows."""
        cells = [reading for row in self.readings for reading in row]
        number = count_of(sum(not math.isnan(reading) for reading in cells), "reading")
        if self.points is not None:
            size = f"{count_of(len(cells), 'can')} at their places"
        elif self.rows_differ:
            size = f"{count_of(len(self.readings), 'row')} of different length"
        else:
            size = f"{count_of(len(self.readings), 'row')} of {count_of(len(self.readings[0]), 'can')}"
        unit = f"in {self.unit} ({self.reads})" if self.unit else "unit not known"
        lines = [f"{size}: {number}, {unit}."]
        lines += [f"Doubt: {doubt.says}" for doubt in self.doubts] + [f"Look: {remark}" for remark in self.remarks]
        wrapped = [part for line in [*lines, *self.notes] for part in textwrap.wrap(line, 80, subsequent_indent="  ")]
        return "\n".join([*wrapped, *preview(self.readings, self.across, self.along, self.points)])


def read_text(text: str, answers: Mapping[str, str] | None = None, *, default_unit: str | None = None,
              length_unit: str = "m") -> Understood:
    """Read a pasted block of readings.

    `answers` settle doubts (`TableDoubt.asks` -> one of its choices), `default_unit` is the readings' where neither the
    table nor an answer says, `length_unit` that of distances without any.
    """
    if not isinstance(text, str):
        raise GridError(f"received {clip_text(type(text).__name__)}", "expected text", "paste the table as text")
    checked = _checked(answers, default_unit)
    return _understand(table_of(text, checked.get("decimal")), checked, default_unit, length_unit)


def read_file(data: bytes, name: str, answers: Mapping[str, str] | None = None, *, sheet: str | None = None,
              default_unit: str | None = None, length_unit: str = "m") -> Understood:
    """Read a CSV file or one sheet of a workbook (the first that is shown, if none is named); see `read_text`."""
    checked = _checked(answers, default_unit)
    if not data:
        raise GridError(f"received {clip_text(name)}, which is empty", "expected a table of readings",
                        "save the file again")
    if is_workbook(data, name):
        return _understand(table_of_sheet(data, name, sheet), checked, default_unit, length_unit)
    text, notes, remarks = text_of(data, name)
    table = table_of(text, checked.get("decimal"))
    table.notes[:0] = notes
    table.remarks[:0] = remarks
    if sheet is not None:
        table.remarks.append(f"Sheet {clip_text(sheet)} was asked for, but a text file has no sheets.")
    return _understand(table, checked, default_unit, length_unit)


def _checked(answers: Mapping[str, str] | None, default_unit: str | None) -> dict[str, str]:
    """Answers that were given, with the unit as the record spells it."""
    given = {key: value for key, value in (answers or {}).items() if value}
    for key, value in given.items():
        if key == "decimal" and value not in (".", ","):
            raise GridError(f"received the decimal mark {clip_text(value)}", "expected . or ,", "use one of these")
        if key in EDGES and value not in ROLES:
            raise GridError(f"received a {key.replace('_', ' ')} of {clip_text(value)}",
                            f"expected {_either(list(ROLES))}", "use one of these")
    _known_unit(default_unit)
    unit = _known_unit(given.get("unit"))
    return {**given, "unit": unit} if unit else given


def to_cans(understood: Understood, *, reads: str | None = None, unit: str | None = None,
            opening: str | None = None) -> dict[str, Any]:
    """Write what was understood as the keys of a record's [cans]."""
    unit = _known_unit(unit) or understood.unit
    if reads is not None and reads not in READS.values():
        raise GridError(f"received reads {clip_text(reads)}", "expected volume, depth or weight", "use one of these")
    if reads and unit and READS[unit] != reads:
        raise GridError(f"received readings of {reads} in {unit}",
                        f"expected {_either([name for name, what in READS.items() if what == reads])}",
                        "correct the unit or what was read")
    cans: dict[str, Any] = {"reads": reads or READS.get(unit or ""), "unit": unit}
    if opening is not None:
        try:
            cans["opening"] = parse(opening, "length").text
        except QuantityError as error:
            raise GridError(error.received, error.expected, error.do) from None
    return {key: value for key, value in cans.items() if value} | _layout(understood)


def _layout(understood: Understood) -> dict[str, Any]:
    """The grid, rows or points of a record."""
    readings = [[_plain(value, text) for value, text in zip(row, texts, strict=True)]
                for row, texts in zip(understood.readings, understood.texts, strict=True)]
    if understood.points is not None:
        return {"points": [{"x": x, "y": y, "catch": row[0]}
                           for (x, y, _), row in zip(understood.points, readings, strict=True)]}
    across, along = list(understood.across or ()), list(understood.along or ())
    if understood.rows_differ:
        ys = [{"y": y} for y in along] or [{} for _ in readings]
        return {"rows": [{"catch": row} | y | ({"x": across[:len(row)]} if across else {})
                         for row, y in zip(readings, ys, strict=True)]}
    return {key: value for key, value in (("across", across), ("along", along)) if value} | {"grid": readings}


def _plain(value: float, text: str) -> int | float:
    whole = re.match(r"[+-]?\d+([ ,.'’]\d{3})*(?![.,\d/])", clean_text(text))
    return int(value) if whole and value.is_integer() else value


def _either(names: list[str]) -> str:
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _known_unit(unit: str | None) -> str | None:
    known = unit_of(unit) if unit is not None else None
    if unit is not None and known not in READS:
        raise GridError(f"received the unit {clip_text(unit)}", f"expected {_either(list(READS))}", "use one of these")
    return known


def _understand(table: Table, answers: dict[str, str], default_unit: str | None, length_unit: str) -> Understood:
    style = answers.get("decimal") or decimal_style(
        cell.text for row in table.rows for cell in row if cell.number is None)
    block = Block([[meaning(cell, style, line, column) for column, cell in enumerate(row, 1)]
                   for row, line in zip(table.rows, table.lines, strict=True)], answers, bare_unit=length_unit)
    trim(block)
    if not take_list(block):
        take_heads(block)
    refuse(block, table.sheet)
    say_numbers(block, style)
    unit = settle_unit(block, answers.get("unit"), _known_unit(default_unit))
    doubt_decimals(block)
    values = take_values(block, unit, table.sheet)
    say_merged(block, table.merged)
    say_blanks(block)
    points = tuple((x, y, row[0]) for (x, y), row in zip(block.places or [], values, strict=False))
    return Understood(
        tuple(map(tuple, values)), tuple(tuple(cell.raw for cell in row) for row in block.rows), block.across,
        block.along, unit, READS.get(unit or ""), points or None, (*table.notes, *block.notes),
        (*table.remarks, *block.remarks), (*table.doubts, *block.doubts), table.sheet, tuple(map(tuple, block.rows)))
