"""Heads with anti-drip valves: which are open after a line has been filled from closed.

Such a head opens at a higher pressure than the one at which it closes, so the same supply can leave a system in
several states. The state here is the one that a slow filling reaches: all closed at first, and one head after the
other opens where the pressure suffices with those that are open already; each may close again once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from .friction import Law
from .outlets import Outlets
from .tree import Feeds, Flows, Tree, solve_tree


def fill(tree: Tree, outlets: Outlets, source: Feeds, law: Law | None = None, *, tolerance: float = 1e-9,
         most_rounds: int = 200) -> Flows:
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
    def solve(system: _Systems, is_open: NDArray[np.bool_] | None = None) -> Flows:
        return solve_tree(system.tree, system.outlets, system.source, law, is_open=is_open, tolerance=tolerance,
                          most_rounds=most_rounds)

    every = _Systems(tree, outlets, source)
    valved = outlets.opens > 0
    found = solve(every)
    real = outlets.flow > 0
    enough = found.head - tree.lift >= outlets.opens
    stuck = np.flatnonzero((valved & real & ~enough).any(axis=(1, 2, 3)))
    if not len(stuck):
        return found
    some = every.take(stuck)
    part = _open_in_turn(some, valved[stuck] & real[stuck], enough[stuck], partial(solve, some))
    rooms = {name: getattr(found, name).copy() for name in ("head", "flow", "tee", "entry")}
    for name, room in rooms.items():
        room[stuck] = getattr(part, name)
    return replace(found, rounds=max(found.rounds, part.rounds), **rooms)


@dataclass(frozen=True)
class _Systems:
    """The systems of a batch."""

    tree: Tree
    outlets: Outlets
    source: Feeds

    def take(self, which: NDArray[np.int_]) -> _Systems:
        """Some of them."""
        return _Systems(Tree(*(getattr(self.tree, name)[which] for name in Tree.__dataclass_fields__)),
                        self.outlets.mapped(lambda array: array[which]), self.source.take(which))


def _open_in_turn(part: _Systems, valved: NDArray[np.bool_], sure: NDArray[np.bool_],
                  solve: Callable[[NDArray[np.bool_]], Flows]) -> Flows:
    """Heads that open one after the other, the highest pressure first."""
    sure = sure | ~valved
    while True:  # narrow down what is sure to open, and what could
        found = solve(sure)
        could = sure | (found.head - part.tree.lift >= part.outlets.opens)
        more = sure | (solve(could).head - part.tree.lift >= part.outlets.opens) & could
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
        found = solve(is_open)
