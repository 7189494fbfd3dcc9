"""Outputs of the heads with heavy tails: any head may be off its share, any can off the pattern.

Whether a head is off is not known, so that its output has a prior in two parts: sound (narrow) or off (wide, low more
often than high). All heads are loose at first, so that a profile is not bent to explain weak ones, and then cooled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import fit, model
from .prior import groups
from .spans import Spans

WEAK = (-0.6, 0.4)       # mean and standard deviation of the departure of a head that gives too little
STRONG = (0.4, 0.4)      # and of one that gives too much
WEAK_PART = 0.85         # weak ones among all that are off
LOOSE = 0.4              # standard deviation of every output before anything is known
USUAL_SHARE = 0.2        # share of heads that are off, before anything is known
LEAST_SHARE, MOST_SHARE = 0.01, 0.4
LIKE_HEADS = (0.6, 20.0)  # heads off, of so many, that count beside those of the test when the share is learnt
ODD_CAN = -7.0           # log prior of a can that is off the pattern
ROUNDS = 14
PAYS, PAYS_FEW = 1.5, 3.0  # log evidence that a head which is off must bring beside its share's; with few cans more
FEW_CANS = 30            # under which cans hardly tell weak heads from another profile
COLD_ROUNDS = 7          # where all are sound at first
COOLED = 0.4             # part of the rounds after which none is held loose any more
SCREENED = 20.0          # log evidence below the best at which a cell is not settled
MOST_CELLS = 36
FAR_OFF = 2.5            # a reading so many times the largest of its nearest cans is let off from the start
NEAREST = 6              # so many
EVERY = 2                # every so many of the throw radii are tried


@dataclass(frozen=True)
class Settled:
    """One cell with the outputs of its heads settled.

    Attributes
    ----------
    score : float [1]
        Log evidence and log prior, heads and cans that are off charged.
    group : int [1]
        Which group of shapes.
    pairs : Spans
        Pairs within reach.
    state : model.State
        Posterior.
    log_prior : float [1]
        Of the cell.
    off : array (m,) [1]
        Chance that each head is off its share.
    odd : array (n,) [1]
        Chance that each can is off the pattern.
    """

    score: float
    group: int
    pairs: Spans
    state: model.State
    log_prior: float
    off: np.ndarray
    odd: np.ndarray


def gain(mean, sd, precision, pull):
    """Log evidence for a departure N(mean, sd^2) along a direction a, against none.

    With covariance S and residual r it is
    -1/2 log(1 + v a'S^-1 a) + 1/2 (a'S^-1 r + u/v)^2 / (1/v + a'S^-1 a) - u^2 / (2 v), for N(u, v).

    Parameters
    ----------
    mean, sd : float or array [1]
        Of the departure.
    precision, pull : array [1]
        a'S^-1 a and a'S^-1 r.

    Returns
    -------
    array [1]
    """
    variance = sd ** 2
    return (0.5 * (pull + mean / variance) ** 2 / (1.0 / variance + precision)
            - 0.5 * np.log1p(variance * precision) - 0.5 * mean ** 2 / variance)


@dataclass(frozen=True)
class Alone:
    """What the cans say of each head, its own prior taken out.

    Attributes
    ----------
    precision, pull : array (m,) [1]
        Of the departure of its output from the trend: the cans' own estimate is pull / precision.
    """

    precision: np.ndarray
    pull: np.ndarray


def alone(state):
    """What the cans say of each head, all others as they are settled.

    Parameters
    ----------
    state : model.State
        Posterior in one cell.

    Returns
    -------
    Alone
    """
    solved = state.solve(state.response)
    precision = (state.response * solved).sum(axis=0)
    let = np.maximum(1.0 - state.head_variance * precision, 1e-3)
    return Alone(precision / let, (solved.T @ state.residual + precision * state.departure) / let)


def own(scene, state):
    """Output of each head as a part of the trend of its line there.

    Parameters
    ----------
    scene : model.Scene
        The test.
    state : model.State
        Posterior in one cell.

    Returns
    -------
    array (m,) [1]
    """
    pulled = state.response.T @ state.solve(state.residual)
    trend = 1.0 + scene.trend_root @ (scene.trend_root.T @ pulled)
    return np.maximum(state.output, 0.0) / np.maximum(trend, 0.05)


def _of_heads(state, spread, odds):
    """Chance of each head to be off, and of it to be a weak one then."""
    seen = alone(state)
    # where the model explains the cans badly as a whole, no single head is to blame for it
    excess = max(1.0, fit.misfit(state))
    low = gain(*WEAK, seen.precision, seen.pull) / excess + np.log(WEAK_PART)
    either = np.logaddexp(low, gain(*STRONG, seen.precision, seen.pull) / excess + np.log1p(-WEAK_PART))
    sound = gain(0.0, spread, seen.precision, seen.pull) / excess
    return _logistic(either - sound + odds), np.exp(low - either)


def _logistic(logit):
    return 1.0 / (1.0 + np.exp(-np.clip(logit, -50.0, 50.0)))


def _of_cans(scene, state, held):
    """Chance of each can to be off the pattern, and the variance that lets it off."""
    count = len(scene.reading)
    pull = state.solve(state.residual)[:count]
    precision = np.diag(state.solve(np.eye(len(state.noise))))[:count]
    let = np.maximum(1.0 - held * precision, 1e-6)  # without what it is let off by now
    precision, pull = precision / let, pull / let
    size = np.maximum(fit.DOUBT_SD, np.abs(pull / precision))  # ten times a reading is far more than twice
    # where the model explains the cans badly as a whole, no single can is to blame for it
    excess = max(1.0, fit.misfit(state))
    return _logistic(gain(0.0, size, precision, pull) / excess + ODD_CAN), size ** 2


def _departures(off, low, spread):
    """Mean and variance of each head's departure from the trend, over all it may be."""
    parts = ((1.0 - off, 0.0, spread), (off * low, *WEAK), (off * (1.0 - low), *STRONG))
    mean = sum(part * middle for part, middle, _ in parts)
    return mean, sum(part * (sd ** 2 + middle ** 2) for part, middle, sd in parts) - mean ** 2


def far_off(scene):
    """Extra variance of readings that lie far above all cans around them: with these in, nothing else is found.

    Parameters
    ----------
    scene : model.Scene
        The test.

    Returns
    -------
    array (n,) [1]
        Zero for all others.
    """
    apart = ((scene.cans[:, None] - scene.cans[None]) ** 2).sum(axis=-1)
    near = np.argsort(apart, axis=1, kind="stable")[:, 1:NEAREST + 1]
    return np.where(scene.reading > FAR_OFF * scene.reading[near].max(axis=1), scene.reading ** 2, 0.0)


def settle(scene, pairs, number, log_prior, rounds=ROUNDS, *, cold=False):
    """Profile, outputs and odd cans in one cell.

    Parameters
    ----------
    scene : model.Scene
        The test.
    pairs : Spans
        Pairs within reach.
    number : int [1]
        Which group of shapes.
    log_prior : float [1]
        Of the cell.
    rounds : int [1]
        Gauss-Newton rounds.
    cold : bool
        Whether all heads are sound at first, instead of loose: where cans are few, loose ones explain too much.

    Returns
    -------
    Settled
    """
    mean, root = fit.start(scene, pairs, groups()[number])
    profile, output = mean, np.ones(len(scene.heads))
    departure, variance, share = np.zeros(len(output)), np.full(len(output), LOOSE ** 2), USUAL_SHARE
    if cold:
        variance, share = np.full(len(output), scene.spread ** 2), LEAST_SHARE
    pays = PAYS_FEW if len(scene.cans) < FEW_CANS else PAYS
    held = far_off(scene)
    odd = (held > 0.0).astype(float)
    for turn in range(rounds):
        state = model.solve_cell(scene, pairs, mean, root, profile, output, variance, held, departure)
        profile, output = state.profile, np.maximum(state.output, 0.0)
        off, low = _of_heads(state, scene.spread, np.log(share) - np.log1p(-share) - pays)
        if turn == rounds - 1:
            break
        if cold or turn > COOLED * rounds:
            share = float(np.clip((off.sum() + LIKE_HEADS[0]) / (len(off) + LIKE_HEADS[1]), LEAST_SHARE, MOST_SHARE))
            odd, size = _of_cans(scene, state, held)
            held = odd * size
        still = 0.0 if cold else max(0.0, 1.0 - turn / (COOLED * rounds))
        departure, variance = _departures(off, low, scene.spread)
        departure, variance = (1.0 - still) * departure, np.maximum(variance, still * LOOSE ** 2)
    loose = int((off > 0.5).sum())
    charged = loose * (np.log(share) - pays) + (len(off) - loose) * np.log1p(-share) + ODD_CAN * int((odd > 0.5).sum())
    return Settled(float(state.evidence + log_prior + charged), number, pairs, state, log_prior, off, odd)


def settled(settings, nominal_radius, *, every=EVERY, which=None, most=MOST_CELLS):
    """The cells that explain the cans best, each with its outputs settled.

    Every cell is looked at with all heads loose; those far from the best go no further.

    Parameters
    ----------
    settings : list of kinds.Setting
        The test, as it may be seen; each with its scene and log prior.
    nominal_radius : float or None [m]
        From a data sheet.
    every : int [1]
        Every so many of the throw radii.
    which : tuple of int [1] or None
        Groups of shapes; None for all.
    most : int [1]
        Cells that are settled at most.

    Returns
    -------
    list of Settled
        Best first.
    """
    scene = settings[0].scene
    loose, held, found = np.full(len(scene.heads), LOOSE ** 2), far_off(scene), []
    for setting in settings:
        for throw, before in list(zip(*fit.throws(nominal_radius), strict=True))[::every]:
            pairs = setting.scene.spans(throw)
            for number in range(len(groups())) if which is None else which:
                prior = float(before + np.log(groups()[number].share)) + setting.log_prior
                state = fit.rounds_of(setting.scene, pairs, groups()[number], loose, held, 2)
                found.append((state.evidence + prior, len(found), setting.scene, pairs, number, prior))
    found.sort(key=lambda cell: -cell[0])
    kept = [cell for score, _, *cell in found[:most] if score > found[0][0] - SCREENED]
    both = [*(settle(*cell) for cell in kept), *(settle(*cell, COLD_ROUNDS, cold=True) for cell in kept)]
    return sorted(both, key=lambda one: -one.score)


def weighed(found):
    """The cells that count, with their weights.

    Where even the best cell explains the cans badly, evidence counts for less, by the misfit.

    Parameters
    ----------
    found : list of Settled
        Best first.

    Returns
    -------
    list of fit.ShapeCell
        Best first; their weights sum to 1.
    """
    unlike = max(fit.misfit(found[0].state), 1.0)
    kept = [one for one in found if one.score > found[0].score - fit.KEEP * unlike]
    weight = np.exp([(one.score - kept[0].score) / unlike for one in kept])
    weight = weight / weight.sum()
    return [fit.ShapeCell(one.state, float(w), one.group, one.pairs, one.odd)
            for one, w in zip(kept, weight, strict=True)]
