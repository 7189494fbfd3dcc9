"""Heads with anti-drip valves: which are open after a line has been filled from closed.

Such a head opens at a higher pressure than the one at which it closes, so the same supply can leave a system in
several states. The state here is the one that a slow filling reaches: all closed at first, and one head after the
other opens where the pressure suffices with those that are open already; each may close again once.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .tree import Flows, Tree, solve_tree


def fill(tree, outlets, source, law=None, *, tolerance=1e-9, most_rounds=200):
    """Solve many systems, their heads opening one after the other as the pressure allows.

    A head whose pressure suffices with all heads open opens in any order; one whose pressure does not suffice
    with only these open never opens. What lies between the two opens one by one, the highest pressure first.

    Parameters
    ----------
    tree : Tree
        Tubes.
    outlets : Outlets
        Heads with `opens` and `closes`.
    source : Held or Chain
        The supply.
    law : Law, optional
        Friction.
    tolerance : float [m]
        As of `solve_tree`.
    most_rounds : int [1]
        As of `solve_tree`.

    Returns
    -------
    Flows
        Closed heads have a flow of 0.
    """
    settle = {"law": law, "tolerance": tolerance, "most_rounds": most_rounds}
    valved = outlets.opens > 0
    found = solve_tree(tree, outlets, source, **settle)
    real = outlets.flow > 0
    enough = found.head - tree.lift >= outlets.opens
    stuck = np.flatnonzero((valved & real & ~enough).any(axis=(1, 2, 3)))
    if not len(stuck):
        return found
    pick = _Part(tree, outlets, source, stuck)
    part = _open_in_turn(pick, valved[stuck] & real[stuck], enough[stuck], settle)
    rooms = {name: getattr(found, name).copy() for name in ("head", "flow", "tee", "entry")}
    for name, room in rooms.items():
        room[stuck] = getattr(part, name)
    return replace(found, rounds=max(found.rounds, part.rounds), **rooms)


class _Part:
    """Some of the systems of a batch."""

    def __init__(self, tree, outlets, source, which):
        self.tree = Tree(*(getattr(tree, name)[which] for name in Tree.__dataclass_fields__))
        self.outlets, self.source = outlets.mapped(lambda array: array[which]), source.take(which)

    def solve(self, is_open, settle) -> Flows:
        return solve_tree(self.tree, self.outlets, self.source, is_open=is_open, **settle)


def _open_in_turn(part, valved, sure, settle):
    sure = sure | ~valved
    while True:  # narrow down what is sure to open, and what could
        found = part.solve(sure, settle)
        could = sure | (found.head - part.tree.lift >= part.outlets.opens)
        more = sure | (part.solve(could, settle).head - part.tree.lift >= part.outlets.opens) & could
        if np.array_equal(more, sure):
            break
        sure = more
    is_open, shut_again = sure.copy(), np.zeros_like(sure)
    while True:
        pressed = found.head - part.tree.lift
        falls = is_open & valved & (pressed < part.outlets.closes)
        ready = ~is_open & ~shut_again & (pressed >= part.outlets.opens)
        if not (falls | ready).any():
            return found
        flat = np.where(ready, pressed - part.outlets.opens, -np.inf).reshape(len(pressed), -1)
        best = flat.argmax(axis=1)
        rows = np.flatnonzero(ready.reshape(len(pressed), -1).any(axis=1) & ~falls.any(axis=(1, 2, 3)))
        is_open = is_open & ~falls
        shut_again |= falls
        is_open.reshape(len(pressed), -1)[rows, best[rows]] = True
        found = part.solve(is_open, settle)
