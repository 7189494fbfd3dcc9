"""The whole floor where no heads are given: a Gaussian field over the cans alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from . import overlap
from .estimate import READING_ERROR, Estimate
from .floor import LEAST, figure
from .threads import one_thread

LENGTHS = np.geomspace(0.5, 6.0, 9)  # [m] over which the field changes
STRETCH = (1.0, 2.0, 4.0)            # longer along the lines than across them
LEVELS = (0.15, 0.3, 0.6)            # [1] of the field, as a part of the mean
WAVES = 120                          # random waves of a sampled field
WIDEN, WIDEN_LOW = 1.0, 3.5          # factors on the intervals' ends, from simulated tunnels: cans at
                                     # wide spacing miss dry edges, so the truth mostly lies below
DRAWS = 200
TEMPER = 0.1                         # power of the evidence: cans far apart say little about short lengths


@dataclass(frozen=True)
class FieldCell:
    """One choice of the field's lengths and level.

    Attributes
    ----------
    across, along : float [m]
        Lengths over which it changes.
    level : float [1]
        Standard deviation / mean reading.
    log_weight : float [1]
        Log evidence and log prior.
    """

    across: float
    along: float
    level: float
    log_weight: float


def _correlation(one, two, across, along):
    """Matern 3/2 correlation between two sets of places."""
    apart = np.hypot((one[:, None, 0] - two[None, :, 0]) / across,
                     (one[:, None, 1] - two[None, :, 1]) / along)
    return (1.0 + np.sqrt(3.0) * apart) * np.exp(-np.sqrt(3.0) * apart)


def field_cells(cans, reading, noise):
    """Every choice of lengths and level, weighed by evidence.

    Parameters
    ----------
    cans : array (n, 2) [m]
        Cans.
    reading : array (n,) [1]
        Depth / mean depth.
    noise : array (n,) [1]
        Variance of each reading.

    Returns
    -------
    list of FieldCell
        With their log weights; short lengths weigh a little more, because cans at wide
        spacing say nothing against them.
    """
    found = []
    for across in LENGTHS:
        for stretch in STRETCH:
            near = _correlation(cans, cans, across, across * stretch)
            for level in LEVELS:
                covariance = level ** 2 * near + 0.25 + np.diag(noise)
                factor = cho_factor(covariance, lower=True)
                rest = reading - 1.0
                score = -0.5 * rest @ cho_solve(factor, rest) - np.log(np.diag(factor[0])).sum()
                found.append(FieldCell(across, across * stretch, level, float(score)))
    return found


def _draw(cell, cans, reading, noise, places, count, rng):
    """Sampled fields at the places, given the cans (Matheron's rule over random waves)."""
    # A Matern 3/2 field has Student-t waves with 3 degrees of freedom.
    tail = np.sqrt(3.0 / rng.chisquare(3.0, (WAVES, count)))
    both = np.vstack([cans, places]) / np.array([cell.across, cell.along])
    field = np.empty((len(both), count))
    for k in range(count):
        wave = rng.standard_normal((2, WAVES)) * tail[:, k]
        phase = rng.uniform(0.0, 2.0 * np.pi, WAVES)
        field[:, k] = np.sqrt(2.0 / WAVES) * np.cos(both @ wave + phase) @ rng.standard_normal(WAVES)
    field = 1.0 + cell.level * field + 0.5 * rng.standard_normal(count)
    near = cell.level ** 2 * _correlation(cans, cans, cell.across, cell.along) + 0.25 + np.diag(noise)
    seen = field[:len(cans)] + np.sqrt(noise)[:, None] * rng.standard_normal((len(cans), count))
    pull = cho_solve(cho_factor(near, lower=True), reading[:, None] - seen)
    link = cell.level ** 2 * _correlation(both[len(cans):], both[:len(cans)], 1.0, 1.0) + 0.25
    return field[len(cans):] + link @ pull


@one_thread
def estimate_cans_only(cans_xy, depth, floor_points, *, can_area_cm2, reading_step_mm=None, floor_weight=None,
                       seed=0, draws=DRAWS):
    """The whole floor from the cans alone.

    Parameters
    ----------
    cans_xy : array (n, 2) [m]
        Cans.
    depth : array (n,) [mm]
        What they caught.
    floor_points : array (p, 2) [m]
        Places that stand for parts of the floor.
    can_area_cm2 : float [cm2]
        Opening of a can.
    reading_step_mm : float or None [mm]
        Step of the readings; None takes 1 mL.
    floor_weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.
    seed : int [1]
        Seed of the random numbers.
    draws : int [1]
        Sampled fields.

    Returns
    -------
    Estimate
        With `how` "cans only", and nothing about heads.

    Raises
    ------
    ValueError
        With fewer than four cans, or all of them dry.
    """
    cans, places = (np.asarray(v, float).reshape(-1, 2) for v in (cans_xy, floor_points))
    depth = np.asarray(depth, float)
    if len(cans) < 4 or len(depth) != len(cans) or not depth.max() > 0.0:
        raise ValueError(f"received {len(cans)} cans and {len(depth)} depths, expected as many of both, at "
                         "least four, and one that caught water; add cans or check the readings")
    rng, mean = np.random.default_rng(seed), float(depth.mean())
    reading = depth / mean
    step = (10.0 / can_area_cm2 if reading_step_mm is None else reading_step_mm) / mean
    noise = (READING_ERROR * reading) ** 2 + step ** 2 / 12.0 + 0.02 ** 2
    cells = field_cells(cans, reading, noise)
    weight = np.exp([TEMPER * (c.log_weight - max(d.log_weight for d in cells)) for c in cells])
    edges = np.cumsum(np.append(0.0, weight / weight.sum())) * draws + rng.random()
    share = np.diff(np.floor(edges)).astype(int)
    fields = np.hstack([_draw(c, cans, reading, noise, places, k, rng) for c, k in zip(cells, share, strict=True) if k])
    maps = np.maximum(fields.T, 0.0) * mean
    middle = maps.mean(axis=0)
    nearest = np.argmin(overlap.distances(cans, places), axis=1)
    none = np.zeros(0)
    ends = {"widen": WIDEN, "widen_low": WIDEN_LOW, "least": LEAST, "highest": 100.0}
    return Estimate(
        "cans only", figure(overlap.christiansen(maps, floor_weight), **ends),
        figure(overlap.low_quarter(maps, floor_weight), lowest=0.0, **ends),
        figure(overlap.average(maps, floor_weight), widen=WIDEN, lowest=0.0), middle, maps.std(axis=0),
        maps.astype(np.float32), None, none, none, none, none, none.astype(bool), (), (), middle[nearest],
        np.zeros(2))
