"""What the cans alone can say where no heads are given."""

from __future__ import annotations

import numpy as np

from ..cans.outliers import OddCan
from .cause import Cause, grows, percent
from .evidence import Evidence
from .kinds import KINDS

EDGE = 0.18  # of the width that counts as an edge
HALF = 0.5   # what both edges must lack


def cans_only_causes(evidence: Evidence, odd: list[OddCan]) -> list[Cause]:
    """Dry ends, dry edges and single cans: without heads nothing else is looked for.

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
    return made + list(_ends(evidence)) + list(_edges(evidence))


def _edges(evidence):
    """Both outer strips far drier than the middle: no fault of single heads does that."""
    catch = evidence.catch
    use = catch.usable
    across, depth = catch.x[use] / evidence.site.width, catch.depth_mm[use]
    middle, strips = (across > 0.3) & (across < 0.7), [across < EDGE, across > 1 - EDGE]
    if middle.sum() < 3 or any(strip.sum() < 3 for strip in strips):
        return
    usual = max(float(depth[middle].mean()), 1e-9)
    parts = [float(depth[strip].mean()) / usual for strip in strips]
    sd = max(float(depth[strip].std() / np.sqrt(strip.sum())) / usual for strip in strips)
    lack = 1 - max(parts)
    if lack - sd > HALF:
        yield Cause(
            "dry edges: the outer lines are too far from the walls, or the heads do not throw that far",
            "both side walls, along the whole length",
            f"The cans there caught {percent(parts[0])} (left) and {percent(parts[1])} (right) of what those in the "
            "middle did.", grows(lack - sd, HALF), "Measure from each side wall to the nearest line with a tape, and "
            "how far its heads throw. Add heads and lines to the record.",
            ("lines too far from the walls", "low pressure", "heads of a shorter throw"), "dry edges", "pattern")


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
