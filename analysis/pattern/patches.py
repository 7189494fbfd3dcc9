"""Patches where no can stands, judged on the estimate for all the ground."""

from __future__ import annotations

import numpy as np

from ..cans.patches import PatchAnswer, answered
from ..record.ground import Edges
from .floor import WIDEN
from .overlap import average
from .whole_floor import WholeFloor


def judge_on_floor(floor: WholeFloor, patch: Edges, count: int, note: str = "") -> PatchAnswer | None:
    """Compare the water in a patch with the rest of the ground, by the pattern of the heads.

    Parameters
    ----------
    floor : WholeFloor
        An estimate that fits well.
    patch : (left, right, start, end) [m]
        The patch.
    count : int [1]
        Usable cans in it.
    note : str
        What the person saw there.

    Returns
    -------
    PatchAnswer or None
        None where the patch holds no cell of the ground, or all of them.
    """
    left, right, start, end = patch
    x, y = floor.cells.places.T
    inside = (x >= left) & (x <= right) & (y >= start) & (y <= end)
    if not inside.any() or inside.all():
        return None
    draws, weight = floor.estimate.draws, floor.weight
    there, rest, mean = (average(draws[:, on], None if weight is None else weight[on])
                         for on in (inside, ~inside, np.ones(len(inside), bool)))
    seen = "the pattern of the heads" + ("" if not count else f" and {count} can{'' if count == 1 else 's'} inside")
    return answered(there / np.maximum(rest, 1e-3 * mean), WIDEN, here=float(np.median(there / mean)),
                    elsewhere=float(np.median(rest / mean)), count=count, enough=True, seen=seen, note=note)
