"""What the tool says of a plant, held against the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from evenfall.record.faults import RecordFaults
from evenfall.record.file import parse_record, plain_text
from evenfall.result.assessment import assess

from .plants import FAMILIES, Plant
from .tunnels import RASTER, low_quarter

SURE = 0.5  # strength from which a cause counts as told
DRY = 0.9   # of the mean: ground that a cause of the layout may rightly name


@dataclass(frozen=True)
class Verdict:
    """One test, judged; figures in points of DUlq."""

    family: str
    stopped: bool          # the record was refused
    closed: bool           # no whole floor was told
    held: bool             # its interval holds the truth
    error: float
    width: float
    error_at_cans: float
    false: tuple[str, ...]  # causes told that are not there
    found: int             # blocked heads among the suspects, the next head counted
    blocked: int
    false_suspects: int
    told: str              # the rival told first; empty where none is
    best: str              # the best rival, told or not
    right: str             # the plant's own


def verdict(name: str, seed: int) -> Verdict:
    """Make the plant of a family and judge what the tool says of it."""
    plant = FAMILIES[name](np.random.default_rng([seed, *name.encode()]))
    truth = low_quarter(plant.floor.ravel())
    try:
        result = assess(parse_record(plain_text(plant.record)), rivals=True)
    except RecordFaults:
        return Verdict(name, True, True, False, np.nan, np.nan, np.nan, (), 0, len(plant.blocked), 0, "", "",
                       plant.rival)
    at_cans = abs(result.at_the_cans.du_low_quarter - truth)
    allowed = {*plant.allowed, *dry_by_layout(plant), plant.rival}
    false = tuple(cause.kind for cause in result.causes if cause.strength > SURE and cause.kind not in allowed)
    found, wrong = suspects(result, plant)
    told, best = rivals(result)
    figures = result.whole_floor
    if figures is None:
        return Verdict(name, False, True, False, np.nan, np.nan, at_cans, false, found, len(plant.blocked), wrong, told,
                       best, plant.rival)
    du = figures.du_low_quarter
    return Verdict(name, False, False, du.low <= truth <= du.high, abs(du.value - truth), du.high - du.low, at_cans,
                   false, found, len(plant.blocked), wrong, told, best, plant.rival)


def dry_by_layout(plant: Plant) -> set[str]:
    """What of the layout is really dry: half a metre at the end walls or the side walls, or strips along the lines."""
    strip, mean = round(0.5 / RASTER), plant.floor.mean()
    found = set()
    if min(plant.floor[:strip].mean(), plant.floor[-strip:].mean()) < DRY * mean:
        found.add("dry ends")
    if min(plant.floor[:, :strip].mean(), plant.floor[:, -strip:].mean()) < DRY * mean:
        found.add("dry edges")
    across = plant.floor.mean(axis=0)[strip:-strip]
    if across.min() < DRY * mean:
        found.add("lines too far apart")
    return found


def suspects(result, plant: Plant) -> tuple[int, int]:
    """Blocked heads that are named, and suspects that are not near one."""
    named = [(head.line, head.number) for head in result.heads if head.suspect]
    near = lambda one, other: one[0] == other[0] and abs(one[1] - other[1]) <= 1  # noqa: E731
    found = sum(any(near(each, head) for each in named) for head in plant.blocked)
    return found, sum(not any(near(each, head) for head in (*plant.blocked, *plant.weak)) for each in named)


def rivals(result) -> tuple[str, str]:
    """The rival that is told, and the best of all; empty where there is none."""
    listed = result.fit.rivals if result.fit else []
    best = listed[0].kind if listed else ""
    return (best if result.fit and "far better" in result.fit.says else ""), best
