"""Systems side by side in padded arrays, and back."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from .network import System
from .outlets import make_outlets
from .supply import Chain
from .tree import Tree


@dataclass(frozen=True)
class Packed:
    """Jobs as one batch: each a system and the lines of it that run.

    Attributes
    ----------
    tree : Tree
        Tubes of b jobs.
    outlets : Outlets
        Heads, arrays (b, lines, sides, n).
    chain : Chain
        Supplies, arrays (b,).
    heads : list of array (heads,) of int
        For each job, the numbers of the heads that run, in the system's order.
    spots : list of array (heads,) of int
        Where each of them stands in the flattened arrays (lines, sides, n).
    """

    tree: Tree
    outlets: object
    chain: Chain
    heads: list[np.ndarray]
    spots: list[np.ndarray]


def line_sides(system: System, line: int) -> list[np.ndarray]:
    """Split a line where the water enters.

    Parameters
    ----------
    system : System
        Any.
    line : int
        Number of the line, from 0.

    Returns
    -------
    list of array of int
        Numbers of the heads on each side, the one nearest the entry first; one side, or two.
    """
    heads = np.flatnonzero(system.line_of == line)
    heads = heads[np.argsort(system.place[heads], kind="stable")]
    beyond = system.place[heads] >= system.enters[line]
    return [side for side in (heads[beyond], heads[~beyond][::-1]) if len(side)]


def pack(jobs: list[tuple[System, list[int]]]) -> Packed:
    """Lay jobs side by side.

    Parameters
    ----------
    jobs : list of (System, list of int)
        Each with the numbers of the lines that run.

    Returns
    -------
    Packed

    Raises
    ------
    ValueError
        Where the systems' friction laws differ, or there is no job.
    """
    laws = {system.chain.law for system, _ in jobs}
    if len(laws) != 1:
        raise ValueError(f"received systems with {len(laws)} friction laws, expected one, solve them apart")
    known: dict[tuple[int, int], list[np.ndarray]] = {}
    for system, lines in jobs:
        for line in lines:
            if (id(system), line) not in known:
                known[id(system), line] = line_sides(system, line)
    wide = max(len(lines) for _, lines in jobs)
    most_sides = max(len(sides) for sides in known.values())
    longest = max(len(side) for sides in known.values() for side in sides)
    shape = (len(jobs), wide, most_sides, longest)
    steps, lift, flow = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    head, exponent, opens, closes = np.ones(shape), np.full(shape, 0.5), np.zeros(shape), np.zeros(shape)
    regulated = np.zeros(shape, bool)
    bore, feed = np.full(shape[:2], 0.02), np.zeros(shape[:2])
    all_heads, all_spots = [], []
    for job, (system, lines) in enumerate(jobs):
        heads, spots = [], []
        for row, line in enumerate(lines):
            bore[job, row], feed[job, row] = system.bore[line], system.feed[line]
            for side, on in enumerate(known[id(system), line]):
                at = (job, row, side, slice(len(on)))
                steps[at] = np.abs(np.diff(system.place[on], prepend=system.enters[line]))
                lift[at], flow[at] = system.lift[on], (system.outlets.flow * system.output)[on]
                head[at], exponent[at] = system.outlets.head[on], system.outlets.exponent[on]
                regulated[at] = system.outlets.regulated[on]
                opens[at], closes[at] = system.outlets.opens[on], system.outlets.closes[on]
                heads.append(on)
                spots.append((row * most_sides + side) * longest + np.arange(len(on)))
        heads, spots = np.concatenate(heads), np.concatenate(spots)
        order = np.argsort(heads)
        all_heads.append(heads[order])
        all_spots.append(spots[order])
    chains = [system.chain for system, _ in jobs]
    chain = Chain(**{item.name: np.concatenate([getattr(each, item.name) for each in chains])
                     for item in fields(Chain) if item.name != "law"}, law=chains[0].law)
    outlets = make_outlets(shape, flow, head, exponent, regulated, opens, closes)
    return Packed(Tree(steps, lift, bore, feed), outlets, chain, all_heads, all_spots)
