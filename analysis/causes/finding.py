"""What may be wrong: hypotheses with a strength, from cans, heads, hydraulics and gauges together."""

from __future__ import annotations

from dataclasses import replace

from ..cans.catch import Catch
from ..cans.outliers import odd_cans
from ..cans.surface import Surface
from ..cans.uniformity import Indices
from ..hydraulics.system import WorkingPoint
from ..pattern.whole_floor import WholeFloor
from ..record.site import Site
from .cans_only import cans_only_causes
from .cause import Cause
from .departures import find_departures
from .evidence import Evidence
from .findings import findings
from .from_cans import fall_by_gauges, from_departure, shift_of_all, suspects_told
from .gather import gather
from .layout import layout_causes
from .split import Unevenness, split_unevenness
from .water import water_causes

__all__ = ["Cause", "Evidence", "Unevenness", "causes_of", "find_causes", "gather", "split_unevenness"]

FALLS = ("friction", "fall", "fall not explained", "slope")
LEAST = 0.1  # strength below which a cause is not told


def find_causes(site: Site, catch: Catch, figures: Indices, surface: Surface, floor: WholeFloor | None,
                hydraulics: WorkingPoint | None = None, system: str = "metric") -> list[Cause]:
    """Find what may be wrong with a test's system.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.
    figures : Indices
        Of the cans.
    surface : Surface
        The depth map of the cans.
    floor : WholeFloor or None
        The estimate; without it only gauges, supply and cans speak.
    hydraulics : WorkingPoint, optional
        How the system runs; worked out here if left out.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of Cause
        Strongest first; none under `LEAST`.
    """
    return causes_of(gather(site, catch, figures, surface, floor, hydraulics, system))


def causes_of(evidence: Evidence) -> list[Cause]:
    """Find the causes that the evidence speaks for.

    Parameters
    ----------
    evidence : Evidence
        From `gather`.

    Returns
    -------
    list of Cause
        Strongest first; none under `LEAST`.
    """
    found = [*water_causes(evidence), *findings(evidence)]
    if evidence.linear is not None:
        departures = find_departures(evidence)
        found += suspects_told([from_departure(one, evidence) for one in departures], departures, evidence)
        found += [*layout_causes(evidence), *shift_of_all(evidence), *fall_by_gauges(evidence)]
    else:
        found += cans_only_causes(evidence, odd_cans(evidence.site, evidence.catch))
    return merged([cause for cause in found if cause.strength >= LEAST])


def merged(found: list[Cause]) -> list[Cause]:
    """Put together what speaks of the same thing, strongest first.

    Parameters
    ----------
    found : list of Cause
        In any order.

    Returns
    -------
    list of Cause
        Of the same kind at the same place one, with both pieces of evidence; two independent ones make it stronger.
    """
    kept: list[Cause] = []
    for cause in sorted(found, key=lambda each: -each.strength):
        same = next((k for k, other in enumerate(kept) if _same(cause, other)), None)
        if same is None:
            kept.append(cause)
            continue
        other = kept[same]
        strength = 1 - (1 - other.strength) * (1 - 0.5 * cause.strength)
        where = other.where
        if cause.kind in FALLS and cause.where.split(",")[0] not in where and "every line" not in where:
            where = f"{where} and {cause.where}"
        kept[same] = replace(other, where=where, says=f"{other.says} {cause.says}", strength=strength,
                             mends=tuple(dict.fromkeys((*other.mends, *cause.mends))))
    return sorted(kept, key=lambda each: -each.strength)


def _same(one, other):
    """Whether two causes speak of the same thing."""
    if one.kind in FALLS and other.kind in FALLS:
        if one.kind == other.kind:
            return True
        lines = {one.where.split(",")[0], other.where.split(",")[0]}
        return len(lines) == 1 or "every line" in lines
    if one.kind != other.kind:
        return False
    return one.where.split(" (")[0] == other.where.split(" (")[0] or (
        one.kind == "line low" and one.where.split(",")[0] == other.where.split(",")[0])
