"""The depth map from the cans alone, by the interpolation that predicts left-out cans best."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array

# Kernels of scipy's RBFInterpolator that are tried, with the degree of their polynomial, in the order in which
# a tie is decided. `smooth` is scipy's smoothing divided by the number of cans (thin plates only).
_KernelName = Literal["thin_plate_spline", "cubic", "linear"]
_KERNELS: dict[str, tuple[_KernelName, int, float]] = {
    "thin plate": ("thin_plate_spline", 1, 0.0),
    "smoothed thin plate": ("thin_plate_spline", 1, 0.02),
    "cubic": ("cubic", 1, 0.0),
    "linear kernel": ("linear", 0, 0.0),
}
SAYS = {
    "thin plate": "a thin plate bent through the cans",
    "smoothed thin plate": "a stiff plate bent near the cans",
    "cubic": "a cubic surface through the cans",
    "linear kernel": "a taut skin through the cans",
    "triangles": "flat triangles between the cans",
    "nearest can": "the nearest can everywhere",
}


@dataclass(frozen=True)
class Surface:
    """A depth map over the floor.

    Attributes
    ----------
    x : array (c,) [m]
        Middles of the map's columns.
    y : array (r,) [m]
        Middles of the map's rows.
    depth_mm : array (r, c) [mm]
        Depth, never below zero.
    inside : array (r, c) of bool
        True between the cans; elsewhere the map repeats the nearest ground between them.
    edge : array (k, 2) [m]
        Corners of the ground between the cans, in turn; two ends where they stand in a line.
    method : str
        A key of `SAYS`: the interpolation with the least left-out error.
    error_mm : float [mm]
        Root mean square of the errors at cans left out one by one.
    errors_mm : dict of str to float [mm]
        The same for every method tried that has a value without any one can.
    """

    x: Array
    y: Array
    depth_mm: Array
    inside: NDArray[np.bool_]
    edge: Array
    method: str
    error_mm: float
    errors_mm: dict[str, float]


def map_axes(width: float, length: float, cells: int = 7500) -> tuple[Array, Array]:
    """Middles of the map's columns and rows, with nearly square cells.

    Parameters
    ----------
    width, length : float [m]
        The floor.
    cells : int
        About how many cells the map has.

    Returns
    -------
    x, y : array [m]
        At least two columns and two rows.
    """
    side = np.sqrt(width * length / cells)
    columns, rows = (int(np.clip(round(size / side), 2, 400)) for size in (width, length))
    return (np.arange(columns) + 0.5) * width / columns, (np.arange(rows) + 0.5) * length / rows


def fit_surface(x: Array, y: Array, depth: Array, width: float, length: float, *, cells: int = 7500) -> Surface:
    """Map the depth over the floor from the cans.

    Parameters
    ----------
    x, y : array (n,) [m]
        Places of the usable cans; cans at the same place are averaged.
    depth : array (n,) [mm]
        What they caught, no nan.
    width, length : float [m]
        The floor.
    cells : int
        About how many cells the map has.

    Returns
    -------
    Surface

    Raises
    ------
    ValueError
        With fewer than three cans at different places.

    Notes
    -----
    The methods are compared by leaving out one can at a time. For the kernels this uses the closed form of
    Rippa 1999, Advances in Computational Mathematics 11:193-210, here for a system with polynomial and smoothing.
    """
    places, depth = _together(x, y, depth)
    if len(places) < 3:
        raise ValueError(f"received cans at {len(places)} places, expected at least three, add cans")
    hull = Hull(places)
    methods = _methods(places, depth, hull)
    at = _left_out_places(places, hull)
    errors = {name: float(np.sqrt(np.mean((method.left_out(at) - depth) ** 2))) for name, method in methods.items()}
    errors = {name: error for name, error in errors.items() if np.isfinite(error)}
    best = min(errors, key=lambda name: round(errors[name], 9))
    map_x, map_y = map_axes(width, length, cells)
    cells_at = np.stack(np.meshgrid(map_x, map_y), axis=-1).reshape(-1, 2)
    between = hull.nearest(cells_at)
    inside = np.hypot(*(between - cells_at).T) < 1e-9
    value = np.maximum(methods[best].predict(between), 0.0)
    shape = (len(map_y), len(map_x))
    return Surface(map_x, map_y, value.reshape(shape), inside.reshape(shape), hull.corners, best, errors[best], errors)


def _together(x: Array, y: Array, depth: Array) -> tuple[Array, Array]:
    """Places of the cans, no two alike, and the mean depth at each."""
    places, back, counts = np.unique(np.column_stack([x, y]), axis=0, return_inverse=True, return_counts=True)
    return places, np.bincount(back.ravel(), weights=np.asarray(depth, float)) / counts


def _methods(places: Array, depth: Array, hull: Hull) -> dict[str, _Method]:
    """The methods that these places allow."""
    methods: dict[str, _Method] = {}
    if not hull.flat:
        for name, (kernel, degree, smooth) in _KERNELS.items():
            methods[name] = _Kernel(places, depth, kernel, degree, smooth * len(places))
        methods["triangles"] = _Triangles(places, depth)
    else:
        methods["linear kernel"] = _Kernel(places, depth, "linear", 0, 0.0)
        methods["smoothed thin plate"] = _Kernel(places, depth, "linear", 0, 0.02 * len(places))
    methods["nearest can"] = _Nearest(places, depth)
    return methods


class Hull:
    """The ground between the cans: their convex hull, or the line they stand on.

    Parameters
    ----------
    places : array (n, 2) [m]
        Places of the cans, no two alike.
    """

    def __init__(self, places: Array):
        middle = places - places.mean(axis=0)
        _, size, axes = np.linalg.svd(middle, full_matrices=False)
        self.flat = bool(size[1] < 1e-6 * size[0])
        if self.flat:
            along = middle @ axes[0]
            self.corners = places[[along.argmin(), along.argmax()]]
        else:
            from scipy.spatial import ConvexHull

            self.corners = places[ConvexHull(places).vertices]

    def nearest(self, points: Array) -> Array:
        """Move points outside to the nearest place on the hull.

        Parameters
        ----------
        points : array (p, 2) [m]
            Any places.

        Returns
        -------
        array (p, 2) [m]
            Points inside stay where they are.
        """
        start, step = self.corners, np.roll(self.corners, -1, axis=0) - self.corners
        rel = points[:, None, :] - start[None, :, :]
        if not self.flat:
            outside = (step[:, 0] * rel[..., 1] - step[:, 1] * rel[..., 0] < -1e-9).any(axis=1)
        else:
            outside = np.ones(len(points), bool)
        moved = points.copy()
        if outside.any():
            rel = rel[outside]
            share = np.clip((rel * step).sum(-1) / (step**2).sum(-1), 0, 1)
            on_edge = start + share[..., None] * step
            gap = ((points[outside, None, :] - on_edge) ** 2).sum(-1)
            moved[outside] = np.take_along_axis(on_edge, gap.argmin(axis=1)[:, None, None], axis=1)[:, 0]
        return moved


class _Method(Protocol):
    """A way to read depths between the cans."""

    def predict(self, points: Array) -> Array:
        """Depth at points, (p,) [mm]."""

    def left_out(self, at: Array) -> Array:
        """Depth at a place for each can, (n,) [mm], without that can."""


class _Kernel:
    """A radial kernel with a polynomial, by scipy; left-out values from one inverse."""

    def __init__(self, places: Array, depth: Array, kernel: _KernelName, degree: int, smooth: float):
        self.places, self.depth = places, depth
        self.kernel, self.degree, self.smooth = kernel, degree, smooth
        self.scale = np.ptp(places, axis=0).max()

    @cached_property
    def _fit(self) -> Any:
        """The interpolator."""
        from scipy.interpolate import RBFInterpolator

        return RBFInterpolator(self.places / self.scale, self.depth, kernel=self.kernel, degree=self.degree,
                               smoothing=self.smooth)

    def predict(self, points: Array) -> Array:
        value: Array = self._fit(points / self.scale)
        return value

    def _system(self, points: Array) -> Array:
        """Kernel and polynomial at points."""
        gap = np.hypot(*((points[:, None, :] - self.places[None, :, :]) / self.scale).T).T
        if self.kernel == "linear":
            kernel = -gap
        elif self.kernel == "cubic":
            kernel = gap**3
        else:
            kernel = np.where(gap > 0, gap**2 * np.log(np.where(gap > 0, gap, 1.0)), 0.0)
        ones = np.ones((len(points), 1))
        return np.hstack([kernel, ones, points / self.scale] if self.degree else [kernel, ones])

    def left_out(self, at: Array) -> Array:
        n = len(self.places)
        top = self._system(self.places)
        system = np.zeros((top.shape[1],) * 2)
        system[:n] = top
        system[n:, :n] = top[:, n:].T
        system[:n, :n] += self.smooth * np.eye(n)
        inverse = np.linalg.inv(system)
        weight = inverse[:, :n] @ self.depth
        # Weights of the fit without can i: those of all, less the part that makes weight i vanish. Where the other
        # cans stand in a line and cannot carry the polynomial, there is no such fit: nan.
        alone = np.diag(inverse)[:n].copy()
        alone[np.abs(alone) < 1e-9 * np.abs(inverse).max()] = np.nan
        without = weight[:, None] - inverse[:, :n] * (weight[:n] / alone)
        value: Array = np.einsum("ij,ji->i", self._system(at), without)
        return value


class _Triangles:
    """Flat triangles (Delaunay), by scipy."""

    def __init__(self, places: Array, depth: Array):
        self.places, self.depth = places, depth

    @cached_property
    def _mesh(self) -> Any:
        """The triangles."""
        from scipy.spatial import Delaunay

        return Delaunay(self.places)

    def predict(self, points: Array) -> Array:
        from scipy.interpolate import LinearNDInterpolator

        value: Array = LinearNDInterpolator(self._mesh, self.depth)(points)
        gaps = np.isnan(value)
        if gaps.any():
            value[gaps] = _Nearest(self.places, self.depth).predict(points[gaps])
        return value

    def left_out(self, at: Array) -> Array:
        # Without a can only the hole that its triangles leave is filled anew, from its neighbours alone.
        start, neighbours = self._mesh.vertex_neighbor_vertices
        left_out = np.empty(len(self.places))
        for number in range(len(self.places)):
            ring = neighbours[start[number]:start[number + 1]]
            ring = ring[ring != number]
            value = np.nan
            if len(ring) >= 3:
                value = _in_ring(self.places[ring], self.depth[ring], at[number])
            if np.isnan(value):
                others = np.arange(len(self.places)) != number
                value = _Nearest(self.places[others], self.depth[others]).predict(at[number : number + 1])[0]
            left_out[number] = value
        return left_out


@lru_cache(maxsize=64)
def _triples(count: int) -> NDArray[np.int_]:
    """Every three of so many, (t, 3)."""
    return np.array(list(combinations(range(count), 3)))


def _in_ring(places: Array, depth: Array, point: Array) -> float:
    """Value at a point of the flat triangles over a few cans; nan outside them or where they stand in a line.

    With so few cans every triple can be tried: the triangle that holds the point and whose circle holds no other
    can is the one of the Delaunay mesh.
    """
    if len(places) > 40:
        return np.nan
    triples = _triples(len(places))
    a, b, c = np.moveaxis(places[triples], 1, 0)
    twice = _cross(b - a, c - a)
    with np.errstate(divide="ignore", invalid="ignore"):
        part_b, part_c = _cross(point - a, c - a) / twice, _cross(b - a, point - a) / twice
        scale = np.ptp(places, axis=0).max()
        holds = (np.abs(twice) > 1e-9 * scale**2) & (np.minimum(part_b, part_c) > -1e-9) & (part_b + part_c < 1 + 1e-9)
    for number in np.flatnonzero(holds):
        corner = np.stack([a[number], b[number], c[number]]) - places[:, None, :]
        square = (corner**2).sum(-1)
        inside = (square[:, 0] * _cross(corner[:, 1], corner[:, 2]) - square[:, 1] * _cross(corner[:, 0], corner[:, 2])
                  + square[:, 2] * _cross(corner[:, 0], corner[:, 1])) * np.sign(twice[number])
        if (inside < 1e-9 * scale**4).all():
            parts = np.array([1 - part_b[number] - part_c[number], part_b[number], part_c[number]])
            return float(parts @ depth[triples[number]])
    return np.nan


def _cross(one: Array, two: Array) -> Array:
    """Cross product of vectors in the plane, (...) [m2]."""
    turned: Array = one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0]
    return turned


class _Nearest:
    """The nearest can, by scipy."""

    def __init__(self, places: Array, depth: Array):
        self.places, self.depth = places, depth

    @cached_property
    def _tree(self) -> Any:
        """The cans, to be asked for the nearest."""
        from scipy.spatial import cKDTree

        return cKDTree(self.places)

    def predict(self, points: Array) -> Array:
        value: Array = self.depth[self._tree.query(points)[1]]
        return value

    def left_out(self, at: Array) -> Array:
        near = self._tree.query(at, 2)[1]
        own = near[:, 0] == np.arange(len(at))
        value: Array = self.depth[np.where(own, near[:, 1], near[:, 0])]
        return value


def _left_out_places(places: Array, hull: Hull) -> Array:
    """Where the map without can i would be read for can i: a corner can moves to the hull of the others."""
    at = places.copy()
    corners = np.flatnonzero((places[:, None, :] == hull.corners[None, :, :]).all(-1).any(-1))
    for number in corners if len(places) > 3 else ():
        others = np.delete(places, number, axis=0)
        at[number] = Hull(others).nearest(places[number : number + 1])[0]
    return at
