"""Dry spots: connected ground under a part of the mean, with a place a person can walk to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array, Cells
from ..record.places import line_named, lines_named
from ..units.shown import show, shown_unit, shown_value

Mask = NDArray[np.bool_]

PART_OF_MEAN = 0.75  # default of the adjustable threshold; a house convention, no source
LEAST_AREA_M2 = 0.5
# Ground that is dry along this share of the floor's length (or width) is a strip.
STRIP_SHARE = 0.8
# Within a strip a spot must lie this part of the mean under what is usual along it.
WITHIN_STRIP = 0.15
# Fringes of a strip narrower than this are part of it, not spots of their own.
FRINGE_M = 0.35


@dataclass(frozen=True)
class DrySpot:
    """Dry ground.

    Attributes
    ----------
    where : str
        In words, from the inlet end.
    kind : str
        ``spot`` or ``strip`` (along the whole length, or across the whole width at an end).
    x_m, y_m : float [m]
        Middle of its area.
    left_m, right_m, start_m, end_m : float [m]
        Its extent.
    area_m2 : float [m2]
        Its area.
    depth_mm : float [mm]
        Its mean depth.
    of_mean : float [1]
        Its mean depth / the mean of the ground.
    beyond_the_cans : bool
        Whether most of it lies beyond the cans, where the map only repeats the nearest ground.
    cells : array (k,) of int [1]
        Its cells in the flattened map.
    """

    where: str
    kind: str
    x_m: float
    y_m: float
    left_m: float
    right_m: float
    start_m: float
    end_m: float
    area_m2: float
    depth_mm: float
    of_mean: float
    beyond_the_cans: bool
    cells: NDArray[np.int_] = field(repr=False, compare=False)


def find_dry_spots(
    x: Array,
    y: Array,
    depth: Array,
    mean: float,
    *,
    ground: Cells | None = None,
    known: NDArray[np.bool_] | None = None,
    part_of_mean: float = PART_OF_MEAN,
    lines: Sequence[tuple[str, float]] = (),
    system: str = "metric",
) -> list[DrySpot]:
    """Find the dry ground on a depth map.

    Parameters
    ----------
    x : array (c,) [m]
        Middles of the map's columns, evenly spaced over the floor's width.
    y : array (r,) [m]
        Middles of the map's rows, evenly spaced over the floor's length.
    depth : array (r, c) [mm]
        The map.
    mean : float [mm]
        The mean that 'dry' is measured against.
    ground : Cells, optional
        Ground that counts (beds) on this map; all of it if left out.
    known : array (r, c) of bool, optional
        Ground between the cans; all of it if left out.
    part_of_mean : float [1]
        Ground under this part of the mean is dry, 0.05 to 1.
    lines : sequence of (name, x) [m]
        For the words that say where a spot is.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of DrySpot
        Driest first. A strip along the whole length is one spot of its own kind; ground that is drier still
        within it, or dry beside it, is listed by itself.

    Raises
    ------
    ValueError
        For a threshold outside 0.05 to 1.
    """
    if not 0.05 <= part_of_mean <= 1:
        raise ValueError(f"received a dry part of {part_of_mean:g}, expected 0.05 to 1 of the mean, correct it")
    from scipy.ndimage import label

    if mean <= 0:
        return []
    part = np.ones(depth.shape)
    if ground is not None:
        part = np.zeros(depth.shape)
        part[ground.inside] = ground.part
    known = np.ones(depth.shape, bool) if known is None else known
    dry = (depth < part_of_mean * mean) & (part > 0)
    masks: list[tuple[str, Mask]] = []
    along = _strip_masks(dry, part)
    across = [mask.T for mask in _strip_masks(dry.T, part.T)]
    # A strip across only counts at an end wall: elsewhere it is a spot.
    across = [mask for mask in across if mask[0].any() or mask[-1].any()]
    rest = dry.copy()
    for mask in (*along, *across):
        masks.append(("strip", mask))
        rest &= ~mask
    rest = _without_fringe(rest, dry, (x[1] - x[0], y[1] - y[0]))
    for mask in along:
        rest |= _drier_within(mask, depth, part_of_mean, mean)
    labels, count = label(rest, structure=np.ones((3, 3), int))
    masks += [("spot", labels == number) for number in range(1, count + 1)]
    here = _Map(x, y, depth, part, known, mean, lines, system)
    found = [_describe(kind, mask, here) for kind, mask in masks if here.area(mask) >= LEAST_AREA_M2 - 1e-9]
    return sorted(found, key=lambda spot: spot.depth_mm)


@dataclass(frozen=True)
class _Map:
    """A depth map, the part of each cell that is ground that counts, and what words about it need."""

    x: Array
    y: Array
    depth: Array
    part: Array
    known: NDArray[np.bool_]
    mean: float
    lines: Sequence[tuple[str, float]]
    system: str

    def area(self, mask: Mask) -> float:
        """Ground in the cells of a mask, [m2]."""
        return float(self.part[mask].sum() * (self.x[1] - self.x[0]) * (self.y[1] - self.y[0]))

    def average(self, values: Array, mask: Mask) -> float:
        """Mean of values (k,) in the cells of a mask, by their ground."""
        return float(np.average(values, weights=self.part[mask]))


def _strip_masks(dry: Mask, part: Array) -> list[Mask]:
    """Dry cells of runs of columns that are dry along most of their ground."""
    from scipy.ndimage import label

    counted = part.sum(axis=0)
    share = np.divide((dry * part).sum(axis=0), counted, out=np.zeros(dry.shape[1]), where=counted > 0)
    runs, count = label(share >= STRIP_SHARE)
    return [dry & (runs == number)[None, :] for number in range(1, count + 1)]


def _without_fringe(rest: Mask, dry: Mask, steps: tuple[float, float]) -> Mask:
    """Drop slivers beside a strip that are narrower than a hand's breadth or two."""
    from scipy.ndimage import binary_opening

    if not (dry & ~rest).any():
        return rest
    size = [max(1, int(round(FRINGE_M / step))) for step in reversed(steps)]
    opened: Mask = binary_opening(rest, np.ones(size, bool)) if min(rest.shape) > max(size) else rest
    return opened


