"""Pairs of can and head within reach of each other, and the matrices of the linear model that follow from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import overlap
from .prior import KNOTS

INNER = KNOTS.size - 1  # number of free knots


@dataclass(frozen=True)
class Spans:
    """Where each can-head pair within reach falls among the knots.

    Attributes
    ----------
    throw : float [m]
        Throw radius of the profile.
    can, head : array (p,) [1]
        Indices of the pair.
    below : array (p,) [1]
        Knot below the distance.
    part : array (p,) [1]
        Part of the way to the next knot.
    unit : array (p, 2) [1]
        Direction from head to can.
    share : array (p,) [1] or None
        Rate / that of the profile, where kinds of heads or arcs change it.
    stretch : array (p,) [1] or None
        Of the pair's head.
    wide : array (m,) [1] or None
        Stretch of every head.
    """

    throw: float
    can: np.ndarray
    head: np.ndarray
    below: np.ndarray
    part: np.ndarray
    unit: np.ndarray
    share: np.ndarray | None = None
    stretch: np.ndarray | None = None
    wide: np.ndarray | None = None


def spans(cans, heads, throw, *, stretch=None, facing=None, arc=None, strength=None):
    """Pairs of can and head within reach, and their places among the knots.

    Parameters
    ----------
    cans : array (n, 2) [m]
        Cans.
    heads : array (m, 2) [m]
        Heads.
    throw : float [m]
        Throw radius of the profile.
    stretch : array (m,) [1] or None
        Throw radius of each head / that throw radius.
    facing : array (m,) [radians] or None
        Where the middle of an arc points; nan for a full circle.
    arc : array (m,) [radians] or None
        How wide it is; None for half circles.
    strength : array (m,) [1] or None
        Flow of each head's kind / that of the profile.

    Returns
    -------
    Spans
        The pairs.
    """
    apart = cans[:, None, :] - heads[None, :, :]
    distance = np.sqrt((apart ** 2).sum(axis=-1))
    scaled = distance if stretch is None else distance / stretch[None, :]
    part_of = None if facing is None else overlap.part_within(apart, facing, arc)
    near = scaled < throw if part_of is None else (scaled < throw) & (part_of > 0.0)
    can, head = np.nonzero(near)
    s = scaled[can, head] / throw
    below = np.searchsorted(KNOTS, s, side="right") - 1
    part = (s - KNOTS[below]) / (KNOTS[below + 1] - KNOTS[below])
    unit = apart[can, head] / np.maximum(distance[can, head], 1e-9)[:, None]
    if stretch is None and facing is None and strength is None:
        return Spans(throw, can, head, below, part, unit)
    share = overlap.head_shares(stretch, facing, arc, strength) * np.ones(len(heads))
    wide = np.ones(len(heads)) if stretch is None else stretch
    inside = 1.0 if part_of is None else part_of[can, head]
    return Spans(throw, can, head, below, part, unit, share[head] * inside, wide[head], wide)


def profile_matrix(pairs, output, count):
    """Phi: readings per unit of each knot's value.

    Parameters
    ----------
    pairs : Spans
        Pairs within reach.
    output : array (m,) [1]
        Outputs.
    count : int [1]
        Number of cans.

    Returns
    -------
    array (count, k) [1]
        One column for each inner knot.
    """
    share = output[pairs.head] if pairs.share is None else output[pairs.head] * pairs.share
    cell = pairs.can * KNOTS.size + pairs.below
    size = count * KNOTS.size
    flat = np.bincount(cell, share * (1.0 - pairs.part), size)
    flat += np.bincount(cell + 1, share * pairs.part, size)[:size]
    return flat.reshape(count, KNOTS.size)[:, :INNER]


def output_matrix(pairs, profile, shape):
    """A: readings per unit of each head's output.

    Parameters
    ----------
    pairs : Spans
        Pairs within reach.
    profile : array (k,) [1]
        Values at the inner knots.
    shape : tuple (n, m) [1]
        Cans and heads.

    Returns
    -------
    array (n, m) [1]
        The profile at every pair's distance.
    """
    full = np.append(profile, 0.0)
    response = np.zeros(shape)
    rate = (1.0 - pairs.part) * full[pairs.below] + pairs.part * full[pairs.below + 1]
    response[pairs.can, pairs.head] = rate if pairs.share is None else rate * pairs.share
    return response


def gradient(pairs, profile, output, count):
    """Slope of the fitted rate at every can.

    Parameters
    ----------
    pairs : Spans
        Pairs within reach.
    profile : array (k,) [1]
        Values at the inner knots.
    output : array (m,) [1]
        Outputs.
    count : int [1]
        Number of cans.

    Returns
    -------
    array (count, 2) [1/m]
        Slope across and along.
    """
    full = np.append(profile, 0.0)
    fall = np.diff(full) / (np.diff(KNOTS) * pairs.throw)
    pull = fall[pairs.below] * output[pairs.head]
    if pairs.share is not None:
        pull = pull * pairs.share / pairs.stretch
    return np.column_stack([np.bincount(pairs.can, pull * pairs.unit[:, k], count) for k in (0, 1)])
