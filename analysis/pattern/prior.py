"""What a head's profile may look like before any can is read.

A library of shapes and of blends of shapes, all on s = r / throw radius and with unit volume, is
sorted into groups of like shapes. Each group becomes a Gaussian: its mean, its covariance and
a smooth freedom to leave it. The fit weighs the groups by how well the cans agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from . import overlap, shapes

# Knots on s; the profile is straight between them and zero at the last and beyond.
KNOTS = np.concatenate([np.linspace(0.0, 0.92, 24), [0.95, 0.975, 1.0]])
LIBRARY_SIZE = 2400
GROUPS = 10


@dataclass(frozen=True)
class Group:
    """One group of like shapes, as a Gaussian over the values at all knots but the last.

    Attributes
    ----------
    mean : array (k,) [1]
        Mean shape of unit volume at unit throw radius.
    root : array (k, k) [1]
        Lower Cholesky factor of the covariance.
    share : float [1]
        Part of the library that fell into the group.
    """

    mean: np.ndarray
    root: np.ndarray
    share: float


def library(size=LIBRARY_SIZE, seed=20):
    """Many shapes at the knots, each of unit volume at unit throw radius.

    Parameters
    ----------
    size : int [1]
        How many.
    seed : int [1]
        Seed of the random numbers.

    Returns
    -------
    array (size, k) [1]
        Values at all knots but the last, where every shape is zero.
    """
    rng = np.random.default_rng(seed)
    names = list(shapes.KINDS)
    weights = overlap.volume_weights(KNOTS)[:-1]
    found = np.empty((size, KNOTS.size - 1))
    for row in found:
        shape = _unit(shapes.random_shape(names[rng.integers(len(names))], KNOTS[:-1], rng), weights)
        if rng.random() < 0.45:  # a blend with a second shape that reaches less far
            inner = KNOTS[:-1] / rng.uniform(0.4, 1.0)
            other = shapes.random_shape(names[rng.integers(len(names))], inner, rng)
            part = rng.uniform(0.15, 0.85)
            shape = part * shape + (1.0 - part) * _unit(other, weights)
        row[:] = shape
    return found


def _unit(shape, weights):
    """The shape with unit volume."""
    return shape / (shape @ weights)


def _sorted_into_groups(curves, count, rounds=30):
    """k-means on curves weighted by the square root of their area; labels (size,)."""
    seen = curves * np.sqrt(KNOTS[:-1] + 0.05)
    seen = seen / np.sqrt(seen.var(axis=0).mean())
    rng = np.random.default_rng(5)
    centres = seen[rng.choice(len(seen), 1)]
    while len(centres) < count:  # far-apart starts
        gap = np.min(((seen[:, None] - centres[None]) ** 2).sum(-1), axis=1)
        centres = np.vstack([centres, seen[rng.choice(len(seen), p=gap / gap.sum())]])
    for _ in range(rounds):
        label = np.argmin(((seen[:, None] - centres[None]) ** 2).sum(-1), axis=1)
        centres = np.array([seen[label == k].mean(axis=0) for k in range(count)])
    return label


def _freedom(mean, amount, length):
    """Covariance of a smooth departure, `amount` of a level between local and overall mean."""
    s = KNOTS[:-1]
    level = amount * (0.6 * mean + 0.4 / np.pi)
    near = np.exp(-0.5 * ((s[:, None] - s[None, :]) / length) ** 2)
    near = 0.5 * near + 0.5 * np.exp(-0.5 * ((s[:, None] - s[None, :]) / (0.4 * length)) ** 2)
    return level[:, None] * near * level[None, :]


@lru_cache(maxsize=8)
def groups(amounts=(0.2, 0.5), parts=(0.45, 0.4), length=0.15, count=GROUPS):
    """The groups of the library, close and loose, and one of no shape at all.

    Parameters
    ----------
    amounts : tuple of float [1]
        Freedom to leave a group, as a part of the local rate; one set of groups for each.
    parts : tuple of float [1]
        Prior weight of each set; the rest goes to the free group.
    length : float [1]
        Distance on s over which a departure changes.
    count : int [1]
        Number of groups in a set.

    Returns
    -------
    tuple of Group
        The groups, the free one last.
    """
    curves = library()
    label = _sorted_into_groups(curves, count)
    found = []
    for amount, part in zip(amounts, parts, strict=True):
        for k in range(count):
            mine = curves[label == k]
            mean = mine.mean(axis=0)
            found.append(_group(mean, np.cov(mine.T) + _freedom(mean, amount, length),
                                part * len(mine) / len(curves)))
    mean = curves.mean(axis=0)
    found.append(_group(mean, _freedom(mean, 0.8, 0.2) + _freedom(mean, 0.35, 0.08),
                        1.0 - sum(parts)))
    return tuple(found)


def _group(mean, covariance, share):
    """A group with the root of its covariance."""
    steady = covariance + 1e-6 * np.trace(covariance) / len(mean) * np.eye(len(mean))
    return Group(mean, np.linalg.cholesky(steady), share)
