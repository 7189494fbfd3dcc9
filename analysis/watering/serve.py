"""Depth on the ground against the need: run times for whom it should serve, ground short and drowned, litres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.uniformity import low_part_mean
from ..pattern.overlap import average, quantile
from ..record.ground import Array

DROWNED = 1.5  # times the need, from which ground is called drowned; a judgement
GROUPS = ("mean", "low half", "low quarter")


def part_served(depth: Array, serves: str | float, weight: Array | None = None) -> Array:
    """Depth of the ground that a watering should serve / mean depth.

    Parameters
    ----------
    depth : array (..., p) [mm]
        On cells of ground.
    serves : str or float
        ``mean``, ``low half``, ``low quarter``, or the share of the ground [1] that should get the need at least, over
        0 and under 1.
    weight : array (p,) [1] or None
        Ground in each cell; None where all are equal.

    Returns
    -------
    array (...) [1]

    Raises
    ------
    ValueError
        For anything else.
    """
    depth = np.asarray(depth, float)
    if isinstance(serves, str):
        if serves == "mean":
            return np.ones(depth.shape[:-1])
        if serves == "low half":
            return np.asarray(low_part_mean(depth, 0.5, weight)) / average(depth, weight)
        if serves == "low quarter":
            return np.asarray(low_part_mean(depth, 0.25, weight)) / average(depth, weight)
    elif 0 < serves < 1:
        return np.asarray(quantile(depth, 1 - serves, weight)) / average(depth, weight)
    raise ValueError(f"received {serves!r}, expected mean, low half, low quarter or a share of the ground between 0 "
                     "and 1, choose one of them")


@dataclass(frozen=True)
class Balance:
    """Where the water of one watering goes.

    Attributes
    ----------
    short, drowned : float [1]
        Share of the ground under the need, and over `DROWNED` times it.
    applied_l, needed_l, deficit_l, excess_l : float [L]
        Water on the ground, the need of all of it, what is missing where it is short, and what is over elsewhere;
        applied + deficit = needed + excess.
    """

    short: float
    drowned: float
    applied_l: float
    needed_l: float
    deficit_l: float
    excess_l: float


def balance(depth: Array, need_mm: float, area_m2: float, weight: Array | None = None) -> Balance:
    """Hold the depth on the ground against the need.

    Parameters
    ----------
    depth : array (p,) [mm]
        On cells of ground.
    need_mm : float [mm]
        Net depth wanted.
    area_m2 : float [m2]
        Of the ground.
    weight : array (p,) [1] or None
        Ground in each cell; None where all are equal.

    Returns
    -------
    Balance
    """
    depth = np.asarray(depth, float)
    lack, over = np.maximum(need_mm - depth, 0.0), np.maximum(depth - need_mm, 0.0)
    dry, wet = (part.astype(float) for part in (depth < need_mm * (1 - 1e-9), depth > DROWNED * need_mm))
    short, drowned, mean, missing, excess = (float(average(value, weight)) for value in (dry, wet, depth, lack, over))
    return Balance(short, drowned, mean * area_m2, need_mm * area_m2, missing * area_m2, excess * area_m2)


@dataclass(frozen=True)
class Curve:
    """Ground short and drowned against run time.

    Attributes
    ----------
    minutes : list of float [min]
        Run times.
    short, drowned : list of float [1]
        Share of the ground.
    deficit_l, excess_l : list of float [L]
        Litres missing and over.
    """

    minutes: list[float]
    short: list[float]
    drowned: list[float]
    deficit_l: list[float]
    excess_l: list[float]


def curve(rate: Array, need_mm: float, area_m2: float, weight: Array | None = None, points: int = 41) -> Curve:
    """Follow the ground short and drowned from no watering to where hardly any is short.

    Parameters
    ----------
    rate : array (p,) [mm/min]
        On cells of ground.
    need_mm : float [mm]
        Net depth wanted.
    area_m2 : float [m2]
        Of the ground.
    weight : array (p,) [1] or None
        Ground in each cell; None where all are equal.
    points : int
        How many run times.

    Returns
    -------
    Curve
        Up to where 2 % of the ground are short, and three times what the mean needs at most.
    """
    rate = np.asarray(rate, float)
    mean = need_mm / float(average(rate, weight))
    last = min(need_mm / max(float(quantile(rate, 0.02, weight)), 1e-12), 3.0 * mean)
    minutes = np.linspace(0.0, max(last, 1.5 * mean), points)
    each = [balance(rate * time, need_mm, area_m2, weight) for time in minutes]
    return Curve(minutes.tolist(), [one.short for one in each], [one.drowned for one in each],
                 [one.deficit_l for one in each], [one.excess_l for one in each])
