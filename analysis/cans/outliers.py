"""Single cans whose reading does not go with those around them: mistyped, tipped or dripped on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array
from ..record.site import Site
from .catch import Catch

# Of 300 simulated tunnels without a false reading these limits doubt a can in 4; a reading ten times too large is
# found in 89 of 100, one ten times too small in 58 (own simulation).
_NEIGHBOURS = 8
_OVER = 2.5  # of the wettest neighbour, and of half the middle can
_UNDER = 0.25  # of the driest neighbour, where the neighbours are even and stand all around
_EVEN = 3.0  # the wettest neighbour in parts of the driest


@dataclass(frozen=True)
class OddCan:
    """A can to read again.

    Attributes
    ----------
    number : int
        From 0, in the record's order.
    name : str
        ``row 2, can 3`` or ``can 7``.
    says : str
        One sentence, with its reading and those of its neighbours.
    """

    number: int
    name: str
    says: str


def odd_cans(site: Site, catch: Catch) -> list[OddCan]:
    """Find single cans whose reading does not go with their neighbours'.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.

    Returns
    -------
    list of OddCan
        In the record's order; empty for nearly every sound test.
    """
    use = np.flatnonzero(catch.usable)
    readings, unit = site.cans.readings, site.cans.unit
    found = []
    for place, around in stand_out(catch.x[use], catch.y[use], catch.read_mm[use]):
        number = int(use[place])
        beside = sorted(readings[other] for other in use[around])
        low, high = f"{beside[0]:g}", f"{beside[-1]:g}"
        name = catch.name(number)
        found.append(OddCan(number, name, f"{name.capitalize()}: {readings[number]:g} {unit}, its neighbours have "
                            f"{low if low == high else f'{low} to {high}'}: read it again."))
    return found


def stand_out(x: Array, y: Array, value: Array) -> list[tuple[int, Array]]:
    """Find values far outside those of their nearest neighbours.

    Parameters
    ----------
    x, y : array (n,) [m]
        Places.
    value : array (n,) [any unit]
        Readings of 0 or more, no nan.

    Returns
    -------
    list of (int, array of int)
        Index of each such value and those of its neighbours; empty with fewer than five places.
    """
    count = len(value)
    if count < 5:
        return []
    from scipy.spatial import cKDTree

    places = np.column_stack([x, y])
    near = np.asarray(cKDTree(places).query(places, min(_NEIGHBOURS, count - 1) + 1)[1])
    own = near == np.arange(count)[:, None]
    own[~own.any(axis=1), -1] = True  # cans at one place: the farthest makes room
    near = near[~own].reshape(count, -1)
    beside = value[near]
    wettest, driest = beside.max(axis=1), beside.min(axis=1)
    high = value > _OVER * np.maximum(wettest, 0.5 * np.median(value))
    low = (value < _UNDER * driest) & (wettest < _EVEN * driest) & _surrounded(places, near)
    return [(int(number), near[number]) for number in np.flatnonzero(high | low)]


def _surrounded(places: Array, near: NDArray[np.int_]) -> NDArray[np.bool_]:
    """Whether no half of the ground around a place is without neighbours."""
    step = places[near] - places[:, None, :]
    angle = np.sort(np.arctan2(step[..., 1], step[..., 0]), axis=1)
    gap = np.diff(np.concatenate([angle, angle[:, :1] + 2 * np.pi], axis=1), axis=1)
    around: NDArray[np.bool_] = gap.max(axis=1) < np.pi * 1.001
    return around
