"""Rival explanations of the readings, weighed against the record as it stands in one currency, log evidence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch
from ..record.site import Site
from . import fit, kinds, outputs
from .prior import GROUPS, groups
from .scene import scene_of
from .setups import KINDS, AsRecorded, Kind, Setup
from .threads import one_thread

THROWS = 4      # every so many of the throw radii are looked at first, every second one of what is kept
SETTLED_CELLS = 8  # cells of each
SETTLED = 5      # kinds that are settled in full
SOME_GROUPS = (*range(GROUPS, 2 * GROUPS, 2), 2 * GROUPS)
LOOSE_GROUPS = tuple(range(GROUPS, 2 * GROUPS + 1))
STEPS = (0.1, 0.05)  # [m] in which a place is sought further
AS_RECORDED = "as recorded"
LEAST_CANS = 12      # fewer tell nothing apart


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
    cells : list of outputs.Settled
        Its cells, best first.
    """

    kind: str
    of: str
    setup: Setup
    evidence: float
    cells: list[outputs.Settled]


@dataclass(frozen=True)
class Fit:
    """How well the record as it stands explains the readings, and what explains them as well or better.

    Attributes
    ----------
    residual : float [1]
        Root mean square of readings less model, of their mean; without cans that are off the pattern.
    misfit : float [1]
        Mean square of the residual in its own standard deviations; about 1 or less where the model holds.
    rivals : tuple of Rival
        Best first.
    record : Rival
        The record as it stands.
    """

    residual: float
    misfit: float
    rivals: tuple[Rival, ...]
    record: Rival


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
    of_kinds = kinds.timed(kinds.kinds_of(heads), heads, site.running)
    scene = kinds.settings(kinds.with_kinds(scene, of_kinds), of_kinds, site.throw_radius)[0].scene
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
    as_it_stands = Setup(test.scene, 0.0, radius=test.radius)
    cells = settled(as_it_stands)
    record = Rival(AS_RECORDED, "record", as_it_stands, 0.0, cells)
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
            own = settled(setup)
            if kind.adds and _added(setup, own) < 0.0:
                continue  # less water than the heads give, not more
            rivals.append(Rival(kind.kind, kind.of, setup, own[0].score - cells[0].score, own))
    state = cells[0].state
    off = (state.fitted - test.scene.reading)[cells[0].odd < 0.5]
    residual = float(np.sqrt(np.mean(off ** 2)))
    return Fit(residual, fit.misfit(state), tuple(sorted(rivals, key=lambda rival: -rival.evidence)), record)


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


def _added(setup: Setup, cells: list[outputs.Settled]) -> float:
    """How much of its own water an explanation finds, in standard deviations of what is usual."""
    state = cells[0].state
    pull = state.solve(state.residual)[:len(setup.scene.reading)]
    return float((setup.scene.extra.T @ pull).sum())


def settled(setup: Setup) -> list[outputs.Settled]:
    """A set-up in its best cells, each with the outputs of its heads settled.

    Parameters
    ----------
    setup : Setup
        The set-up.

    Returns
    -------
    list of outputs.Settled
        Best first.
    """
    found: list[outputs.Settled] = outputs.settled([kinds.Setting(setup.scene, setup.log_prior)], setup.radius,
                                                   which=LOOSE_GROUPS, most=SETTLED_CELLS)
    return found
