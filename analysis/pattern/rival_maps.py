"""Floors as a rival explanation has them, drawn beside those of the record as it stands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..record.ground import Array
from . import fit, model, spans
from .rivals import Rival, settled

TEMPER = 0.5   # power of the evidence in a weight: no model is so right that its evidence may decide alone
LEAST = 0.03   # weight below which an explanation is left out


def tempered(rivals: tuple[Rival, ...]) -> tuple[float, list[tuple[Rival, float]]]:
    """How much the record as it stands and its rivals weigh.

    Parameters
    ----------
    rivals : tuple of Rival
        From `rivals_of`.

    Returns
    -------
    record : float [1]
        Weight of the record as it stands.
    others : list of (Rival, weight [1])
        Those that weigh at least `LEAST`; the weights of all sum to 1.
    """
    weight = np.exp(TEMPER * np.clip([0.0, *(rival.evidence for rival in rivals)], -100.0, 100.0))
    weight = np.where(weight / weight.sum() < LEAST, 0.0, weight) / weight.sum()
    weight[0] = max(weight[0], 1e-9)
    weight = weight / weight.sum()
    return float(weight[0]), [(rival, float(one)) for rival, one in zip(rivals, weight[1:], strict=True) if one > 0.0]


def rival_maps(rival: Rival, places: Array, count: int, rng: np.random.Generator) -> Array:
    """Draws of the floor under a rival, from its best cell.

    Parameters
    ----------
    rival : Rival
        One of `rivals_of`.
    places : array (p, 2) [m]
        Places on the floor.
    count : int [1]
        How many draws.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    array (count, p) [1]
        Rate / mean rate of the cans.
    """
    setup = rival.setup
    scene, state = setup.scene, settled(setup).tried.state
    profile, _, output = model.draw(scene, state, count, rng)
    pairs = replace(scene, cans=np.asarray(places, float)).spans(state.throw)
    root = np.linalg.cholesky(model.profile_precision(state)).T
    maps = np.empty((count, len(places)))
    for number, (values, given) in enumerate(zip(profile, np.maximum(output, 0.0), strict=True)):
        maps[number] = spans.profile_matrix(pairs, given, len(places)) @ fit.nonnegative_minimum(root, values)
    if setup.on_ground is not None and scene.extra is not None:
        pull = np.ravel(state.solve(state.residual))[: len(scene.extra)]
        maps += setup.on_ground(places) @ (scene.extra.T @ pull)
    return np.maximum(maps, 0.0)
