"""One change, judged: what it brings, what it needs, whether the supply can carry it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ...hydraulics.system import Closed, system_of
from ...pattern.changed import Layout
from ...pattern.whole_floor import WholeFloor
from ...record.ground import Array
from ...record.site import Site
from ..change import ChangeError, SystemChange, changed_site
from ..key import Changed, ChangeKey, Job
from ..predict import (
    Prediction,
    changed_layout,
    from_the_left,
    point_predictions,
    predicted,
    ratios,
    ring_at,
    today_of,
)
from ..table import KEYS
from .parts import Part, parts_of, work_of
from .water import SystemState, carries, states_of

FEW = 60  # draws for putting changes in order; all of them for what is offered


@dataclass(frozen=True)
class Baseline:
    """A test with everything that a change is judged by.

    Attributes
    ----------
    site : Site
        The test.
    floor : WholeFloor
        Its estimate, with heads.
    today : Layout
        Its heads from the left.
    suspects : list of int [1]
        Indices in `today` of heads that stand out.
    water : SystemState or None
        Today's pressures and flows; None where the record does not say enough.
    now : Prediction
        The floor as it is.
    point : float [%]
        DUlq of the floor as it is, as a point prediction.
    """

    site: Site
    floor: WholeFloor
    today: Layout
    suspects: list[int]
    water: SystemState | None
    now: Prediction
    point: float


@dataclass(frozen=True)
class Judged:
    """One change with its prediction.

    Attributes
    ----------
    change : SystemChange
        As it was asked for.
    changed : Changed
        The site after it.
    layout : Layout
        The heads after it.
    flow, pressure : array (m,) or float [1]
        Each head's flow and pressure / those of today.
    wider : array (m,) or float [1]
        Diameter of a new kind of head / today's.
    parts : list of Part
        What it needs.
    water : SystemState or None
        Pressures and flows after it.
    feasible : bool or None
        Whether the supply carries it; None where that is not known.
    why_not : str or None
        Why it does not.
    ring : float [1]
        The largest part of the water that may fall in a ring, at a pressure under the heads' own.
    carried : bool
        Whether all lines hang where the record says that one can be carried.
    warnings : list of str
        What to mind of its supply.
    point : float [%]
        DUlq after it / 1 %, from the mean profile and mean outputs; nan until it is asked for.
    prediction : Prediction or None
        The floor after it with its intervals; None until it is asked for.
    """

    change: SystemChange
    changed: Changed
    layout: Layout
    flow: Array | float
    pressure: Array | float
    wider: Array | float
    parts: list[Part]
    water: SystemState | None
    feasible: bool | None
    why_not: str | None
    ring: float = 0.0
    carried: bool = True
    warnings: list[str] = field(default_factory=list)
    point: float = float("nan")
    prediction: Prediction | None = None

    @property
    def work(self) -> float:
        """Work of its parts [1]."""
        return work_of(self.parts, len(self.change.texts))


def baseline_of(site: Site, floor: WholeFloor) -> Baseline:
    """Everything about a test that a change is judged by.

    Parameters
    ----------
    site : Site
        With heads on lines.
    floor : WholeFloor
        Its estimate, made with heads.

    Returns
    -------
    Baseline

    Raises
    ------
    ChangeError
        Without heads.
    """
    today = today_of(floor, site)
    order, _ = from_the_left(site)
    named = {suspect.head for suspect in floor.estimate.suspects}
    found, point = floor.estimate, point_predictions(floor.estimate, floor.cells, [today], [1.0], [1.0], [1.0])
    now = replace(predicted(found, floor.cells, today, pace=site.running.pace), cu=found.cu,
                  du_low_quarter=found.du_low_quarter)  # the figures that are told of the test
    return Baseline(site, floor, today, [k for k, head in enumerate(order) if head in named],
                    states_of([site])[0], now, float(point.du_low_quarter[0]))


def weigh(baseline: Baseline, changes: list[SystemChange], *, system: str = "metric") -> list[Judged]:
    """Judge many changes without their predictions: pressures of all at once.

    Parameters
    ----------
    baseline : Baseline
        The test.
    changes : list of SystemChange
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
            made.append((change, *_made(baseline, change)))
        except ChangeError:
            continue
    waters = states_of([changed.site for _, changed, _ in made]) if baseline.water else [None] * len(made)
    return [_judged(baseline, change, changed, new, water, system)
            for (change, changed, new), water in zip(made, waters, strict=True)]


def _made(baseline: Baseline, change: SystemChange) -> tuple[Changed, Layout]:
    """The site and the heads after a change."""
    site = baseline.site
    changed = changed_site(site, change)
    for key, text in change.texts.items():
        _check(baseline, KEYS[key], text)
    names = [site.lines[number].name for number in site.from_the_left()]
    return changed, changed_layout(baseline.today, changed, baseline.suspects, names, baseline.floor.estimate.shift,
                                   np.random.default_rng(7), _usual(baseline))


