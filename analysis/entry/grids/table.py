"""Cells as they come from elsewhere, how many there may be, and how they are refused."""

from __future__ import annotations

from dataclasses import dataclass, field

from ...units.quantity import Refusal
from .doubts import TableDoubt

MOST_TEXT = 2_000_000  # [bytes]
MOST_ROWS = MOST_COLUMNS = 500
MOST_CANS = 2000
MOST_FILLED = 40_000
MOST_AREA = 200_000  # cells of a table, blank ones too
MOST_LINES = 2500  # of the source: a list of cans with titles


class GridError(Refusal):
    """Readings from elsewhere that cannot be taken."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell as it came."""

    text: str
    number: float | None = None  # a workbook's own number, which needs no guessing at decimal commas
    problem: str = ""  # why a workbook's cell cannot be a reading (`is a date`)


@dataclass
class Table:
    """Cells as they came, before anything is made of them."""

    rows: list[list[Cell]]
    lines: list[int]  # number of each row in the source, from 1
    sheet: bool = False  # whether it is a workbook's sheet, whose cells have names such as C5
    notes: list[str] = field(default_factory=list)  # what was understood of the source
    remarks: list[str] = field(default_factory=list)  # what to look at
    doubts: list[TableDoubt] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)  # ranges of a sheet, such as B2:C2


def check_size(rows: int, columns: int, filled: int) -> None:
    """Refuse a source of over 2500 rows, 500 columns, 200,000 cells or 40,000 with something in them."""
    if filled > MOST_FILLED:
        raise GridError(f"received about {filled:,} cells", f"expected the readings of at most {MOST_CANS} cans",
                        "send only the table of readings")
    if rows > MOST_LINES or columns > MOST_COLUMNS or rows * columns > MOST_AREA:
        raise GridError(f"received {count_of(rows, 'row')} and {count_of(columns, 'column')}",
                        f"expected at most {MOST_LINES} rows and {MOST_COLUMNS} columns, {MOST_AREA:,} cells in all",
                        "send only the table of readings")


def count_of(number: int, noun: str) -> str:
    """Write a number of things, such as `1 row` or `3 rows`."""
    return f"{number:,} {noun}" + ("" if number == 1 else "s")
