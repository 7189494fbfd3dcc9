"""Heads that give too little or too much, and cans that should be read again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import fit, model, outputs

NAMED = 0.5       # chance from which a can is named, and a head is let off where drift is sought
HEAD_PAYS = 3.0   # log evidence that a fault of a head must bring
STRONG_SHARE = 0.2  # strong heads for each weak one
CELLS = 6         # cells that have a say in it
ALIKE = 2.0       # log evidence within which two neighbours cannot be told apart
NEAR = 3          # places along the line within which one may be the other
SILENT = 0.5      # part of a freed head's variance left, above which cans say next to nothing


@dataclass(frozen=True)
class Gains:
    """What letting one head or one can off the rule would bring.

    Attributes
    ----------
    heads : array (m,) [1]
        Gain in log evidence by head.
    cans : array (n,) [1]
        Gain in log evidence by can.
    """

    heads: np.ndarray
    cans: np.ndarray


def gains(scene, state):
    """Gain in log evidence from freeing each head or can alone.

    Parameters
    ----------
    scene : model.Scene
        The test.
    state : model.State
        Posterior in one cell.

    Returns
    -------
    Gains
        For every head and can.
    """
    count = len(scene.reading)
    pull = state.solve(state.residual)
    spread = state.solve(state.response)
    precision, drawn = (state.response * spread).sum(axis=0), state.response.T @ pull
    heads = np.logaddexp(outputs.gain(*outputs.WEAK, precision, drawn) + np.log(outputs.WEAK_PART),
                         outputs.gain(*outputs.STRONG, precision, drawn) + np.log1p(-outputs.WEAK_PART))
    inverse = state.solve(np.eye(len(state.noise)))
    cans = outputs.gain(0.0, fit.DOUBT_SD, np.diag(inverse)[:count], pull[:count])
    # Where the model explains the cans badly as a whole, no single head or can is to blame for it.
    excess = max(1.0, fit.misfit(state))
    return Gains(heads / excess, cans / excess)


def named(cells, line_of):
    """Heads whose fault pays over the cells that agree best, and cans that are more likely off than not.

    A fault that may lie at a head or beside it is named once, at the likeliest.

    Parameters
    ----------
    cells : list of fit.ShapeCell
        Cells with weights.
    line_of : array (m,) [1]
        Line of each head.

    Returns
    -------
    fit.Doubts
    """
    weight = np.array([cell.weight for cell in cells[:CELLS]])
    left = np.logaddexp.reduce([np.log(part / weight.sum()) + _worth(cell.state)
                                for part, cell in zip(weight, cells, strict=False)], axis=0)
    heads = []
    while len(heads) < len(left):
        head = int(np.argmax(left))
        near = [k for k in (head - 1, head, head + 1) if 0 <= k < len(left) and line_of[k] == line_of[head]]
        if np.logaddexp.reduce(left[near]) < HEAD_PAYS:
            break
        heads.append(head)
        left[[k for k in near if k == head or left[k] < HEAD_PAYS]] = -np.inf
    odd = sum(cell.weight * cell.odd for cell in cells)
    return fit.Doubts(tuple(heads), tuple(np.flatnonzero(odd > NAMED).tolist()))


def _worth(state):
    """Gain in log evidence of each head's fault, all others as they are settled."""
    seen = outputs.alone(state)
    either = np.logaddexp(outputs.gain(*outputs.WEAK, seen.precision, seen.pull),
                          outputs.gain(*outputs.STRONG, seen.precision, seen.pull) + np.log(STRONG_SHARE))
    return either / max(1.0, fit.misfit(state))


@dataclass(frozen=True)
class Freed:
    """What the cans say of each head's output if that head alone is let off the rule.

    Attributes
    ----------
    output : array (m,) [1]
        Mean output around the trend, 1 for a sound head.
    sd : array (m,) [1]
        Its standard deviation.
    silent : array (m,) of bool
        Heads of which the cans could not tell a blocked one.
    """

    output: np.ndarray
    sd: np.ndarray
    silent: np.ndarray


def freed(state):
    """Each head's output by the cans, the head alone let off the rule.

    Parameters
    ----------
    state : model.State
        Posterior in the cell that agrees best.

    Returns
    -------
    Freed
        For every head.
    """
    seen, whole = outputs.alone(state), fit.FAULT_SD ** 2
    variance = whole / (1.0 + whole * seen.precision)
    return Freed(1.0 + variance * seen.pull, np.sqrt(variance), variance > SILENT * whole)


@dataclass(frozen=True)
class Alike:
    """A suspect's standing among its neighbours.

    Attributes
    ----------
    heads : tuple of int [1]
        Heads of its line that would do as well.
    gain : float [1]
        Log evidence for the suspect.
    """

    heads: tuple
    gain: float


def alternatives(scene, cell, doubts):
    """For each suspect the neighbours on its line that would do as well.

    Parameters
    ----------
    scene : model.Scene
        The test.
    cell : fit.ShapeCell
        The cell that agrees best with the cans.
    doubts : fit.Doubts
        The suspects.

    Returns
    -------
    dict of int to Alike
        By suspect.
    """
    found, state = {}, cell.state
    for head in doubts.heads:
        sound = np.arange(len(scene.heads)) == head
        variance = np.where(sound, scene.spread ** 2, state.head_variance)
        others = model.solve_cell(scene, cell.pairs, state.prior_profile, state.prior_root, state.profile,
                                  np.where(sound, 1.0, np.maximum(state.output, 0.0)), variance, state.can_variance,
                                  np.where(sound, 0.0, state.departure))
        gain = gains(scene, others).heads
        near = [k for k in range(max(head - NEAR, 0), min(head + NEAR + 1, len(gain)))
                if k != head and k not in doubts.heads and scene.line_of[k] == scene.line_of[head]]
        found[head] = Alike(tuple(k for k in near if gain[k] > gain[head] - ALIKE), float(gain[head]))
    return found
