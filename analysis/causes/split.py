"""How much of the unevenness is spacing, pressure, single heads and readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch
from ..pattern import overlap
from ..pattern.whole_floor import WholeFloor
from ..record.model import Record
from ..record.places import bed_edges

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


def split_unevenness(record: Record, catch: Catch, floor: WholeFloor | None) -> Unevenness | None:
    """Split the variance of depth over the floor.

    The floor is a sum of three maps: every head at its share, what the lines' trends add, what single heads add. Each
    gets its covariance with the sum, none less than 0; the variance of what the cans read beside the estimate is the
    readings' part.

    Parameters
    ----------
    record : Record
        Checked.
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
    found, width, length = floor.estimate, record.floor.width.si, record.floor.length.si
    places = overlap.floor_grid(width, length, max(STEP, float(np.sqrt(width * length / MOST))))
    inside = np.zeros(len(places), bool)
    for left, right, start, end in bed_edges(record.floor):
        inside |= ((places[:, 0] >= left) & (places[:, 0] <= right)
                   & (places[:, 1] >= start) & (places[:, 1] <= end))
    places = places[inside] if inside.any() else places
    heads = np.array([head[2:] for head in floor.heads], float) + found.shift
    trend, output = found.samples.trend.mean(axis=0), found.samples.output.mean(axis=0)
    outputs = np.stack([np.full(len(trend), trend.mean()), trend, output])
    lean = overlap.profile_at(overlap.distances(places, heads), found.samples.radius, found.samples.rate.mean(axis=0))
    whole, pressed, final = (lean @ each for each in outputs)
    parts = np.stack([whole, pressed - whole, final - pressed]) / final.mean()
    return shares(parts, (catch.depth_mm[floor.cans] - found.fitted) / catch.depth_mm[floor.cans].mean())


def shares(parts: np.ndarray, rest: np.ndarray) -> Unevenness:
    """Shares of the variance of a sum.

    Parameters
    ----------
    parts : array (3, p) [1]
        Spacing, pressure and heads on the same places, in parts of the mean.
    rest : array (n,) [1]
        What the cans read beside the estimate.

    Returns
    -------
    Unevenness
    """
    total = parts.sum(axis=0)
    off = total - total.mean()
    drawn = np.array([np.mean((part - part.mean()) * off) for part in parts])
    each = np.append(np.maximum(drawn, 0.0), np.mean(np.asarray(rest) ** 2))
    share = 100 * each / each.sum() if each.sum() > 0 else np.array([100.0, 0.0, 0.0, 0.0])
    return Unevenness(*(float(one) for one in share), cv=float(100 * off.std()))
