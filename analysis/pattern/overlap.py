"""Rates on the ground from heads, their outputs and one radial profile.

A profile is a table: radii [m] from 0 to the throw radius, and the rate [mm/h] at each, straight
between them and zero beyond the last. One L/h over one m2 is 1 mm/h, so the volume under a
profile is the head's flow in L/h.
"""

from __future__ import annotations

import numpy as np

from ..cans.uniformity import du_low_quarter
from ..record.ground import Array


def profile_at(distance: Array, radius: Array, rate: Array) -> Array:
    """Rate of one head at some distance.

    Parameters
    ----------
    distance : array (...) [m]
        Distance from the head, on the ground.
    radius : array (k,) [m]
        Rising radii of the profile's table.
    rate : array (k,) [mm/h]
        Rate at each.

    Returns
    -------
    array (...) [mm/h]
        Straight between the radii, zero beyond the last.
    """
    return np.interp(distance, radius, rate, right=0.0)


def volume(radius, rate):
    """Flow of one head: 2 pi times the integral of rate x r, exact for straight pieces.

    Parameters
    ----------
    radius : array (k,) [m]
        Rising radii.
    rate : array (..., k) [mm/h]
        Rate at each.

    Returns
    -------
    array (...) [L/h]
        The flow.
    """
    return np.asarray(rate, float) @ volume_weights(radius)


def volume_weights(radius):
    """Weights w such that w . rate is the flow of a head with straight pieces.

    Parameters
    ----------
    radius : array (k,) [m]
        Rising radii.

    Returns
    -------
    array (k,) [m2]
        The weights.
    """
    radius = np.asarray(radius, float)
    inner, outer = radius[:-1], radius[1:]
    step = outer - inner
    weights = np.zeros(radius.size)
    weights[:-1] += step * (2.0 * inner + outer) / 6.0
    weights[1:] += step * (inner + 2.0 * outer) / 6.0
    return 2.0 * np.pi * weights


def scaled_to_flow(radius: Array, rate: Array, flow: float) -> Array:
    """A profile of the same shape that closes against a flow.

    Parameters
    ----------
    radius : array (k,) [m]
        Rising radii.
    rate : array (k,) [mm/h]
        Any scale.
    flow : float [L/h]
        Flow of the head.

    Returns
    -------
    array (k,) [mm/h]
        The rates, scaled.

    Raises
    ------
    ValueError
        When the profile holds no water.
    """
    held = float(volume(radius, rate))
    if not held > 0.0:
        raise ValueError(f"the profile holds {held:g} L/h, expected more than 0; "
                         "give at least one positive rate inside the reach")
    return np.asarray(rate, float) * (flow / held)


def distances(places: Array, heads: Array) -> Array:
    """Distance from every place to every head.

    Parameters
    ----------
    places : array (p, 2) [m]
        Places.
    heads : array (m, 2) [m]
        Heads.

    Returns
    -------
    array (p, m) [m]
        Distances on the ground.
    """
    places, heads = np.asarray(places, float), np.asarray(heads, float)
    return np.hypot(places[:, None, 0] - heads[None, :, 0], places[:, None, 1] - heads[None, :, 1])


def rates_at(places: Array, heads: Array, output: Array, radius: Array, rate: Array) -> Array:
    """Rate at each place: the sum over heads of output x profile(distance).

    Parameters
    ----------
    places : array (p, 2) [m]
        Places.
    heads : array (m, 2) [m]
        Heads.
    output : array (m,) [1]
        Output of each head; 1 is its share.
    radius : array (k,) [m]
        Radii of the profile.
    rate : array (k,) [mm/h]
        Rates of the profile.

    Returns
    -------
    array (p,) [mm/h]
        Rates.
    """
    return profile_at(distances(places, heads), radius, rate) @ np.asarray(output, float)


def floor_grid(width, length, step):
    """Middles of the cells of a regular grid over a floor.

    Parameters
    ----------
    width, length : float [m]
        The floor, from (0, 0).
    step : float [m]
        Largest size of a cell.

    Returns
    -------
    array (p, 2) [m]
        Places; all stand for the same area.
    """
    across, along = int(np.ceil(width / step - 1e-9)), int(np.ceil(length / step - 1e-9))
    x = (np.arange(across) + 0.5) * (width / across)
    y = (np.arange(along) + 0.5) * (length / along)
    return np.column_stack([np.tile(x, along), np.repeat(y, across)])


def average(rate: Array, weight: Array | None = None) -> Array:
    """Mean over the ground.

    Parameters
    ----------
    rate : array (..., p) [mm/h]
        Rates or depths.
    weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.

    Returns
    -------
    array (...) [mm/h]
    """
    rate = np.asarray(rate)
    return rate.mean(axis=-1) if weight is None else rate @ weight / weight.sum()


def quantile(rate: Array, part: float, weight: Array | None = None) -> Array:
    """Rate that a part of the ground stays under.

    Parameters
    ----------
    rate : array (..., p) [mm/h]
        Rates or depths.
    part : float [1]
        0 to 1.
    weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.

    Returns
    -------
    array (...) [mm/h]
        Straight between the middles of two neighbours' ground in order of their rates, from the lowest rate (0) to the
        highest (1): with equal weights the usual quantile.
    """
    rate = np.asarray(rate, float)
    if weight is None:
        return np.quantile(rate, part, axis=-1)
    order = np.argsort(rate, axis=-1, kind="stable")
    ground = np.asarray(weight, float)[order]
    middle = np.cumsum(ground, axis=-1) - 0.5 * ground
    at = (middle - middle[..., :1]) / (middle[..., -1:] - middle[..., :1])
    ordered = np.take_along_axis(rate, order, axis=-1)
    found = [np.interp(part, *pair) for pair in zip(np.atleast_2d(at), np.atleast_2d(ordered), strict=True)]
    return np.array(found).reshape(rate.shape[:-1])[()]


def christiansen(rate: Array, weight: Array | None = None) -> Array:
    """CU of rates on the ground (Christiansen 1942).

    Parameters
    ----------
    rate : array (..., p) [mm/h]
        Rates or depths.
    weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.

    Returns
    -------
    array (...) [%]
        100 (1 - mean absolute deviation / mean); may be negative.
    """
    rate = np.asarray(rate, float)
    mean = average(rate, weight)
    return 100.0 * (1.0 - average(np.abs(rate - mean[..., None]), weight) / mean)


def low_quarter(rate: Array, weight: Array | None = None) -> Array:
    """DUlq of rates on the ground; the place in which the quarter ends counts at part weight.

    Parameters
    ----------
    rate : array (..., p) [mm/h]
        Rates or depths.
    weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.

    Returns
    -------
    array (...) [%]
        100 x mean of the driest quarter / mean.
    """
    rate = np.asarray(rate, float)
    if weight is not None:
        return du_low_quarter(rate, weight)
    count = rate.shape[-1]
    quarter = count / 4.0
    whole = int(quarter)
    rate_sorted = np.partition(rate, whole, axis=-1)
    driest = rate_sorted[..., :whole].sum(axis=-1) + (quarter - whole) * rate_sorted[..., whole]
    return 100.0 * driest / quarter / rate.mean(axis=-1)
