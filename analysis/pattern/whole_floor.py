"""From a record's cans and heads to the estimate for all the ground."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch
from ..cans.surface import Surface, map_axes
from ..record.model import Record
from ..record.places import bed_edges, head_places, of_all_lines
from .cans_only import estimate_cans_only
from .estimate import Estimate, estimate
from .floor import Figure, figure

CELLS = 1800  # of the map; half a foot to a foot apart in most tunnels
WINDOW = 0.05  # share of the floor of the driest window; the usual one, from memory
MOST = 100.0  # [1] highest scheduling coefficient that is told
WIDEN_SCHEDULING = 1.6  # factor on the samples' interval, from simulated tunnels
PLACED_WITHIN_M = 0.05  # default where the record does not say


@dataclass(frozen=True)
class WholeFloor:
    """The estimate for all the ground, on a map.

    Attributes
    ----------
    x : array (c,) [m]
        Middles of the map's columns.
    y : array (r,) [m]
        Middles of the map's rows.
    ground : array (r, c) of bool
        Ground that counts.
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
    ground: np.ndarray
    depth_mm: np.ndarray
    sd_mm: np.ndarray
    scheduling: Figure
    heads: tuple[tuple[str, int, float, float], ...]
    estimate: Estimate
    cans: np.ndarray


def heads_in(record: Record) -> list[tuple[str, int, float, float]]:
    """List every head of a record.

    Parameters
    ----------
    record : Record
        Checked.

    Returns
    -------
    list of (line, number, x, y) [m]
        Line by line; number 1 is nearest the inlet end wall, whatever `fed_from` says.
    """
    return [(line.name, number, line.x.si, y) for line in record.lines or []
            for number, y in enumerate(head_places(line), 1)]


def estimate_floor(record: Record, catch: Catch, progress: Callable[[float], None] | None = None) -> WholeFloor:
    """Estimate the depth on all the ground.

    Parameters
    ----------
    record : Record
        Checked; without heads the estimate comes from the cans alone and is wide.
    catch : Catch
        Its cans.
    progress : callable, optional
        Called with a part done from 0 to 1.

    Returns
    -------
    WholeFloor
    """
    x, y = map_axes(record.floor.width.si, record.floor.length.si, CELLS)
    across, along = np.meshgrid(x, y)
    ground = np.zeros(across.shape, bool)
    for left, right, start, end in bed_edges(record.floor):
        ground |= (across >= left) & (across <= right) & (along >= start) & (along <= end)
    if not ground.any():
        ground[:] = True
    places = np.column_stack([across[ground], along[ground]])
    use = np.flatnonzero(catch.usable)
    cans, depth = np.column_stack([catch.x[use], catch.y[use]]), catch.depth_mm[use]
    heads = heads_in(record)
    area = _area_cm2(record)
    diameter, flow = (of_all_lines(record, key) for key in ("wetted_diameter", "flow"))
    step = None if area else 1.0  # [mm]: a ruler's
    if heads:
        found = estimate(
            [head[2:] for head in heads], _line_numbers(heads), cans, depth, places, can_area_cm2=area or 100.0,
            duration_min=record.run.duration.to("min"), nominal_radius=diameter / 2 if diameter else None,
            nominal_flow_l_h=flow * 3.6e6 if flow else None, reading_step_mm=step, progress=progress,
            placed_within=record.cans.placed_within.si if record.cans.placed_within else PLACED_WITHIN_M,
        )
    else:
        found = estimate_cans_only(cans, depth, places, can_area_cm2=area or 100.0, reading_step_mm=step)
    maps = np.full((len(found.draws), *ground.shape), np.nan, np.float32)
    maps[:, ground] = found.draws
    return WholeFloor(
        x, y, ground, _on(ground, found.depth), _on(ground, found.depth_sd),
        figure(driest_window(maps, ground), widen=WIDEN_SCHEDULING, lowest=1.0, highest=MOST), tuple(heads), found, use,
    )


def _on(ground, values):
    made = np.full(ground.shape, np.nan)
    made[ground] = values
    return made


def _line_numbers(heads) -> np.ndarray:
    names = list(dict.fromkeys(head[0] for head in heads))
    return np.array([names.index(head[0]) for head in heads])


def _area_cm2(record: Record) -> float | None:
    cans = record.cans
    if cans.reads == "depth":
        return None
    return cans.opening_area.to("cm2") if cans.opening_area else float(np.pi / 4 * cans.opening.to("cm") ** 2)


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
    draws = floor.estimate.draws
    place = np.full(floor.ground.size, -1)
    place[np.flatnonzero(floor.ground)] = np.arange(draws.shape[1])
    found = figure(draws[:, place[cells]].mean(axis=1) / draws.mean(axis=1), lowest=0.0)
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


def driest_window(maps: np.ndarray, ground: np.ndarray, share: float = WINDOW) -> np.ndarray:
    """Mean of the ground / mean of its driest contiguous window.

    Parameters
    ----------
    maps : array (s, r, c) [mm]
        Depth on cells of equal size; nan off the ground.
    ground : array (r, c) of bool
        Ground that counts.
    share : float [1]
        Size of the window as a part of the ground; a square, cut where the ground ends.

    Returns
    -------
    array (s,) [1]
        The scheduling coefficient of each map; at most `MOST`, for a window that stays dry has none.
    """
    from scipy.ndimage import uniform_filter

    side = max(1, int(round(np.sqrt(share * ground.sum()))))
    size = tuple(min(side, count) for count in ground.shape)
    part = uniform_filter(ground.astype(float), size, mode="constant")
    water = uniform_filter(np.where(ground, maps, 0.0), (0, *size), mode="constant")
    whole = part >= 0.9 * part.max()
    mean = maps[:, ground].mean(axis=1)
    return mean / np.maximum((water[:, whole] / part[whole]).min(axis=1), mean / MOST)
