"""Where the crop looks poor: is it really drier there?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..record.ground import Array, Edges, Ground

ALIKE_WITHIN = 0.15  # house convention: a difference that growers would hardly see
LEAST_CANS = 2
# The field knows nothing of the heads' pattern, so its intervals are widened until they hold 90 of 100 times in
# simulated tunnels (tests/test_patches.py simulates others).
_WIDEN = 1.4


@dataclass(frozen=True)
class PatchAnswer:
    """The answer for one patch.

    Attributes
    ----------
    note : str
        What the person saw there.
    answer : str
        ``drier``, ``wetter``, ``alike`` or ``cannot tell``.
    of_mean, elsewhere_of_mean : float or None [1]
        Mean depth in the patch, and on the rest of the ground, / the mean of the cans.
    ratio, low, high : float or None [1]
        Depth in the patch / depth elsewhere, with its 90 % interval.
    cans_inside : int
        Usable cans in the patch.
    says : str
        One sentence.
    """

    note: str
    answer: str
    of_mean: float | None
    elsewhere_of_mean: float | None
    ratio: float | None
    low: float | None
    high: float | None
    cans_inside: int
    says: str


def judge_patch(
    x: Array,
    y: Array,
    depth: Array,
    patch: Edges,
    ground: Ground,
    note: str = "",
) -> PatchAnswer:
    """Compare the water in a patch with the rest of the ground.

    Neighbouring cans are alike, so they count for less than as many cans far apart: the means come from a
    Gaussian field over the cans (`field.area_averages`).

    Parameters
    ----------
    x, y : array (n,) [m]
        Places of the usable cans.
    depth : array (n,) [mm]
        What they caught.
    patch : (left, right, start, end) [m]
        The patch.
    ground : Ground
        The floor, and the part of it that counts.
    note : str
        What the person saw there.

    Returns
    -------
    PatchAnswer
    """
    from .field import area_averages

    left, right, start, end = patch
    if left >= right or start >= end:
        return _cannot(note, 0, "its end is not beyond its beginning: correct the patch")
    inside = (x >= left - 1e-9) & (x <= right + 1e-9) & (y >= start - 1e-9) & (y <= end + 1e-9)
    count = int(inside.sum())
    within = _fill(patch, 10)
    around = np.vstack([_fill(edge, 13) for edge in ground.edges])
    across, along = around.T
    around = around[(across < left) | (across > right) | (along < start) | (along > end)]
    if not len(around):
        return _cannot(note, count, "the patch covers all the ground, so there is nothing to compare it with")
    averages = area_averages(x, y, depth, [within, around], ground.width, ground.length)
    mean = depth.mean()
    ratio, low, high = averages.interval(averages.draws[:, 0] / np.maximum(averages.draws[:, 1], 1e-3 * mean))
    low, high = max(ratio - _WIDEN * (ratio - low), 0.0), ratio + _WIDEN * (high - ratio)
    here, elsewhere = (float(np.median(averages.draws[:, piece]) / mean) for piece in (0, 1))
    answer = _answer(count, low, high)
    return PatchAnswer(note, answer, max(here, 0.0), max(elsewhere, 0.0), max(ratio, 0.0), low, high, count,
                       _says(answer, ratio, low, high, count))


def _answer(count: int, low: float, high: float) -> str:
    """The answer by the interval of the ratio."""
    if count < LEAST_CANS:
        return "cannot tell"
    if low > 1 - ALIKE_WITHIN and high < 1 + ALIKE_WITHIN:
        return "alike"
    if high < 1:
        return "drier"
    return "wetter" if low > 1 else "cannot tell"


def _says(answer: str, ratio: float, low: float, high: float, count: int) -> str:
    """The answer in a sentence."""
    cans = f"{count} can{'' if count == 1 else 's'} inside"
    span = f"{100 * ratio:.0f} % of what the rest gets ({100 * low:.0f} to {100 * high:.0f} %, from {cans})"
    return {
        "drier": f"Drier: {span}. Water is a likely cause here.",
        "wetter": f"Wetter: {span}. Too much water stunts a crop too.",
        "alike": f"Alike: {span}. Within {100 * ALIKE_WITHIN:.0f} %, so look for another cause than water.",
        "cannot tell": f"Cannot tell from {cans}: it may get {100 * low:.0f} to {100 * high:.0f} % of what the rest "
        "gets. Set more cans there.",
    }[answer]


def _cannot(note: str, count: int, why: str) -> PatchAnswer:
    """An answer that cannot be given."""
    return PatchAnswer(note, "cannot tell", None, None, None, None, None, count, f"Cannot tell: {why}.")


def _fill(edges: Edges, points: int) -> Array:
    """Points that fill a rectangle evenly, (p, 2) [m]."""
    left, right, start, end = edges
    side = np.sqrt((right - left) * (end - start)) / points
    across = max(3, int(round((right - left) / side)))
    along = max(3, int(round((end - start) / side)))
    across, along = min(across, 60), min(along, 60)
    grid = np.meshgrid(left + (np.arange(across) + 0.5) * (right - left) / across,
                       start + (np.arange(along) + 0.5) * (end - start) / along)
    return np.stack(grid, axis=-1).reshape(-1, 2)
