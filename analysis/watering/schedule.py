"""The watering plan: how long to run, how often, in how many runs, and what unevenness costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..changes.change import read_changes
from ..changes.fixes.search import Fix, try_change
from ..pattern import overlap
from ..pattern.floor import Figure, figure
from ..pattern.whole_floor import WholeFloor
from ..record.ground import Array
from ..record.site import Site
from ..reference.soils import Soak, soak, soil_of
from .need import Need, need_of
from .serve import DROWNED, GROUPS, Balance, Curve, InOrder, balance, curve, part_served

__all__ = ["DROWNED", "GROUPS", "AfterFix", "Balance", "Curve", "LineTime", "Need", "Watering", "WateringRun",
           "balance", "curve", "curve_after", "need_of", "part_served", "plan_watering"]

SERVES = "low quarter"  # whom a plan serves unless somebody chooses
UNTIL_MENDED = "until mended"  # gross depth by the form 1 / (0.4 + 0.6 DUlq), from memory
MOST_DROWNED = 0.5      # share of the ground: where serving the low quarter drowns more, the system is mended first
LEAST_PART = 0.02       # of the mean: no run is reckoned for ground that gets less
SHARE = 0.9             # share of the ground that is shown beside the usual groups
WETTEST = 0.95          # of the ground, in order of its rate: the highest rate that counts


@dataclass(frozen=True)
class WateringRun:
    """One way to water.

    Attributes
    ----------
    serves : str or float
        Whom it gives the net depth: ``mean``, ``low half``, ``low quarter`` or a share of the ground [1];
        ``until mended`` for a run between, on ground so uneven that serving the low quarter would drown most of it.
    minutes : Figure [min]
        Run time from the first line's opening to the last one's closing, with its 90 % interval.
    gross_mm : Figure [mm]
        Mean depth on the ground.
    litres : Figure [L]
        Water on the ground.
    goes : Balance
        Where that water goes.
    """

    serves: str | float
    minutes: Figure
    gross_mm: Figure
    litres: Figure
    goes: Balance


@dataclass(frozen=True)
class LineTime:
    """How long one line runs where lines do not all run together for the same time.

    Attributes
    ----------
    line : str
        Its name.
    minutes : float [min]
        Its own part of the run.
    """

    line: str
    minutes: float


@dataclass(frozen=True)
class AfterFix:
    """The same watering after a fix.

    Attributes
    ----------
    name : str
        Of the fix.
    serves : str
        ``low quarter``, or ``until mended`` where the ground is still too uneven for that.
    minutes : Figure [min]
        Run time that serves it.
    litres : Figure [L]
        Water on the ground.
    saved_week_l : float or None [L]
        Less water in a week; below 0 for more.
    """

    name: str
    serves: str
    minutes: Figure
    litres: Figure
    saved_week_l: float | None


@dataclass(frozen=True)
class Watering:
    """A watering plan.

    Attributes
    ----------
    how : str
        ``heads`` or ``cans only``: what the depth on the ground comes from.
    depth_mm : float [mm]
        Net depth wanted at each watering.
    days : int or None [1]
        From one watering to the next; None where a depth was asked for instead of the crop's need.
    need : Need or None
        What the crop wants.
    rate_mm_h : Figure [mm/h]
        Mean rate on the ground.
    highest_mm_h : float [mm/h]
        Rate of the wettest ground while it is watered.
    chosen : WateringRun
        The plan.
    runs : list of WateringRun
        The same for the usual groups.
    soak : Soak or None
        Runs and pauses; None where the soil is not known.
    soil : str or None
        As it was read.
    lines : list of LineTime
        Empty where all lines run together for the same time.
    in_turn : bool
        Whether the lines run one after the other.
    week_hours : Figure or None [h]
        Run time in a week.
    week_l : Figure or None [L]
        Water on the ground in a week.
    extra_l : float [L]
        What this run takes more than one that serves the mean.
    curve : Curve
        Ground short and drowned against run time.
    after_fix : AfterFix or None
        With the fix of the largest gain.
    drowns : WateringRun or None
        The run that would serve the driest quarter, where it would drown over half of the ground, so that the system
        is to be mended first; `chosen` then holds until it is.
    lacks_mm : float or None [mm]
        What the driest quarter then lacks on average.
    """

    how: str
    depth_mm: float
    days: int | None
    need: Need | None
    rate_mm_h: Figure
    highest_mm_h: float
    chosen: WateringRun
    runs: list[WateringRun]
    soak: Soak | None
    soil: str | None
    lines: list[LineTime]
    in_turn: bool
    week_hours: Figure | None
    week_l: Figure | None
    extra_l: float
    curve: Curve
    after_fix: AfterFix | None
    drowns: WateringRun | None
    lacks_mm: float | None


def plan_watering(site: Site, floor: WholeFloor, fixes: Sequence[Fix] = (), *, serves: str | float = SERVES,
                  depth_mm: float | None = None) -> Watering | None:
    """Plan the watering of a tested floor.

    Run time = net depth / (rate of the ground that is to be served), with the figures that are told: mean rate, DUlq,
    and for a share of the ground the depth that it gets in all draws of the estimate together. The interval comes from
    the draws, each with its own depth on the ground.

    Parameters
    ----------
    site : Site
        The test; its crop says how much is wanted.
    floor : WholeFloor
        The estimate for all the ground.
    fixes : list of Fix
        What was offered; the largest gain is held beside the plan.
    serves : str or float
        As of `serve.part_served`.
    depth_mm : float, optional
        Net depth wanted [mm], instead of the crop's need.

    Returns
    -------
    Watering or None
        None where neither a depth nor the crop's daily use is known.

    Raises
    ------
    ValueError
        For a depth of 0 mm or less, or an unknown `serves`.
    """
    if depth_mm is not None and not 0 < depth_mm < 1000:
        raise ValueError(f"received a depth of {depth_mm:g} mm, expected more than 0 and less than 1000 mm, enter the "
                         "net depth wanted")
    need = need_of(site)
    wanted = depth_mm if depth_mm is not None else (need.depth_mm if need else None)
    if wanted is None:
        return None
    ground = _Ground(site, floor)
    groups = dict.fromkeys([*GROUPS, SHARE, serves])
    runs = [ground.run(group, wanted) for group in groups]
    chosen = next(run for run in runs if run.serves == serves)
    drowns = chosen if serves == SERVES and chosen.goes.drowned > MOST_DROWNED else None
    if drowns is not None:
        chosen = ground.run(UNTIL_MENDED, wanted)
    days = need.days if need and depth_mm is None else None
    soil = soil_of(site.crop.soil) if site.crop else None
    highest = _highest(site, floor, ground)
    weekly = 7 / days if days else None
    return Watering(
        floor.estimate.how, wanted, days, need, ground.rate(), highest, chosen,
        [run for run in runs if run.serves in (*GROUPS, SHARE)],
        soak(highest, float(site.running.of_lines(chosen.minutes.value).max()), soil) if soil else None,
        soil.name if soil else None, _lines(site, chosen.minutes.value), site.in_turn,
        scaled(chosen.minutes, weekly / 60) if weekly else None, scaled(chosen.litres, weekly) if weekly else None,
        chosen.litres.value - runs[0].litres.value,
        curve(ground.draws / ground.minutes, wanted, ground.area, ground.weight,
              also=[run.minutes.value for run in (*runs, chosen)]),
        _after(fixes, chosen, ground, wanted, weekly), drowns,
        max(wanted - chosen.gross_mm.value * ground.du.value / 100, 0.0) if drowns is not None else None)


def curve_after(site: Site, floor: WholeFloor, fix: Fix, depth_mm: float) -> Curve:
    """Ground short and drowned against run time after a fix.

    Parameters
    ----------
    site : Site
        The test.
    floor : WholeFloor
        Its estimate, made with heads.
    fix : Fix
        One of those that were offered.
    depth_mm : float [mm]
        Net depth wanted.

    Returns
    -------
    Curve
    """
    tried = try_change(site, floor, read_changes([f"{key}={text}" for key, text in fix.change.items()]))
    return curve(tried.rates / 60, depth_mm, site.ground.area, floor.weight)


def scaled(one: Figure, factor: float) -> Figure:
    """A figure times a factor.

    Parameters
    ----------
    one : Figure
        In any unit.
    factor : float [any unit]
        Not below 0.

    Returns
    -------
    Figure
        In the product's unit.
    """
    return replace(one, value=one.value * factor, low=one.low * factor, high=one.high * factor)


class _Ground:
    """Depth on the ground that counts, in every draw, for the run that was tested."""

    def __init__(self, site: Site, floor: WholeFloor) -> None:
        self.draws: Array = np.asarray(floor.estimate.draws, float)
        self.middle: Array = floor.depth_mm[floor.ground]
        self.ordered = InOrder(self.draws, floor.weight)
        self.du = floor.estimate.du_low_quarter
        self.weight = floor.weight
        self.minutes = site.run_minutes
        self.area = site.ground.area
        # The draws are narrower than honest; what the estimate of DUlq was widened by serves every part of the ground.
        du = floor.estimate.du_low_quarter
        each = 100 * part_served(self.draws, "low quarter", self.weight)
        low, high = np.quantile(each, [0.05, 0.95])
        self.wider = max((du.value - du.low) / max(each.mean() - low, 1e-9), 1.0)
        self.narrower = max((du.high - du.value) / max(high - each.mean(), 1e-9), 1.0)

    def run(self, serves: str | float, wanted: float) -> WateringRun:
        """The run that gives some of the ground the depth that is wanted [mm]."""
        ends = {"widen": self.narrower, "widen_low": self.wider}
        mean = overlap.average(self.draws, self.weight)
        part = 0.4 + 0.6 * self._low_quarter() if serves == UNTIL_MENDED else part_served(
            self.draws, serves, self.weight)
        found, wets = figure(part, lowest=0.0, **ends), figure(part * mean, lowest=0.0, **ends)
        if serves == SERVES:
            found = scaled(self.du, 0.01)
        elif not isinstance(serves, str):
            found = replace(found, value=self.ordered.reached(serves) / float(mean.mean()))
        gross = _need_over(wanted, found)
        minutes = scaled(gross, self.minutes / float(mean.mean()))
        spread = _need_over(minutes.value, scaled(wets, 1 / max(wets.value, 1e-9)))
        minutes = replace(minutes, low=min(spread.low, minutes.value), high=max(spread.high, minutes.value))
        return WateringRun(serves, minutes, gross, scaled(gross, self.area),
                           self.ordered.balance(gross.value / float(mean.mean()), wanted, self.area))

    def _low_quarter(self) -> Array:
        """DUlq of each draw, around the figure that is told [1]."""
        each = part_served(self.draws, SERVES, self.weight)
        found: Array = each + self.du.value / 100 - each.mean()
        return found

    def rate(self) -> Figure:
        """Mean rate of the run that was tested [mm/h]."""
        return figure(overlap.average(self.draws, self.weight) / self.minutes * 60, lowest=0.0)


def _need_over(wanted: float, part: Figure) -> Figure:
    """What is wanted / the part of it that the served ground gets, with its interval."""
    value, low, high = (wanted / max(each, LEAST_PART) for each in (part.value, part.high, part.low))
    return Figure(value, min(low, value), max(high, value))


def _highest(site: Site, floor: WholeFloor, ground: _Ground) -> float:
    """Rate of the wettest ground while its own lines run [mm/h]."""
    samples, runs = floor.estimate.samples, site.running
    if samples is None or runs.at_once:
        share = len(runs.stages)  # cans alone do not say which line watered what
        return float(overlap.quantile(ground.middle, WETTEST, ground.weight)) / ground.minutes * 60 * share
    heads = np.array([head[2:] for head in floor.heads], float) + floor.estimate.shift
    output, rate = samples.output.mean(axis=0), samples.rate.mean(axis=0) * floor.estimate.mean_rate
    names = np.array([head[0] for head in floor.heads])
    throws = samples.usual_throws
    each = [overlap.rates_at(floor.cells.places, heads[on], output[on], samples.radius, rate,
                             throws.take(on) if throws else None)
            for name in (line.name for line in site.lines) for on in [names == name]]
    return float(overlap.quantile(runs.falls(np.array(each)), WETTEST, ground.weight))


def _lines(site: Site, minutes: float) -> list[LineTime]:
    """How long each line runs, where they do not all run together for the same time."""
    if site.running.at_once:
        return []
    return [LineTime(line.name, float(each))
            for line, each in zip(site.lines, site.running.of_lines(minutes), strict=True)]


def _after(fixes: Sequence[Fix], chosen: WateringRun, ground: _Ground, wanted: float,
           weekly: float | None) -> AfterFix | None:
    """The run that serves the driest quarter after the best fix; other groups need its map and are left out."""
    best = next((fix for fix in fixes if fix.largest_gain and fix.feasible is not False), None)
    if best is None or chosen.serves not in (SERVES, UNTIL_MENDED) or best.rate_mm_h <= 0:
        return None
    part = scaled(best.du_low_quarter, 0.01)
    drowned = float(overlap.average((best.depth > DROWNED * part.value).astype(float), ground.weight))
    serves = UNTIL_MENDED if chosen.serves == UNTIL_MENDED and drowned > MOST_DROWNED else SERVES
    if serves == UNTIL_MENDED:
        part = Figure(*(0.4 + 0.6 * each for each in (part.value, part.low, part.high)))
    gross = _need_over(wanted, part)
    litres = scaled(gross, ground.area)
    saved = (chosen.litres.value - litres.value) * weekly if weekly else None
    return AfterFix(best.name, serves, scaled(gross, 60 / best.rate_mm_h), litres, saved)
