"""A Gaussian field over the cans: what areas between them are likely to have got, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from ..record.ground import Array

# Settings that are tried and weighted by how well they explain the cans: correlation length as a part of the
# floor's width and length, and the share of the scatter that belongs to single cans. From simulated tunnels.
_LENGTHS = (0.12, 0.3, 0.7)
_NUGGETS = (0.03, 0.12, 0.35, 0.8)


@dataclass(frozen=True)
class Averages:
    """Likely means of pieces of ground, as draws that belong together.

    Attributes
    ----------
    draws : array (draws, pieces) [mm]
        Each row is one floor that agrees with the cans.
    """

    draws: Array

    def interval(self, values: Array, confidence: float = 0.9) -> tuple[float, float, float]:
        """Middle and interval of a figure computed from the draws.

        Parameters
        ----------
        values : array (draws,)
            One figure for each draw.
        confidence : float [1]
            Share of the draws between low and high.

        Returns
        -------
        value, low, high : float
        """
        tail = (1 - confidence) / 2
        low, value, high = np.quantile(values, [tail, 0.5, 1 - tail])
        return float(value), float(low), float(high)


def area_averages(x: Array, y: Array, depth: Array, pieces: list[Array], width: float, length: float, *,
                  draws: int = 4000, seed: int = 0) -> Averages:
    """Means of pieces of ground, given the cans.

    The depths are seen as a constant mean plus a field that is more alike the nearer two places are (exponential,
    with its own length across and along) plus scatter of single cans. Mean and size of the field are integrated
    out (Student's t with n - 1 degrees of freedom); lengths and scatter are averaged over a grid of settings by
    their evidence. Block kriging: Cressie 1993, Statistics for Spatial Data, section 3.2.

    Parameters
    ----------
    x, y : array (n,) [m]
        Places of the usable cans.
    depth : array (n,) [mm]
        What they caught.
    pieces : list of array (p, 2) [m]
        Points that fill each piece of ground evenly.
    width, length : float [m]
        The floor.
    draws : int
        Number of draws.
    seed : int
        For the draws: the same input gives the same answer.

    Returns
    -------
    Averages

    Raises
    ------
    ValueError
        With fewer than four cans.
    """
    depth = np.asarray(depth, float)
    n = len(depth)
    if n < 4:
        raise ValueError(f"received {n} cans, expected at least four, add cans")
    places = np.column_stack([x, y])
    size = depth.std() or 1.0
    fits = []
    for across, along, nugget in product(_LENGTHS, _LENGTHS, _NUGGETS):
        scale = np.array([across * width, along * length])
        fits.append(_fit(places, depth / size, pieces, scale, nugget))
    evidence = np.array([fit[0] for fit in fits])
    weight = np.exp(evidence - evidence.max())
    rng = np.random.default_rng(seed)
    share = rng.multinomial(draws, weight / weight.sum())
    t = np.sqrt((n - 1) / rng.chisquare(n - 1, draws))
    parts, begin = [], 0
    for (_, mean, root), count in zip(fits, share, strict=True):
        normal = rng.standard_normal((count, len(pieces)))
        parts.append(mean + (normal @ root.T) * t[begin : begin + count, None])
        begin += count
    return Averages(np.vstack(parts) * size)


def _likeness(a: Array, b: Array, scale: Array) -> Array:
    """Exponential correlation of places with places, (n, m) [1]."""
    alike: Array = np.exp(-np.sqrt((((a[:, None, :] - b[None, :, :]) / scale) ** 2).sum(-1)))
    return alike


def _fit(places: Array, depth: Array, pieces: list[Array], scale: Array,
         nugget: float) -> tuple[float, Array, Array]:
    """Evidence, and mean and covariance root of the pieces' averages, for one setting."""
    from scipy.linalg import cho_factor, cho_solve

    n = len(depth)
    cans = (1 - nugget) * _likeness(places, places, scale) + (nugget + 1e-9) * np.eye(n)
    factor = cho_factor(cans, lower=True)
    ones = np.ones(n)
    flat = cho_solve(factor, ones)
    precision = ones @ flat
    mean = (flat @ depth) / precision
    rest = depth - mean
    variance = rest @ cho_solve(factor, rest) / (n - 1)
    evidence = float(-np.log(np.diag(factor[0])).sum() - 0.5 * np.log(precision))
    evidence -= 0.5 * (n - 1) * float(np.log(max(float(variance), 1e-12)))
    to_cans = np.array([(1 - nugget) * _likeness(piece, places, scale).mean(axis=0) for piece in pieces])
    between = np.array([[(1 - nugget) * _likeness(a, b, scale).mean() for b in pieces] for a in pieces])
    solved = cho_solve(factor, to_cans.T)
    average = mean + rest @ solved
    left = 1 - ones @ solved
    covariance = variance * (between - to_cans @ solved + np.outer(left, left) / precision)
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    return evidence, average, vectors * np.sqrt(np.maximum(values, 0))
