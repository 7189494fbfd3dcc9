"""Depth on the ground against the need: run times for whom it should serve, ground short and drowned, litres."""

from __future__ import annotations

from collections.abc import Sequence
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
    return InOrder(depth, weight).balance(1.0, need_mm, area_m2)


class InOrder:
    """Depth on cells of ground, driest first: one sum for any length of a run.

    Parameters
    ----------
    depth : array (p,) or (s, p) [mm]
        On cells of ground, in one map or in several that are as likely.
    weight : array (p,) [1] or None
        Ground in each cell; None where all are equal.
    """

    def __init__(self, depth: Array, weight: Array | None = None) -> None:
        depth = np.asarray(depth, float)
        ground = np.broadcast_to(1.0 if weight is None else weight, depth.shape).ravel()
        order = np.argsort(depth.ravel(), kind="stable")
        self.depth: Array = depth.ravel()[order]
        self.ground: Array = np.concatenate([[0.0], np.cumsum(ground[order])]) / ground.sum()
        self.water: Array = np.concatenate([[0.0], np.cumsum(ground[order] * self.depth)]) / ground.sum()

    def reached(self, share: float) -> float:
        """The depth [mm] that a share of the ground [1] gets at least."""
        return float(self.depth[min(int(np.searchsorted(self.ground, 1 - share, side="right")) - 1,
                                    len(self.depth) - 1)])

    def balance(self, times: float, need_mm: float, area_m2: float) -> Balance:
        """Hold these depths times a number [1] against the need [mm] of some ground [m2]."""
        scale = max(times, 1e-12)
        dry = int(np.searchsorted(self.depth, need_mm * (1 - 1e-9) / scale, side="left"))
        wet = int(np.searchsorted(self.depth, DROWNED * need_mm / scale, side="right"))
        applied, missing = times * self.water[-1], need_mm * self.ground[dry] - times * self.water[dry]
        excess = applied + missing - need_mm
        return Balance(float(self.ground[dry]), float(1.0 - self.ground[wet]), float(applied * area_m2),
                       need_mm * area_m2, float(max(missing, 0.0) * area_m2), float(max(excess, 0.0) * area_m2))


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


def curve(rate: Array, need_mm: float, area_m2: float, weight: Array | None = None, points: int = 41,
          also: Sequence[float] = ()) -> Curve:
    """Follow the ground short and drowned from no watering to where hardly any is short.

    Parameters
    ----------
    rate : array (p,) or (s, p) [mm/min]
        On cells of ground, in one map or in several that are as likely.
    need_mm : float [mm]
        Net depth wanted.
    area_m2 : float [m2]
        Of the ground.
    weight : array (p,) [1] or None
        Ground in each cell; None where all are equal.
    points : int [1]
        How many run times.
    also : sequence of float [min]
        Run times that it has beside those.

    Returns
    -------
    Curve
        Up to where 2 % of the ground are short, three times what the mean needs at most, or the last of `also`.
    """
    ground = InOrder(rate, weight)
    mean = need_mm / float(ground.water[-1])
    last = min(need_mm / max(ground.reached(0.98), 1e-12), 3.0 * mean)
    minutes = np.unique(np.concatenate([np.linspace(0.0, max(last, 1.5 * mean), points), also]))
    each = [ground.balance(float(time), need_mm, area_m2) for time in minutes]
    return Curve(minutes.tolist(), [one.short for one in each], [one.drowned for one in each],
                 [one.deficit_l for one in each], [one.excess_l for one in each])
