"""Gather once what the causes look at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..cans.catch import SET_ASIDE, Catch
from ..cans.surface import Surface
from ..cans.uniformity import Indices
from ..hydraulics.system import Closed, WorkingPoint, gauge_readings, system_of, working_point
from ..pattern import overlap
from ..pattern.floor import Figure, figure, maps
from ..pattern.kinds import kinds_of
from ..pattern.scene import FLOW_ERROR, READING_ERROR, SPREAD
from ..pattern.whole_floor import WholeFloor, estimate_floor
from ..record.site import Site
from ..reference.yardsticks import GAUGE_SCALES_KPA, GAUGE_SHARE, SOUND_LEVEL, SOUND_SLOPE
from .departures import wall_direction
from .evidence import DesignFloor, Evidence, GaugeReading, LinearModel, LineTrend

CELL = 0.2  # [m] of the map on which the layout is judged, coarser on a large floor
MOST_CELLS = 6000
STRIP = 0.5          # [m] beside a wall that water running down the film wets
STRIP_PAYS = 5.0     # log likelihood that leaving them out must bring; own simulation
WETTER = 0.12        # of the mean depth, from which such a strip is looked at, a judgement
MODEL_ERROR = 0.02   # of the mean depth: what no pattern explains, a judgement


def gather(site: Site, catch: Catch, at_cans: Indices, surface: Surface, floor: WholeFloor | None,
           hydraulics: WorkingPoint | None = None, system: str = "metric") -> Evidence:
    """Gather what the causes look at.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.
    at_cans : Indices
        Their figures.
    surface : Surface
        The depth map of the cans.
    floor : WholeFloor or None
        The estimate.
    hydraulics : WorkingPoint, optional
        Of today's system; worked out here if left out.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    Evidence
    """
    water, needs, modelled = _water(site, hydraulics)
    gauges = tuple(GaugeReading(item, item.value.to("kPa"), model, gauge_sd(item.value.to("kPa")))
                   for item, model in zip(site.gauges, modelled, strict=True))
    nothing = Figure(1.0, 1.0, 1.0)
    empty = Evidence(site, catch, surface, floor, at_cans, system, np.zeros((0, 2)), np.zeros(0), (), None, None,
                     np.zeros(1), np.zeros(1), nothing, None, water, needs, gauges)
    if floor is None or floor.estimate.profile is None:
        return empty
    use, floor = floor.cans, _beside_wet_walls(site, catch, floor)
    empty = replace(empty, floor=floor)
    found = floor.estimate
    heads, share, rates = _heads(site, floor)
    radius = found.samples.radius
    linear = _linear(site, catch, floor, use)
    return replace(
        empty, heads=heads, share=share, lines=_lines(site, floor, water), linear=linear,
        design=_design(site, heads, share, radius, rates.mean(axis=0), found.samples.usual_throws), radius=radius,
        rate=rates.mean(axis=0) * found.mean_rate, ring=_ring(radius, rates, found.profile.throw.value),
        flow_part=_flow_part(site, found, radius, rates))


def gauge_sd(kpa: float) -> float:
    """Standard deviation of a gauge's error: its limit is taken as two of them.

    Parameters
    ----------
    kpa : float [kPa]
        The reading, on the smallest usual gauge that it fills to three quarters at most.

    Returns
    -------
    float [kPa]
    """
    scale = next((each for each in GAUGE_SCALES_KPA if 0.75 * each >= kpa), GAUGE_SCALES_KPA[-1])
    return 0.5 * GAUGE_SHARE * scale


def _water(site: Site, point: WorkingPoint | None):
    """Working point, the keys that would open hydraulics, and what each gauge should read [kPa]."""
    try:
        system = system_of(site)
        point = point or working_point(system)
        return point, tuple(point.needs), gauge_readings(site, system, point)
    except Closed as closed:
        return None, tuple(closed.needs), [None] * len(site.gauges)
    except ValueError:  # the pressures do not settle
        return None, (), [None] * len(site.gauges)


def _shares(site: Site, floor: WholeFloor) -> np.ndarray:
    """Nominal flow x run time of each head / the mean of all; run time alone where its kind's throw has the flow."""
    lines = [site.line(head[0]) for head in floor.heads]
    share = np.array([line.ran for line in lines])
    if floor.estimate.samples.throws is None and all(line.flow for line in lines):
        share = share * np.array([line.flow for line in lines])
    return share / share.mean()


