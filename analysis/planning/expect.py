"""How far off DUlq of the whole floor will be with cans at given places, on simulated tunnels like this one.

A quick relative of `pattern.estimate`: every reach and group of shapes is tried once for all tunnels at a time, the
best few are settled for each tunnel, and the figure is that of their weighed means. The tunnels have sound heads; a
weak head adds little, because the full estimate looks for it. On three sites and 13 layouts, 40 tunnels each, its
error was 0.73 to 1.26 times that of the full estimate. Neither knows drift, tilt or kicked cans, which make a real
test worse.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from ..pattern import fit, model, overlap, shapes, simulate, spans
from ..pattern.floor import Pairs, pairs_within
from ..pattern.prior import KNOTS
from ..pattern.scene import FLOW_ERROR, READING_ERROR, SPREAD
from ..pattern.threads import one_thread
from ..record.ground import Array, Cells
from .families import rates_of

TUNNELS = 40             # the same ones for every layout, in a terminal and on the page
USUAL_FLOW = 50.0        # [L/h], from memory; only its ratio to the readings matters
PLACED = 0.05            # [m]
AREA, STEP = 55.0, 1.0   # [cm2], [mL] of the simulated cans
KEPT, ROUNDS = 5, 3      # cells settled for each tunnel, and how often
FARTHEST = 2.5           # reach of a simulated head / the usual one, at most
LIGHT = 0.02             # weight under which a cell has no say


@dataclass(frozen=True)
class PlannedFloor:
    """Heads and ground of a plan.

    Attributes
    ----------
    heads : array (m, 2) [m]
        Places, line by line.
    line_of : array (m,) of int [1]
        Line of each.
    ground : Cells
        The ground that counts.
    radius : float or None [m]
        Reach from a data sheet; None where it is not known.
    flow : float or None [L/h]
        Flow of a head from a data sheet; None where it is not known.
    """

    heads: Array
    line_of: Array
    ground: Cells
    radius: float | None
    flow: float | None


@dataclass(frozen=True)
class Drawn:
    """One simulated tunnel.

    Attributes
    ----------
    radius, rate : array (k,) [m], [mm/h]
        Its profile.
    output : array (m,) [1]
        Of each head.
    minutes : float [min]
        A run that brings 25 to 35 mL into the mean can.
    du_low_quarter : float [%]
        True, of the ground.
    seed : tuple of int [1]
        Of its readings.
    """

    radius: Array
    rate: Array
    output: Array
    minutes: float
    du_low_quarter: float
    seed: tuple[int, ...]


@dataclass(frozen=True)
class ExpectedError:
    """What a layout of cans is worth.

    Attributes
    ----------
    cans : int [1]
        How many.
    error : float [%]
        Root-mean-square error of the whole floor's DUlq, in points.
    low, high : float [%]
        90 % interval of that error, by the number of simulated tunnels.
    at_the_cans : float [%]
        Root-mean-square difference of DUlq at the cans from that of the floor, in points.
    errors : array (tunnels,) [%]
        Of each tunnel; two layouts of one plan meet the same tunnels.
    """

    cans: int
    error: float
    low: float
    high: float
    at_the_cans: float
    errors: Array


def draw_tunnels(site: PlannedFloor, count: int = TUNNELS, seed: int = 1) -> list[Drawn]:
    """Simulate tunnels with these heads: shape, reach, flow, pressure along the lines and manufacture vary.

    Parameters
    ----------
    site : PlannedFloor
        Heads and ground.
    count : int [1]
        How many.
    seed : int [1]
        Seed of the random numbers.

    Returns
    -------
    list of Drawn
        The families of profiles take turns.
    """
    names = list(shapes.KINDS)
    pairs = pairs_within(site.ground.places, site.heads, FARTHEST * (site.radius or fit.USUAL_THROW))
    return [_draw(site, names[number % len(names)], (seed, number), pairs) for number in range(count)]


def _draw(site: PlannedFloor, shape: str, seed: tuple[int, int], pairs: Pairs) -> Drawn:
    rng = np.random.default_rng(seed)
    s = np.linspace(0.0, 1.0, 201)
    spread = 0.08 if site.radius else 0.25  # a data sheet is off by less than what is usual
    radius = s * (site.radius or fit.USUAL_THROW) * min(np.exp(rng.normal(0.0, spread)), FARTHEST)
    flow = (site.flow or USUAL_FLOW) * np.exp(rng.normal(0.0, 0.08))
    rate = overlap.scaled_to_flow(radius, shapes.random_shape(shape, s, rng), flow)
    output = simulate.shares_along(site.heads, site.line_of, rng, flow=flow)
    output = output * np.maximum(1.0 + SPREAD * rng.standard_normal(len(output)), 0.0)
    floor = rates_of(pairs, radius, rate, output)
    minutes = rng.uniform(25.0, 35.0) / max(float(overlap.average(floor, site.ground.weight)) * AREA / 600.0, 1e-9)
    return Drawn(radius, rate, output, minutes, float(overlap.low_quarter(floor, site.ground.weight)), seed)


@one_thread
def expected_error(site: PlannedFloor, cans: Array, tunnels: list[Drawn],
                   progress: Callable[[float], None] | None = None) -> ExpectedError:
    """Simulate a test in every tunnel and compare its estimate with the truth.

    Parameters
    ----------
    site : PlannedFloor
        Heads and ground.
    cans : array (n, 2) [m]
        Where cans would stand, at least four.
    tunnels : list of Drawn
        From `draw_tunnels`, at least two.
    progress : callable, optional
        Called with a part done from 0 to 1.

    Returns
    -------
    ExpectedError

    Raises
    ------
    ValueError
        For fewer than two tunnels or four cans.
    """
    cans = np.asarray(cans, float).reshape(-1, 2)
    if len(tunnels) < 2 or len(cans) < 4:
        raise ValueError(f"received {len(tunnels)} tunnels and {len(cans)} cans, expected at least two tunnels and "
                         "four cans, ask for more")
    depths = [_read(site, cans, tunnel) for tunnel in tunnels]
    scenes = [_scene(site, cans, tunnel, depth) for tunnel, depth in zip(tunnels, depths, strict=True)]
    cells = _cells(site)
    scores = _first_look(scenes, cells)
    near_cans, near_ground = {}, {}
    errors = np.empty(len(tunnels))
    for number, (scene, tunnel) in enumerate(zip(scenes, tunnels, strict=True)):
        best = [cells[cell] for cell in np.argsort(-scores[:, number])[:KEPT]]
        errors[number] = _figure(site, scene, best, near_cans, near_ground) - tunnel.du_low_quarter
        if progress:
            progress((number + 1) / len(tunnels))
    off = np.array([float(overlap.low_quarter(depth)) for depth in depths]) - [t.du_low_quarter for t in tunnels]
    square = float(np.mean(errors ** 2))
    spread = 1.645 * float(np.std(errors ** 2, ddof=1)) / len(tunnels) ** 0.5
    return ExpectedError(len(cans), square ** 0.5, max(square - spread, 0.0) ** 0.5, (square + spread) ** 0.5,
                         float(np.mean(off ** 2)) ** 0.5, errors)


def _read(site, cans, tunnel):
    rng = np.random.default_rng((*tunnel.seed, 1))
    depth = simulate.read_cans(cans, site.heads, tunnel.output, tunnel.radius, tunnel.rate, rng,
                               minutes=tunnel.minutes, area=AREA, step_ml=STEP)
    return depth if depth.any() else depth + STEP * 10.0 / AREA  # all dry: no test would be told from it


def _scene(site, cans, tunnel, depth):
    to_rate = 60.0 / tunnel.minutes
    mean = float(depth.mean()) * to_rate
    return model.Scene(cans, site.heads, site.line_of, depth * to_rate / mean,
                       model.trend_columns(site.heads, site.line_of), SPREAD, READING_ERROR, PLACED,
                       STEP * 10.0 / AREA * to_rate / mean, None if site.flow is None else site.flow / mean, FLOW_ERROR)


def _cells(site):
    """Every reach with every group of shapes, and the log prior of both."""
    groups = fit.groups()
    return [(float(throw), number, float(before + np.log(group.share)))
            for throw, before in zip(*fit.throws(site.radius), strict=True)
            for number, group in enumerate(groups)]


def _first_look(scenes, cells):
    """Log evidence of each cell (rows) for each tunnel (columns), by one linear step around the group's mean."""
    seen = np.array([scene.reading for scene in scenes]).T
    one = scenes[0]
    rounding = float(np.mean([scene.rounding for scene in scenes]))
    flows = None if one.flow is None else np.array([scene.flow for scene in scenes])
    sound = np.ones(len(one.heads))
    found = np.empty((len(cells), len(scenes)))
    at = None
    for row, (throw, number, before) in enumerate(cells):
        if at is None or at.throw != throw:
            at = spans.spans(one.cans, one.heads, throw)
            phi = spans.profile_matrix(at, sound, len(one.cans))
        found[row] = before + _evidence(one, at, phi, fit.groups()[number], seen, rounding, flows)
    return found