def _usual(baseline: Baseline) -> Array:
    """What each head would give in a sound system: by its pressures, else by its data sheet, for as long as it ran."""
    order, _ = from_the_left(baseline.site)
    ran, flow = baseline.site.heads.ran[order], baseline.site.heads.flow[order]
    if baseline.water is not None and np.all(baseline.water.heads.flow > 0):
        flow = baseline.water.heads.flow
    return ran * flow if np.all(np.isfinite(flow)) else ran


def _check(baseline: Baseline, entry: ChangeKey, text: str) -> None:
    """Refuse a change that would do nothing, because this test does not say what it depends on."""
    if entry.asks != "nothing" and baseline.water is None:
        raise ChangeError(f"received {entry.key}={text}, expected a record from which the pressures can be worked "
                          f"out, add {_needed(baseline.site)}")
    if entry.asks == "supply" and baseline.water is not None and not baseline.water.fed:
        raise ChangeError(f"received {entry.key}={text}, expected a record whose supply is known, add "
                          f"{' and '.join(baseline.water.system.needs) or 'supply'}")
    if entry.check is not None:
        entry.check(baseline, text)


def _needed(site: Site) -> str:
    """Keys from which the pressures could be worked out."""
    try:
        system_of(site)
    except Closed as closed:
        return " and ".join(closed.needs)
    return "sizes with which they settle"


def _judged(baseline: Baseline, change: SystemChange, changed: Changed, new: Layout, after: SystemState | None,
            system: str) -> Judged:
    """A change without its prediction."""
    site, order = baseline.site, from_the_left(baseline.site)[0]
    flow: Array | float = 1.0
    pressure: Array | float = 1.0
    wider: Array | float = 1.0
    if after is not None and baseline.water is not None:
        flow, pressure = ratios(baseline.today, new, changed.lines, baseline.water.heads, after.heads)
    elif "flow" in change.values and not np.isnan(site.heads.flow).any():
        flow = change.values["flow"] / site.heads.flow[order][new.like]
    if "wetted_diameter" in change.values:
        was: Array | float | None = site.common("diameter")
        if was is None:
            thrown = throw_of(baseline.floor) * (1.0 if new.stretch is None else new.stretch.mean(axis=0))
            own = site.heads.radius[order][new.like]
            was = 2 * np.where(np.isnan(own), thrown, own)
        wider = change.values["wetted_diameter"] / was
    feasible, why_not, warnings = carries(baseline.water, after, system)
    ring = 0.0
    if after is not None and baseline.water is not None:
        ring = ring_at(baseline.water.heads.pressure, after.heads.pressure, baseline.site.heads.at / 1e3)
    return Judged(change, changed, new, flow, pressure, wider,
                  parts_of(Job(site, change, changed, baseline.today, new)), after, feasible, why_not, ring,
                  all(_carried(site, x) for _, x, _ in changed.lines), warnings)


def _carried(site: Site, x: float) -> bool:
    """Whether a line can hang at a place by what the record says: one does, or it names the place."""
    return any(abs(x - place) <= 0.02 for place in (*site.hangs_at, *(line.x for line in site.lines)))


def throw_of(floor: WholeFloor) -> float:
    """Throw radius of the heads, as the cans show it.

    Parameters
    ----------
    floor : WholeFloor
        An estimate that was made with heads.

    Returns
    -------
    float [m]
    """
    assert floor.estimate.profile is not None
    return float(floor.estimate.profile.throw.value)


def pointed(baseline: Baseline, judged: list[Judged]) -> list[Judged]:
    """The same changes with a point prediction each, all at once.

    Parameters
    ----------
    baseline : Baseline
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
    found = point_predictions(
        baseline.floor.estimate, baseline.floor.cells, [one.layout for one in judged], [one.flow for one in judged],
        [one.pressure for one in judged], [one.wider for one in judged])
    return [replace(one, point=float(value)) for one, value in zip(judged, found.du_low_quarter, strict=True)]


def sharper(baseline: Baseline, judged: Judged, draws: int | None = None) -> Judged:
    """The same change, predicted with its intervals.

    Parameters
    ----------
    baseline : Baseline
        The test.
    judged : Judged
        From `weigh`.
    draws : int or None [1]
        How many draws; None takes all.

    Returns
    -------
    Judged
    """
    return replace(judged, prediction=predicted(
        baseline.floor.estimate, baseline.floor.cells, judged.layout, flow=judged.flow, pressure=judged.pressure,
        wider=judged.wider, pace=judged.changed.site.running.pace, ring=judged.ring, draws=draws))


def judge(baseline: Baseline, change: SystemChange, *, system: str = "metric") -> Judged:
    """Predict one change.

    Parameters
    ----------
    baseline : Baseline
        The test.
    change : SystemChange
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
    made = _made(baseline, change)
    after = states_of([made[0].site])[0] if baseline.water else None
    return sharper(baseline, _judged(baseline, change, *made, after, system))


def predicted_of(judged: Judged) -> Prediction:
    """The prediction of a change that was predicted.

    Parameters
    ----------
    judged : Judged
        From `judge` or `sharper`.

    Returns
    -------
    Prediction
    """
    assert judged.prediction is not None
    return judged.prediction
