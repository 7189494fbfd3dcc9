"""Draws of the floor over the record as it stands and its rivals, while these compete."""

from __future__ import annotations

import numpy as np

from ..record.ground import Array
from . import floor, outputs
from .rivals import Fit, Rival
from .setups import Setup

TEMPER = 3.0     # evidence counts for so much less: raw differences of 10 to 300 would be weights of 0 or 1
TRUST = 3.0      # [1] log evidence that a rival must bring to count as much as the record as it stands
LEAST = 0.04     # share of the draws under which an explanation is left out


def beside(fit: Fit, best: Rival | None) -> list[tuple[Rival, float]]:
    """What competes with the explanation that the figures rest on, and the part of the draws that each gets.

    Parameters
    ----------
    fit : Fit
        All that was weighed.
    best : Rival or None
        The explanation that the figures rest on; None for the record as it stands.

    Returns
    -------
    list of (Rival, float)
        What is left of 1 is the part of the draws of that one.
    """
    base = TRUST if best is None else best.evidence
    others = [rival for rival in fit.rivals if rival is not best]
    weight = [np.exp((rival.evidence - base) / TEMPER) for rival in others]
    if best is not None:
        others.append(fit.record)
        weight.append(np.exp((TRUST - base) / TEMPER))
    whole = 1.0 + sum(weight)
    return [(rival, float(part / whole)) for rival, part in zip(others, weight, strict=True) if part / whole >= LEAST]


def maps(rival: Rival, places: Array, count: int, rng: np.random.Generator) -> Array:
    """Draws of the floor as one explanation has it.

    Parameters
    ----------
    rival : Rival
        The explanation.
    places : array (p, 2) [m]
        Of the floor.
    count : int
        How many.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    array (count, p) [1]
        In the scene's scale; all water that falls there, that of guests and of no head included.
    """
    setup = rival.setup
    return on_floor(setup, floor.sample(setup.scene, outputs.weighed(rival.cells), count, rng), places)


def on_floor(setup: Setup, samples: floor.Samples, places: Array) -> Array:
    """Draws of the floor from draws of profile and outputs.

    Parameters
    ----------
    setup : Setup
        The explanation.
    samples : floor.Samples
        Its draws.
    places : array (p, 2) [m]
        Of the floor.

    Returns
    -------
    array (s, p) [1]
        As `maps`.
    """
    found: Array = floor.maps(samples, places, setup.scene.heads)
    if setup.on_ground is not None and samples.extra is not None:
        found = np.maximum(found + samples.extra @ setup.on_ground(places).T, 0.0)
    return found