def _drier_within(mask: Mask, depth: Array, part_of_mean: float, mean: float) -> Mask:
    """Cells of a strip that are far under what is usual along it, by a depth that matters on this floor."""
    masked = np.where(mask, depth, np.nan)
    columns = mask.any(axis=0)
    usual = np.full(mask.shape[1], np.inf)
    usual[columns] = np.nanmedian(masked[:, columns], axis=0)
    far: Mask = (depth < part_of_mean * usual[None, :]) & (depth < usual[None, :] - WITHIN_STRIP * mean)
    return mask & far


def _describe(kind: str, mask: Mask, here: _Map) -> DrySpot:
    """A dry spot of the cells of a mask."""
    rows, columns = np.nonzero(mask)
    half_x, half_y = (here.x[1] - here.x[0]) / 2, (here.y[1] - here.y[0]) / 2
    left, right = max(here.x[columns.min()] - half_x, 0.0), here.x[columns.max()] + half_x
    start, end = max(here.y[rows.min()] - half_y, 0.0), here.y[rows.max()] + half_y
    size = (here.x[-1] + half_x, here.y[-1] + half_y)
    middle_x, middle_y = here.average(here.x[columns], mask), here.average(here.y[rows], mask)
    depth = here.average(here.depth[mask], mask)
    extent = (float(left), float(right), float(start), float(end))
    return DrySpot(
        where=place_in_words(extent, size, here.lines, here.system, middle_x),
        kind=kind, x_m=middle_x, y_m=middle_y, left_m=extent[0], right_m=extent[1], start_m=extent[2],
        end_m=extent[3], area_m2=here.area(mask), depth_mm=depth, of_mean=float(depth / here.mean),
        beyond_the_cans=bool(here.part[mask & ~here.known].sum() > here.part[mask].sum() / 2),
        cells=np.flatnonzero(mask),
    )


def place_in_words(
    extent: tuple[float, float, float, float],
    size: tuple[float, float],
    lines: Sequence[tuple[str, float]] = (),
    system: str = "metric",
    middle_x: float | None = None,
) -> str:
    """Say where a piece of floor is, so that a person can walk to it.

    Parameters
    ----------
    extent : (left, right, start, end) [m]
        Of the piece.
    size : (width, length) [m]
        Of the floor.
    lines : sequence of (name, x) [m]
        Lines of heads.
    system : str
        ``metric`` or ``US``.
    middle_x : float [m], optional
        Where most of it lies across; the middle of the extent if left out.

    Returns
    -------
    str
        ``left edge, 20 to 24 m from the inlet end``.
    """
    left, right, start, end = extent
    width, length = size
    middle_x = (left + right) / 2 if middle_x is None else middle_x
    across = _across_in_words(left, right, middle_x, width, sorted(lines, key=lambda line: line[1]), system)
    near, far = start <= 0.03 * length, end >= 0.97 * length
    if near and far:
        return f"{across}, along the whole length"
    decimals = 0 if shown_value(end - start, "place", system) >= 2 else 1
    low, high = (f"{shown_value(place, 'place', system):.{decimals}f}" for place in (start, end))
    unit = shown_unit("place", system)
    walk = f"{low} to {high} {unit} from the inlet end" if low != high else f"about {low} {unit} from the inlet end"
    return f"{across}, {walk}" + (" (at the inlet end wall)" if near else " (at the far end wall)" if far else "")


def _across_in_words(left: float, right: float, middle: float, width: float, lines: list[tuple[str, float]],
                     system: str) -> str:
    """Where a piece of floor lies across it."""
    at_left, at_right = left <= 0.06 * width, right >= 0.94 * width
    if at_left and at_right:
        return "across the whole width"
    if at_left and middle < width / 2 and right < 0.6 * width:
        return "left edge"
    if at_right and middle > width / 2 and left > 0.4 * width:
        return "right edge"
    near = min(lines, key=lambda line: abs(line[1] - middle), default=None)
    if near and abs(near[1] - middle) < 0.08 * width:
        return f"under {line_named(near[0])}"
    for (first, one), (second, two) in zip(lines, lines[1:], strict=False):
        if one < middle < two:
            return "between the lines" if len(lines) == 2 else f"between {lines_named(first, second)}"
    if lines:
        side = f"left of {line_named(lines[0][0])}" if middle < lines[0][1] else f"right of {line_named(lines[-1][0])}"
        return side
    if abs(middle - width / 2) < width / 6:
        return "middle"
    return f"{show(middle, 'place', system)} from the left edge"
