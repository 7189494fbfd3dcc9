"""How even a layout of sound heads would be, over the shapes that a head's pattern may have."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..pattern import overlap, shapes
from ..pattern.floor import Pairs, pairs_within
from ..record.ground import Array, Cells

MEMBERS = 5  # of each family
STEPS = 161  # of a profile's table


@dataclass(frozen=True)
class FamilyRange:
    """A figure over families of profiles: what shapes may do, not a measured interval.

    Attributes
    ----------
    value : float [%]
        Median of all profiles.
    low, high : float [%]
        Lowest and highest family, each by the median of its members.
    by_family : dict of str to float [%]
        Name of the family -> median of its members.
    """

    value: float
    low: float
    high: float
    by_family: dict[str, float]


@lru_cache(maxsize=1)
def profiles() -> dict[str, Array]:
    """Members of each family, the same ones at every call.

    Returns
    -------
    dict of str to array (MEMBERS, STEPS) [1]
        Rates on any scale, at equal steps of distance / reach.
    """
    s = np.linspace(0.0, 1.0, STEPS)
    return {name: np.array([shapes.random_shape(name, s, np.random.default_rng([11, number, member]))
                            for member in range(MEMBERS)])
            for number, name in enumerate(shapes.KINDS)}


def family_range(heads: Array, output: Array, radius: float, ground: Cells) -> FamilyRange:
    """DUlq of the ground under these heads, by family of profiles.

    Parameters
    ----------
    heads : array (m, 2) [m]
        Places of the heads.
    output : array (m,) [1]
        Flow of each head / mean flow.
    radius : float [m]
        Reach of a head.
    ground : Cells
        The ground that counts.

    Returns
    -------
    FamilyRange
        A floor of which nothing is wetted has 0.
    """
    pairs, table = pairs_within(ground.places, heads, radius), np.linspace(0.0, radius, STEPS)
    found = {}
    for name, members in profiles().items():
        rates = [rates_of(pairs, table, member, output) for member in members]
        found[name] = [float(overlap.low_quarter(rate, ground.weight)) if rate.any() else 0.0 for rate in rates]
    middle = {name: float(np.median(values)) for name, values in found.items()}
    every = float(np.median([value for values in found.values() for value in values]))
    return FamilyRange(every, min(middle.values()), max(middle.values()), middle)


def rates_of(pairs: Pairs, radius: Array, rate: Array, output: Array) -> Array:
    """Rate at places, from the heads that reach them.

    Parameters
    ----------
    pairs : Pairs
        Places and heads within the reach, or a little more.
    radius : array (k,) [m]
        Of the profile.
    rate : array (k,) [mm/h]
        Of a head of output 1.
    output : array (m,) [1]
        Of each head.

    Returns
    -------
    array (places,) [mm/h]
    """
    return np.bincount(pairs.place, overlap.profile_at(pairs.apart, radius, rate) * output[pairs.head], pairs.places)


def wetted_share(heads: Array, radius: float, ground: Cells) -> float:
    """Part of the ground that some head reaches.

    Parameters
    ----------
    heads : array (m, 2) [m]
        Places of the heads.
    radius : float [m]
        Reach of a head.
    ground : Cells
        The ground that counts.

    Returns
    -------
    float [1]
    """
    reached = overlap.distances(ground.places, heads).min(axis=1) < radius
    return float(overlap.average(reached, ground.weight))
