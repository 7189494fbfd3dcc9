"""What may be told without names: to a member about the others, and to people outside."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass

from .errors import StoreError
from .kept import Kept, by_tunnel
from .reader import Reader, read_kept
from .tables import STANDING
from .viewer import Viewer, folded

FEWEST_MEMBERS = 5  # in a group that is told of; in a smaller one a member could be recognised
FEWEST_IN_BAND = 3  # members in one band
BAND = 10           # [%] of DUlq, the narrowest band

COLUMNS = ("year", "purpose", "cans", "cu_percent", "cu_low", "cu_high", "du_low_quarter_percent", "du_low", "du_high",
           "head_spacing_of_diameter", "line_spacing_of_diameter", "last_head_kpa", "heads_years", "lines_ran", "sides")
_FIGURES = ("cu_percent", "cu_low", "cu_high", "du_low_quarter_percent", "du_low", "du_high")


@dataclass(frozen=True)
class Band:
    """Tunnels of others whose DUlq lies in one range.

    Attributes
    ----------
    low, high : float [%]
        Of DUlq; the lowest band begins at 0.
    tunnels : int [1]
        How many.
    """

    low: float
    high: float
    tunnels: int


def bands(store: Reader, viewer: Viewer) -> list[Band]:
    """Tell a member how even the others' tunnels are, without saying whose.

    Parameters
    ----------
    store : Reader
        Where.
    viewer : Viewer
        Who asks.

    Returns
    -------
    list of Band
        The newest whole-floor DUlq of each tunnel of other members, driest band first; every band holds tunnels of
        `FEWEST_IN_BAND` members. Empty where fewer than `FEWEST_MEMBERS` others have figures.
    """
    with store.door.reading() as connection:
        tests = read_kept(connection, (STANDING.c.owner != viewer.owner) & (STANDING.c.owner != ""))
    newest = [runs[-1].summary for runs in by_tunnel([item for item in tests if _has_floor(item)]).values()]
    owned = [(folded(item.member), item.floor.du_low_quarter.value) for item in newest if folded(item.member)]
    if len({member for member, _ in owned}) < FEWEST_MEMBERS:
        return []
    cells: dict[int, list[str]] = {}
    for member, value in owned:
        cells.setdefault(max(0, min(9, int(value // BAND))), []).append(member)
    made: list[Band] = []
    low, inside = 0, []
    for cell in range(10):
        inside += cells.get(cell, [])
        if len(set(inside)) >= FEWEST_IN_BAND:
            made.append(Band(low, (cell + 1) * BAND, len(inside)))
            low, inside = (cell + 1) * BAND, []
    if inside:  # too few for a band of their own
        last = made.pop()
        made.append(Band(last.low, 100, last.tunnels + len(inside)))
    return made


def _has_floor(item: Kept) -> bool:
    return item.summary is not None and item.summary.floor is not None


def without_names(store: Reader, viewer: Viewer) -> tuple[str, str]:
    """Make a table for sharing: no names, notes, places or dates, and nothing that links two tests.

    Parameters
    ----------
    store : Reader
        Where.
    viewer : Viewer
        Who asks.

    Returns
    -------
    table, says : str
        CSV of `COLUMNS` with figures rounded, one row a test, in no order; and what was left out. What few members share
        beside the figures is empty.

    Raises
    ------
    StoreError
        Where fewer than `FEWEST_MEMBERS` members would be in it, or for a viewer who does not see all.
    """
    if not viewer.sees_all:
        raise StoreError("received a request for the table without names from a member, expected the coordinator, "
                         "ask them")
    tests = [item for item in store.tests(viewer) if _has_floor(item) and folded(item.summary.member)]
    years: dict[str, list[Kept]] = {}
    for item in tests:
        years.setdefault((item.summary.date or "")[:4], []).append(item)
    told = {year: items for year, items in years.items()
            if len({folded(item.summary.member) for item in items}) >= FEWEST_MEMBERS}
    if not told:
        most = max((len({folded(item.summary.member) for item in items}) for items in years.values()), default=0)
        raise StoreError(f"received tests of {most} member{'' if most == 1 else 's'} with whole floors in one year, "
                         f"expected {FEWEST_MEMBERS} or more, wait for more: in a smaller group a member could be recognised")
    rows = [row for year, items in told.items() for row in _told(year, items)]
    rows.sort(key=lambda row: hashlib.sha256(repr(row).encode()).digest())
    left = len(tests) - len(rows)
    says = f"{len(rows)} test{'' if len(rows) == 1 else 's'} without names."
    if left:
        says += (f" {left} left out: in their year fewer than {FEWEST_MEMBERS} members were tested, and a member could "
                 "be recognised.")
    lines = [",".join(COLUMNS), *(",".join("" if value is None else str(value) for value in row) for row in rows)]
    return "\r\n".join(lines) + "\r\n", says


def _told(year: str, items: list[Kept]) -> list[tuple]:
    """Rows of one year; a value beside the figures that fewer than `FEWEST_MEMBERS` share is left empty."""
    rows, whose = [_shared(year, item) for item in items], [folded(item.summary.member) for item in items]
    for column, name in enumerate(COLUMNS):
        if name in _FIGURES:
            continue
        by_value: dict[object, set[str]] = {}
        for row, member in zip(rows, whose, strict=True):
            by_value.setdefault(row[column], set()).add(member)
        rows = [row if len(by_value[row[column]]) >= FEWEST_MEMBERS else (*row[:column], None, *row[column + 1:])
                for row in rows]
    return rows


def _shared(year: str, item: Kept) -> tuple:
    found = item.summary
    cu, du, habits = found.floor.cu, found.floor.du_low_quarter, found.habits
    return (year or None, found.purpose, _class(found.cans), *(round(value) for value in (
        cu.value, cu.low, cu.high, du.value, du.low, du.high)), _to(habits.head_spacing, 0.05),
        _to(habits.line_spacing, 0.05), _to(habits.last_head_kpa, 10),
        None if habits.heads_days is None else math.floor(habits.heads_days / 365.25), found.conditions.lines,
        found.conditions.sides)


def _class(cans: int) -> str:
    return "under 36" if cans < 36 else "36 to 59" if cans < 60 else "60 and more"


def _to(value: float | None, step: float) -> float | None:
    return None if value is None else round(round(value / step) * step, 2)
