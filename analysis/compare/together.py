"""What goes with unevenness over all tunnels, and what water it costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..pattern.floor import Figure
from ..reference.yardsticks import YARDSTICKS
from ..store.summaries import Summary
from ..store.viewer import folded
from .habits import Effect, effects, left_out
from .rows import Row, sd_of

WORST = 10  # tunnels whose water is counted
LEAST_DU = 25.0  # [%] under this nobody waters until the driest quarter has enough; a judgement
LEAST_SPREAD = 0.25  # [steps] between tunnels, of a habit that is tried; a judgement
YARDSTICK = next(item for item in YARDSTICKS if item.figure == "du_low_quarter")

# Habits that are tried: name -> (words, step that a person thinks in, words of that step, value of a summary).
TRIED: dict[str, tuple[str, float, str, Callable[[Summary], float | None]]] = {
    "last head": ("pressure at the last head", 0.1, "10 % of the nominal pressure more",
                  lambda found: found.habits.last_head_part),
    "line spacing": ("distance of the lines over the wetted diameter", 0.1, "0.1 more",
                     lambda found: found.habits.line_spacing),
    "head spacing": ("distance of the heads over the wetted diameter", 0.1, "0.1 more",
                     lambda found: found.habits.head_spacing),
    "age": ("age of the heads", 365.25, "one year more", lambda found: found.habits.heads_days),
    "filter": ("time since the filter was cleaned", 30.0, "30 days more", lambda found: found.habits.filter_days),
    "cans": ("number of cans", 10.0, "10 cans more", lambda found: float(found.cans)),
}


@dataclass(frozen=True)
class Habit:
    """What one habit goes with."""

    name: str  # a key of `TRIED`
    words: str  # what it is; what one step of it is
    step: str
    tunnels: int  # [1] tunnels in which it is known
    change: Figure  # [%] of the figure for one step, in points
    p: float  # [1] two-sided, not corrected
    stands: bool  # whether it stands against how many were tried (Holm, 5 %)


@dataclass(frozen=True)
class Water:
    """What the driest tunnels would save."""

    tunnels: int  # [1] tunnels under the yardstick that are counted, at most `WORST`
    yardstick: float  # [%] DUlq that they would reach
    week_l: Figure  # [L] less water in a week for the same need of the driest quarter
    unknown: int  # [1] tunnels among the driest whose crop's daily use is not in their record; not counted
    hopeless: int  # [1] tunnels under `LEAST_DU`; not counted either


def habits_over(rows: Sequence[Row]) -> tuple[list[Habit], list[str]]:
    """Look for what goes with the figure over all tunnels that are pooled."""
    rows = [row for row in rows if row.shrunk is not None]
    if not rows:
        return [], [words for words, *_ in TRIED.values()]
    values = {name: np.array([np.nan if (value := take(row.kept.figures)) is None else value / step for row in rows])
              for name, (_, step, _, take) in TRIED.items()}
    values = {name: habit if _spread(habit) >= LEAST_SPREAD else np.full(len(rows), np.nan)
              for name, habit in values.items()}
    whose = [folded(row.kept.figures.member) or f"?{place}" for place, row in enumerate(rows)]
    cluster = np.unique(whose, return_inverse=True)[1]
    outcome = np.array([row.estimated.value for row in rows])
    sd = np.array([sd_of(row.estimated) for row in rows])
    found = [_habit(effect) for effect in effects(values, outcome, sd, cluster)]
    return found, [TRIED[name][0] for name in left_out(values, cluster)]


def _spread(habit: np.ndarray) -> float:
    """From the lowest tenth to the highest, in steps: one odd tunnel says nothing of a habit, nor does rounding."""
    known = habit[~np.isnan(habit)]
    return float(np.ptp(np.quantile(known, [0.1, 0.9]))) if len(known) else 0.0


def _habit(effect: Effect) -> Habit:
    words, _, step, _ = TRIED[effect.name]
    return Habit(effect.name, words, step, effect.count, Figure(effect.slope, effect.low, effect.high), effect.p,
                 effect.held)


def water_saved(rows: Sequence[Row]) -> Water | None:
    """Tell what a week's water would be less if the driest tunnels reached the yardstick."""
    # The driest quarter of each gets what the crop uses: gross depth = use / DUlq, over the ground that counts.
    goal = YARDSTICK.high
    driest = [row for row in rows if row.shrunk is not None and row.shrunk.value < goal][:WORST]
    served = [row for row in driest if row.shrunk is not None and row.shrunk.value >= LEAST_DU]
    known = [row for row in served if row.kept.figures.daily_use_mm]
    if not known:
        return None
    value, low, high = np.array([[_saved(row, end, goal) for row in known] for end in ("value", "high", "low")])
    total = float(value.sum())
    below, above = (float(np.sqrt(np.sum((end - value) ** 2))) for end in (low, high))
    return Water(len(known), goal, Figure(total, max(0.0, total - below), total + above), len(served) - len(known),
                 len(driest) - len(served))


def _saved(row: Row, end: str, goal: float) -> float:
    """Litres a week: millimetres over square metres are litres."""
    now = max(float(getattr(row.shrunk, end)), LEAST_DU)
    need = 7 * (row.kept.figures.daily_use_mm or 0.0) * row.kept.figures.area_m2
    return max(0.0, need * (100 / now - 100 / goal))
