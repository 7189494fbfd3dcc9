"""Systems side by side in padded arrays, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array
from .network import System
from .outlets import Outlets, make_outlets
from .supply import Chain
from .tree import Tree

Indices = NDArray[np.int_]


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
    outlets: Outlets
    chain: Chain
    heads: list[Indices]
    spots: list[Indices]


def line_sides(system: System, line: int) -> list[Indices]:
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


def pack(jobs: Sequence[tuple[System, list[int]]]) -> Packed:
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
    alike: dict[tuple[object, ...], list[int]] = {}
    for number, (system, lines) in enumerate(jobs):
        alike.setdefault(shape_key(system, lines), []).append(number)
    sides = {key: [line_sides(jobs[numbers[0]][0], line) for line in jobs[numbers[0]][1]]
             for key, numbers in alike.items()}
    wide = max(len(lines) for _, lines in jobs)
    most_sides = max(len(line) for lines in sides.values() for line in lines)
    longest = max(len(side) for lines in sides.values() for line in lines for side in line)
    rooms = _Rooms(len(jobs), wide, most_sides, longest)
    nowhere = np.zeros(0, int)
    all_heads, all_spots = [nowhere] * len(jobs), [nowhere] * len(jobs)
    for key, numbers in alike.items():
        heads, spots = rooms.fill([jobs[number][0] for number in numbers], numbers, jobs[numbers[0]][1], sides[key])
        for number in numbers:
            all_heads[number], all_spots[number] = heads, spots
    chains = [system.chain for system, _ in jobs]
    chain = Chain(**{item.name: _joined([getattr(each, item.name) for each in chains])
                     for item in fields(Chain) if item.name != "law"}, law=chains[0].law)
    return Packed(rooms.tree(), rooms.outlets(), chain, all_heads, all_spots)


def shape_key(system: System, lines: list[int]) -> tuple[object, ...]:
    """What two systems share whose heads stand at the same places along the lines that run.

    Parameters
    ----------
    system : System
        Any.
    lines : list of int
        Numbers of the lines that run.

    Returns
    -------
    tuple
        Equal for systems of the same shape.
    """
    return tuple(lines), system.line_of.tobytes(), system.place.tobytes(), system.enters.tobytes()


def _joined(parts: list[Array]) -> Array:
    """Arrays (1,) in a row; a size that all of them share is one array in memory already."""
    same = all(part is parts[0] for part in parts)
    return np.repeat(parts[0], len(parts)) if same else np.concatenate(parts)


def _stacked(parts: list[NDArray[Any]], places: list[int] | Indices) -> NDArray[Any]:
    """Chosen places of equal arrays as one row, of others as one row each."""
    same = all(part is parts[0] for part in parts)
    return parts[0][places] if same else np.stack(parts)[:, places]


def _slice(numbers: Sequence[int] | Indices) -> slice | None:
    """Numbers without a gap as a slice, which is far cheaper to write through."""
    numbers = np.asarray(numbers)
    whole = len(numbers) and np.array_equal(numbers, np.arange(numbers[0], numbers[0] + len(numbers)))
    return slice(int(numbers[0]), int(numbers[-1]) + 1) if whole else None


def _at(rows: Sequence[int], columns: Sequence[int] | Indices) -> tuple[Any, ...]:
    """How to write rows and columns of an array."""
    one, two = _slice(rows), _slice(columns)
    return (one, two) if one and two else np.ix_(np.asarray(rows), np.asarray(columns))


class _Rooms:
    """The padded arrays of a batch; systems of one shape are laid in together."""

    _HEADS = {"lift": 0.0, "flow": 0.0, "head": 1.0, "exponent": 0.5, "opens": 0.0, "closes": 0.0, "regulated": False}

    def __init__(self, jobs: int, wide: int, sides: int, longest: int) -> None:
        self.shape = (jobs, wide, sides, longest)
        self.steps = np.zeros(self.shape)
        self.of: dict[str, NDArray[Any]] = {name: np.full(self.shape, empty) for name, empty in self._HEADS.items()}
        self.bore, self.feed = np.full(self.shape[:2], 0.02), np.zeros(self.shape[:2])

    def fill(self, systems: list[System], numbers: list[int], lines: list[int],
             sides: list[list[Indices]]) -> tuple[Indices, Indices]:
        """Lay systems of one shape in; heads and spots of each job come back, in the heads' own order."""
        _, _, most_sides, longest = self.shape
        first = systems[0]
        parts_heads, parts_spots, parts_steps = [], [], []
        for row, (line, parts) in enumerate(zip(lines, sides, strict=True)):
            for side, on in enumerate(parts):
                parts_heads.append(on)
                parts_spots.append((row * most_sides + side) * longest + np.arange(len(on)))
                parts_steps.append(np.abs(np.diff(first.place[on], prepend=first.enters[line])))
        heads, spots = np.concatenate(parts_heads), np.concatenate(parts_spots)
        steps = np.concatenate(parts_steps)
        order = np.argsort(heads)
        heads, spots, steps = heads[order], spots[order], steps[order]
        at = _at(numbers, spots)
        self.steps.reshape(len(self.steps), -1)[at] = steps
        for name, room in self.of.items():
            values = [system.lift if name == "lift" else getattr(system.outlets, name) for system in systems]
            room.reshape(len(self.steps), -1)[at] = _stacked(values, heads)
        self.of["flow"].reshape(len(self.steps), -1)[at] *= _stacked([system.output for system in systems], heads)
        rows = _at(numbers, range(len(lines)))
        self.bore[rows] = _stacked([system.bore for system in systems], lines)
        self.feed[rows] = _stacked([system.feed for system in systems], lines)
        return heads, spots

    def tree(self) -> Tree:
        """The tubes of the batch."""
        return Tree(self.steps, self.of["lift"], self.bore, self.feed)

    def outlets(self) -> Outlets:
        """Its heads."""
        return make_outlets(self.shape, *(self.of[name] for name in (
            "flow", "head", "exponent", "regulated", "opens", "closes")))
