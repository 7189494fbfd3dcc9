"""One change, judged: what it brings, what it needs, whether the supply can carry it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from .. import yardsticks
from ..changes import Change, Changed, changed_record
from ..pattern.changed import Layout
from ..predict import Prediction, changed_layout, from_the_left, ground_places, predicted, ratios, today_of
from ..record.model import Record
from ..record.places import lines_from_the_left, of_all_lines
from ..units_shown import show
from ..whole_floor import WholeFloor
from .parts import Part, parts_of, work_of
from .water import Water, carries, water_of

FEW = 60  # draws for putting changes in order; all of them for what is offered


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
    """

    record: Record
    floor: WholeFloor
    today: Layout
    suspects: list[int]
    places: np.ndarray
    water: Water | None
    now: Prediction


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
    prediction : Prediction
        The floor after it.
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
    """

    change: Change
    changed: Changed
    layout: Layout
    flow: np.ndarray | float
    pressure: np.ndarray | float
    wider: float
    prediction: Prediction
    parts: list[Part]
    water: Water | None
    feasible: bool | None
    why_not: str | None
    warnings: list[str] = field(default_factory=list)

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
    return Site(record, floor, today, [k for k, head in enumerate(order) if head in named], places,
                water_of(record), predicted(floor, places, today))


def judge(site: Site, change: Change, *, draws: int | None = None, system: str = "metric") -> Judged:
    """Predict one change.

    Parameters
    ----------
    site : Site
        The test.
    change : Change
        From `changes.read_changes`.
    draws : int or None [1]
        How many draws; None takes all.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    Judged

    Raises
    ------
    ValueError
        For a change that does not fit the test.
    """
    record, rng = site.record, np.random.default_rng(7)
    changed = changed_record(record, change)
    names = [line.name for line in lines_from_the_left(record)]
    new = changed_layout(site.today, changed, site.suspects, names, site.floor.estimate.shift, rng)
    after = water_of(changed.record) if site.water else None
    flow = pressure = 1.0
    if after is not None:
        flow, pressure = ratios(site.today, new, changed.lines, site.water.heads, after.heads)
    elif "flow" in change.values and (was := of_all_lines(record, "flow")):
        flow = change.values["flow"] / was
    wider = 1.0
    if "wetted_diameter" in change.values:
        was = of_all_lines(record, "wetted_diameter") or 2 * site.floor.estimate.profile.reach.value
        wider = change.values["wetted_diameter"] / was
    prediction = predicted(site.floor, site.places, new, flow=flow, pressure=pressure, wider=wider, draws=draws)
    feasible, why_not, warnings = carries(site.water, after, system)
    return Judged(change, changed, new, flow, pressure, wider, prediction,
                  parts_of(record, change, changed, site.today, new), after, feasible, why_not, warnings)


def sharper(site: Site, judged: Judged) -> Judged:
    """The same change, predicted with all draws.

    Parameters
    ----------
    site : Site
        The test.
    judged : Judged
        From `judge`.

    Returns
    -------
    Judged
    """
    return replace(judged, prediction=predicted(site.floor, site.places, judged.layout, flow=judged.flow,
                                                pressure=judged.pressure, wider=judged.wider))


def runs_off(record: Record, prediction: Prediction, system: str) -> list[str]:
    """Whether the wettest ground would get water faster than its soil takes in.

    Parameters
    ----------
    record : Record
        With the soil, or without.
    prediction : Prediction
        The floor after a change.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of str
        One sentence, or none.
    """
    soil = (record.crop.soil or "").casefold() if record.crop else ""
    intake = next((rate for name, rate in yardsticks.INTAKE_MM_H if name in soil), None)
    wettest = prediction.rate_mm_h.value * float(np.quantile(prediction.depth, 0.95))
    if intake is None or wettest <= intake:
        return []
    return [f"The wettest ground would get {show(wettest / 3.6e6, 'rate', system)}, more than {record.crop.soil} may "
            f"take in ({show(intake / 3.6e6, 'rate', system)}): water in several short runs with pauses."]
