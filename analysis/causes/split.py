"""How much of the unevenness is spacing, pressure, single heads and readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch
from ..pattern import overlap
from ..pattern.whole_floor import WholeFloor
from ..record.site import Site

STEP = 0.25  # [m] of the grid, coarser on a large floor
MOST = 5000


@dataclass(frozen=True)
class Unevenness:
    """Where the variance of depth comes from; the shares add up to 100 %.

    Attributes
    ----------
    spacing : float [%]
        Places of the heads and their pattern.
    pressure : float [%]
        Level and trend of the lines.
    heads : float [%]
        Single heads.
    readings : float [%]
        What the estimate does not explain at the cans.
    cv : float [%]
        Coefficient of variation of depth over the floor, without the readings.
    """

    spacing: float
    pressure: float
    heads: float
    readings: float
    cv: float


def split_unevenness(site: Site, catch: Catch, floor: WholeFloor | None) -> Unevenness | None:
    """Split the variance of depth over the floor.

    The floor is a sum of three maps: every head at its share, what the lines' trends add, what single heads add. Each
    gets its covariance with the sum, none less than 0; the variance of what the cans read beside the estimate is the
    readings' part.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.
    floor : WholeFloor or None
        The estimate.

    Returns
    -------
    Unevenness or None
        None without heads.
    """
    if floor is None or floor.estimate.profile is None:
        return None
    found = floor.estimate
    cells = site.ground.grid(max(STEP, float(np.sqrt(site.width * site.length / MOST))))
    heads = site.heads.places + found.shift
    trend, output = found.samples.trend.mean(axis=0), found.samples.output.mean(axis=0)
    outputs = np.stack([np.full(len(trend), trend.mean()), trend, output])
    rate = found.samples.rate.mean(axis=0)
    response = overlap.profile_at(overlap.distances(cells.places, heads), found.samples.radius, rate)
    whole, pressed, final = (response @ each for each in outputs)
    parts = np.stack([whole, pressed - whole, final - pressed]) / overlap.average(final, cells.weight)
    return shares(parts, (catch.depth_mm[floor.cans] - found.fitted) / catch.depth_mm[floor.cans].mean(), cells.weight)


def shares(parts: np.ndarray, rest: np.ndarray, weight: np.ndarray | None = None) -> Unevenness:
    """Shares of the variance of a sum.

    Parameters
    ----------
    parts : array (3, p) [1]
        Spacing, pressure and heads on the same places, in parts of the mean.
    rest : array (n,) [1]
        What the cans read beside the estimate.
    weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.

    Returns
    -------
    Unevenness
    """
    total = parts.sum(axis=0)
    off = total - overlap.average(total, weight)
    drawn = np.array([overlap.average((part - overlap.average(part, weight)) * off, weight) for part in parts])
    each = np.append(np.maximum(drawn, 0.0), np.mean(np.asarray(rest) ** 2))
    share = 100 * each / each.sum() if each.sum() > 0 else np.array([100.0, 0.0, 0.0, 0.0])
    spread = off.std() if weight is None else np.sqrt(overlap.average(off**2, weight))
    return Unevenness(*(float(one) for one in share), cv=float(100 * spread))
