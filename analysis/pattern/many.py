"""Point predictions of many candidates: one profile, one output for each head, CU and DUlq of the ground.

Candidates whose heads stand at the same places share the distances; throw radii are then rounded to `KNOT`, so that
each sum over heads becomes a product of matrices.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import overlap
from .floor import TABLE_STEP, pairs_within, profile_slots, rates

KNOT = 0.005  # relative step of the throw radii that are told apart where candidates share places
SHARED = 4    # from so many candidates at the same places on, sharing pays
SIDE_BY_SIDE = 64  # of them in one product


@dataclass(frozen=True)
class Points:
    """Figures of many candidates.

    Attributes
    ----------
    cu, du_low_quarter : array (c,) [%]
        Over all the ground; nan where no water falls.
    mean : array (c,) [unit of the profile]
        Mean rate over it.
    """

    cu: np.ndarray
    du_low_quarter: np.ndarray
    mean: np.ndarray


def point_figures(places: np.ndarray, rate: np.ndarray, heads: list[np.ndarray], output: list[np.ndarray],
                  stretch: list[np.ndarray], weight: np.ndarray | None = None,
                  throws: list[overlap.Throws | None] | None = None) -> Points:
    """CU, DUlq and mean of many candidates.

    Parameters
    ----------
    places : array (p, 2) [m]
        Places on the ground.
    rate : array (t,) [1] or [mm/h]
        Profile on a table of `floor.TABLE_STEP`, zero at its end.
    heads : list of array (m, 2) [m]
        Of each candidate.
    output : list of array (m,) [1]
        Output of each head.
    stretch : list of array (m,) [1]
        Throw radius of each head / that of the profile.
    weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.
    throws : list of (overlap.Throws or None) or None
        Arcs of each candidate's heads; None where they throw all around. Their stretch and share are not looked at.

    Returns
    -------
    Points
    """
    groups: dict[tuple, list[int]] = {}
    arcs = throws or [None] * len(heads)
    for number, (each, own) in enumerate(zip(heads, arcs, strict=True)):
        key = (len(each), each.tobytes(), own and (own.facing.tobytes(), own.arc.tobytes()))
        groups.setdefault(key, []).append(number)
    cu, du, mean = (np.full(len(heads), np.nan) for _ in range(3))
    for numbers in groups.values():
        given = (np.stack([each[number] for number in numbers]) for each in (output, stretch))
        maps = point_rates(places, rate, heads[numbers[0]], *given, arcs[numbers[0]])
        for begin in range(0, len(numbers), SIDE_BY_SIDE):
            part, some = numbers[begin : begin + SIDE_BY_SIDE], maps[begin : begin + SIDE_BY_SIDE].astype(float)
            with np.errstate(divide="ignore", invalid="ignore"):
                cu[part], du[part] = overlap.christiansen(some, weight), overlap.low_quarter(some, weight)
            mean[part] = overlap.average(some, weight)
    return Points(cu, du, mean)


def point_rates(places: np.ndarray, rate: np.ndarray, heads: np.ndarray, output: np.ndarray,
                stretch: np.ndarray, throws: overlap.Throws | None = None) -> np.ndarray:
    """Rates of candidates whose heads stand at the same places.

    Parameters
    ----------
    places : array (p, 2) [m]
        Places.
    rate : array (t,) [1] or [mm/h]
        Profile, as of `point_figures`.
    heads : array (m, 2) [m]
        Heads.
    output, stretch : array (c, m) [1]
        Of each head, in each candidate.
    throws : overlap.Throws or None
        Arcs of the heads; None where they throw all around.

    Returns
    -------
    array (c, p) [unit of `rate`]
        To single precision, and with throw radii rounded to `KNOT`, for `SHARED` candidates or more.
    """
    throw = (len(rate) - 1) * TABLE_STEP * float(stretch.max())
    pairs = pairs_within(places, heads, throw, throws)
    if len(output) < SHARED:
        return rates(pairs, np.broadcast_to(rate, (len(output), len(rate))), output, stretch)
    return _by_knots(pairs, rate, output, stretch)


def _by_knots(pairs, rate, output, stretch):
    """Sums over heads as products of matrices, one for each rounded throw."""
    from scipy.sparse import csr_matrix

    knot = np.rint(np.log(stretch) / KNOT).astype(int)
    order = np.argsort(knot.mean(axis=1), kind="stable")  # candidates of like throw side by side
    knot, strong = knot[order], (output / stretch**2)[order].astype(np.float32)
    by_place = np.argsort(pairs.place, kind="stable")
    ends = np.concatenate([[0], np.cumsum(np.bincount(pairs.place, minlength=pairs.places))])
    head, apart = pairs.head[by_place].astype(np.int32), pairs.apart[by_place]
    part_of = 1.0 if pairs.part is None else pairs.part[by_place]
    found = np.empty((len(output), pairs.places), np.float32)
    known: dict[int, csr_matrix] = {}
    for begin in range(0, len(output), SIDE_BY_SIDE):
        part = slice(begin, begin + SIDE_BY_SIDE)
        maps = 0.0
        for number in np.unique(knot[part]):
            if number not in known:
                value = (rate[profile_slots(apart / np.exp(number * KNOT), len(rate))] * part_of).astype(np.float32)
                known[number] = csr_matrix((value, head, ends), (pairs.places, output.shape[1]))
            maps = maps + known[number] @ np.where(knot[part] == number, strong[part], np.float32(0.0)).T
        found[order[part]] = maps.T
    return found