def _evidence(scene, pairs, phi, group, seen, rounding, flows):
    count = len(scene.cans)
    sound = np.ones(len(scene.heads))
    shown = phi @ group.mean
    sd = np.maximum(shown, 0.1 * shown.mean() + 1e-9)
    level = float(np.mean((shown / sd) @ (seen / sd[:, None])) / ((shown / sd) @ (shown / sd) + 1e-12))
    mean = level * group.mean
    root = np.column_stack([level * group.root, fit.SCALE_SD * mean])
    response = spans.output_matrix(pairs, mean, (count, len(sound)))
    slope = spans.gradient(pairs, mean, sound, count)
    noise = ((READING_ERROR * phi @ mean) ** 2 + rounding ** 2 / 12.0 + 0.006 ** 2
             + PLACED ** 2 * (slope ** 2).sum(axis=1))
    if flows is not None:  # the nominal flow as one more reading
        phi = np.vstack([phi, overlap.volume_weights(KNOTS * pairs.throw)[:-1]])
        response = np.vstack([response, np.zeros(len(sound))])
        noise = np.append(noise, (FLOW_ERROR * flows.mean()) ** 2)
        seen = np.vstack([seen, flows])
    lifted, trended = phi @ root, response @ scene.trend_root
    covariance = lifted @ lifted.T + trended @ trended.T + SPREAD ** 2 * (response @ response.T)
    covariance[np.diag_indices_from(covariance)] += noise
    factor = cho_factor(covariance, lower=True, check_finite=False)
    residual = seen - (phi @ mean)[:, None]
    pull = cho_solve(factor, residual, check_finite=False)
    return -0.5 * (residual * pull).sum(axis=0) - np.log(np.diag(factor[0])).sum()


