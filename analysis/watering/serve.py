"""Depth on the ground against the need: run times for whom it should serve, ground short and drowned, litres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.uniformity import low_part_mean

DROWNED = 1.5  # times the need, from which ground is called drowned; a judgement
GROUPS = ("mean", "low half", "low quarter")


def part_served(depth: np.ndarray, serves: str | float) -> np.ndarray:
    """Depth of the ground that a watering should serve / mean depth.

    Parameters
    ----------
    depth : array (..., p) [mm]
        On equal cells of ground.
    serves : str or float
        ``mean``, ``low half``, ``low quarter``, or the share of the ground [1] that should get the need at least, over
        0 and under 1.

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
            return np.asarray(low_part_mean(depth, 0.5)) / depth.mean(axis=-1)
        if serves == "low quarter":
            return np.asarray(low_part_mean(depth, 0.25)) / depth.mean(axis=-1)
    elif 0 < serves < 1:
        return np.quantile(depth, 1 - serves, axis=-1) / depth.mean(axis=-1)
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


def balance(depth: np.ndarray, need_mm: float, area_m2: float) -> Balance:
    """Hold the depth on the ground against the need.

    Parameters
    ----------
    depth : array (p,) [mm]
        On equal cells of ground.
    need_mm : float [mm]
        Net depth wanted.
    area_m2 : float [m2]
        Of the ground.

    Returns
    -------
    Balance
    """
    depth = np.asarray(depth, float)
    lack, over = np.maximum(need_mm - depth, 0.0), np.maximum(depth - need_mm, 0.0)
    return Balance(
        float(np.mean(depth < need_mm * (1 - 1e-9))), float(np.mean(depth > DROWNED * need_mm)),
        float(depth.mean() * area_m2), need_mm * area_m2, float(lack.mean() * area_m2), float(over.mean() * area_m2))


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


def curve(rate: np.ndarray, need_mm: float, area_m2: float, points: int = 41) -> Curve:
    """Follow the ground short and drowned from no watering to where hardly any is short.

    Parameters
    ----------
    rate : array (p,) [mm/min]
        On equal cells of ground.
    need_mm : float [mm]
        Net depth wanted.
    area_m2 : float [m2]
        Of the ground.
    points : int
        How many run times.

    Returns
    -------
    Curve
        Up to where 2 % of the ground are short, and three times what the mean needs at most.
    """
    rate = np.asarray(rate, float)
    mean = need_mm / rate.mean()
    last = min(need_mm / max(float(np.quantile(rate, 0.02)), 1e-12), 3.0 * mean)
    minutes = np.linspace(0.0, max(last, 1.5 * mean), points)
    each = [balance(rate * time, need_mm, area_m2) for time in minutes]
    return Curve(minutes.tolist(), *([getattr(one, name) for one in each]
                                     for name in ("short", "drowned", "deficit_l", "excess_l")))
