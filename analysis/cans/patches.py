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
    chance : float or None [1]
        That the answer is true; with ``cannot tell`` that of the likeliest of the other three, which `says` names. None
        where there is nothing to compare.
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
    chance: float | None
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
    here, elsewhere = (float(np.median(averages.draws[:, piece]) / mean) for piece in (0, 1))
    ratio = averages.draws[:, 0] / np.maximum(averages.draws[:, 1], 1e-3 * mean)
    return answered(ratio, _WIDEN, here=here, elsewhere=elsewhere, count=count, enough=count >= LEAST_CANS, note=note,
                    seen=f"{count} can{'' if count == 1 else 's'} inside")


def answered(ratio: Array, widen: float, *, here: float, elsewhere: float, count: int, enough: bool, seen: str,
             note: str = "") -> PatchAnswer:
    """Answer for a patch from draws of what it gets.

    Parameters
    ----------
    ratio : array (s,) [1]
        Depth in the patch / depth elsewhere, in each draw.
    widen : float [1]
        Factor on the draws' distance from their middle.
    here, elsewhere : float [1]
        Mean depth in the patch and elsewhere / the mean.
    count : int [1]
        Usable cans in the patch.
    enough : bool
        Whether what it was seen from is enough for an answer.
    seen : str
        What it was seen from, in words.
    note : str
        What the person saw there.

    Returns
    -------
    PatchAnswer
    """
    middle = float(np.median(ratio))
    wide = np.maximum(middle + widen * (ratio - middle), 0.0)
    low, high = (float(end) for end in np.quantile(wide, [0.05, 0.95]))
    answer = _answer(low, high) if enough else "cannot tell"
    chances = {"drier": float((wide < 1).mean()), "wetter": float((wide > 1).mean()),
               "alike": float((np.abs(wide - 1) < ALIKE_WITHIN).mean())}
    likeliest = max(chances, key=lambda name: chances[name])
    chance = chances[likeliest if answer == "cannot tell" else answer]
    middle = max(middle, 0.0)
    return PatchAnswer(note, answer, max(here, 0.0), max(elsewhere, 0.0), middle, low, high, count, chance,
                       _says(answer, middle, low, high, seen, f"{min(round(100 * chance), 99)} in 100", likeliest))


def _answer(low: float, high: float) -> str:
    """The answer by the interval of the ratio."""
    if low > 1 - ALIKE_WITHIN and high < 1 + ALIKE_WITHIN:
        return "alike"
    if high < 1:
        return "drier"
    return "wetter" if low > 1 else "cannot tell"


def _says(answer: str, ratio: float, low: float, high: float, seen: str, sure: str, likeliest: str) -> str:
    """The answer in a sentence."""
    span = f"{100 * ratio:.0f} % of what the rest gets ({100 * low:.0f} to {100 * high:.0f} %, from {seen})"
    return {
        "drier": f"Drier: {span}, {sure}. Water is a likely cause here.",
        "wetter": f"Wetter: {span}, {sure}, so not short of water. Too much water stunts a crop too.",
        "alike": f"Alike: {span}, {sure}, so not short of water. Within {100 * ALIKE_WITHIN:.0f} %, so look for "
        "another cause.",
        "cannot tell": f"Cannot tell from {seen}: it may get {100 * low:.0f} to {100 * high:.0f} % of what the rest "
        f"gets; likeliest {likeliest}, {sure}. Set more cans there.",
    }[answer]


def _cannot(note: str, count: int, why: str) -> PatchAnswer:
    """An answer that cannot be given."""
    return PatchAnswer(note, "cannot tell", None, None, None, None, None, count, None, f"Cannot tell: {why}.")


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