def _figure(site, scene, best, near_cans, near_ground):
    """DUlq by the weighed means of the best cells, each settled for this tunnel [%]."""
    scores, states = [], []
    for throw, number, before in best:
        pairs = _spans(near_cans, scene.cans, site.heads, throw)
        states.append(fit.settle(scene, pairs, fit.groups()[number], fit.NO_DOUBTS, ROUNDS))
        scores.append(states[-1].evidence + before)
    unlike = max(fit.misfit(states[int(np.argmax(scores))]), 1.0)
    weight = np.exp((np.array(scores) - max(scores)) / unlike)
    weight = np.where(weight < LIGHT * weight.sum(), 0.0, weight)
    found = [_low_quarter(site, state, near_ground) if part else 0.0
             for state, part in zip(states, weight, strict=True)]
    return float(np.dot(weight, found) / weight.sum())


def _spans(known, places, heads, throw):
    if throw not in known:
        known[throw] = spans.spans(places, heads, throw)
    return known[throw]


def _low_quarter(site, state, near_ground):
    at = _spans(near_ground, site.ground.places, site.heads, state.throw)
    profile = np.append(np.maximum(state.profile, 0.0), 0.0)
    value = (1.0 - at.part) * profile[at.below] + at.part * profile[at.below + 1]
    floor = np.bincount(at.can, value * np.maximum(state.output, 0.0)[at.head], len(site.ground.places))
    return float(overlap.low_quarter(floor, site.ground.weight)) if floor.any() else 0.0
