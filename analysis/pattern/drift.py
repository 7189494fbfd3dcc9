"""A shift of the whole pattern by drift or tilt, taken only where it pays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import fit, model, spans, suspects

SHIFT_SD = 0.3    # [m] of each coordinate of a shift
SHIFT_PAYS = 5.0  # log evidence a shift must bring, and more than any one head or can does
RING = 0.22 * np.array([[np.cos(turn), np.sin(turn)] for turn in np.arange(8) * np.pi / 4])  # [m] shifts tried first
TRIED = 3         # cells in which they are tried
ROUNDS = 3
UNLIKE = 1.2      # misfit above which every shift gets a search of its own


@dataclass(frozen=True)
class Drifted:
    """The test seen with the pattern where drift has put it.

    Attributes
    ----------
    scene : model.Scene
        With the heads moved, or as it was.
    place : array (2,) [m]
        The shift; zeros where it does not pay.
    covariance : array (2, 2) [m2]
        Its covariance; zeros where it does not pay.
    charge : float [1]
        Log prior of the shift, the freedom to seek it included.
    """

    scene: model.Scene
    place: np.ndarray
    covariance: np.ndarray
    charge: float = 0.0


@dataclass(frozen=True)
class Shift:
    """Where the pattern's middle lies from its head.

    Attributes
    ----------
    place : array (2,) [m]
        Across and along.
    precision : array (2, 2) [1/m2]
        Inverse of its covariance.
    """

    place: np.ndarray
    precision: np.ndarray


def best_shift(scene, pairs, state):
    """The small shift that would agree best with the cans.

    Parameters
    ----------
    scene : model.Scene
        The test.
    pairs : spans.Spans
        Pairs within reach.
    state : model.State
        Posterior in one cell.

    Returns
    -------
    Shift
        Posterior mean of the shift, and how well the cans hold it.
    """
    count = len(scene.reading)
    move = np.zeros((len(state.noise), 2))
    profile, output = np.maximum(state.profile, 0.0), np.maximum(state.output, 0.0)
    move[:count] = -spans.gradient(pairs, profile, output, count)
    precision = move.T @ state.solve(move) + np.eye(2) / SHIFT_SD ** 2
    pull = move.T @ state.solve(state.residual)
    return Shift(np.linalg.solve(precision, pull), precision)


def shifted(scene, tried, nominal_radius, doubts=fit.NO_DOUBTS):
    """The test seen with the pattern shifted, if that pays.

    A profile bends to explain a shift as well as it can, so that the slope at no shift says little: shifts all
    around are tried, and the best is refined. Where the cans fit badly without a shift, the profile found there is
    no start for the others, and each searches its own.

    Parameters
    ----------
    scene : model.Scene
        The test.
    tried : list of fit.Candidate
        Cells, best first.
    nominal_radius : float or None [m]
        From a data sheet.
    doubts : fit.Doubts
        Heads and cans already let off.

    Returns
    -------
    Drifted
    """
    few = fit.again(scene, tried[:TRIED], doubts, 2, np.inf)
    own = fit.misfit(few[0].state) > UNLIKE
    moves = []
    for place in RING:
        start = few
        if own:
            moved = replace(scene, heads=scene.heads + place)
            start = fit.scan(moved, nominal_radius, doubts, sparse=True)[:TRIED]
        moves.append((_moved(scene, start, place, doubts)[0].score, place, start))
    _, place, start = max(moves, key=lambda move: move[0])
    for _ in range(ROUNDS):
        cells = _moved(scene, start, place, doubts)
        best = cells[0]
        rest = best_shift(best.scene, best.pairs, best.state)
        place = place + np.clip(rest.place, -0.2, 0.2)
    cells = _moved(scene, start, place, doubts)
    precision = best_shift(cells[0].scene, cells[0].pairs, cells[0].state).precision
    charge = (-0.5 * place @ place / SHIFT_SD ** 2 - 0.5 * np.log(np.linalg.det(precision * SHIFT_SD ** 2)))
    gain = cells[0].score - few[0].score + charge
    single = suspects.gains(scene, few[0].state)
    if gain < SHIFT_PAYS or gain < max(single.heads.max(), single.cans.max()):
        return Drifted(scene, np.zeros(2), np.zeros((2, 2)))
    return Drifted(replace(scene, heads=scene.heads + place), place, np.linalg.inv(precision), float(charge))


@dataclass(frozen=True)
class ShiftedCell:
    """One cell seen with the pattern shifted.

    Attributes
    ----------
    score : float [1]
        Log evidence and log prior of the cell.
    scene : model.Scene
        With the heads moved.
    pairs : spans.Spans
        Pairs within reach.
    state : model.State
        Posterior.
    """

    score: float
    scene: model.Scene
    pairs: spans.Spans
    state: model.State


def _moved(scene, few, place, doubts):
    """The cells with the pattern shifted, best first."""
    moved = replace(scene, heads=scene.heads + place)
    found = []
    for cell in few:
        pairs = moved.spans(cell.pairs.throw)
        state = fit.settle(moved, pairs, fit.groups()[cell.group], doubts, 2, cell.state)
        found.append(ShiftedCell(state.evidence + cell.log_prior, moved, pairs, state))
    return sorted(found, key=lambda one: -one.score)
