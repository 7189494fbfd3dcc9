"""The heads' profile and outputs from the cans: many cells (a throw radius and a group of like shapes), weighed by
their evidence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import model, spans
from .prior import GROUPS, groups


def nonnegative_minimum(precision_root, target):
    """The c >= 0 nearest to a target in the metric of a precision.

    Parameters
    ----------
    precision_root : array (q, k) [1]
        R with R'R the precision.
    target : array (k,) [1]
        Where the unbounded minimum lies.

    Returns
    -------
    array (k,) [1]
        Argmin of |R (c - target)| over c >= 0.
    """
    if np.all(target >= 0.0):
        return target
    from scipy.optimize import nnls  # a tenth of a second to load; not all who import this module need it

    return nnls(precision_root, precision_root @ target, maxiter=40 * len(target))[0]


@dataclass(frozen=True)
class ShapeCell:
    """One throw radius with one group of shapes, and its weight.

    Attributes
    ----------
    state : model.State
        Posterior in the cell.
    weight : float [1]
        Its share of the whole posterior.
    group : int [1]
        Which group of shapes.
    pairs : spans.Spans
        Pairs within reach.
    odd : array (n,) [1]
        Chance that each can is off the pattern.
    """

    state: model.State
    weight: float
    group: int
    pairs: spans.Spans
    odd: np.ndarray


@dataclass(frozen=True)
class Doubts:
    """Heads and cans that are let off the rule.

    Attributes
    ----------
    heads : tuple of int [1]
        Suspected heads.
    cans : tuple of int [1]
        Cans to be read again.
    """

    heads: tuple = ()
    cans: tuple = ()


NO_DOUBTS = Doubts()


FAULT_SD = 0.6    # of a suspect's output around its trend
DOUBT_SD = 1.0    # of a doubtful can, as a part of the mean reading


def variances(scene, doubts):
    """Prior variances with the suspects and the doubtful cans let loose.

    Parameters
    ----------
    scene : model.Scene
        The test.
    doubts : Doubts
        Suspects and doubtful cans.

    Returns
    -------
    head_variance : array (m,) [1]
        For the outputs around their trend.
    can_variance : array (n,) [1]
        To be added to the readings' noise.
    """
    head = np.full(len(scene.heads), scene.spread ** 2)
    head[list(doubts.heads)] = FAULT_SD ** 2
    can = np.zeros(len(scene.reading))
    can[list(doubts.cans)] = DOUBT_SD ** 2
    return head, can


USUAL_THROW = 2.4  # [m] of a micro-sprinkler, from memory; a weak prior where no data sheet speaks


def throws(nominal_radius, count=17):
    """Throw radii to try, and the log prior of each.

    Parameters
    ----------
    nominal_radius : float or None [m]
        From a data sheet.
    count : int [1]
        How many.

    Returns
    -------
    throw : array (count,) [m]
        Evenly spaced in their logarithm.
    log_prior : array (count,) [1]
        Up to a constant.
    """
    if nominal_radius is None:
        throw = np.geomspace(1.0, 4.8, count + 6)
        return throw, -0.5 * (np.log(throw / USUAL_THROW) / 0.4) ** 2
    off = np.linspace(-0.4, 0.36, count)
    return nominal_radius * np.exp(off), -0.5 * (off / 0.15) ** 2


def start_of(scene, pairs, mean):
    """First guess of a cell: the group's mean, scaled to the cans.

    Parameters
    ----------
    scene : Scene
        What was read, and where.
    pairs : Spans
        Cans and heads within reach of each other.
    mean : array (k,) [1]
        The group's mean profile on the knots.

    Returns
    -------
    float [1]
        Factor on the mean that fits the cans best.
    """
    phi = spans.profile_matrix(pairs, np.ones(len(scene.heads)), len(scene.reading))
    shown = phi @ mean
    sd = np.maximum(shown, 0.1)
    return float((shown / sd) @ (scene.reading / sd) / max((shown / sd) @ (shown / sd), 1e-12))


SCALE_SD = 0.3  # relative freedom of a cell's whole level


def start(scene, pairs, group):
    """Prior of the profile in a cell, its level fitted to the cans.

    Parameters
    ----------
    scene : model.Scene
        The test.
    pairs : spans.Spans
        Pairs within reach.
    group : prior.Group
        Group of shapes.

    Returns
    -------
    mean : array (k,) [1]
        At the inner knots.
    root : array (k, q) [1]
        Root of the covariance.
    """
    level = start_of(scene, pairs, group.mean)
    mean = level * group.mean
    return mean, np.column_stack([level * group.root, SCALE_SD * mean])


def rounds_of(scene, pairs, group, head_variance, can_variance, rounds, begin=None):
    """Gauss-Newton rounds in one cell.

    Parameters
    ----------
    scene : model.Scene
        The test.
    pairs : spans.Spans
        Pairs within reach.
    group : prior.Group
        Group of shapes.
    head_variance : array (m,) [1]
        Prior variance of each output around its trend.
    can_variance : array (n,) [1]
        To be added to the readings' noise.
    rounds : int [1]
        How many.
    begin : model.State or None
        Where to begin; None begins at the group's mean.

    Returns
    -------
    model.State
        The last posterior.
    """
    mean, root = start(scene, pairs, group)
    profile, output = (mean, np.ones(len(scene.heads))) if begin is None else (begin.profile, begin.output)
    for _ in range(rounds):
        state = model.solve_cell(scene, pairs, mean, root, profile, output, head_variance, can_variance)
        profile, output = state.profile, np.maximum(state.output, 0.0)
    return state


def settle(scene, pairs, group, doubts, rounds, start=None):
    """Gauss-Newton rounds in one cell, some heads and cans let off the rule.

    Parameters
    ----------
    scene : model.Scene
        The test.
    pairs : spans.Spans
        Pairs within reach.
    group : prior.Group
        Group of shapes.
    doubts : Doubts
        Suspects and doubtful cans.
    rounds : int [1]
        How many.
    start : model.State or None
        Where to begin; None begins at the group's mean.

    Returns
    -------
    model.State
        The last posterior.
    """
    return rounds_of(scene, pairs, group, *variances(scene, doubts), rounds, start)


@dataclass(frozen=True)
class Candidate:
    """One cell on its way to a weight.

    Attributes
    ----------
    score : float [1]
        Log evidence and log prior.
    group : int [1]
        Which group of shapes.
    pairs : spans.Spans
        Pairs within reach.
    state : model.State
        Posterior so far.
    log_prior : float [1]
        Of the cell.
    """

    score: float
    group: int
    pairs: spans.Spans
    state: model.State
    log_prior: float


WIDE, KEEP = 30.0, 8.0  # log evidence below the best at which a cell is dropped, first and last


def scan(scene, nominal_radius, doubts=NO_DOUBTS, *, sparse=False):
    """One round in every cell; those far from the best are dropped.

    Parameters
    ----------
    scene : model.Scene
        The test.
    nominal_radius : float or None [m]
        From a data sheet.
    doubts : Doubts
        Suspects and doubtful cans.
    sparse : bool
        Only every second throw radius, and only the groups with much freedom.

    Returns
    -------
    list of Candidate
        Cells worth another round.
    """
    found = []
    for throw, before in list(zip(*throws(nominal_radius), strict=True))[:: 2 if sparse else 1]:
        pairs = scene.spans(throw)
        for k, group in enumerate(groups()):
            if sparse and k < GROUPS:
                continue
            state = settle(scene, pairs, group, doubts, 1)
            prior = float(before + np.log(group.share))
            found.append(Candidate(state.evidence + prior, k, pairs, state, prior))
    return _near_best(found, WIDE)


def again(scene, tried, doubts, rounds, window):
    """More rounds in cells already tried.

    Parameters
    ----------
    scene : model.Scene
        The test.
    tried : list of Candidate
        Cells.
    doubts : Doubts
        Suspects and doubtful cans.
    rounds : int [1]
        How many.
    window : float [1]
        Log evidence below the best at which a cell is dropped.

    Returns
    -------
    list of Candidate
        Best first.
    """
    found = []
    for cell in tried:
        state = settle(scene, cell.pairs, groups()[cell.group], doubts, rounds, cell.state)
        found.append(Candidate(state.evidence + cell.log_prior, cell.group, cell.pairs, state, cell.log_prior))
    return _near_best(found, window)


def _near_best(tried, window):
    """Candidates within a window of the best, best first."""
    best = max(cell.score for cell in tried)
    return sorted((c for c in tried if c.score > best - window), key=lambda c: -c.score)


def misfit(state):
    """How much further the cans lie from the model than it expects.

    Parameters
    ----------
    state : model.State
        Posterior in one cell.

    Returns
    -------
    float [1]
        Mean square of the whitened residual; about 1 or less where the model holds.
    """
    return float(state.residual @ state.solve(state.residual)) / len(state.residual)
