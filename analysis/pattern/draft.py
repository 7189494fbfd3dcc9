"""A shift of the whole pattern by draft or tilt, taken only where it pays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import fit, model, suspects

SHIFT_SD = 0.3    # [m] of each coordinate of a shift
SHIFT_PAYS = 7.0  # log evidence a shift must bring, and more than any one head or can does
ROUNDS = 3


@dataclass(frozen=True)
class Shift:
    """Where the pattern's middle lies from its head.

    Attributes
    ----------
    place : array (2,) [m]
        Across and along.
    gain : float [1]
        Log evidence it would bring.
    """

    place: np.ndarray
    gain: float


def best_shift(scene, pairs, state):
    """The small shift that would agree best with the cans.

    Parameters
    ----------
    scene : model.Scene
        The test.
    pairs : model.Spans
        Pairs within reach.
    state : model.State
        Posterior in one cell.

    Returns
    -------
    Shift
        Posterior mean of the shift and its gain in log evidence.
    """
    count = len(scene.reading)
    move = np.zeros((len(state.noise), 2))
    profile, output = np.maximum(state.profile, 0.0), np.maximum(state.output, 0.0)
    move[:count] = -model.gradient(pairs, profile, output, count)
    stiff = move.T @ state.solve(move) + np.eye(2) / SHIFT_SD ** 2
    pull = move.T @ state.solve(state.residual)
    place = np.linalg.solve(stiff, pull)
    gain = 0.5 * pull @ place - 0.5 * np.log(np.linalg.det(stiff * SHIFT_SD ** 2))
    return Shift(place, float(gain))


def shifted(scene, cell):
    """The test seen with the pattern shifted, if that pays.

    Parameters
    ----------
    scene : model.Scene
        The test.
    cell : fit.Tried
        The cell that agrees best with the cans.

    Returns
    -------
    scene : model.Scene
        With the heads moved, or as it was.
    place : array (2,) [m]
        The shift; zeros where it does not pay.
    """
    group, pairs, state, total = fit.groups()[cell.group], cell.pairs, cell.state, np.zeros(2)
    shift = best_shift(scene, pairs, state)
    single = suspects.gains(scene, state)
    if shift.gain < SHIFT_PAYS or shift.gain < max(single.heads.max(), single.cans.max()):
        return scene, total
    moved = scene
    for _ in range(ROUNDS):
        total = total + np.clip(shift.place, -0.3, 0.3)
        moved = replace(scene, heads=scene.heads + total)
        pairs = model.spans(moved.cans, moved.heads, pairs.reach)
        state = fit.settle(moved, pairs, group, fit.Doubts(), 2, state)
        shift = best_shift(moved, pairs, state)
    return moved, total
