"""Rates on the ground from heads, their outputs and one radial profile.

A profile is a table: radii [m] from 0 to the throw radius, and the rate [mm/h] at each, straight
between them and zero beyond the last. One L/h over one m2 is 1 mm/h, so the volume under a
profile is the head's flow in L/h.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

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


@dataclass(frozen=True)
class Throws:
    """How heads of several kinds throw one profile.

    Attributes
    ----------
    stretch : array (m,) [1]
        Throw radius of each head / that of the profile.
    strength : array (m,) [1]
        Its flow / that of the profile.
    facing : array (m,) [radians]
        Where the middle of its arc points, from x towards y; nan for a full circle.
    arc : array (m,) [radians]
        How wide that is.
    """

    stretch: Array
    strength: Array
    facing: Array
    arc: Array

    @property
    def share(self) -> Array:
        """Rate of each head / rate of the profile at the same part of its throw, (m,) [1]."""
        return np.asarray(head_shares(self.stretch, self.facing, self.arc, self.strength))

    @property
    def denser(self) -> Array:
        """The same without its stretch, (m,) [1]."""
        return np.asarray(head_shares(None, self.facing, self.arc, self.strength))

    def take(self, which: Any) -> Throws:
        """Some of the heads, or all in another order.

        Parameters
        ----------
        which : array (k,) of int or of bool [1]
            Which heads.

        Returns
        -------
        Throws
        """
        return Throws(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


def rates_at(places: Array, heads: Array, output: Array, radius: Array, rate: Array,
             throws: Throws | None = None) -> Array:
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
    throws : Throws or None
        How each head throws it; None where all are alike and throw all around.

    Returns
    -------
    array (p,) [mm/h]
        Rates.
    """
    return responses(places, heads, radius, rate, throws) @ np.asarray(output, float)


def responses(places: Array, heads: Array, radius: Array, rate: Array, throws: Throws | None = None) -> Array:
    """Rate at each place from each head of output 1.

    Parameters
    ----------
    places : array (p, 2) [m]
        Places.
    heads : array (m, 2) [m]
        Heads.
    radius : array (k,) [m]
        Radii of the profile.
    rate : array (k,) [mm/h]
        Rates of the profile.
    throws : Throws or None
        How each head throws it; None where all are alike and throw all around.

    Returns
    -------
    array (p, m) [mm/h]
    """
    if throws is None:
        return profile_at(distances(places, heads), radius, rate)
    apart = np.asarray(places, float)[:, None, :] - np.asarray(heads, float)[None, :, :]
    thrown = profile_at(np.hypot(apart[..., 0], apart[..., 1]) / throws.stretch, radius, rate)
    return thrown * part_within(apart, throws.facing, throws.arc) * throws.share


EDGE = 1e-9  # [1] of the distance: a place so near to the edge of an arc stands on it


def part_within(apart: Array, facing: Array, arc: Array | None = None) -> Array:
    """How much of a head's water a place in its arc gets: all of it, none, or half on the very edge.

    Parameters
    ----------
    apart : array (..., m, 2) [m]
        From each head to each place.
    facing : array (m,) [radians]
        Where the middle of its arc points; nan for a full circle.
    arc : array (m,) [radians] or None
        How wide it is; None for half circles.

    Returns
    -------
    array (..., m) [1]
        0, 0.5 or 1.
    """
    ahead = apart[..., 0] * np.cos(facing) + apart[..., 1] * np.sin(facing)
    away = np.hypot(apart[..., 0], apart[..., 1])
    beyond = ahead - away * (0.0 if arc is None else np.cos(0.5 * arc))
    part = np.where(beyond > EDGE * away, 1.0, np.where(beyond < -EDGE * away, 0.0, 0.5))
    found: Array = np.where(np.isnan(facing) | (away == 0.0), 1.0, part)
    return found


def head_shares(stretch: Array | None, facing: Array | None, arc: Array | None = None,
                strength: Array | None = None) -> Array | float:
    """Rate of each head / rate of the profile at the same part of its throw.

    Parameters
    ----------
    stretch : array (m,) [1] or None
        Throw radius / that of the profile; a wider pattern is as much thinner.
    facing, arc : array (m,) [radians] or None
        As for `part_within`; the water of a full circle falls in the arc alone.
    strength : array (m,) [1] or None
        Flow / that of the profile.

    Returns
    -------
    array (m,) or float [1]
        One number where nothing is unlike.
    """
    thin = 1.0 if stretch is None else stretch ** -2.0
    denser = 1.0 if facing is None else np.where(np.isnan(facing), 1.0, 2.0 * np.pi / (np.pi if arc is None else arc))
    found: Array | float = thin * denser * (1.0 if strength is None else strength)
    return found


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
