"""Many tests held against each other: who needs help first, what changed, and what goes with unevenness."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from ..pattern.floor import Figure
from ..store.kept import Kept
from .mixups import mixups
from .over_time import Pair, Trend, YearBefore, pairs_of, trends_of, year_before
from .rows import FIGURES, Row, rows_of, within
from .together import Habit, Water, habits_over, water_saved

__all__ = ["FIGURES", "Comparison", "compare_tests", "usual_units"]


@dataclass(frozen=True)
class Comparison:
    """Many tests held against each other."""

    figure: str  # ``du_low_quarter`` or ``cu``, of the whole floor
    system: str  # ``metric`` or ``US``: units in the sentences
    tests: int  # [1] how many there are
    waiting: int  # [1] those without an estimate of the whole floor that could have one
    rows: list[Row]  # one a tunnel, those in most need first
    mean: Figure | None  # [%] of the tunnels that are pooled
    between: float | None  # [%] standard deviation between tunnels beyond the tests' own noise
    pairs: list[Pair]  # before and after
    trends: list[Trend]  # tunnels over the years
    year_before: YearBefore | None  # all tunnels against the year before
    habits: list[Habit]  # what goes with the figure
    not_tried: list[str]  # habits that are known in too few tunnels or members
    water: Water | None  # what the driest would save
    to_check: list[str]  # slips in the records that would make the comparison wrong, whole sentences


def usual_units(tests: Sequence[Kept]) -> str:
    """Tell in which units most of the tests were recorded."""
    counted = Counter(item.figures.units for item in tests if item.summary)
    return "US" if counted["US"] > counted["metric"] else "metric"


def compare_tests(tests: Sequence[Kept], figure: str = "du_low_quarter", system: str | None = None) -> Comparison:
    """Hold many tests against each other."""
    if figure not in FIGURES:
        raise ValueError(f"received the figure {figure!r}, expected {' or '.join(FIGURES)}, choose one")
    system = system or usual_units(tests)
    rows, pooled = rows_of(tests, figure, system)
    mean = within(Figure(pooled.mean, pooled.mean_low, pooled.mean_high), figure) if pooled else None
    habits, not_tried = habits_over(rows)
    return Comparison(
        figure, system, len(tests), sum(item.summary is None or not item.figures.complete for item in tests), rows,
        mean, pooled.tau if pooled else None, pairs_of(tests, figure, system), trends_of(tests, figure),
        year_before(tests, figure), habits, not_tried, water_saved(rows) if figure == "du_low_quarter" else None,
        mixups(tests))
