"""What the cans alone can say where no heads are given."""

from __future__ import annotations

import numpy as np

from ..cans.outliers import OddCan
from .cause import Cause, grows, percent
from .evidence import Evidence
from .kinds import KINDS


def cans_only_causes(evidence: Evidence, odd: list[OddCan]) -> list[Cause]:
    """Dry ends and single cans, as hints: without heads no cause can be sure.

    Parameters
    ----------
    evidence : Evidence
        Without heads.
    odd : list of OddCan
        Cans to read again.

    Returns
    -------
    list of Cause
    """
    made = [Cause("a can that was tipped, shaded, dripped on or misread", can.name, can.says, 0.6,
                  KINDS["can low"].check, (), "can low", "readings") for can in odd]
    return made + list(_ends(evidence))


def _ends(evidence):
    """Dry ground beside an end wall, against the cans in the middle."""
    catch = evidence.catch
    use = catch.usable
    y, depth = catch.y[use], catch.depth_mm[use]
    length = evidence.site.length
    for name, end in (("inlet end", y < 0.15 * length), ("far end", y > 0.85 * length)):
        middle = (y > 0.25 * length) & (y < 0.75 * length)
        if end.sum() < 2 or middle.sum() < 3:
            continue
        part = float(depth[end].mean() / max(depth[middle].mean(), 1e-9))
        sd = float(np.hypot(depth[end].std() / np.sqrt(end.sum()), depth[middle].std() / np.sqrt(middle.sum()))
                   / max(depth[middle].mean(), 1e-9))
        lack = 1 - part
        yield Cause(
            "a dry end: the last heads are too far from the wall, clogged, or short of pressure", f"the {name}",
            f"The cans there caught {percent(part)} of what those in the middle did.",
            0.5 * grows(lack - sd, 0.35), "Measure from the end wall to the first head with a tape; look at the heads "
            "there while they run. Add heads and lines to the record.",
            ("heads too far from the wall", "clogged heads", "low pressure"), "dry ends", "pattern")
