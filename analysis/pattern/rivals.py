"""Rival explanations of the readings, weighed against the record as it stands in one currency, log evidence."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..cans.catch import Catch
from ..record.site import Site
from . import fit, suspects
from .estimate import scene_of
from .kinds import kinds_of, settings, timed, with_kinds
from .prior import GROUPS, groups
from .setups import KINDS, AsRecorded, Kind, Setup
from .threads import one_thread

STEEPEST = 0.8   # [1/m] of the mean reading: see `model.Scene.steepest`
THROWS = 4      # every so many of the throw radii are looked at first, every second one of what is kept
SETTLED = 5      # kinds that are settled in full
SOME_GROUPS = (*range(GROUPS, 2 * GROUPS, 2), 2 * GROUPS)
LOOSE_GROUPS = tuple(range(GROUPS, 2 * GROUPS + 1))
STEPS = (0.1, 0.05)  # [m] in which a place is sought further
LEAST_CANS = 12      # fewer tell nothing apart


@dataclass(frozen=True)
class Weighed:
    """A set-up with its evidence.

    Attributes
    ----------
    score : float [1]
        Log evidence and log prior, suspects and doubtful cans charged.
    tried : fit.Candidate
        Its best cell.
    doubts : fit.Doubts
        Heads and cans let off.
    """

    score: float
    tried: fit.Candidate
    doubts: fit.Doubts


@dataclass(frozen=True)
class Rival:
    """Another explanation, and how much better it is than the record as it stands.

    Attributes
    ----------
    kind, of : str
        See `Kind`.
    setup : Setup
        Its best set-up.
    evidence : float [1]
        Gain in natural log over the record as it stands.
    """

    kind: str
    of: str
    setup: Setup
    evidence: float


@dataclass(frozen=True)
class Fit:
    """How well the record as it stands explains the readings, and what explains them as well or better.

    Attributes
    ----------
    residual : float [1]
        Root mean square of readings less model, of their mean.
    misfit : float [1]
        Mean square of the residual in its own standard deviations; about 1 or less where the model holds.
    rivals : tuple of Rival
        Best first.
    """

    residual: float
    misfit: float
    rivals: tuple[Rival, ...]


@one_thread
def rivals_of(site: Site, catch: Catch) -> Fit | None:
    """Weigh the rivals of a test.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.

    Returns
    -------
    Fit or None
        None without heads or with fewer than `LEAST_CANS` cans.
    """
    use, heads = np.flatnonzero(catch.usable), site.heads
    if not len(heads) or len(use) < LEAST_CANS:
        return None
    step = 10 / site.cans.opening if site.cans.opening else 1.0
    scene, _ = scene_of(heads.places, heads.line, np.column_stack([catch.x[use], catch.y[use]]),
                        catch.depth_mm[use].astype(float), site.duration / 60, step, site.cans.placed_within,
                        site.head_flow)
    of_kinds = timed(kinds_of(heads), heads, site.running)
    scene = settings(with_kinds(scene, of_kinds), of_kinds, site.throw_radius)[0].scene
    every = len(use) == len(catch.x)  # readings have another order only where all cans were read
    row = catch.row if every else np.zeros(len(use), int)
    return weigh(AsRecorded(scene, site.throw_radius, row, catch.column[use], site.width, site.length))


def weigh(test: AsRecorded) -> Fit:
    """Weigh every kind of rival.

    Each candidate is looked at in few cells; the best of each kind is sought further where it is a place, and the best
    kinds are settled in full, with suspects and doubtful cans of their own.

    Parameters
    ----------
    test : AsRecorded
        The record as it stands.

    Returns
    -------
    Fit
    """
    test = replace(test, scene=replace(test.scene, steepest=STEEPEST))
    record = settled(Setup(test.scene, 0.0, radius=test.radius))
    screened: dict[str, tuple[float, Setup]] = {}
    for kind in KINDS:
        found = [(_screened(setup), number, setup) for number, setup in enumerate(kind.candidates(test))]
        if found:
            score, _, setup = max(found)
            screened[kind.kind] = (score, setup)
    kept = sorted(screened, key=lambda name: -screened[name][0])[:SETTLED]
    rivals = []
    for kind in KINDS:
        if kind.kind in kept:
            setup = screened[kind.kind][1]
            if kind.seek is not None:
                setup = _sought(test, kind, *screened[kind.kind])
            rivals.append(Rival(kind.kind, kind.of, setup, settled(setup).score - record.score))
    state = record.tried.state
    residual = float(np.sqrt(np.mean((state.fitted - test.scene.reading) ** 2)))
    return Fit(residual, fit.misfit(state), tuple(sorted(rivals, key=lambda rival: -rival.evidence)))


def _cells(setup: Setup, every: int, which: tuple[int, ...], keep: int) -> list[fit.Candidate]:
    """The best cells of a set-up after one round, settled by two more."""
    found = []
    for throw, before in list(zip(*fit.throws(setup.radius), strict=True))[::every]:
        pairs = setup.scene.spans(throw)
        for number in which:
            group = groups()[number]
            state = fit.settle(setup.scene, pairs, group, fit.NO_DOUBTS, 1)
            prior = float(before + np.log(group.share)) + setup.log_prior
            found.append(fit.Candidate(state.evidence + prior, number, pairs, state, prior))
    best = sorted(found, key=lambda cell: -cell.score)[:keep]
    return fit.again(setup.scene, best, fit.NO_DOUBTS, 2, np.inf)


def _screened(setup: Setup) -> float:
    return _cells(setup, THROWS, SOME_GROUPS, 2)[0].score


def _sought(test: AsRecorded, kind: Kind, score: float, setup: Setup) -> Setup:
    """Step by step to a better place, as long as that pays."""
    for step in STEPS:
        better = True
        while better:
            better = False
            for which in range(len(setup.at) - kind.sought, len(setup.at)):
                for way in (-step, step):
                    at = [*setup.at]
                    at[which] += way
                    other = kind.seek(test, *at)
                    there = _screened(other)
                    if there > score + 1e-6:
                        score, setup, better = there, other, True
    return setup


def settled(setup: Setup) -> Weighed:
    """A set-up in all loose groups, with suspects and doubtful cans where these pay.

    Parameters
    ----------
    setup : Setup
        The set-up.

    Returns
    -------
    Weighed
        The better of with and without them.
    """
    cells = _cells(setup, 2, LOOSE_GROUPS, 3)
    plain = Weighed(cells[0].score, cells[0], fit.NO_DOUBTS)
    doubts = suspects.search(setup.scene, cells)
    if doubts == fit.NO_DOUBTS:
        return plain
    best = fit.again(setup.scene, cells, doubts, 2, np.inf)[0]
    pays = suspects.HEAD_PAYS * len(doubts.heads) + suspects.CAN_PAYS * len(doubts.cans)
    return max(plain, Weighed(best.score - pays, best, doubts), key=lambda one: one.score)
