"""Tunnels over time: before and after a repair, the trend of each, and all of them against the year before."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import stats

from ..changes.recheck import Difference, difference
from ..pattern.floor import Figure
from ..record.conditions import unlike
from ..store.kept import Kept, by_tunnel
from .pooling import shrink
from .rows import NINETY, name_of, sd_of

LEAST_TESTS = 3   # of one tunnel, for a trend
LEAST_DAYS = 300  # from the first to the last of them
LEAST_PAIRS = 3   # tunnels tested in both years
YEAR = 365.25


@dataclass(frozen=True)
class Pair:
    """One tunnel before and after."""

    name: str  # of the tunnel
    before: Kept  # the two tests
    after: Kept
    figure: Difference  # [%] of the whole floor
    # [%] change of the figure at the cans, in points; None where the cans stood at unlike places
    at_the_cans: float | None
    unlike: tuple[str, ...]  # what else was unlike, whole sentences


@dataclass(frozen=True)
class Trend:
    """One tunnel over the years."""

    name: str  # of the tunnel
    tests: tuple[Kept, ...]  # oldest first; those run unlike the newest are left out
    a_year: Figure  # [%] change of the figure in a year, in points
    left_out: int  # [1] tests that were run unlike the newest one


@dataclass(frozen=True)
class YearBefore:
    """The tunnels that were tested in two years."""

    year: int  # [1] the two years
    before: int  # [1]
    change: Figure  # [%] mean change of a tunnel, in points
    tunnels: int  # [1] how many were tested in both under like conditions
    left_out: int  # [1] how many were tested in both, but under unlike conditions


def _known(runs: list[Kept]) -> list[Kept]:
    return [item for item in runs if item.figures.floor and item.figures.date]


def _day(item: Kept) -> str:
    return item.figures.date or ""


def _change(before: Kept, after: Kept, figure: str) -> Difference:
    return difference(getattr(before.figures.floor, figure), getattr(after.figures.floor, figure), figure=figure,
                      same_cans=before.figures.can_places == after.figures.can_places)


def pairs_of(tests: Sequence[Kept], figure: str = "du_low_quarter", system: str = "metric") -> list[Pair]:
    """Hold every recheck against the test that it follows up."""
    by_key = {item.test: item for item in tests if item.summary and item.figures.floor}
    found = []
    for runs in by_tunnel(tests).values():
        known = _known(runs)
        for place, after in enumerate(known):
            before = by_key.get(after.figures.rechecks) if after.figures.rechecks else None
            if before is None and after.figures.purpose == "recheck" and not after.figures.rechecks and place:
                before = known[place - 1]
            if before is not None and before is not after:
                same = before.figures.can_places == after.figures.can_places
                cans = getattr(after.summary, figure) - getattr(before.summary, figure) if same else None
                found.append(Pair(name_of(after), before, after, _change(before, after, figure), cans, tuple(
                    unlike(before.figures.conditions, after.figures.conditions, system))))
    return sorted(found, key=lambda pair: pair.after.figures.date or "", reverse=True)


def trends_of(tests: Sequence[Kept], figure: str = "du_low_quarter") -> list[Trend]:
    """Fit a straight line through the tests of each tunnel."""
    found = []
    for runs in by_tunnel(tests).values():
        known = _known(runs)
        alike = [item for item in known if not unlike(item.figures.conditions, known[-1].figures.conditions)]
        days = np.array([float(datetime.date.fromisoformat(_day(item)).toordinal()) for item in alike])
        if len(alike) < LEAST_TESTS or np.ptp(days) < LEAST_DAYS:
            continue
        figures = [getattr(item.figures.floor, figure) for item in alike]
        slope = slope_of(days / YEAR, np.array([item.value for item in figures]),
                         np.array([sd_of(item) for item in figures]))
        found.append(Trend(name_of(alike[-1]), tuple(alike), slope, len(known) - len(alike)))
    return sorted(found, key=lambda trend: trend.a_year.value)


def slope_of(x: np.ndarray, value: np.ndarray, sd: np.ndarray) -> Figure:
    """Slope of a weighted straight line with its 90 % interval."""
    weight = 1 / sd**2
    off = x - weight @ x / weight.sum()
    spread = weight @ off**2
    slope = weight @ (off * value) / spread
    left = value - weight @ value / weight.sum() - slope * off
    free = len(x) - 2
    scatter = np.sqrt(weight @ left**2 / free) * stats.t.ppf(0.95, free)
    half = max(NINETY, float(scatter)) / np.sqrt(spread) if weight @ left**2 > free else NINETY / np.sqrt(spread)
    return Figure(float(slope), float(slope - half), float(slope + half))


def year_before(tests: Sequence[Kept], figure: str = "du_low_quarter") -> YearBefore | None:
    """Hold the newest year in which enough was tested against the one before it, tunnel by tunnel."""
    tunnels = [_known(runs) for runs in by_tunnel(tests).values()]
    years = sorted({int(_day(item)[:4]) for runs in tunnels for item in runs})
    found = (_year_against(tunnels, now, then, figure) for then, now in reversed(list(pairwise(years))))
    return next((item for item in found if item), None)


def _year_against(tunnels: list[list[Kept]], now: int, then: int, figure: str) -> YearBefore | None:
    value, sd, left_out = [], [], 0
    for runs in tunnels:
        one, two = ([item for item in runs if int(_day(item)[:4]) == year] for year in (then, now))
        if not one or not two:
            continue
        if unlike(one[-1].figures.conditions, two[-1].figures.conditions):
            left_out += 1
            continue
        change = _change(one[-1], two[-1], figure).change
        value.append(change.value)
        sd.append(sd_of(change))
    if len(value) < LEAST_PAIRS:
        return None
    pooled = shrink(np.array(value), np.array(sd))
    return YearBefore(now, then, Figure(pooled.mean, pooled.mean_low, pooled.mean_high), len(value), left_out)
