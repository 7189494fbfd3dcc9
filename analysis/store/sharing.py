"""What may be told without names: to a member about the others, and to people outside."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass

from .alike_enough import Row, enough_alike
from .errors import StoreError
from .kept import Kept, by_tunnel
from .reader import Reader
from .tables import STANDING
from .viewer import Viewer, folded

FEWEST_MEMBERS = 5  # in a group that is told of; in a smaller one a member could be recognised
FEWEST_IN_BAND = 3  # members in one band
BAND = 10           # [%] of DUlq, the narrowest band

FIGURES = ("cu_percent", "cu_low", "cu_high", "du_low_quarter_percent", "du_low", "du_high")
# What one value is worth where not all can be shown. A judgement: people outside ask what goes with evenness, spacings
# before all, and less why or with how many cans it was tested. Spacings worth much more would leave little else.
HABITS = {"line_spacing_of_diameter": 5, "head_spacing_of_diameter": 5, "last_head_kpa": 4, "heads_years": 3,
          "lines_ran": 3, "sides": 3, "purpose": 2, "cans": 2}
HANDING_ON = ("Take out the rows of a year that is not over before you hand it on: two tables of one year show "
              "together what each leaves empty. Whoever knows a test's figures finds its row.")
COLUMNS = ("year", "purpose", "cans", *FIGURES, "head_spacing_of_diameter", "line_spacing_of_diameter", "last_head_kpa",
           "heads_years", "lines_ran", "sides")


@dataclass(frozen=True)
class Band:
    """Tunnels of others whose DUlq lies in one range."""

    low: float  # [%] of DUlq; the lowest band begins at 0
    high: float  # [%]
    tunnels: int  # [1] how many


def bands(store: Reader, viewer: Viewer) -> list[Band]:
    """Tell a member how even the others' tunnels are, without saying whose."""
    tests = store.kept((STANDING.c.owner != viewer.owner) & (STANDING.c.owner != ""))
    newest = [runs[-1].figures for runs in by_tunnel([item for item in tests if _has_floor(item)]).values()]
    owned = [(member, item.whole_floor.du_low_quarter.value) for item in newest if (member := folded(item.member))]
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
    return item.summary is not None and item.figures.floor is not None


def without_names(store: Reader, viewer: Viewer) -> tuple[str, str]:
    """Make a table for sharing: no names, notes, places or dates, and no habits that single a member out."""
    if not viewer.sees_all:
        raise StoreError("received a request for the table without names from a member, expected the coordinator, "
                         "ask them")
    tests = [item for item in store.tests(viewer) if _has_floor(item) and folded(item.figures.member)]
    years = _years_told(tests)
    noted = [row for items in years.values() for row in _habits(items)]
    shown = [row for items in years.values() for row in _shown(items)]
    made = [{"year": year or None} | _figures(item) for year, items in years.items() for item in items]
    rows = [tuple((figures | dict(zip(HABITS, habits, strict=True)))[name] for name in COLUMNS)
            for figures, habits in zip(made, shown, strict=True)]
    rows.sort(key=lambda row: hashlib.sha256(repr(row).encode()).digest())  # of what is shown: the order tells no more
    lines = [",".join(COLUMNS), *(",".join("" if value is None else str(value) for value in row) for row in rows)]
    return "\r\n".join(lines) + "\r\n", _says(len(tests), noted, shown)


def _years_told(tests: list[Kept]) -> dict[str, list[Kept]]:
    """Tests by year, of years in which enough members were tested."""
    years: dict[str, list[Kept]] = {}
    for item in tests:
        years.setdefault((item.figures.date or "")[:4], []).append(item)
    members = {year: len({folded(item.figures.member) for item in items}) for year, items in years.items()}
    most = max(members.values(), default=0)
    if most < FEWEST_MEMBERS:
        raise StoreError(f"received tests of {most} member{'' if most == 1 else 's'} with whole floors in one year, "
                         f"expected {FEWEST_MEMBERS} or more, wait for more: in a smaller group a member could be "
                         "recognised")
    return {year: items for year, items in years.items() if members[year] >= FEWEST_MEMBERS}


def _says(tests: int, noted: Sequence[Row], shown: Sequence[Row]) -> str:
    says, missing = f"{len(shown)} test{'' if len(shown) == 1 else 's'} without names.", tests - len(shown)
    if missing:
        says += (f" {missing} left out: in their year fewer than {FEWEST_MEMBERS} members were tested, and a member "
                 "could be recognised.")
    known, left = (sum(value is not None for row in rows for value in row) for rows in (noted, shown))
    if left < known:
        says += (f" {known - left} of {known} values beside the figures are left empty, so that every row looks like "
                 f"those of {FEWEST_MEMBERS} members or more.")
    return f"{says} {HANDING_ON}"


def _shown(items: list[Kept]) -> list[Row]:
    """Habits of one year's tests, those left empty that would single a member out."""
    return enough_alike(_habits(items), [folded(item.figures.member) for item in items],
                        [item.test for item in items], FEWEST_MEMBERS, tuple(HABITS.values()))


def _habits(items: list[Kept]) -> list[Row]:
    """What is known beside the figures, in the order of `HABITS`."""
    return [(_to(found.habits.line_spacing, 0.05), _to(found.habits.head_spacing, 0.05),
             _to(found.habits.last_head_kpa, 50), _years(found.habits.heads_days), found.conditions.lines,
             found.conditions.sides, found.purpose, _cans(found.cans)) for found in (item.figures for item in items)]


def _figures(item: Kept) -> dict[str, int]:
    cu, du = item.figures.whole_floor.cu, item.figures.whole_floor.du_low_quarter
    return dict(zip(FIGURES, (round(value) for value in (cu.value, cu.low, cu.high, du.value, du.low, du.high)),
                    strict=True))


def _cans(cans: int) -> str:
    return "under 36" if cans < 36 else "36 to 59" if cans < 60 else "60 and more"


def _years(days: float | None) -> str | None:
    if days is None:
        return None
    years = math.floor(days / 365.25)
    return "under 2" if years < 2 else "2 to 4" if years < 5 else "5 and more"


def _to(value: float | None, step: float) -> float | None:
    return None if value is None else round(round(value / step) * step, 2)
