"""A table on its way to being readings."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from ...units.quantity import clip_text
from .cells import CATCH_WORDS, LENGTHS, PLACE_WORDS, READS, Meaning, heading_units, heading_words, unit_of
from .doubts import ROLES, TableDoubt
from .table import GridError

AXIS_WORDS = frozenset({"x", "y", "across", "along"}) | PLACE_WORDS


@dataclass
class Block:
    """What is left of a table, and what was understood so far."""

    rows: list[list[Meaning]]
    answers: dict[str, str] = field(default_factory=dict)  # role of an edge of the table, as a person said it
    length_unit: str | None = None  # of the distances, that headings and titles name
    bare_unit: str = "m"  # of distances without any
    units: list[str] = field(default_factory=list)  # of the readings, that headings and titles name
    across: tuple[str, ...] | None = None
    along: tuple[str, ...] | None = None
    places: list[tuple[str, str]] | None = None  # x and y of each reading, for a list of cans
    names: list[Meaning] | None = None  # words over the columns
    notes: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    doubts: list[TableDoubt] = field(default_factory=list)

    def doubt(self, says: str) -> None:
        """Doubt what only another table can settle."""
        self.doubts.append(TableDoubt(says))

    def ask(self, edge: str, says: str, taken: str) -> None:
        """Put a role of an edge in doubt, unless a person has said it."""
        if edge not in self.answers:
            self.doubts.append(TableDoubt(says, edge, ROLES, taken))


def trim(block: Block) -> None:
    """Cut off the blank rows and columns around a table; a row never becomes longer."""
    kept = [at for at, row in enumerate(block.rows) if filled(row)]
    if not kept:
        raise GridError("received blank cells only", "expected a table of readings", "send the cells of the readings")
    used = [at for row in block.rows for at, cell in enumerate(row) if cell.kind != "blank"]
    left, right = min(used), max(used) + 1
    block.rows = [row[left:right] for row in block.rows[kept[0]: kept[-1] + 1]]


def filled(row: list[Meaning]) -> list[Meaning]:
    """The cells of a row that hold something."""
    return [cell for cell in row if cell.kind != "blank"]


def column_of(rows: list[list[Meaning]], at: int) -> list[Meaning]:
    """The cells of a column, as far as its rows reach."""
    return [row[at] for row in rows if at < len(row)]


def values_of(cells: list[Meaning]) -> list[float]:
    """The numbers among cells."""
    return [cell.value for cell in cells if not math.isnan(cell.value)]


def line_of(row: list[Meaning]) -> int:
    """Number of a row in the source; 0 where it has no cell."""
    return row[0].line if row else 0


def shown(cells: list[Meaning], length: int = 200, between: str = " ") -> str:
    """Quote cells as received."""
    return clip_text(between.join(cell.raw[:length] for cell in filled(cells)), length)


def is_label(cell: Meaning) -> bool:
    """Whether a cell can only name a row or column: words, or a date."""
    return cell.kind == "word" or cell.kind == "bad" and "date" in cell.why


def all_are(cells: list[Meaning], kind: str) -> bool:
    """Whether there are cells and all are of one kind."""
    return bool(cells) and all(cell.kind == kind for cell in cells)


def rising(cells: list[Meaning]) -> bool:
    """Whether numbers rise from cell to cell."""
    values = [cell.value for cell in cells]
    return all(a < b for a, b in zip(values, values[1:], strict=False))


def one_way(cells: list[Meaning]) -> bool:
    """Whether numbers rise or fall from cell to cell."""
    return rising(cells) or rising(cells[::-1])


def note_units(block: Block, text: str, *, alone: bool = False) -> None:
    """Keep the units that a heading names."""
    words = heading_words(text)
    for unit in heading_units(text):
        place = bool(words & AXIS_WORDS) or "\\" in text
        if unit in ("m", "ft") or unit not in READS or place and unit in LENGTHS and not words & CATCH_WORDS:
            block.length_unit = block.length_unit or unit
        elif alone or unit_of(text) is None or len(unit) > 1:
            block.units.append(unit)
