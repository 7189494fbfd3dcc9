"""Heads that give too little or too much, and cans that should be read again."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import fit

WEAK = (-0.75, 0.3)   # mean and standard deviation of a weak head's departure from the trend
STRONG = (0.5, 0.3)   # and of a strong one's
STRONG_SHARE = 0.2    # strong heads for each weak one
HEAD_PAYS = 3.0   # log evidence a suspect head must bring
CAN_PAYS = 7.0    # log evidence a doubtful can must bring
ALIKE = 2.0       # log evidence within which two neighbours cannot be told apart
SILENT = 0.5      # part of a freed head's variance left, above which cans say next to nothing
CELLS = 6         # cells that have a say in it
MOST = 6          # suspects and doubtful cans looked for


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

    With covariance S and residual r, a departure N(u, v) along a changes the log density by
    -1/2 log(1 + v a'S^-1 a) + 1/2 (a'S^-1 r + u/v)^2 / (1/v + a'S^-1 a) - u^2 / (2 v).

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
    heads = np.logaddexp(_gain(*WEAK, precision, drawn), _gain(*STRONG, precision, drawn) + np.log(STRONG_SHARE))
    inverse = state.solve(np.eye(len(state.noise)))
    cans = _gain(0.0, fit.DOUBT_SD, np.diag(inverse)[:count], pull[:count])
    # Where the model explains the cans badly as a whole, no single head or can is to blame for it.
    excess = max(1.0, float(state.residual @ pull) / len(pull))
    return Gains(heads / excess, cans / excess)


def around(gain, line_of):
    """Log of the summed evidence of each head and its neighbours on the line.

    Parameters
    ----------
    gain : array (m,) [1]
        Gain in log evidence by head.
    line_of : array (m,) [1]
        Line of each head.

    Returns
    -------
    array (m,) [1]
        Evidence that the fault lies at the head or next to it.
    """
    same = line_of[1:] == line_of[:-1]
    total = gain.copy()
    total[1:] = np.where(same, np.logaddexp(total[1:], gain[:-1]), total[1:])
    total[:-1] = np.where(same, np.logaddexp(total[:-1], gain[1:]), total[:-1])
    return total


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


def freed(scene, state):
    """Each head's output by the cans, the head alone let off the rule.

    Parameters
    ----------
    scene : model.Scene
        The test.
    state : model.State
        Posterior in the cell that agrees best.

    Returns
    -------
    Freed
        For every head.
    """
    precision = (state.response * state.solve(state.response)).sum(axis=0)
    pull = state.response.T @ state.solve(state.residual)
    extra = np.maximum(fit.FAULT_SD ** 2 - state.head_variance, 0.0)
    whole = extra + state.head_variance
    mean = 1.0 + whole * pull / (1.0 + extra * precision)
    variance = whole - whole ** 2 * precision / (1.0 + extra * precision)
    return Freed(mean, np.sqrt(np.maximum(variance, 0.0)), variance > SILENT * whole)


def _gain(mean, sd, precision, pull):
    """Log evidence that a departure of this usual size and spread brings."""
    variance = sd ** 2
    return (0.5 * (pull + mean / variance) ** 2 / (1.0 / variance + precision)
            - 0.5 * np.log1p(variance * precision) - 0.5 * mean ** 2 / variance)


def weighed_gains(scene, tried, doubts, rounds=2):
    """Gains over the cells that agree best, by their weights.

    A fault that only one cell needs, while others do as well without it, is no fault.

    Parameters
    ----------
    scene : model.Scene
        The test.
    tried : list of fit.Candidate
        Cells, best first.
    doubts : fit.Doubts
        Those let off.
    rounds : int [1]
        Gauss-Newton rounds in each cell.

    Returns
    -------
    Gains
        For every head and can.
    """
    cells = fit.again(scene, tried[:CELLS], doubts, rounds, np.inf)
    weight = np.array([c.score for c in cells])
    weight = weight - np.logaddexp.reduce(weight)
    each = [gains(scene, c.state) for c in cells]
    return Gains(np.logaddexp.reduce([w + g.heads for w, g in zip(weight, each, strict=True)], axis=0),
                 np.logaddexp.reduce([w + g.cans for w, g in zip(weight, each, strict=True)], axis=0))


def search(scene, tried, doubts=fit.NO_DOUBTS):
    """Suspects and doubtful cans, one at a time while they pay.

    Parameters
    ----------
    scene : model.Scene
        The test.
    tried : list of fit.Candidate
        Cells, best first.
    doubts : fit.Doubts
        Those already let off.

    Returns
    -------
    fit.Doubts
        All that paid.
    """
    for _ in range(MOST):
        gain = weighed_gains(scene, tried, doubts)
        heads, cans = around(gain.heads, scene.line_of) - HEAD_PAYS, gain.cans - CAN_PAYS
        heads[list(doubts.heads)] = -np.inf
        cans[list(doubts.cans)] = -np.inf
        if max(heads.max(), cans.max()) < 0.0:
            break
        if heads.max() >= cans.max():
            doubts = fit.Doubts(doubts.heads + (int(np.argmax(heads)),), doubts.cans)
        else:
            doubts = fit.Doubts(doubts.heads, doubts.cans + (int(np.argmax(cans)),))
    return doubts


def resolve(scene, tried):
    """Suspects, doubtful cans and the weighed cells that go with them.

    Parameters
    ----------
    scene : model.Scene
        The test.
    tried : list of fit.Candidate
        Cells, best first.

    Returns
    -------
    doubts : fit.Doubts
        All that pay.
    cells : list of fit.ShapeCell
        Cells by weight.
    """
    doubts = search(scene, tried)
    if doubts != fit.NO_DOUBTS:
        tried = fit.again(scene, tried, doubts, 2, fit.WIDE)
        doubts = pruned(scene, tried, search(scene, tried, doubts))
    return doubts, fit.weighed(scene, tried, doubts)


def pruned(scene, tried, doubts):
    """Doubts without those that no longer pay once the others are let off.

    Parameters
    ----------
    scene : model.Scene
        The test.
    tried : list of fit.Candidate
        Cells, best first.
    doubts : fit.Doubts
        Suspects and doubtful cans.

    Returns
    -------
    fit.Doubts
        Those that still pay.
    """
    for _ in range(MOST):
        worth = {("heads", h): _worth(scene, tried, doubts, "heads", h) - HEAD_PAYS for h in doubts.heads}
        worth |= {("cans", c): _worth(scene, tried, doubts, "cans", c) - CAN_PAYS for c in doubts.cans}
        if not worth or min(worth.values()) >= 0.0:
            break
        kind, out = min(worth, key=worth.get)
        doubts = _without(doubts, kind, out)
    return doubts


def _without(doubts, kind, out):
    """The doubts less one."""
    return replace(doubts, **{kind: tuple(k for k in getattr(doubts, kind) if k != out)})


def _worth(scene, tried, doubts, kind, which):
    """What one doubt brings beside the others."""
    gain = weighed_gains(scene, tried, _without(doubts, kind, which))
    return float(gain.cans[which] if kind == "cans" else around(gain.heads, scene.line_of)[which])


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
    found = {}
    for head in doubts.heads:
        others = _without(doubts, "heads", head)
        state = fit.settle(scene, cell.pairs, fit.groups()[cell.group], others, 2, cell.state)
        gain = gains(scene, state).heads
        near = [k for k in range(max(head - 3, 0), min(head + 4, len(gain)))
                if k != head and k not in doubts.heads and scene.line_of[k] == scene.line_of[head]]
        found[head] = Alike(tuple(k for k in near if gain[k] > gain[head] - ALIKE), float(gain[head]))
    return found
