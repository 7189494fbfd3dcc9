"""Pressures and flows of many candidates at once, as plain arrays: what a search needs of a working point."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array
from .chain import PASCAL
from .friction import velocity
from .network import System
from .packing import Indices, Packed, line_sides, pack, shape_key
from .tree import Flows
from .valves import fill

CLOSE = 1e-6  # [m] to which a search solves pressures; a hundredth of a pascal
AT_ONCE = 256  # systems in one solution, so that their arrays stay in the processor's cache
_Job = tuple[int, list[int]]  # a system and the lines of it that run


@dataclass(frozen=True)
class Solved:
    """Many systems at their working points.

    Attributes
    ----------
    pressure : tuple of array (heads,) [kPa]
        At each head while its line runs, in the record's order; below 0 where the tube would draw air; nan where the
        system did not settle.
    flow : tuple of array (heads,) [L/h]
        Of each head.
    total : array (c,) [L/h]
        Of the lines that run together and draw most.
    fastest : array (c,) [m/s]
        Largest velocity where a line or a riser begins; hose and manifold are not counted.
    settled : array (c,) of bool
        Whether the pressures settled.
    """

    pressure: tuple[Array, ...]
    flow: tuple[Array, ...]
    total: Array
    fastest: Array
    settled: NDArray[np.bool_]


def solve_many(systems: Sequence[System], *, tolerance: float = 1e-9) -> Solved:
    """Solve many systems, those of like size together.

    Parameters
    ----------
    systems : sequence of System
        From `network.system_of`; all of one friction law. Each runs its lines as it says (`System.run`).
    tolerance : float [m]
        Of the heads' pressures.

    Returns
    -------
    Solved
        In the order of the systems.
    """
    jobs = [(number, lines) for number, system in enumerate(systems) for lines in _turns(system)]
    sizes: dict[tuple[object, ...], tuple[int, int]] = {}
    batches: dict[tuple[int, int], list[_Job]] = {}
    for number, lines in jobs:
        key = shape_key(systems[number], lines)
        if key not in sizes:
            sides = [line_sides(systems[number], line) for line in lines]
            sizes[key] = (max(map(len, sides)), max(len(side) for line in sides for side in line).bit_length())
        batches.setdefault(sizes[key], []).append((number, lines))
    pressure = [np.full(len(system.place), np.nan) for system in systems]
    flow = [np.full(len(system.place), np.nan) for system in systems]
    total, fastest = np.zeros(len(systems)), np.zeros(len(systems))
    settled = np.ones(len(systems), bool)
    parts = [batch[begin : begin + AT_ONCE] for batch in batches.values() for begin in range(0, len(batch), AT_ONCE)]
    for batch in parts:
        for part, done in _solved(systems, batch, tolerance):
            if done is None:
                settled[[number for number, _ in part]] = False
                continue
            packed, found = done
            drawn = found.flow.sum(axis=(1, 2, 3))
            speed = _fastest(packed, found, drawn)
            for rows, heads, spots in _alike(packed):
                at = np.ix_(np.asarray(rows), spots)
                pressed = (found.head - packed.tree.lift).reshape(len(part), -1)[at] * (PASCAL / 1000)
                flows = found.flow.reshape(len(part), -1)[at]
                for row, job in enumerate(rows):
                    number = part[job][0]
                    pressure[number][heads], flow[number][heads] = pressed[row], flows[row]
            numbers = np.array([number for number, _ in part])
            np.maximum.at(total, numbers, drawn)
            np.maximum.at(fastest, numbers, speed)
    return Solved(tuple(pressure), tuple(flow), total, fastest, settled)


def _turns(system: System) -> list[list[int]]:
    """Lines that run at the same time."""
    every = list(range(len(system.names)))
    return [[line] for line in every] if system.run == "in turn" else [every]


def _solved(systems: Sequence[System], batch: list[_Job],
            tolerance: float) -> Iterator[tuple[list[_Job], tuple[Packed, Flows] | None]]:
    """A batch with its solution; job by job where it does not settle as a whole, None for those that do not."""
    packed = pack([(systems[number], lines) for number, lines in batch])
    try:
        yield batch, (packed, fill(packed.tree, packed.outlets, packed.chain, packed.chain.law, tolerance=tolerance))
    except ValueError:
        if len(batch) == 1:
            yield batch, None
        else:
            for job in batch:
                yield from _solved(systems, [job], tolerance)


def _alike(packed: Packed) -> Iterator[tuple[list[int], Indices, Indices]]:
    """Jobs whose heads stand in the same spots, with these."""
    groups: dict[int, list[int]] = {}
    for job, spots in enumerate(packed.spots):
        groups.setdefault(id(spots), []).append(job)
    for jobs in groups.values():
        yield jobs, packed.heads[jobs[0]], packed.spots[jobs[0]]


def _fastest(packed: Packed, found: Flows, drawn: Array) -> Array:
    """Largest velocity where a line or a riser begins [m/s]."""
    sides = found.flow.sum(axis=3)
    # without a feed tube each side of the entry has its own stream
    begins = np.where(packed.tree.feed > 0, sides.sum(axis=2), sides.max(axis=2))
    chain = packed.chain
    riser = np.where(chain.riser > 0, velocity(drawn, chain.riser_bore), 0.0)
    fastest: Array = np.maximum(velocity(begins, packed.tree.bore).max(axis=1), riser)
    return fastest
