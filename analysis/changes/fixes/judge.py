"""One change, judged: what it brings, what it needs, whether the supply can carry it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ...hydraulics.system import Closed, system_of
from ...pattern.changed import Layout
from ...pattern.many import point_rates
from ...pattern.whole_floor import WholeFloor
from ...record.model import Record
from ...record.places import head_places, lines_from_the_left, of_all_lines, of_line
from ...record.site import site_of as resolved
from ...reference.soils import INTAKE_SOURCE, soak, soil_of
from ...units.shown import show
from ..change import Change, Changed, ChangeError, changed_record
from ..predict import (
    Prediction,
    changed_layout,
    from_the_left,
    ground_places,
    point_heads,
    point_predictions,
    predicted,
    ratios,
    today_of,
)
from .parts import Part, parts_of, work_of
from .water import Water, carries, waters_of

WETTEST = 0.95  # of the ground, in order of its rate: the highest rate that counts
FEW = 60  # draws for putting changes in order; all of them for what is offered
# Changes that do nothing to a floor whose pressures, or whose supply, are not known.
_BY_PRESSURE = ("pressure", "pipe", "hose", "hose_length", "filter", "regulator_range", "fed_from")
_BY_SUPPLY = ("pressure", "hose", "hose_length", "filter", "regulator_range")


@dataclass(frozen=True)
class Site:
    """A test with everything that a change is judged by.

    Attributes
    ----------
    record : Record
        The test.
    floor : WholeFloor
        Its estimate, with heads.
    today : Layout
        Its heads from the left.
    suspects : list of int [1]
        Indices in `today` of heads that stand out.
    places : array (p, 2) [m]
        Ground that counts.
    water : Water or None
        Today's pressures and flows; None where the record does not say enough.
    now : Prediction
        The floor as it is.
    point : float [%]
        DUlq of the floor as it is, as a point prediction.
    """

    record: Record
    floor: WholeFloor
    today: Layout
    suspects: list[int]
    places: np.ndarray
    water: Water | None
    now: Prediction
    point: float


@dataclass(frozen=True)
class Judged:
    """One change with its prediction.

    Attributes
    ----------
    change : Change
        As it was asked for.
    changed : Changed
        The record after it.
    layout : Layout
        The heads after it.
    flow, pressure : array (m,) or float [1]
        Each head's flow and pressure / those of today.
    wider : float [1]
        Diameter of a new kind of head / today's.
    parts : list of Part
        What it needs.
    water : Water or None
        Pressures and flows after it.
    feasible : bool or None
        Whether the supply carries it; None where that is not known.
    why_not : str or None
        Why it does not.
    warnings : list of str
        What to mind of its supply.
    point : float [%]
        DUlq after it / 1 %, from the mean profile and mean outputs; nan until it is asked for.
    prediction : Prediction or None
        The floor after it with its intervals; None until it is asked for.
    """

    change: Change
    changed: Changed
    layout: Layout
    flow: np.ndarray | float
    pressure: np.ndarray | float
    wider: float
    parts: list[Part]
    water: Water | None
    feasible: bool | None
    why_not: str | None
    warnings: list[str] = field(default_factory=list)
    point: float = float("nan")
    prediction: Prediction | None = None

    @property
    def work(self) -> float:
        """Work of its parts [1]."""
        return work_of(self.parts, len(self.change.texts))


def site_of(record: Record, floor: WholeFloor) -> Site:
    """Everything about a test that a change is judged by.

    Parameters
    ----------
    record : Record
        With heads on lines.
    floor : WholeFloor
        Its estimate, made with heads.

    Returns
    -------
    Site
    """
    today, places = today_of(floor, record), ground_places(floor)
    order, _ = from_the_left(record)
    named = {suspect.head for suspect in floor.estimate.suspects}
    point = point_predictions(floor, places, [today], [1.0], [1.0], [1.0])
    return Site(record, floor, today, [k for k, head in enumerate(order) if head in named], places,
                waters_of([record])[0], predicted(floor, places, today), float(point.du_low_quarter[0]))


def weigh(site: Site, changes: list[Change], *, system: str = "metric") -> list[Judged]:
    """Judge many changes without their predictions: pressures of all at once.

    Parameters
    ----------
    site : Site
        The test.
    changes : list of Change
        From `changes.read_changes`.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of Judged
        In the order of the changes; those that do not fit the test are left out.
    """
    made = []
    for change in changes:
        try:
            made.append((change, *_made(site, change)))
        except ChangeError:
            continue
    waters = waters_of([changed.record for _, changed, _ in made]) if site.water else [None] * len(made)
    return [_judged(site, change, changed, new, water, system)
            for (change, changed, new), water in zip(made, waters, strict=True)]


def _made(site: Site, change: Change) -> tuple[Changed, Layout]:
    changed = changed_record(site.record, change)
    _check(site, change)
    names = [line.name for line in lines_from_the_left(site.record)]
    return changed, changed_layout(site.today, changed, site.suspects, names, site.floor.estimate.shift,
                                   np.random.default_rng(7))


def _check(site: Site, change: Change) -> None:
    """Refuse a change that would do nothing, because this test does not say what it depends on."""
    texts = change.texts
    if change.values.get("mend") == "suspects" and not site.suspects:
        raise ChangeError("received mend=suspects, expected a test in which heads stand out, name the heads instead, "
                          "such as left:7")
    by_pressure = [key for key in _BY_PRESSURE if key in texts]
    if by_pressure and site.water is None:
        key = by_pressure[0]
        raise ChangeError(f"received {key}={texts[key]}, expected a record from which the pressures can be worked out, "
                          f"add {_needed(site.record)}")
    by_supply = [key for key in _BY_SUPPLY if key in texts]
    if by_supply and not site.water.fed:
        key = by_supply[0]
        raise ChangeError(f"received {key}={texts[key]}, expected a record whose supply is known, add "
                          f"{' and '.join(site.water.system.needs) or 'supply'}")
    if "flow" in texts and site.water is None and _flows(site.record) is None:
        raise ChangeError(f"received flow={texts['flow']}, expected a record with the flow of today's heads, add "
                          "heads.flow")


def _needed(record: Record) -> str:
    try:
        system_of(resolved(record))
    except Closed as closed:
        return " and ".join(closed.needs)
    return "sizes with which they settle"


def _flows(record: Record) -> np.ndarray | None:
    """Nominal flow of every head by the lines from the left, None where one is not known [m3/s]."""
    found = [(of_line(record, line, "flow"), len(head_places(line))) for line in lines_from_the_left(record)]
    if any(flow is None for flow, _ in found):
        return None
    return np.repeat([flow.si for flow, _ in found], [count for _, count in found])


def _judged(site: Site, change: Change, changed: Changed, new: Layout, after: Water | None, system: str) -> Judged:
    record, flow, pressure, wider = site.record, 1.0, 1.0, 1.0
    if after is not None:
        flow, pressure = ratios(site.today, new, changed.lines, site.water.heads, after.heads)
    elif "flow" in change.values and (was := _flows(record)) is not None:
        sources = [like if like >= 0 else -1 - like for like, _, _ in changed.lines]
        first = np.array([was[site.today.line_of == line][0] for line in range(int(site.today.line_of.max()) + 1)])
        flow = change.values["flow"] / first[np.array(sources)[new.line_of]]
    if "wetted_diameter" in change.values:
        was = of_all_lines(record, "wetted_diameter") or 2 * site.floor.estimate.profile.throw.value
        wider = change.values["wetted_diameter"] / was
    feasible, why_not, warnings = carries(site.water, after, system)
    return Judged(change, changed, new, flow, pressure, wider, parts_of(record, change, changed, site.today, new),
                  after, feasible, why_not, warnings)


def pointed(site: Site, judged: list[Judged]) -> list[Judged]:
    """The same changes with a point prediction each, all at once.

    Parameters
    ----------
    site : Site
        The test.
    judged : list of Judged
        From `weigh`.

    Returns
    -------
    list of Judged
        In the same order.
    """
    if not judged:
        return []
    found = point_predictions(site.floor, site.places, *(
        [getattr(one, name) for one in judged] for name in ("layout", "flow", "pressure", "wider")))
    return [replace(one, point=float(value)) for one, value in zip(judged, found.du_low_quarter, strict=True)]


def sharper(site: Site, judged: Judged, draws: int | None = None) -> Judged:
    """The same change, predicted with its intervals.

    Parameters
    ----------
    site : Site
        The test.
    judged : Judged
        From `weigh`.
    draws : int or None [1]
        How many draws; None takes all.

    Returns
    -------
    Judged
    """
    return replace(judged, prediction=predicted(site.floor, site.places, judged.layout, flow=judged.flow,
                                                pressure=judged.pressure, wider=judged.wider, draws=draws))


def judge(site: Site, change: Change, *, system: str = "metric") -> Judged:
    """Predict one change.

    Parameters
    ----------
    site : Site
        The test.
    change : Change
        From `changes.read_changes`.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    Judged

    Raises
    ------
    ValueError
        For a change that does not fit the test, or that this test cannot say anything of.
    """
    made = _made(site, change)
    after = waters_of([made[0].record])[0] if site.water else None
    return sharper(site, _judged(site, change, *made, after, system))


def runs_off(site: Site, judged: Judged, system: str) -> list[str]:
    """Whether the wettest ground would get water faster than its soil takes in, and how to water it then.

    The times are for as much water as the test gave.

    Parameters
    ----------
    site : Site
        The test; its record has the soil, or not.
    judged : Judged
        A change, predicted.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of str
        One sentence, or none.
    """
    crop, rate = site.record.crop, judged.prediction.rate_mm_h.value
    soil = soil_of(crop.soil) if crop else None
    if soil is None or not rate > 0:
        return []
    wettest = _wettest(site, judged)
    if wettest <= soil.intake_low:
        return []
    minutes = site.record.run.duration.to("min") * site.now.rate_mm_h.value / rate
    cut = soak(wettest, minutes, soil)
    how = f"a run of {minutes:.0f} min still goes in without a pause"
    if cut.runs > 1:
        how = (f"give the test's water in {cut.runs} runs of {cut.on_min:.0f} min with pauses of "
               f"{cut.pause_min:.0f} min")
    return [f"The wettest ground would get {show(wettest / 3.6e6, 'rate', system)}, more than {crop.soil} may "
            f"take in ({show(soil.intake_low / 3.6e6, 'rate', system)}; {INTAKE_SOURCE}): {how}."]


def _wettest(site: Site, judged: Judged) -> float:
    """Rate of the wettest ground while it is watered [mm/h]; of lines in turn, only one runs at a time."""
    found, estimate = judged.prediction, site.floor.estimate
    if judged.changed.record.run.lines != "in turn":
        return found.rate_mm_h.value * float(np.quantile(found.depth, WETTEST))
    layout, rate = judged.layout, estimate.samples.rate.mean(axis=0) * estimate.mean_rate
    output, stretch = point_heads(layout, judged.flow, judged.pressure, judged.wider)
    each = [point_rates(site.places, rate, layout.heads[on], output[None, on], stretch[None, on])[0]
            for line in np.unique(layout.line_of) for on in [layout.line_of == line]]
    return float(np.quantile(np.max(each, axis=0), WETTEST))