def _beside_wet_walls(site: Site, catch: Catch, floor: WholeFloor) -> WholeFloor:
    """The estimate without the cans of a strip along a wall, where these hold more than the rest lets expect.

    Such a strip would bend the pattern of all heads, or look like drift.
    """
    use, found = floor.cans, floor.estimate
    depth = catch.depth_mm[use] / catch.depth_mm[use].mean()
    away = _from_walls(site, catch, use)
    for wall, towards in enumerate(([-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0])):
        strip, across = away[wall] < STRIP, away[wall ^ 1] < STRIP
        if strip.sum() < 3 or (~strip).sum() < max(12, len(use) / 2):
            continue
        blown = float(found.shift @ towards)
        wetter = across.any() and np.median(depth[strip]) - np.median(depth[across]) > WETTER
        if not (blown > 0.05 or wetter or _stands_out(away[wall], depth, strip)):
            continue
        state = catch.state.copy()
        state[use[strip]] = SET_ASIDE
        again = estimate_floor(site, replace(catch, state=state))
        # Drift would still be there without this strip.
        if again.estimate.profile is None or again.estimate.shift.any():
            continue
        linear = _linear(site, catch, again, use)
        rest, own = (linear.depth - linear.usual)[strip], linear.covariance[np.ix_(strip, strip)]
        gain = _likely(linear, wall_direction(away[wall])) - _likely(_linear(site, catch, floor, use))
        if rest.mean() > WETTER and rest.mean() > 2.0 * np.sqrt(own.mean()) and gain > STRIP_PAYS:
            return again
    return floor


def _likely(linear: LinearModel, direction: np.ndarray | None = None) -> float:
    """Log likelihood of the cans, if they may depart this way by 0.8 of the mean, more or less."""
    covariance, rest = linear.covariance, linear.depth - linear.usual
    if direction is not None:
        covariance, rest = covariance + 0.5**2 * np.outer(direction, direction), rest - 0.8 * direction
    return float(-0.5 * rest @ np.linalg.solve(covariance, rest) - 0.5 * np.linalg.slogdet(covariance)[1])


def _from_walls(site: Site, catch: Catch, use: np.ndarray) -> tuple[np.ndarray, ...]:
    """How far the cans stand from the left, right, inlet end and far end wall, four (n,) [m]."""
    x, y = catch.x[use], catch.y[use]
    return x, site.width - x, y, site.length - y


def _stands_out(away, depth, strip) -> bool:
    """Whether the cans of a strip hold clearly more than those one step further in."""
    further = (away >= STRIP) & (away < STRIP + 1.2)
    return bool(further.sum() >= 3 and np.median(depth[strip]) - np.median(depth[further]) > WETTER)


def _heads(site, floor):
    """Places, shares and profile of the heads; a profile belongs to the mean of all heads."""
    found = floor.estimate
    heads = np.array([head[2:] for head in floor.heads], float) + found.shift
    return heads, _shares(site, floor), found.samples.rate * found.samples.trend.mean(axis=1)[:, None]


def _linear(site, catch, floor, use) -> LinearModel:
    """All cans, also those that the estimate was made without, against the pattern."""
    found, (heads, share, rates) = floor.estimate, _heads(site, floor)
    cans = np.column_stack([catch.x[use], catch.y[use]])
    depth = catch.depth_mm[use]
    scale = float(catch.depth_mm[floor.cans].mean())
    radius, mean = found.samples.radius, rates.mean(axis=0)
    throws, of_kinds = found.samples.usual_throws, kinds_of(site.heads)
    response = overlap.responses(cans, heads, radius, mean, throws) * share
    usual = response.sum(axis=1)
    step = 0.05
    around = [(overlap.rates_at(cans + move, heads, share, radius, mean, throws)
               - overlap.rates_at(cans - move, heads, share, radius, mean, throws)) / (2 * step)
              for move in step * np.eye(2)]
    gradient = np.column_stack(around)
    spread = maps(replace(found.samples, rate=rates, output=np.broadcast_to(share, (len(rates), len(share)))),
                  cans, heads)
    covariance = np.cov(spread.T)
    rounding = (10.0 / site.cans.opening if site.cans.opening else 1.0) / scale  # a step of 1 mL, or of 1 mm
    covariance[np.diag_indices_from(covariance)] += ((READING_ERROR * usual) ** 2 + rounding**2 / 12 + MODEL_ERROR**2
                                                     + site.cans.placed_within**2 * (gradient**2).sum(axis=1))
    covariance += SPREAD**2 * response @ response.T + 0.15**2 * np.outer(usual, usual)
    for number, sd in enumerate(of_kinds.strength_sd if of_kinds else ()):
        part = sd * response[:, of_kinds.kind == number].sum(axis=1)
        covariance += np.outer(part, part)
    names = [head[0] for head in floor.heads]
    for name in dict.fromkeys(names):
        on = np.array([each == name for each in names])
        y = heads[on, 1]
        middle, half = y.mean(), max(float(np.ptp(y)) / 2, 1e-9)
        for size, shape in ((SOUND_LEVEL, np.ones(on.sum())), (SOUND_SLOPE, (y - middle) / half)):
            part = size * response[:, on] @ shape
            covariance += np.outer(part, part)
    return LinearModel(use, cans, depth / scale, response, usual, gradient, covariance)


