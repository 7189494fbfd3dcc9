"""Indices of uniformity, as pure functions over arrays.

Every function takes depths of shape (..., n) and, optionally, weights of the same shape (or (n,)); leading
axes are a batch of tests. A can without a reading is nan or has weight 0: both leave it out.
With fewer than one usable can, or a mean of 0, the result is nan.
Depths may be in any unit of depth: every index here is a ratio.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..record.ground import Array


@dataclass(frozen=True)
class Indices:
    """The indices of one test (scalars) or of a batch (arrays of the batch's shape).

    Attributes
    ----------
    mean, lowest, highest : array (...) [unit of the depths]
        Weighted mean, driest and wettest can.
    cu : array (...) [%]
        Christiansen's coefficient of uniformity; may be below zero.
    du_low_quarter, du_low_half : array (...) [%]
        Distribution uniformity of the driest quarter and half.
    cv : array (...) [%]
        Coefficient of variation, divisor n.
    statistical_uniformity : array (...) [%]
        100 - cv.
    scheduling_coefficient : array (...) [1]
        Mean / driest can; infinite where that is 0.
    """

    mean: Array
    lowest: Array
    highest: Array
    cu: Array
    du_low_quarter: Array
    du_low_half: Array
    cv: Array
    statistical_uniformity: Array
    scheduling_coefficient: Array


def _prepare(depths: ArrayLike, weights: ArrayLike | None) -> tuple[Array, Array | None]:
    """Depths and weights as arrays; a can without a reading weighs nothing."""
    depth = np.asarray(depths, float)
    weight = None if weights is None else np.asarray(weights, float)
    if depth.ndim == 0 or depth.shape[-1] == 0:
        raise ValueError(f"received depths of shape {depth.shape}, expected (..., n) with n > 0, give an array")
    if weight is not None:
        if weight.shape not in (depth.shape, depth.shape[-1:]):
            raise ValueError(
                f"received weights of shape {weight.shape}, expected {depth.shape} or {depth.shape[-1:]}, "
                "give one weight for each can")
        if np.any(weight < 0) or not np.all(np.isfinite(weight)):
            raise ValueError("received a weight below zero or not finite, expected 0 or more, correct it")
    if np.isnan(np.min(depth)):
        missing = np.isnan(depth)
        weight = np.where(missing, 0.0, 1.0 if weight is None else weight)
        depth = np.where(missing, 0.0, depth)
    elif weight is not None:
        weight = np.broadcast_to(weight, depth.shape)
    return depth, weight


def indices(depth: ArrayLike, weight: ArrayLike | None = None) -> Indices:
    """All indices at once, from one sort.

    Parameters
    ----------
    depth : array (..., n) [mm]
        Depths; nan without a reading.
    weight : array (..., n) or (n,) [1], optional
        Ground that each can stands for; equal if left out.

    Returns
    -------
    Indices

    Raises
    ------
    ValueError
        For an empty array, weights of another shape, or weights below zero.

    Notes
    -----
    CU: Christiansen 1942, University of California Agricultural Experiment Station Bulletin 670.
    The low quarter is a quarter of the weight exactly: with n cans of equal weight the driest n/4 cans, the
    next can at part weight where n is no multiple of four (see `low_part_mean`).
    """
    depths, weights = _prepare(depth, weight)
    with np.errstate(divide="ignore", invalid="ignore"):
        if weights is None:
            return _equal(np.sort(depths, axis=-1))
        return _weighted(depths, weights)


def _equal(rising: Array) -> Indices:
    """Indices of sorted depths of equal weight."""
    n = rising.shape[-1]
    mean = rising.mean(axis=-1)
    off = rising - mean[..., None]
    square = np.einsum("...i,...i->...", off, off) / n
    np.abs(off, out=off)
    return _make(mean, rising[..., 0], rising[..., -1], off.mean(axis=-1), square,
                 _low_equal(rising, 0.25), _low_equal(rising, 0.5))


def _low_equal(rising: Array, part: float) -> Array:
    """Mean of the driest part of sorted depths of equal weight."""
    cans = part * rising.shape[-1]
    whole = int(cans)
    total: Array = rising[..., :whole].sum(axis=-1)
    if cans > whole:
        total = total + (cans - whole) * rising[..., whole]
    low: Array = total / cans
    return low


def _weighted(depth: Array, weight: Array) -> Indices:
    """Indices of weighted depths."""
    total = weight.sum(axis=-1)
    mean = np.vecdot(depth, weight) / total
    off = depth - mean[..., None]
    np.abs(off, out=off)
    first = np.vecdot(off, weight) / total
    np.multiply(off, off, out=off)
    square = np.vecdot(off, weight) / total
    lowest, highest = depth.min(axis=-1), depth.max(axis=-1)
    if not weight.all():
        lowest = np.where(weight > 0, depth, np.inf).min(axis=-1)
        highest = np.where(weight > 0, depth, -np.inf).max(axis=-1)
    quarter, half = _low_weighted(depth, weight, total, (0.25, 0.5))
    return _make(mean, lowest, highest, first, square, quarter, half)


def _low_weighted(depth: Array, weight: Array, total: Array, parts: tuple[float, ...]) -> list[Array]:
    """Mean of the driest parts of the weight.

    With t the depth in which a part ends, whole cans below t and the rest of the part at t weigh
    sum w min(d, t) - t (total - part): no sorted depths are needed, only t.
    """
    order = np.argsort(depth, axis=-1)
    rows = np.arange(0, depth.size, depth.shape[-1]).reshape(*depth.shape[:-1], 1)
    reached = np.cumsum(np.take(np.ascontiguousarray(weight), order + rows), axis=-1)
    low = []
    for part in parts:
        wanted = part * total
        short = np.count_nonzero(reached < (wanted * (1 - 1e-12))[..., None], axis=-1)
        at = np.take_along_axis(order, np.minimum(short, depth.shape[-1] - 1)[..., None], axis=-1)
        edge = np.take_along_axis(depth, at, axis=-1)
        below = np.vecdot(np.minimum(depth, edge), weight)
        low.append((below - edge[..., 0] * (total - wanted)) / wanted)
    return low


def _make(mean: Array, lowest: Array, highest: Array, off: Array, square: Array, quarter: Array,
          half: Array) -> Indices:
    """The indices from the sums that they share."""
    known = mean > 0
    unit = np.where(known, mean, np.nan)
    cv = 100 * np.sqrt(square) / unit
    return Indices(
        mean=mean, lowest=lowest, highest=highest,
        cu=100 * (1 - off / unit), du_low_quarter=100 * quarter / unit, du_low_half=100 * half / unit,
        cv=cv, statistical_uniformity=100 - cv, scheduling_coefficient=unit / lowest,
    )


def cu(depth: ArrayLike, weight: ArrayLike | None = None) -> Array:
    """Christiansen's coefficient of uniformity, 100 (1 - sum w|d - m| / (m sum w)).

    Parameters
    ----------
    depth : array (..., n) [mm]
        Depths; nan without a reading.
    weight : array (..., n) or (n,) [1], optional
        Ground that each can stands for; equal if left out.

    Returns
    -------
    array (...) [%]
        May be below zero; never clipped. Christiansen 1942, Bulletin 670.
    """
    return indices(depth, weight).cu


def du_low_quarter(depth: ArrayLike, weight: ArrayLike | None = None) -> Array:
    """Low-quarter distribution uniformity: mean of the driest quarter / mean.

    Parameters
    ----------
    depth : array (..., n) [mm]
        Depths; nan without a reading.
    weight : array (..., n) or (n,) [1], optional
        Ground that each can stands for; equal if left out.

    Returns
    -------
    array (...) [%]
    """
    return indices(depth, weight).du_low_quarter


def low_part_mean(depth: ArrayLike, part: float, weight: ArrayLike | None = None) -> Array:
    """Mean depth of the driest part of the ground.

    Parameters
    ----------
    depth : array (..., n) [mm]
        Depths; nan without a reading.
    part : float [1]
        Above 0, at most 1; 0.25 is the low quarter.
    weight : array (..., n) or (n,) [1], optional
        Ground that each can stands for; equal if left out.

    Returns
    -------
    array (...) [mm]
        The can in which the part ends counts at part weight: the only rule that is continuous in n.

    Raises
    ------
    ValueError
        For a part outside 0 to 1.
    """
    if not 0 < part <= 1:
        raise ValueError(f"received part = {part}, expected more than 0 and at most 1, correct it")
    depths, given = _prepare(depth, weight)
    weights = np.ones_like(depths) if given is None else given
    with np.errstate(divide="ignore", invalid="ignore"):
        return _low_weighted(depths, weights, weights.sum(axis=-1), (part,))[0]


def du_whole_cans(depth: ArrayLike, part: float = 0.25) -> float:
    """Low-part distribution uniformity by the next whole number of cans, as a paper worksheet has it.

    Parameters
    ----------
    depth : array (n,) [mm]
        Depths of one test; nan without a reading.
    part : float [1]
        0.25 for the low quarter.

    Returns
    -------
    float [%]
        nan where the mean is 0. Every can has equal weight.
    """
    rising = np.sort(np.asarray(depth, float))
    rising = rising[~np.isnan(rising)]
    cans = max(1, int(np.ceil(part * len(rising) - 1e-9)))
    mean = rising.mean() if len(rising) else 0.0
    return float(100 * rising[:cans].mean() / mean) if mean > 0 else float("nan")


def depth_curve(depth: ArrayLike, weight: ArrayLike | None = None) -> tuple[Array, Array]:
    """Depth against the share of ground that gets at least that depth.

    Parameters
    ----------
    depth : array (n,) [mm]
        Depths of one test; nan without a reading.
    weight : array (n,) [1], optional
        Ground that each can stands for; equal if left out.

    Returns
    -------
    share, depth : array (n,) [%], array (n,) [mm]
        Wettest first; each can at the middle of its share.
    """
    depths, given = _prepare(depth, weight)
    weights = np.ones_like(depths) if given is None else given
    order = np.argsort(-depths)
    order = order[weights[order] > 0]
    share = np.cumsum(weights[order]) - weights[order] / 2
    return 100 * share / weights.sum(), depths[order]
