"""Catch-can readings from elsewhere: a pasted block, a CSV file or a workbook.

What was understood is said before anybody takes it. A cell that is not understood is no
reading and is named among the doubts; it never becomes 0 and is never lost in silence.
Cans are counted as in a record: row 1, column 1 is the first reading, whatever stands above it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from ...units.quantity import QuantityError, clip_text, parse
from .cells import READS, clean_text, decimal_style, meaning, unit_of
from .heads import Block, take_heads, trim
from .into import check_fit, fault_place, merge_cans, replaced, row_sizes
from .points import take_points
from .say import doubt_cells, doubt_merged, name_cell, preview, refuse, say_blanks, say_numbers, settle_unit, value_of
from .sheet import is_workbook, table_of_sheet
from .table import GridError, Table, count_of
from .text import table_of, text_of

__all__ = ["GridError", "Understood", "check_fit", "fault_place", "merge_cans", "read_file", "read_text", "replaced",
           "row_sizes", "to_cans"]


@dataclass(frozen=True)
class Understood:
    """What was understood of readings from elsewhere.

    Attributes
    ----------
    readings : tuple of tuple of float [`unit`]
        Row by row; nan = no reading, 0 = a dry can. One column for a list of `points`.
    texts : tuple of tuple of str
        The cells of `readings` exactly as received.
    across, along : tuple of str or None
        Distances of the columns and rows with their units, such as ``0.6 m``.
    unit : str or None
        mL, L, fl oz, mm, cm, in or g; None where nothing says.
    reads : str or None
        volume, depth or weight, from the unit.
    points : tuple of (str, str, float) or None
        x, y and reading of each can [`unit`], for a list with places.
    rows_differ : bool
        Whether the rows hold different numbers of cells; missing cells are not made up.
    notes : tuple of str
        Sentences of what was understood.
    doubts : tuple of str
        Sentences of what to look at.
    lines, columns : tuple of int
        Numbers of the rows and columns of `readings` in the source, from 1.
    sheet : bool
        Whether the source is a workbook's sheet.
    """

    readings: tuple[tuple[float, ...], ...]
    texts: tuple[tuple[str, ...], ...]
    across: tuple[str, ...] | None = None
    along: tuple[str, ...] | None = None
    unit: str | None = None
    reads: str | None = None
    points: tuple[tuple[str, str, float], ...] | None = None
    rows_differ: bool = False
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    lines: tuple[int, ...] = ()
    columns: tuple[int, ...] = ()
    sheet: bool = False

    def where(self, row: int, column: int | None) -> str:
        """Name a can, and its cell in the source where that is another."""
        return name_cell(self.lines, self.columns, row, column, self.sheet)

    @property
    def says(self) -> str:
        """The whole in a few lines, with a preview."""
        import textwrap

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
        lines += [f"Look: {doubt}" for doubt in self.doubts] + list(self.notes)
        wrapped = [part for line in lines for part in textwrap.wrap(line, 80, subsequent_indent="  ")]
        return "\n".join([*wrapped, *preview(self.readings, self.across, self.along, self.points)])


def read_text(text: str, *, default_unit: str | None = None, decimal: str | None = None) -> Understood:
    """Read a pasted block of readings."""
    if not isinstance(text, str):
        raise GridError(f"received {clip_text(type(text).__name__)}", "expected text", "paste the table as text")
    return _understand(table_of(text), default_unit, decimal)


def read_file(data: bytes, name: str, *, sheet: str | None = None, default_unit: str | None = None,
              decimal: str | None = None) -> Understood:
    """Read a CSV file or one sheet of a workbook."""
    if not data:
        raise GridError(f"received {clip_text(name)}, which is empty", "expected a table of readings",
                        "save the file again")
    if is_workbook(data, name):
        return _understand(table_of_sheet(data, name, sheet), default_unit, decimal)
    text, notes, doubts = text_of(data, name)
    table = table_of(text)
    table.notes[:0] = notes
    table.doubts[:0] = doubts
    if sheet is not None:
        table.doubts.append(f"Sheet {clip_text(sheet)} was asked for, but a text file has no sheets.")
    return _understand(table, default_unit, decimal)


def to_cans(understood: Understood, *, reads: str | None = None, unit: str | None = None,
            opening: str | None = None) -> dict:
    """Write what was understood as the keys of a record's [cans]."""
    unit = _known_unit(unit) or understood.unit
    if reads is not None and reads not in READS.values():
        raise GridError(f"received reads {clip_text(reads)}", "expected volume, depth or weight", "use one of these")
    if reads and unit and READS[unit] != reads:
        raise GridError(f"received readings of {reads} in {unit}",
                        f"expected {_either([name for name, what in READS.items() if what == reads])}",
                        "correct the unit or what was read")
    cans: dict = {key: value for key, value in (("reads", reads or (unit and READS[unit])), ("unit", unit)) if value}
    if opening is not None:
        try:
            cans["opening"] = parse(opening, "length").text
        except QuantityError as error:
            raise GridError(error.received, error.expected, error.do) from None
    readings = [[_plain(value, text) for value, text in zip(row, texts, strict=True)]
                for row, texts in zip(understood.readings, understood.texts, strict=True)]
    if understood.points is not None:
        return cans | {"points": [{"x": x, "y": y, "catch": row[0]} for (x, y, _), row in
                                  zip(understood.points, readings, strict=True)]}
    if not understood.rows_differ:
        places = {"across": understood.across, "along": understood.along}
        return cans | {key: list(value) for key, value in places.items() if value} | {"grid": readings}
    rows = [{"catch": row} for row in readings]
    for at, row in enumerate(rows):
        if understood.along:
            row["y"] = understood.along[at]
        if understood.across:
            row["x"] = list(understood.across[: len(row["catch"])])
    return cans | {"rows": rows}


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


def _understand(table: Table, default_unit: str | None, decimal: str | None) -> Understood:
    default = _known_unit(default_unit)
    if decimal not in (None, ".", ","):
        raise GridError(f"received the decimal mark {clip_text(decimal)}", "expected . or ,", "use one of these")
    style = decimal or decimal_style(cell.text for row in table.rows for cell in row if cell.number is None)
    block = Block([[meaning(cell, style) for cell in row] for row in table.rows], table.lines)
    trim(block)
    places = take_points(block)
    if places is None:
        take_heads(block)
    refuse(block, table.sheet, places is not None)
    notes, doubts = list(table.notes), table.doubts + block.doubts
    say_numbers(block, style, notes, doubts)
    notes += block.notes
    unit = settle_unit(block, default, notes, doubts)
    readings = tuple(tuple(value_of(cell, unit) for cell in row) for row in block.rows)
    said = doubt_cells(block, unit, table.sheet)
    if all(math.isnan(value) for row in readings for value in row):
        raise GridError("received no cell that can be taken as a reading" + (f" ({said[0][:-1]})" if said else ""),
                        "expected readings such as 31 or 12.5", "correct the cells")
    doubts += said + doubt_merged(table.merged, block)
    say_blanks(block, notes, doubts)
    points = tuple((x, y, row[0]) for x, y, row in zip(places.x, places.y, readings, strict=True)) if places else None
    return Understood(readings, tuple(tuple(cell.raw for cell in row) for row in block.rows), block.across,
                      block.along, unit, READS.get(unit), points, len(set(map(len, readings))) > 1, tuple(notes),
                      tuple(doubts), tuple(block.lines), tuple(block.columns), table.sheet)
