"""Changes worth making: found by search, predicted with this test's own pattern; faults first, then the cheapest."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ...causes.cause import Cause
from ...pattern.floor import Figure
from ...pattern.whole_floor import WholeFloor
from ...record.ground import Array
from ...record.site import Site
from ..change import SystemChange, read_changes
from ..table import cautions_of
from .candidates import deeper, singles, together
from .first import at_fault
from .judge import FEW, Baseline, Judged, baseline_of, judge, pointed, predicted_of, sharper, throw_of, weigh
from .minds import may_ring, past_walls, runs_off
from .parts import Part
from .supplies import OtherTap, other_taps
from .words import name_of, of_the_frame, says_of

LEAST_GAIN = 2.0   # [%] points of DUlq that a fix must bring to be offered
LEAST_STEP = 1.0   # [%] points by which a dearer one must beat a cheaper one
SLACK = (4.0, 3.0, 2.0, 1.5, 1.0)  # [%] points by which a point prediction may misjudge one change against another
MOST_HOPEFUL = 24  # changes that are predicted with draws
MOST_OFFERED = 6
MOST_REFUSED = 2   # changes that would gain more than all offered, but that the supply cannot carry

__all__ = ["Fix", "OtherTap", "SupplyAsked", "TriedChange", "find_fixes", "of_the_frame", "other_taps", "try_change"]


@dataclass(frozen=True)
class Fix:
    """A change with what it would bring.

    Attributes
    ----------
    name : str
        A few words.
    says : str
        One sentence that a person can act on.
    change : dict of str to str
        Key and value of each change, as `changes.read_changes` takes them.
    cu, du_low_quarter : Figure [%]
        Over the whole floor after it, with 90 % intervals.
    rate_mm_h : float [mm/h]
        Mean rate after it, over the whole run: the whole floor's depth / the time from the first line's opening to
        the last one's closing.
    flow_l_h : float or None [L/h]
        What the supply must give at once; None where pressures are not known.
    feasible : bool or None
        Whether the supply carries it; None without a supply in the record.
    why_not : str or None
        Why it does not.
    warnings : list of str
        What to mind.
    largest_gain : bool
        Whether it gains most of those offered.
    parts : list of Part
        What it needs.
    cautions : list of str
        What to mind while it is made: ladders, pressure, electricity, backflow.
    depth : array (p,) [1]
        Depth at each place of the ground after it / the mean; not part of the JSON.
    """

    name: str
    says: str
    change: dict[str, str]
    cu: Figure
    du_low_quarter: Figure
    rate_mm_h: float
    flow_l_h: float | None
    feasible: bool | None
    why_not: str | None
    warnings: list[str]
    largest_gain: bool
    parts: list[Part]
    cautions: list[str] = field(default_factory=list)
    depth: Array = field(default_factory=lambda: np.zeros(0), repr=False, compare=False, metadata={"json": False})


@dataclass(frozen=True)
class SupplyAsked:
    """What a change asks of the supply.

    Attributes
    ----------
    needs_l_h : float [L/h]
        Flow at once.
    can_l_h : float [L/h]
        Flow that the supply gives while it still holds the heads' working pressure.
    pressure_kpa : float [kPa]
        At the lowest head.
    """

    needs_l_h: float
    can_l_h: float
    pressure_kpa: float


@dataclass(frozen=True)
class TriedChange:
    """The answer to a change that was asked for.

    Attributes
    ----------
    today : Fix
        The floor as it is, as a fix without a change.
    fix : Fix
        After the change.
    supply : SupplyAsked or None
        What it asks of the supply.
    depth : list of arrays (p,) [1]
        Depth at each place / the mean, today and after.
    heads : list of arrays (m, 2) [m]
        Places of the heads, today and after.
    rates : array (s, p) [mm/h]
        Of each draw after it, over the whole run.
    """

    today: Fix
    fix: Fix
    supply: SupplyAsked | None
    depth: list[Array] = field(repr=False)
    heads: list[Array] = field(repr=False)
    rates: Array = field(repr=False)


def find_fixes(site: Site, floor: WholeFloor, system: str = "metric", causes: Sequence[Cause] = ()) -> list[Fix]:
    """What is at fault, mended; then the best few changes with it that are not beaten on both gain and parts.

    Parameters
    ----------
    site : Site
        With heads on lines.
    floor : WholeFloor
        Its estimate, made with heads.
    system : str
        ``metric`` or ``US``, for the words.
    causes : sequence of Cause
        What may be wrong; the likely faults among them are mended first.

    Returns
    -------
    list of Fix
        A named fault first, whatever its mending brings; after it, cheapest first, what brings more with it. Empty
        where nothing is at fault and nothing helps.
    """
    baseline = baseline_of(site, floor)
    first = at_fault(baseline, causes)
    always = [item.split("=")[0] for item in first]
    mended = [sharper(baseline, one) for one in _pointed(baseline, [first] if first else [], system)]
    point = mended[0].point if mended else baseline.point
    wanted = [first + items for items in singles(site, throw_of(floor), baseline.water, system)
              if items[0].split("=")[0] not in always]
    alone = _pointed(baseline, wanted, system)
    pairs = _pointed(baseline, together(alone, point, always), system)
    found = alone + pairs + _pointed(baseline, deeper(pairs, alone, point, always), system)
    tried = [sharper(baseline, one, FEW) for one in hopeful(found, point)]
    now = predicted_of(mended[0]).du_low_quarter.value if mended else baseline.now.du_low_quarter.value
    worth = sorted((one for one in tried if _gain(one, now) >= LEAST_GAIN),
                   key=lambda one: (one.work, -_gain(one, now)))
    offered: list[Judged] = []
    best = 0.0
    for one in worth:
        if one.feasible is not False and _gain(one, now) > best + LEAST_STEP:
            offered.append(one)
            best = _gain(one, now)
    while len(offered) + len(mended) > MOST_OFFERED:  # the smallest step up goes first; the last has the largest gain
        steps = [_gain(two, now) - _gain(one, now) for one, two in zip(offered, offered[1:], strict=False)]
        offered.pop(steps.index(min(steps)))
    refused = _one_a_kind(one for one in worth if _gain(one, now) > best + LEAST_STEP)[:MOST_REFUSED]
    whole = mended + [sharper(baseline, one) for one in offered + refused]
    carried = [one for one in whole if one.feasible is not False]
    most = max(carried, key=lambda one: _gain(one, now), default=None)
    return [_fix(baseline, one, one is most, system) for one in whole]


def _pointed(baseline: Baseline, wanted: list[list[str]], system: str) -> list[Judged]:
    """Changes with their point predictions."""
    return pointed(baseline, weigh(baseline, [read_changes(items) for items in wanted], system=system))


def hopeful(judged: list[Judged], now: float) -> list[Judged]:
    """Changes that may be offered by their point predictions, which may be off by up to `SLACK`.

    Parameters
    ----------
    judged : list of Judged
        With point predictions.
    now : float [%]
        Point prediction of the floor as it is.

    Returns
    -------
    list of Judged
        Without those that bring too little, and those that a change of no more work surely beats; where these are
        more than `MOST_HOPEFUL`, the benefit of the doubt shrinks.
    """
    for slack in SLACK:
        left = [one for one in judged if one.point - now >= LEAST_GAIN - slack]
        carried = [one for one in left if one.feasible is not False]
        beats = np.array([(one.work, one.point) for one in carried]).reshape(-1, 2)
        found = [one for one in carried
                 if not np.any((beats[:, 0] <= one.work) & (beats[:, 1] > one.point + slack))]
        best = beats[:, 1].max(initial=now)
        found += _one_a_kind(one for one in sorted(left, key=lambda one: -one.point) if one.point > best - slack)
        if len(found) <= MOST_HOPEFUL:
            break
    return found


def _one_a_kind(better: Iterable[Judged]) -> list[Judged]:
    """The first of each kind that the supply cannot carry; a lower setting of the regulator is no supply's fault."""
    kinds: dict[tuple[str, ...], Judged] = {}
    for one in better:
        if one.feasible is False and "pressure" not in one.change.texts:
            kinds.setdefault(tuple(sorted(one.change.texts)), one)
    return list(kinds.values())[:2 * MOST_REFUSED]


