"""Pairs of can and head within reach of each other, and the matrices of the linear model that follow from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
        Rate / that of the profile, where stretched or half circles change it.
    stretch : array (p,) [1] or None
        Of the pair's head.
    """

    throw: float
    can: np.ndarray
    head: np.ndarray
    below: np.ndarray
    part: np.ndarray
    unit: np.ndarray
    share: np.ndarray | None = None
    stretch: np.ndarray | None = None


def spans(cans, heads, throw, *, stretch=None, facing=None):
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
        Where the middle of a half circle points; nan for a full circle.

    Returns
    -------
    Spans
        The pairs.
    """
    apart = cans[:, None, :] - heads[None, :, :]
    distance = np.sqrt((apart ** 2).sum(axis=-1))
    scaled = distance if stretch is None else distance / stretch[None, :]
    near = scaled < throw if facing is None else (scaled < throw) & ~behind(apart, facing)
    can, head = np.nonzero(near)
    s = scaled[can, head] / throw
    below = np.searchsorted(KNOTS, s, side="right") - 1
    part = (s - KNOTS[below]) / (KNOTS[below + 1] - KNOTS[below])
    unit = apart[can, head] / np.maximum(distance[can, head], 1e-9)[:, None]
    if stretch is None and facing is None:
        return Spans(throw, can, head, below, part, unit)
    wide = np.ones(len(can)) if stretch is None else stretch[head]
    return Spans(throw, can, head, below, part, unit, head_shares(stretch, facing)[head], wide)


def behind(apart, facing):
    """Which places lie behind a head that throws a half circle.

    Parameters
    ----------
    apart : array (p, m, 2) [m]
        From each head to each place.
    facing : array (m,) [radians]
        Where the middle of its half circle points; nan for a full circle.

    Returns
    -------
    array (p, m) of bool
    """
    ahead = apart[..., 0] * np.cos(facing) + apart[..., 1] * np.sin(facing)
    return ahead < 0.0  # a comparison with nan is false


def head_shares(stretch, facing):
    """Rate of each head / rate of the profile at the same part of its throw, for the same water.

    Parameters
    ----------
    stretch : array (m,) [1] or None
        Throw radius / that of the profile.
    facing : array (m,) [radians] or None
        As for `behind`.

    Returns
    -------
    array (m,) [1]
    """
    thin = 1.0 if stretch is None else stretch ** -2.0
    return thin * (1.0 if facing is None else np.where(np.isnan(facing), 1.0, 2.0))


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
