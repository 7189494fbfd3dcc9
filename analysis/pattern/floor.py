"""Figures of the whole floor, with intervals, from samples of profile and outputs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..record.ground import Array
from . import fit, model, overlap
from .prior import KNOTS

TABLE_STEP = 0.01  # [m] of the table a sampled profile is read from


@dataclass(frozen=True)
class Samples:
    """Draws from the whole posterior.

    Attributes
    ----------
    radius : array (t,) [m]
        Radii of the table.
    rate : array (s, t) [1]
        Profiles, in the scene's scale.
    trend : array (s, m) [1]
        Smooth trend of its line at each head.
    output : array (s, m) [1]
        Outputs, the trend included.
    stretch : array (s, m) [1] or None
        Throw radius of each head / that of its profile; None where all heads are alike.
    throws : overlap.Throws or None
        How the heads throw otherwise; None where they are alike and throw all around.
    extra : array (s, e) [1] or None
        How much of each of the scene's extra ways to depart; None where it has none.
    """

    radius: np.ndarray
    rate: np.ndarray
    trend: np.ndarray
    output: np.ndarray
    stretch: np.ndarray | None = None
    throws: overlap.Throws | None = None
    extra: np.ndarray | None = None

    @property
    def usual_throws(self) -> overlap.Throws | None:
        """How the heads throw the mean profile; None where they are alike and throw all around."""
        if self.throws is None or self.stretch is None:
            return None
        return replace(self.throws, stretch=self.stretch.mean(axis=0))


def sample(scene, cells, count, rng):
    """Draws over all cells, in proportion to their weights; profiles held above zero.

    Parameters
    ----------
    scene : model.Scene
        The test.
    cells : list of fit.ShapeCell
        Cells with weights.
    count : int [1]
        How many draws.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    Samples
        The draws.
    """
    edges = np.cumsum([0.0] + [c.weight for c in cells]) * count + rng.random()
    shares = np.diff(np.floor(edges)).astype(int)
    far = max(c.state.throw for c in cells)
    radius = np.arange(0.0, far + 2.0 * TABLE_STEP, TABLE_STEP)
    rates, trends, outputs, wides, extras = [], [], [], [], []
    for cell, share in zip(cells, shares, strict=True):
        if share == 0:
            continue
        profile, trend, output, extra = model.draw(scene, cell.state, int(share), rng)
        root = np.linalg.cholesky(model.profile_precision(cell.state)).T
        trends.append(np.maximum(trend, 0.05))
        outputs.append(np.maximum(output, 0.0))
        wides += [cell.pairs.wide] * int(share)
        extras.append(extra)
        for c in profile:
            full = np.append(fit.nonnegative_minimum(root, c), 0.0)
            rates.append(np.interp(radius, KNOTS * cell.state.throw, full))
    found = Samples(radius, np.array(rates), np.vstack(trends), np.vstack(outputs),
                    extra=None if scene.extra is None else np.vstack(extras))
    throws = model.throws_of(scene)
    return found if throws is None else replace(found, stretch=np.array(wides), throws=throws)


@dataclass(frozen=True)
class Pairs:
    """Places and heads that can reach each other.

    Attributes
    ----------
    place, head : array (k,) of int [1]
        Indices.
    apart : array (k,) [m]
        Their distance.
    places : int
        How many places there are.
    part : array (k,) [1] or None
        1, or a half on the edge of the head's arc; None where all heads throw all around.
    """

    place: np.ndarray
    head: np.ndarray
    apart: np.ndarray
    places: int
    part: np.ndarray | None = None


def pairs_within(places: np.ndarray, heads: np.ndarray, throw: float,
                 throws: overlap.Throws | None = None) -> Pairs:
    """Pair places with the heads that may wet them.

    Parameters
    ----------
    places : array (p, 2) [m]
        Places.
    heads : array (m, 2) [m]
        Heads.
    throw : float [m]
        The farthest that any head throws.
    throws : overlap.Throws or None
        Their arcs; None where they throw all around.

    Returns
    -------
    Pairs
    """
    places, heads = np.asarray(places, float), np.asarray(heads, float)
    along = places[:, 1]
    order = None if np.all(along[1:] >= along[:-1]) else np.argsort(along, kind="stable")
    rising = along if order is None else along[order]
    # only places within the throw radius along y are looked at; the margin keeps rounding out
    low = np.searchsorted(rising, heads[:, 1] - throw - 1e-9)
    many = np.searchsorted(rising, heads[:, 1] + throw + 1e-9) - low
    place = np.arange(int(many.sum())) + np.repeat(low - np.cumsum(many) + many, many)
    place = place if order is None else order[place]
    away = np.ascontiguousarray(places[:, 0])[place]
    away -= np.repeat(heads[:, 0], many)
    square = np.ascontiguousarray(along)[place]
    square -= np.repeat(heads[:, 1], many)
    square *= square
    away *= away
    square += away
    near = np.flatnonzero(square < throw * throw)
    found = Pairs(place[near], np.repeat(np.arange(len(heads)), many)[near], np.sqrt(square[near]), len(places))
    return found if throws is None else _in_arcs(found, places, heads, throws)


def _in_arcs(pairs: Pairs, places: np.ndarray, heads: np.ndarray, throws: overlap.Throws) -> Pairs:
    """Those of the pairs whose place lies in the arc of its head."""
    part = overlap.part_within(places[pairs.place] - heads[pairs.head], throws.facing[pairs.head],
                               throws.arc[pairs.head])
    on = np.flatnonzero(part > 0.0)
    return Pairs(pairs.place[on], pairs.head[on], pairs.apart[on], pairs.places, part[on])


def rates(pairs: Pairs, rate: np.ndarray, output: np.ndarray, stretch: np.ndarray | None = None) -> np.ndarray:
    """Rate at every place.

    Parameters
    ----------
    pairs : Pairs
        Within the farthest throw times the largest stretch.
    rate : array (s, t) [1] or [mm/h]
        Profiles on a table of `TABLE_STEP`, zero at its end.
    output : array (s, m) [1]
        Output of each head.
    stretch : array (s, m) or None [1]
        Throw radius of each head / that of its profile; a wider pattern is as much thinner, so that the water is the
        same. None for the profiles as they are.

    Returns
    -------
    array (s, places) [unit of `rate`]
    """
    found = np.empty((len(output), pairs.places))
    slot = profile_slots(pairs.apart, rate.shape[1])
    strong = output if stretch is None else output / stretch ** 2
    for number, row in enumerate(found):
        if stretch is not None:
            slot = profile_slots(pairs.apart / stretch[number][pairs.head], rate.shape[1])
        water = rate[number][slot] * strong[number][pairs.head]
        row[:] = np.bincount(pairs.place, water if pairs.part is None else water * pairs.part, pairs.places)
    return found


def profile_slots(distance: np.ndarray, count: int) -> np.ndarray:
    """Where distances stand in a profile's table.

    Parameters
    ----------
    distance : array (k,) [m]
        From the head, in the profile's own throw radius.
    count : int [1]
        Rows of the table, `TABLE_STEP` apart from 0.

    Returns
    -------
    array (k,) of int [1]
        The nearest row; the last for what lies beyond.
    """
    return np.minimum((distance / TABLE_STEP + 0.5).astype(np.intp), count - 1)


def maps(samples, places, heads, around=None):
    """Rate at every place for every draw.

    Parameters
    ----------
    samples : Samples
        The draws.
    places : array (p, 2) [m]
        Places.
    heads : array (m, 2) [m]
        Heads.
    around : array (s, 2) or None [m]
        Shift of the whole pattern in each draw; None for none.

    Returns
    -------
    array (s, p) [1]
        Rates in the scene's scale.
    """
    throws, stretch, output = samples.throws, samples.stretch, samples.output
    throw = samples.radius[-1] * (1.0 if stretch is None else float(stretch.max()))
    strong = output if throws is None else output * throws.denser
    if around is None:
        return rates(pairs_within(places, heads, throw, throws), samples.rate, strong, stretch)
    return np.vstack([rates(pairs_within(places, heads + shift, throw, throws), samples.rate[k : k + 1],
                            strong[k : k + 1], None if stretch is None else stretch[k : k + 1])
                      for k, shift in enumerate(around)])


@dataclass(frozen=True)
class Figure:
    """An estimate with its 90 % interval.

    Attributes
    ----------
    value, low, high : float
        In the unit of the figure.
    """

    value: float
    low: float
    high: float


WIDEN = 1.45     # factor on the samples' interval, from simulated tunnels of shapes unlike the library's
WIDEN_CU = 1.75  # the same for CU, which a floor with dry ground moves more
WIDEN_SUSPECT = 1.4  # the same for the output of a head that is named: its own fault is in its samples
LEAST = 1.0      # [%] least half width of an interval of CU or DUlq


def figure(values: Array, *, widen: float = WIDEN, widen_low: float | None = None, least: float = 0.0,
           lowest: float = -np.inf, highest: float = np.inf) -> Figure:
    """Mean and widened 90 % interval of samples.

    Parameters
    ----------
    values : array (s,) [any unit]
        Samples.
    widen : float [1]
        Factor on the distance of the interval's ends from the value.
    widen_low : float or None [1]
        Factor for the lower end alone; None takes `widen`.
    least : float [their unit]
        Least distance of each end.
    lowest, highest : float [their unit]
        Bounds of the figure.

    Returns
    -------
    Figure
        In the samples' unit.
    """
    middle = float(np.mean(values))
    low, high = np.quantile(values, [0.05, 0.95])
    low = middle - max((widen if widen_low is None else widen_low) * (middle - low), least)
    high = middle + max(widen * (high - middle), least)
    return Figure(middle, float(np.clip(low, lowest, highest)), float(np.clip(high, lowest, highest)))
