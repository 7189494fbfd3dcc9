"""What may stay in doubt about a table, and the answers that settle it."""

from __future__ import annotations

from dataclasses import dataclass

ROLES = ("heading", "number", "total", "reading")
EDGES = ("first_row", "first_column", "last_row", "last_column")
ASKED = {"unit": "Unit of the readings", "decimal": "Decimal mark"} | {
    edge: edge.replace("_", " ").capitalize() for edge in EDGES}


@dataclass(frozen=True, slots=True)
class TableDoubt:
    """Something about a table that only a person can settle."""

    says: str  # one sentence
    asks: str = ""  # a key of ASKED, whose answer settles it; empty: the table must be corrected, or looked at
    choices: tuple[str, ...] = ()
    taken: str = ""  # the choice that the proposed reading follows
