"""The ground that the figures speak of: the whole floor or its beds, and how much of each cell of a map it covers."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = float | Array  # one number, or an array of them
Edges = tuple[float, float, float, float]
_EDGE = 1e-9  # [m] a place so near an edge lies on it
_GOLDEN = (5**0.5 - 1) / 2  # its multiples part a cell more evenly than those of any other number


@dataclass(frozen=True)
class Cells:
    """Cells of a map that hold ground; k cells, row by row from the inlet end wall.

    Attributes
    ----------
    inside : array (r, c) of bool
        Which cells of the map they are.
    places : array (k, 2) [m]
        Middle of the ground in each.
    part : array (k,) [1]
        Ground in each as a part of a whole cell, above 0 to 1.
    area : float [m2]
        Of a whole cell.
    """

    inside: NDArray[np.bool_]
    places: Array
    part: Array
    area: float

    @property
    def weight(self) -> Array | None:
        """Area of each cell's ground / that of a whole cell, (k,) [1]; None where all are whole."""
        return None if bool(np.all(self.part == 1.0)) else self.part

    def scattered(self, wide: float, long: float) -> Cells:
        """The same cells, each whole one asked at a place of its own, so that sharp edges of arcs part them fairly.

        Parameters
        ----------
        wide, long : float [m]
            Of a cell, across and along.

        Returns
        -------
        Cells
            Places of whole cells are moved across by their row and along by their column, by at most half a cell.
        """
        row, column = np.nonzero(self.inside)
        move = np.column_stack([(row * _GOLDEN % 1 - 0.5) * wide, (column * _GOLDEN % 1 - 0.5) * long])
        return replace(self, places=self.places + np.where((self.part == 1.0)[:, None], move, 0.0))


@dataclass(frozen=True)
class Ground:
    """The floor and the part of it that counts.

    Attributes
    ----------
    width, length : float [m]
        The whole floor.
    edges : tuple of (left, right, start, end) [m]
        The beds, which do not overlap, or the whole floor as one.
    """

    width: float
    length: float
    edges: tuple[Edges, ...]

    @property
    def whole(self) -> bool:
        """Whether all of the floor counts."""
        return self.edges == ((0.0, self.width, 0.0, self.length),)

    @property
    def area(self) -> float:
        """What counts, [m2]."""
        return sum((right - left) * (end - start) for left, right, start, end in self.edges)

    def holds(self, x: float | Array, y: float | Array) -> NDArray[np.bool_]:
        """Whether places are on the ground that counts, its edges included.

        Parameters
        ----------
        x, y : float or array (n,) [m]
            The places.

        Returns
        -------
        array (n,) of bool
            Where all of the floor counts, every place does.
        """
        x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        if self.whole:
            return np.ones(x.shape, bool)
        found = np.zeros(x.shape, bool)
        for left, right, start, end in self.edges:
            found |= (x >= left - _EDGE) & (x <= right + _EDGE) & (y >= start - _EDGE) & (y <= end + _EDGE)
        return found

    def cells(self, x: Array, y: Array) -> Cells:
        """The ground on a map, cut exactly at its edges.

        Parameters
        ----------
        x, y : array (c,), (r,) [m]
            Middles of the map's columns and rows, which part the floor evenly.

        Returns
        -------
        Cells
            At least one: ground narrower than a cell counts by its own area.
        """
        wide, long = self.width / len(x), self.length / len(y)
        if self.whole:
            places = np.column_stack([np.tile(x, len(y)), np.repeat(y, len(x))])
            return Cells(np.ones((len(y), len(x)), bool), places, np.ones(len(places)), wide * long)
        area = np.zeros((len(y), len(x)))
        along_x, along_y = np.zeros_like(area), np.zeros_like(area)
        for left, right, start, end in self.edges:
            across, middle_x = _covered(x, wide, left, right)
            along, middle_y = _covered(y, long, start, end)
            piece = np.outer(along, across)
            area += piece
            along_x += piece * middle_x[None, :]
            along_y += piece * middle_y[:, None]
        part = area / (wide * long)
        part[np.abs(part - 1.0) < 1e-9] = 1.0
        inside = part > 1e-9
        places = np.column_stack([along_x[inside] / area[inside], along_y[inside] / area[inside]])
        whole = part[inside] == 1.0
        columns, rows = np.meshgrid(x, y)
        places[whole] = np.column_stack([columns[inside][whole], rows[inside][whole]])
        return Cells(inside, places, part[inside], wide * long)

    def grid(self, step: float) -> Cells:
        """The ground on a map of its own.

        Parameters
        ----------
        step : float [m]
            Largest size of a cell.

        Returns
        -------
        Cells
        """
        across, along = (int(np.ceil(size / step - 1e-9)) for size in (self.width, self.length))
        x = (np.arange(across, dtype=float) + 0.5) * (self.width / across)
        y = (np.arange(along, dtype=float) + 0.5) * (self.length / along)
        return self.cells(x, y)


def _covered(middles: Array, size: float, low: float, high: float) -> tuple[Array, Array]:
    """How much of each interval lies between two places, and the middle of that."""
    begin = np.maximum(middles - size / 2, low)
    end = np.minimum(middles + size / 2, high)
    return np.maximum(end - begin, 0.0), 0.5 * (begin + end)
