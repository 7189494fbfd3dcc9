"""The whole floor where no heads are given: Gaussian fields over the cans alone, and no field at all, by evidence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from . import overlap
from .estimate import Estimate
from .floor import LEAST, figure
from .scene import READING_ERROR
from .threads import one_thread

LENGTHS = np.geomspace(0.5, 5.0, 6)  # [m] over which the field changes
STRETCH = (1.0, 3.0)                 # longer along the lines than across them
LEVELS = (0.15, 0.3, 0.6)            # [1] of the field, as a part of the mean
NUGGETS = (0.06, 0.15)               # [1] scatter of single cans beyond their reading error; placing makes some
FREE = 0.5                           # [1] standard deviation of the floor's mean around that of the cans
# What walls do where nobody put a can, from simulated tunnels: heads stand within, so water thins out towards them.
WALL_REACH = 0.8                     # [m] over which it does
WALL_DROP = (-0.25, 0.25)            # [1] at a wall, mean and standard deviation, as a part of the mean
WAVES = 80                           # random waves of a sampled field
# Factors on the intervals' ends, from simulated tunnels. Cans far apart miss dry strips, so the truth may lie further
# below; the second of two is for ground whose nearest can is `CLOSE` away, the first for `SPARSE` and more.
WIDEN_LOW, WIDEN_CU_LOW, WIDEN_HIGH = (1.9, 1.6), (1.8, 1.5), (1.2, 2.2)
SPARSE, CLOSE = 0.72, 0.5            # [m] root mean square
WIDEN_CU, WIDEN_MEAN = 1.1, 2.5
DRAWS = 200
TEMPER = 0.15                        # power of the evidence: cans far apart say little about short lengths


@dataclass(frozen=True)
class FieldCell:
    """One choice of the field's lengths and level, and of the scatter of single cans.

    Attributes
    ----------
    across, along : float [m]
        Lengths over which it changes.
    level : float [1]
        Standard deviation / mean reading; 0 for a floor that is flat but for its walls.
    nugget : float [1]
        Scatter of single cans / mean reading.
    log_weight : float [1]
        Tempered log evidence, and log prior.
    """

    across: float
    along: float
    level: float
    nugget: float
    log_weight: float


def _correlation(one, two, across, along):
    """Matern 3/2 correlation between two sets of places."""
    apart = np.hypot((one[:, None, 0] - two[None, :, 0]) / across,
                     (one[:, None, 1] - two[None, :, 1]) / along)
    return (1.0 + np.sqrt(3.0) * apart) * np.exp(-np.sqrt(3.0) * apart)


def near_walls(places, walls):
    """How near places stand to each of the four walls.

    Parameters
    ----------
    places : array (p, 2) [m]
        Places.
    walls : (width, length) or None [m]
        The floor; None where nothing is known of walls.

    Returns
    -------
    array (p, 4) [1]
        1 at a wall; no columns without walls.
    """
    if walls is None:
        return np.zeros((len(places), 0))
    away = np.column_stack([places[:, 0], walls[0] - places[:, 0], places[:, 1], walls[1] - places[:, 1]])
    return np.exp(-np.maximum(away, 0.0) / WALL_REACH)


def field_cells(cans, reading, noise, walls=None):
    """Every choice of lengths, level and scatter, weighed by evidence.

    Parameters
    ----------
    cans : array (n, 2) [m]
        Cans.
    reading : array (n,) [1]
        Depth / mean depth.
    noise : array (n,) [1]
        Variance of each reading.
    walls : (width, length) or None [m]
        The floor.

    Returns
    -------
    list of FieldCell
        With their log weights; the flat floor weighs as much as all fields together.
    """
    wall = near_walls(cans, walls)
    shared = FREE ** 2 + WALL_DROP[1] ** 2 * wall @ wall.T
    rest = reading - 1.0 - WALL_DROP[0] * wall.sum(axis=1)
    found = []

    def tried(near, level, across, along, prior):
        for nugget in NUGGETS:
            covariance = level ** 2 * near + shared + np.diag(noise + nugget ** 2)
            factor = cho_factor(covariance, lower=True)
            score = -0.5 * rest @ cho_solve(factor, rest) - np.log(np.diag(factor[0])).sum()
            found.append(FieldCell(across, along, level, nugget, TEMPER * float(score) + prior))

    tried(np.zeros((len(cans), len(cans))), 0.0, 1.0, 1.0, np.log(len(LENGTHS) * len(STRETCH) * len(LEVELS)))
    for across in LENGTHS:
        for stretch in STRETCH:
            near = _correlation(cans, cans, across, across * stretch)
            for level in LEVELS:
                tried(near, level, across, across * stretch, 0.0)
    return found


def _draw(cell, cans, reading, noise, places, walls, count, rng):
    """Sampled fields at the places, given the cans (Matheron's rule over random waves)."""
    # A Matern 3/2 field has Student-t waves with 3 degrees of freedom.
    both = np.vstack([cans, places])
    wall, turned = near_walls(both, walls), both / np.array([cell.across, cell.along])
    field = np.zeros((len(both), count))
    if cell.level > 0.0:
        tail = np.sqrt(3.0 / rng.chisquare(3.0, (WAVES, count)))
        for k in range(count):
            wave = rng.standard_normal((2, WAVES)) * tail[:, k]
            phase = rng.uniform(0.0, 2.0 * np.pi, WAVES)
            angle = (turned @ wave + phase).astype(np.float32)  # a fifth of the time, and more than exact enough
            field[:, k] = np.cos(angle) @ (np.sqrt(2.0 / WAVES) * rng.standard_normal(WAVES)).astype(np.float32)
    drop = WALL_DROP[0] + WALL_DROP[1] * rng.standard_normal((wall.shape[1], count))
    field = 1.0 + cell.level * field + FREE * rng.standard_normal(count) + wall @ drop
    n, sd = len(cans), np.sqrt(noise + cell.nugget ** 2)
    link = cell.level ** 2 * _correlation(turned, turned[:n], 1.0, 1.0) + FREE ** 2 + (
        WALL_DROP[1] ** 2 * wall @ wall[:n].T)
    seen = field[:n] + sd[:, None] * rng.standard_normal((n, count))
    pull = cho_solve(cho_factor(link[:n] + np.diag(sd ** 2), lower=True), reading[:, None] - seen)
    return (field + link @ pull)[n:]


def thinness(cans, places, weight=None):
    """How thinly the cans cover the ground.

    Parameters
    ----------
    cans : array (n, 2) [m]
        Cans.
    places : array (p, 2) [m]
        Places that stand for parts of the ground.
    weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.

    Returns
    -------
    float [1]
        0 where the nearest can is `CLOSE` away or less, 1 where it is `SPARSE` or more.
    """
    square = (overlap.distances(places, cans) ** 2).min(axis=1)
    return float(np.clip((np.sqrt(overlap.average(square, weight)) - CLOSE) / (SPARSE - CLOSE), 0.0, 1.0))


@one_thread
def estimate_cans_only(cans_xy, depth, floor_points, *, can_area_cm2, reading_step_mm=None, floor_weight=None,
                       walls=None, seed=0, draws=DRAWS):
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
    walls : (width, length) or None [m]
        The floor, towards whose walls water thins out; None where nothing is known of walls.
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
    cells = field_cells(cans, reading, noise, walls)
    weight = np.exp([c.log_weight - max(d.log_weight for d in cells) for c in cells])
    edges = np.cumsum(np.append(0.0, weight / weight.sum())) * draws + rng.random()
    share = np.diff(np.floor(edges)).astype(int)
    fields = np.hstack([_draw(c, cans, reading, noise, places, walls, k, rng)
                        for c, k in zip(cells, share, strict=True) if k])
    maps = np.maximum(fields.T, 0.0) * mean
    middle = maps.mean(axis=0)
    nearest = np.argmin(overlap.distances(cans, places), axis=1)
    none, thin = np.zeros(0), thinness(cans, places, floor_weight)
    low, cu_low, high = (close + (sparse - close) * thin for sparse, close in (WIDEN_LOW, WIDEN_CU_LOW, WIDEN_HIGH))
    ends = {"least": LEAST, "highest": 100.0}
    return Estimate(
        "cans only", figure(overlap.christiansen(maps, floor_weight), widen=WIDEN_CU, widen_low=cu_low, **ends),
        figure(overlap.low_quarter(maps, floor_weight), widen=high, widen_low=low, lowest=0.0, **ends),
        figure(overlap.average(maps, floor_weight), widen=WIDEN_MEAN, lowest=0.0), middle, maps.std(axis=0),
        maps.astype(np.float32), None, none, none, none, none, none.astype(bool), (), (), middle[nearest],
        np.zeros(2))