def _gain(judged: Judged, now: float) -> float:
    """Points of DUlq that it brings."""
    return predicted_of(judged).du_low_quarter.value - now


def _fix(baseline: Baseline, judged: Judged, most: bool, system: str) -> Fix:
    """A change that was judged, in words and figures."""
    found = predicted_of(judged)
    return Fix(name_of(judged), says_of(baseline, judged, system), judged.change.texts, found.cu, found.du_low_quarter,
               found.rate_mm_h.value, judged.water.flow_l_h if judged.water else None, judged.feasible,
               judged.why_not, [*judged.warnings, *may_ring(judged), *past_walls(baseline, judged, system),
                                *runs_off(baseline, judged, system)], most, judged.parts,
               cautions_of(judged.change.texts), found.depth)


def try_change(site: Site, floor: WholeFloor, change: SystemChange, system: str = "metric") -> TriedChange:
    """Predict a change that somebody asks for.

    Parameters
    ----------
    site : Site
        The test.
    floor : WholeFloor
        Its estimate.
    change : SystemChange
        From `changes.read_changes`.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    TriedChange

    Raises
    ------
    ValueError
        For a change that does not fit, or where heads or lines are missing.
    """
    baseline = baseline_of(site, floor)
    judged = judge(baseline, change, system=system)
    now = baseline.now
    today = Fix("today", "", {}, now.cu, now.du_low_quarter, now.rate_mm_h.value,
                baseline.water.flow_l_h if baseline.water else None, None, None, [], False, [])
    supply = None
    if judged.water is not None and judged.water.fed:
        supply = SupplyAsked(judged.water.flow_l_h, judged.water.can_l_h, judged.water.lowest_kpa)
    after = predicted_of(judged)
    return TriedChange(today, _fix(baseline, judged, False, system), supply, [now.depth, after.depth],
                       [baseline.today.heads, after.layout.heads], after.rates)
