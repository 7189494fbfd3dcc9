"""From a record's cans and heads to the estimate for all the ground."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch
from ..cans.surface import Surface, map_axes
from ..record.ground import Cells
from ..record.site import Site
from .cans_only import estimate_cans_only
from .estimate import DRAWS, Estimate, estimate
from .floor import Figure, figure
from .kinds import kinds_of, timed, untimed
from .overlap import average
from .rivals import Rival

CELLS = 1800  # of the map; half a foot to a foot apart in most tunnels
WINDOW = 0.05  # share of the floor of the driest window; the usual one, from memory
MOST = 100.0  # [1] highest scheduling coefficient that is told
WIDEN_SCHEDULING = 1.6  # factor on the samples' interval, from simulated tunnels


@dataclass(frozen=True)
class WholeFloor:
    """The estimate for all the ground, on a map.

    Attributes
    ----------
    x : array (c,) [m]
        Middles of the map's columns.
    y : array (r,) [m]
        Middles of the map's rows.
    cells : Cells
        The ground that counts on this map, and how much of each cell it covers.
    depth_mm, sd_mm : array (r, c) [mm]
        Depth and its standard deviation; nan off the ground that counts.
    scheduling : Figure [1]
        Mean / mean of the driest window of `WINDOW` of the ground.
    heads : tuple of (line, number, x, y)
        In the record's order; number 1 is nearest the inlet end wall; places in m.
    estimate : Estimate
        Figures, profile, outputs, suspects.
    cans : array (k,) of int [1]
        Numbers of the cans that were used, in the catch's order.
    """

    x: np.ndarray
    y: np.ndarray
    cells: Cells
    depth_mm: np.ndarray
    sd_mm: np.ndarray
    scheduling: Figure
    heads: tuple[tuple[str, int, float, float], ...]
    estimate: Estimate
    cans: np.ndarray

    @property
    def ground(self) -> np.ndarray:
        """Cells of the map with ground that counts, (r, c) of bool."""
        return self.cells.inside

    @property
    def weight(self) -> np.ndarray | None:
        """Ground in each of these cells / a whole cell, (p,) [1]; None where all are whole."""
        return self.cells.weight


def estimate_floor(site: Site, catch: Catch, progress: Callable[[float], None] | None = None,
                   base: Rival | None = None, beside: Sequence[tuple[Rival, float]] = (), *,
                   draws: int = DRAWS) -> WholeFloor:
    """Estimate the depth on all the ground.

    Parameters
    ----------
    site : Site
        The test; without heads the estimate comes from the cans alone and is wide.
    catch : Catch
        Its cans.
    progress : callable, optional
        Called with a part done from 0 to 1.
    base : Rival, optional
        The explanation of the readings that heads and profile rest on; None for the record as it stands.
    beside : list of (Rival, float)
        What competes with it, with the part of the draws that each gets.
    draws : int [1]
        Sampled floors; more of them for what hangs on how they vary together.

    Returns
    -------
    WholeFloor
    """
    x, y = map_axes(site.width, site.length, CELLS)
    cells, of_kinds = site.ground.cells(x, y), kinds_of(site.heads)
    if of_kinds is not None and not np.isnan(of_kinds.throws.facing).all():
        cells = cells.scattered(site.width / len(x), site.length / len(y))
    use = np.flatnonzero(catch.usable)
    cans, depth = np.column_stack([catch.x[use], catch.y[use]]), catch.depth_mm[use]
    heads, area = site.heads, site.cans.opening
    step = None if area else 1.0  # [mm]: a ruler's
    if len(heads):
        found = estimate(
            heads.places, heads.line, cans, depth, cells.places, can_area_cm2=area or 100.0,
            duration_min=site.duration / 60, nominal_radius=site.throw_radius, nominal_flow_l_h=site.head_flow,
            reading_step_mm=step, progress=progress, base=base, beside=beside,
            position_sd=site.cans.placed_within, floor_weight=cells.weight, draws=draws,
            of_kinds=timed(of_kinds, heads, site.running),
        )
        found = untimed(found, heads, site.running)
    else:
        found = estimate_cans_only(cans, depth, cells.places, can_area_cm2=area or 100.0, reading_step_mm=step,
                                   floor_weight=cells.weight, walls=(site.width, site.length), draws=draws)
    maps = np.zeros((len(found.draws), *cells.inside.shape), np.float32)
    maps[:, cells.inside] = found.draws
    named = tuple(zip(heads.name, heads.number.tolist(), heads.x.tolist(), heads.y.tolist(), strict=True))
    driest = figure(driest_window(maps, cells.inside, cells.weight), widen=WIDEN_SCHEDULING, lowest=1.0, highest=MOST)
    return WholeFloor(x, y, cells, _on(cells.inside, found.depth), _on(cells.inside, found.depth_sd), driest, named,
                      found, use)


def _on(ground, values):
    """Values of the cells of the ground on the map; nan elsewhere."""
    made = np.full(ground.shape, np.nan)
    made[ground] = values
    return made


def part_of_mean_interval(floor: WholeFloor, cells: np.ndarray) -> tuple[float, float]:
    """90 % interval of the depth on a piece of ground / the mean of all.

    Parameters
    ----------
    floor : WholeFloor
        The estimate.
    cells : array (k,) of int [1]
        Cells of the piece in the flattened map; they are ground that counts.

    Returns
    -------
    low, high : float [1]
    """
    draws, weight = floor.estimate.draws, floor.weight
    place = np.full(floor.ground.size, -1)
    place[np.flatnonzero(floor.ground)] = np.arange(draws.shape[1])
    piece = place[cells]
    there = average(draws[:, piece], None if weight is None else weight[piece])
    found = figure(there / average(draws, weight), lowest=0.0)
    return found.low, found.high


def between_cans(surface: Surface, floor: WholeFloor) -> np.ndarray:
    """Cells of the floor's map that lie between the cans.

    Parameters
    ----------
    surface : Surface
        The surface over the cans.
    floor : WholeFloor
        The estimate on its own map.

    Returns
    -------
    array (r, c) of bool
    """
    rows = np.abs(floor.y[:, None] - surface.y[None, :]).argmin(axis=1)
    columns = np.abs(floor.x[:, None] - surface.x[None, :]).argmin(axis=1)
    return surface.inside[np.ix_(rows, columns)]


def driest_window(maps: np.ndarray, ground: np.ndarray, weight: np.ndarray | None = None,
                  share: float = WINDOW) -> np.ndarray:
    """Mean of the ground / mean of its driest contiguous window.

    Parameters
    ----------
    maps : array (s, r, c) [mm]
        Depth on the cells of a map; anything off the ground.
    ground : array (r, c) of bool
        Cells with ground that counts.
    weight : array (p,) [1] or None
        Ground in each of these cells / a whole cell; None where all are whole.
    share : float [1]
        Size of the window as a part of the ground; a square, cut where the ground ends.

    Returns
    -------
    array (s,) [1]
        The scheduling coefficient of each map; at most `MOST`, for a window that stays dry has none.
    """
    from scipy.ndimage import uniform_filter

    held, covered = np.where(ground, maps, 0.0), ground.astype(float)
    if weight is not None:
        covered[ground] = weight
        held = held * covered
    side = max(1, int(round(np.sqrt(share * covered.sum()))))
    size = tuple(min(side, count) for count in ground.shape)
    part = uniform_filter(covered, size, mode="constant")
    water = uniform_filter(held, (0, *size), mode="constant")
    whole = part >= 0.9 * part.max()
    mean = average(maps[:, ground], weight)
    return mean / np.maximum((water[:, whole] / part[whole]).min(axis=1), mean / MOST)
