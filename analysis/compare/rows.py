"""One row a tunnel: its newest test, whether it may be pooled with the others, and how it stands among them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..pattern.floor import Figure
from ..record.conditions import UNLIKE_WIND_M_S
from ..store.kept import Kept, by_tunnel
from ..units.shown import show
from .pooling import Shrunk, alike_groups, chance_of_low, shrink

NINETY = 1.645  # half the width of a 90 % interval in standard deviations
LEAST_SD = 0.5  # [%] an estimate is never taken for surer than this
ALPHA = 0.08    # of one cut into groups: with 0.1 tunnels that are all alike were cut in 10.5 of 100 sets
UNLIKE_PART = 0.25  # off the usual part of the heads' nominal pressure; a judgement
LOWEST = 0.25   # part of the tunnels that 'among the driest' means
FIGURES = {"du_low_quarter": "DUlq", "cu": "CU"}


@dataclass(frozen=True)
class Row:
    """One tunnel by its newest test."""

    kept: Kept  # the test, with its summary
    name: str  # of the tunnel
    figure: Figure | None  # [%] of the whole floor; None where it is not estimated
    at_the_cans: float  # [%] the same figure at the cans
    # [%] drawn toward the mean of all, the more the less is known of it; None where it is not pooled
    shrunk: Figure | None = None
    # [1] 0 for the tunnels with the lowest figure; tunnels that cannot be told apart share one
    group: int | None = None
    among_lowest: float | None = None  # [1] chance to be among the lowest `LOWEST` of the tunnels that are pooled
    unlike: tuple[str, ...] = ()  # why it is not pooled, whole sentences; empty where it is

    @property
    def estimated(self) -> Figure:
        """The figure of a tunnel that is known to have one."""
        if self.figure is None:
            raise ValueError(f"{self.name}: received a tunnel without an estimate, expected one with it, make it first")
        return self.figure


def name_of(kept: Kept) -> str:
    """Call a tunnel by its name."""
    found = kept.figures
    return " · ".join(part for part in (found.member, found.tunnel or found.zone or found.title) if part)


def with_site(kept: Kept, name: str) -> str:
    """Add a tunnel's site to its name."""
    return f"{name} ({kept.figures.site})" if kept.figures.site else name


def _names(tests: list[Kept]) -> dict[str, str]:
    """Name of each test's tunnel; with its site where two would be called alike."""
    names = {item.test: name_of(item) for item in tests}
    often = Counter(name.casefold() for name in names.values())
    return {item.test: with_site(item, names[item.test]) if often[names[item.test].casefold()] > 1 else names[item.test]
            for item in tests}


def sd_of(figure: Figure) -> float:
    """Standard deviation behind a 90 % interval."""
    return max((figure.high - figure.low) / 2 / NINETY, LEAST_SD)


def within(found: Figure, figure: str) -> Figure:
    """Cut an interval where the figure ends."""
    least = 0.0 if figure == "du_low_quarter" else -math.inf
    return Figure(*(min(100.0, max(least, end)) for end in (found.value, found.low, found.high)))


def rows_of(tests: Sequence[Kept], figure: str = "du_low_quarter",
            system: str = "metric") -> tuple[list[Row], Shrunk | None]:
    """Hold all tunnels against each other by their newest tests."""
    newest = [runs[-1] for runs in by_tunnel(tests).values()]
    usual = _usual([item for item in newest if item.figures.floor])
    names = _names(newest)
    rows = [Row(item, names[item.test], getattr(item.figures.floor, figure) if item.figures.floor else None,
                getattr(item.summary, figure), unlike=_unlike(item, usual, system)) for item in newest]
    at = [place for place, row in enumerate(rows) if row.figure and not row.unlike]
    if not at:
        return sorted(rows, key=_need), None
    value = np.array([rows[place].estimated.value for place in at])
    sd = np.array([sd_of(rows[place].estimated) for place in at])
    pooled, group, lowest = shrink(value, sd), alike_groups(value, sd, alpha=ALPHA), chance_of_low(value, sd, LOWEST)
    for number, place in enumerate(at):
        row, middle, half = rows[place], float(pooled.value[number]), NINETY * float(pooled.sd[number])
        drawn = within(Figure(middle, middle - half, middle + half), figure)
        rows[place] = Row(row.kept, row.name, row.figure, row.at_the_cans, drawn, int(group[number]),
                          float(lowest[number]))
    return sorted(rows, key=_need), pooled


def _need(row: Row) -> tuple[int, float, str]:
    if row.figure is None:
        return (2, row.at_the_cans, row.name)
    return (0, row.shrunk.value, row.name) if row.shrunk else (1, row.figure.value, row.name)


@dataclass(frozen=True)
class _Usual:
    """How most of the tests were run."""

    sides: str | None
    lines: str | None
    pressure: float | None


def _usual(tests: list[Kept]) -> _Usual:
    def most(values: Iterable[str | None]) -> str | None:
        counted = Counter(value for value in values if value)
        return counted.most_common(1)[0][0] if counted else None

    parts = [item.figures.habits.outlet_part for item in tests if item.figures.habits.outlet_part]
    return _Usual(most(item.figures.conditions.sides for item in tests),
                  most(item.figures.conditions.lines for item in tests), float(np.median(parts)) if parts else None)


def _unlike(item: Kept, usual: _Usual, system: str) -> tuple[str, ...]:
    """What is known to differ from how most tunnels were tested; what was not noted gets the benefit of the doubt."""
    ran, said = item.figures.conditions, []
    if ran.sides and usual.sides and ran.sides != usual.sides:
        said.append(f"The sides were {ran.sides}, in most tests {usual.sides}.")
    if ran.lines and usual.lines and ran.lines != usual.lines:
        said.append(f"The lines ran {ran.lines}, in most tests {usual.lines}.")
    if ran.wind is not None and ran.wind > UNLIKE_WIND_M_S:
        said.append(f"The wind was {show(ran.wind, 'speed', system)}.")
    part = item.figures.habits.outlet_part
    if part and usual.pressure and abs(part - usual.pressure) > UNLIKE_PART * usual.pressure:
        said.append(f"It ran at {100 * part:.0f} % of its heads' nominal pressure, the median is "
                    f"{100 * usual.pressure:.0f} %.")
    return tuple(said)