def _lines(site: Site, floor: WholeFloor, water: WorkingPoint | None) -> tuple[LineTrend, ...]:
    """Level and fall of each line with heads, by the cans and by hydraulics."""
    samples = floor.estimate.samples
    names = [head[0] for head in floor.heads]
    flows = samples.trend / site.heads.ran  # while they run
    trends = []
    for line in site.lines:
        on = np.array([number for number, name in enumerate(names) if name == line.name], int)
        if not len(on):
            continue
        others = np.setdiff1d(np.arange(len(names)), on)
        y = np.array([floor.heads[number][3] for number in on])
        along = from_entry(y, line.fed_from or "near", site.length)
        near, far = int(along.argmin()), int(along.argmax())
        trend = flows[:, on]
        level = trend.mean(axis=1) / flows[:, others].mean(axis=1) if len(others) else np.ones(len(trend))
        fall, modelled_level = None, None
        if water is not None and np.nanmin(water.flow[on]) > 0:
            flow = water.flow[on]
            fall = float(1 - flow[far] / flow[near])
            modelled_level = float(flow.mean() / np.nanmean(water.flow[others])) if len(others) else 1.0
        trends.append(LineTrend(line.name, line.x, on, y, along, figure(level),
                                figure(1 - trend[:, far] / trend[:, near]), fall, modelled_level))
    return tuple(trends)


def from_entry(y: np.ndarray, fed_from: str, length: float) -> np.ndarray:
    """How far along from where the water enters each head hangs.

    Parameters
    ----------
    y : array (k,) [m]
        Places of the heads.
    fed_from : str
        ``near``, ``far`` or ``middle`` (half the floor's length).
    length : float [m]
        Of the floor.

    Returns
    -------
    array (k,) [1]
        0 at the nearest, 1 at the farthest.
    """
    away = {"near": y, "far": -y, "middle": np.abs(y - length / 2)}[fed_from]
    return (away - away.min()) / max(float(np.ptp(away)), 1e-9)


def _design(site: Site, heads: np.ndarray, share: np.ndarray, radius: np.ndarray, rate: np.ndarray,
            throws: overlap.Throws | None) -> DesignFloor:
    """The ground that counts with every head at its share."""
    cells = site.ground.grid(max(CELL, float(np.sqrt(site.width * site.length / MOST_CELLS))))
    depth = overlap.rates_at(cells.places, heads, share, radius, rate, throws)
    return DesignFloor(cells.places, cells.weight, depth / overlap.average(depth, cells.weight),
                       float(overlap.low_quarter(depth, cells.weight)))


def _ring(radius, rates, throw) -> Figure:
    """How much more falls at the edge of the pattern than in its middle."""
    part = radius / throw
    inside, outside = part < 0.3, (part > 0.55) & (part < 0.95)
    return figure(rates[:, outside].max(axis=1) / np.maximum(rates[:, inside].mean(axis=1), 1e-9), highest=20.0)


def _flow_part(site: Site, found, radius, rates) -> Figure | None:
    """Flow by the cans alone / nominal: the nominal flow, which served the fit as a reading, is taken out again."""
    nominal = site.head_flow
    if not nominal:
        return None
    longer = site.heads.ran.mean() / site.duration  # a profile is that of the mean of all heads over the run
    values = overlap.volume(radius, rates) * found.mean_rate / (nominal * longer)
    pulled = min(float(values.var()) / FLOW_ERROR**2, 0.9)
    middle = (float(values.mean()) - pulled) / (1 - pulled)
    sd = float(values.std()) / np.sqrt(1 - pulled)
    return Figure(middle, middle - 1.645 * sd, middle + 1.645 * sd)
