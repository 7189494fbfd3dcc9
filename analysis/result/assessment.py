"""From a record to its result: one function."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from ..cans.catch import Catch, rate_from_depth, read_catch
from ..cans.dry_spots import PART_OF_MEAN, find_dry_spots
from ..cans.index_table import values_of
from ..cans.surface import Surface, fit_surface
from ..cans.uniformity import Indices, indices
from ..cans.water_balance import all_doubts
from ..causes.cautions import cautions_of
from ..causes.explained import fit_of, floor_by, with_rival
from ..causes.rivals import WORDS, clear_rival, doubt_of, grade, listed, where_of
from ..causes.rivals import says as fit_says
from ..pattern.threads import one_thread
from ..pattern.whole_floor import WholeFloor, between_cans, part_of_mean_interval
from ..record.doubts import Doubt
from ..record.model import Record
from ..record.said import corrected_words
from ..record.site import Site, site_of
from .model import (
    AtTheCans,
    CatchSummary,
    DrySpotFound,
    FitFound,
    HeadFound,
    NotDone,
    PatchFound,
    ProfileFound,
    RecordHeading,
    Result,
    RivalFound,
    Uncorrected,
    WholeFloorFigures,
)

if TYPE_CHECKING:
    from ..causes.finding import Cause, Unevenness
    from ..changes.fixes.search import Fix
    from ..changes.fixes.supplies import OtherTap
    from ..changes.recheck import Recheck
    from ..pattern.rivals import Fit, Rival
    from ..watering.schedule import Watering

_FLOOR_PARTS = ("whole_floor", "heads", "profile")


@one_thread
def assess(
    record: Record,
    *,
    part_of_mean: float = PART_OF_MEAN,
    system: str = "metric",
    only: str | None = None,
    earlier: Callable[[str], Record | None] | None = None,
    progress: Callable[[float], None] | None = None,
    rivals: bool = False,
) -> Result:
    """Assess one test.

    Parameters
    ----------
    record : Record
        Checked (`record_file.read_record`).
    part_of_mean : float [1]
        Ground under this part of the mean is a dry spot, 0.05 to 1.
    system : str
        ``metric`` or ``US``: units in the sentences.
    only : str, optional
        ``cans``: only figures, map and dry spots, the parts that come from the cans at once; patches are left out.
    earlier : callable, optional
        Gives the test of an id, or None where it is not at hand; for `test.rechecks`.
    progress : callable, optional
        Called with a part done from 0 to 1 while the whole floor is estimated.
    rivals : bool
        Whether other explanations of the readings are weighed too, which takes about a second.

    Returns
    -------
    Result

    Raises
    ------
    ValueError
        For a part of the mean outside its limits.
    """
    site = site_of(record)
    catch = read_catch(site)
    figures = indices(catch.depth_mm[catch.counted], catch.weight[catch.counted])
    usable = catch.usable
    surface = fit_surface(catch.x[usable], catch.y[usable], catch.depth_mm[usable], site.width, site.length)
    odd = all_doubts(site, catch)
    trusted = site.believed(odd)
    weighed, settled = fit_of(site, catch) if rivals and only != "cans" and not _closed(odd) else (None, [])
    rival = doubt_of(site, weighed, system) if weighed else None
    odd = [*([rival] if rival else []), *odd]
    closed = _closed(odd)
    floor = None if only == "cans" or closed else floor_by(site, catch, weighed, progress)
    shut = [doubt.key for doubt in odd if "fixes" in doubt.closes]
    pattern = floor if floor is not None and floor.estimate.samples is not None and not rival else None
    causes = [] if only == "cans" else _causes(trusted, catch, figures, surface, None if rival else floor, system)
    causes = with_rival(causes, site, weighed, system) if weighed else causes
    fixes = _fixes(site, pattern, system, causes) if pattern and not shut else []
    watering = _watering(trusted, floor, fixes) if floor is not None and not rival else None
    recheck = _recheck(site, catch, floor, earlier, system) if floor is not None else None
    return Result(
        record=_heading(record),
        catch=_summary(site, catch, figures, floor),
        at_the_cans=_at_the_cans(catch),
        dry_spots=_dry_spots(site, surface, floor, float(figures.mean), part_of_mean, system),
        patches=[] if only == "cans" else _patches(
            site, catch, pattern if weighed and grade(weighed) == "good" else None),
        causes=causes,
        unevenness=_unevenness(site, catch, pattern) if pattern else None,
        fixes=fixes,
        watering=watering,
        recheck=recheck,
        fit=_fit(site, weighed, floor, system, settled) if weighed else None,
        supplies=[] if only == "cans" else _supplies(site, system),
        not_done=_not_done(site, recheck is not None, only, closed, shut) + (
            [NotDone("unevenness", [rival.key])] if rival and floor is not None else []) + (
            [] if watering else [_no_watering(only, odd)]),
        cautions=([doubt.says for doubt in odd] + corrected_words(record) + cautions_of(site, catch, system)
                  + _read_again(catch, floor, causes)),
        cans=catch,
        surface=surface,
        floor=floor,
        **(_floor_parts(floor) if floor else {}),
    )


def _closed(odd: list[Doubt]) -> list[str]:
    return [doubt.key for doubt in odd if "whole_floor" in doubt.closes]


def _fit(site: Site, weighed: Fit, floor: WholeFloor | None, system: str, settled: list[Rival]) -> FitFound:
    best = clear_rival(weighed)
    found = []
    for rival in listed(weighed):
        words, at = WORDS[rival.kind], rival.setup.at
        figure = floor.estimate.du_low_quarter if rival is best and floor is not None else None
        found.append(RivalFound(rival.kind, rival.of, words.if_so(site, at, system), rival.evidence,
                                words.change(site, at) if words.change else None, figure, words.check_next))
    says = fit_says(site, weighed, system)
    if settled:
        told = " or ".join(WORDS[rival.kind].if_so(site, rival.setup.at, system) for rival in settled)
        says += f" That {told} was checked and left out: {', '.join(where_of(site, rival) for rival in settled)} stays."
    return FitFound(grade(weighed), says, 100 * weighed.residual, found)


def _floor_parts(floor: WholeFloor) -> dict[str, Any]:
    """The parts of the result that come from the estimate for all the ground."""
    found = floor.estimate
    figures = WholeFloorFigures(found.how, 0.9, found.cu, found.du_low_quarter, found.mean, floor.scheduling)
    if found.profile is None:
        return {"whole_floor": figures}
    suspects = {item.head: item for item in found.suspects}
    heads = [
        HeadFound(
            line, number, x, y, float(found.output[place]), float(found.output_low[place]),
            float(found.output_high[place]), float(found.trend[place]), place in suspects,
            sorted(floor.heads[other][1] for other in suspects[place].alike) if place in suspects else [])
        for place, (line, number, x, y) in enumerate(floor.heads)
    ]
    profile = ProfileFound(*(np.asarray(values, float).tolist() for values in (
        found.profile.radius, found.profile.rate, found.profile.low, found.profile.high)))
    return {"whole_floor": figures, "heads": heads, "profile": profile}


def _causes(site: Site, catch: Catch, figures: Indices, surface: Surface, floor: WholeFloor | None,
            system: str) -> list[Cause]:
    from ..causes.finding import find_causes

    return find_causes(site, catch, figures, surface, floor, system=system)


def _unevenness(site: Site, catch: Catch, floor: WholeFloor) -> Unevenness | None:
    from ..causes.finding import split_unevenness

    return split_unevenness(site, catch, floor)


def _read_again(catch: Catch, floor: WholeFloor | None, causes: list[Cause]) -> list[str]:
    """Cans that the pattern of the heads cannot explain, and that no cause names already."""
    if floor is None:
        return []
    named = {cause.where.split(" (")[0] for cause in causes}
    return [f"{catch.name(floor.cans[number]).capitalize()} is far off what its neighbours and the heads say: read it "
            "again, or set it aside if it was kicked, shaded or dripped on." for number in floor.estimate.doubtful
            if catch.name(floor.cans[number]) not in named]


def _heading(record: Record) -> RecordHeading:
    test = record.test
    return RecordHeading(
        id=test.id, title=test.title, date=test.date.isoformat() if test.date else None, site=test.site,
        zone=test.zone, tunnel=test.tunnel, member=test.member, purpose=test.purpose,
    )


def _summary(site: Site, catch: Catch, figures: Indices, floor: WholeFloor | None) -> CatchSummary:
    return CatchSummary(
        cans=len(catch.x), used=int(catch.counted.sum()), set_aside=int((catch.state == "set aside").sum()),
        missing=int((catch.state == "no reading").sum()), mean_mm=float(figures.mean),
        lowest_mm=float(figures.lowest), highest_mm=float(figures.highest),
        rate_mm_h=float(rate_from_depth(figures.mean, site.run_minutes)),
        evaporation_mm=catch.evaporation_mm if catch.corrected else None,
        caught_fraction=_caught_fraction(site, floor),
    )


def _caught_fraction(site: Site, floor: WholeFloor | None) -> float | None:
    """Water over the floor / water through the meter; None without a meter, or where only beds are known."""
    if floor is None or not site.metered or not site.ground.whole:
        return None
    return float(floor.estimate.mean.value / 1e3 * site.width * site.length / site.metered)


def _at_the_cans(catch: Catch) -> AtTheCans:
    before = None
    if catch.corrected:
        raw = indices(catch.read_mm[catch.counted], catch.weight[catch.counted])
        before = Uncorrected(float(raw.cu), float(raw.du_low_quarter), float(raw.mean))
    return AtTheCans(values_of(catch.depth_mm[catch.counted], catch.weight[catch.counted]), before)


def _dry_spots(
    site: Site, surface: Surface, floor: WholeFloor | None, mean: float, part: float, system: str
) -> list[DrySpotFound]:
    lines = [(line.name, line.x) for line in site.lines]
    pattern = floor if floor is not None and floor.estimate.how == "heads" else None
    if pattern:
        depth = np.where(pattern.ground, pattern.depth_mm, np.inf)
        found = find_dry_spots(pattern.x, pattern.y, depth, pattern.estimate.mean.value, ground=pattern.cells,
                               known=between_cans(surface, pattern), part_of_mean=part, lines=lines, system=system)
    else:
        found = find_dry_spots(surface.x, surface.y, surface.depth_mm, mean,
                               ground=site.ground.cells(surface.x, surface.y), known=surface.inside,
                               part_of_mean=part, lines=lines, system=system)
    return [
        DrySpotFound(spot.where, spot.x_m, spot.y_m, spot.area_m2, spot.depth_mm, spot.of_mean, spot.kind,
                     spot.beyond_the_cans, "pattern" if pattern else "surface",
                     part_of_mean_interval(pattern, spot.cells) if pattern else None)
        for spot in found
    ]


def _patches(site: Site, catch: Catch, good: WholeFloor | None) -> list[PatchFound]:
    """Each patch by its cans, or by the estimate where that is good and no cans stand there."""
    if not site.record.patches:
        return []
    from ..cans.patches import LEAST_CANS, judge_patch
    from ..pattern.patches import judge_on_floor

    use = catch.usable
    found = []
    for patch in site.record.patches:
        edges = (patch.x[0].si, patch.x[1].si, patch.y[0].si, patch.y[1].si)
        answer = judge_patch(catch.x[use], catch.y[use], catch.depth_mm[use], edges, site.ground, patch.note or "")
        if good is not None and answer.cans_inside < LEAST_CANS:
            answer = judge_on_floor(good, edges, answer.cans_inside, patch.note or "") or answer
        found.append(PatchFound(answer.note, answer.answer, answer.of_mean, answer.elsewhere_of_mean, answer.chance,
                                answer.says))
    return found


def _fixes(site: Site, floor: WholeFloor, system: str, causes: list[Cause]) -> list[Fix]:
    from ..changes.fixes.search import find_fixes

    return find_fixes(site, floor, system, causes)


def _supplies(site: Site, system: str) -> list[OtherTap]:
    if not site.other_supplies:
        return []
    from ..changes.fixes.search import other_taps

    return other_taps(site, system)


def _watering(site: Site, floor: WholeFloor, fixes: list[Fix]) -> Watering | None:
    from ..watering.schedule import plan_watering

    return plan_watering(site, floor, fixes)


def _recheck(site: Site, catch: Catch, floor: WholeFloor, earlier: Callable[[str], Record | None] | None,
             system: str) -> Recheck | None:
    """The test held against the one that it follows up, where that is at hand and fits to be estimated."""
    named = site.record.test.rechecks
    found = earlier(named) if earlier and named else None
    if found is None:
        return None
    before = site_of(found)
    if any("whole_floor" in doubt.closes for doubt in all_doubts(before, read_catch(before))):
        return None
    from ..changes.recheck import held_against

    return held_against(site, catch, floor, before, system)


def _no_watering(only: str | None, odd: list[Doubt]) -> NotDone:
    """Why there is no watering plan: what is hard to believe, or the crop's use that nobody gave."""
    shut = [doubt.key for doubt in odd if {"watering", "whole_floor"} & set(doubt.closes)]
    return NotDone("watering", [] if only == "cans" else shut or ["crop.daily_use"])


def _not_done(
    site: Site, rechecked: bool, only: str | None, doubted: list[str], shut: list[str]
) -> list[NotDone]:
    has_heads = len(site.heads) > 0
    closed = []
    for part in _FLOOR_PARTS:
        if only == "cans" or doubted:
            closed.append(NotDone(part, doubted))
        elif not has_heads and part != "whole_floor":
            closed.append(NotDone(part, ["lines"]))
    if only == "cans" or doubted or not has_heads:
        closed.append(NotDone("causes", [] if only == "cans" else doubted if has_heads else ["lines"]))
    if only == "cans" or doubted or not has_heads:
        closed.append(NotDone("unevenness", doubted if has_heads else ["lines"]))
    if only == "cans" or shut or not has_heads:
        closed.append(NotDone("fixes", shut if has_heads else ["lines"]))
    if only == "cans" and site.record.patches:
        closed.append(NotDone("patches", []))
    if site.record.test.rechecks and not rechecked:
        closed.append(NotDone("rechecks", ["test.rechecks"]))
    return closed
