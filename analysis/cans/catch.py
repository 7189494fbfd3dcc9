"""Readings -> depths [mm] at places: openings, tare, evaporation, set-aside cans, beds, weights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array, Edges
from ..record.site import Site, SiteCans
from ..units.quantity import TABLE

# The state of a can.
COUNTED, SET_ASIDE, MISSING, OUTSIDE = "counted", "set aside", "no reading", "outside the beds"
_WATER_G_PER_ML = 1.0  # density of water near 15 degrees C, within 0.2 % up to 25 degrees C


@dataclass(frozen=True)
class Catch:
    """What the cans caught; arrays of shape (n,) in the record's order.

    Attributes
    ----------
    x, y : array [m]
        Where the cans stand.
    row, column : array of int
        Counted from 1; free points have row 0 and are numbered by column.
    read_mm : array [mm]
        Depth as read; nan without a reading.
    depth_mm : array [mm]
        Depth after the evaporation correction; equal to `read_mm` without control cans.
    state : array of str
        ``counted``, ``set aside``, ``no reading`` or ``outside the beds``.
    why : tuple of str
        Why a can is set aside; empty for the others.
    weight : array [1]
        Weight of each can in the figures; 0 for cans that do not count.
    evaporation_mm : float [mm]
        Depth added to every can that held water; 0 without control cans.
    corrected : bool
        Whether there were control cans.
    """

    x: Array
    y: Array
    row: NDArray[np.int_]
    column: NDArray[np.int_]
    read_mm: Array
    depth_mm: Array
    state: NDArray[np.object_]
    why: tuple[str, ...]
    weight: Array
    evaporation_mm: float
    corrected: bool

    @property
    def counted(self) -> NDArray[np.bool_]:
        """Cans of the at-the-cans figures, array (n,) of bool."""
        found: NDArray[np.bool_] = self.state == COUNTED
        return found

    @property
    def usable(self) -> NDArray[np.bool_]:
        """Cans that tell something about the floor, in a bed or not, array (n,) of bool."""
        outside: NDArray[np.bool_] = self.state == OUTSIDE
        return self.counted | outside

    def name(self, number: int) -> str:
        """What to call a can.

        Parameters
        ----------
        number : int
            From 0, in the record's order.

        Returns
        -------
        str
            ``row 2, can 3`` or ``can 7``.
        """
        if self.row[number] == 0:
            return f"can {self.column[number]}"
        return f"row {self.row[number]}, can {self.column[number]}"


def depth_from_volume(volume: Array, area: float) -> Array:
    """Depth of water from a volume, d = 10 V / A.

    Parameters
    ----------
    volume : array (...) [mL]
        Volume caught.
    area : float [cm2]
        Area of the can's opening.

    Returns
    -------
    array (...) [mm]
    """
    return 10.0 * np.asarray(volume, float) / area


def rate_from_depth(depth: Array, minutes: float) -> Array:
    """Application rate from a depth and the run's duration.

    Parameters
    ----------
    depth : array (...) [mm]
        Depth caught.
    minutes : float [min]
        Duration.

    Returns
    -------
    array (...) [mm/h]
    """
    return 60.0 * np.asarray(depth, float) / minutes


def evaporation_loss(start: float, end: Array, time: float, exposed: float) -> float:
    """What a can lost while it stood: the control cans' rate times the catch's exposure.

    Parameters
    ----------
    start : float [mm]
        What each control can held at the start.
    end : array (k,) [mm]
        What the control cans held at the end.
    time : float [min]
        Between the two.
    exposed : float [min]
        How long water stood in the catch cans.

    Returns
    -------
    float [mm]
    """
    return float((start - np.mean(end)) / time * exposed)


def add_loss(depth: Array, loss: float) -> Array:
    """Add the loss to every can that held water when read; a dry can stays dry.

    Parameters
    ----------
    depth : array (..., n) [mm]
        As read; nan without a reading.
    loss : float [mm]
        From `evaporation_loss`.

    Returns
    -------
    array (..., n) [mm]
        A can that reads 0 may have caught up to the loss; nobody can tell, so it stays 0.
    """
    depth = np.asarray(depth, float)
    return np.where(depth > 0, depth + loss, depth)


def to_depth(readings: Array, cans: SiteCans) -> Array:
    """Turn readings into depths by what is known of the cans.

    Parameters
    ----------
    readings : array (n,) [unit of the readings]
        As read, or differences of readings; no tare is taken off.
    cans : SiteCans
        What was read, in which unit, and the cans' opening.

    Returns
    -------
    array (n,) [mm]
    """
    readings = np.asarray(readings, float)
    if cans.opening is None:
        return readings * TABLE["length"][cans.unit][0] * 1e3
    if cans.reads == "weight":
        volume = readings / _WATER_G_PER_ML
    else:
        volume = readings * TABLE["volume"][cans.unit][0] * 1e6
    return depth_from_volume(volume, cans.opening)


def read_catch(site: Site) -> Catch:
    """Read the cans of a test.

    Parameters
    ----------
    site : Site
        Its record is checked, so at least four cans are usable.

    Returns
    -------
    Catch
    """
    cans = site.cans
    readings = cans.readings if cans.tare is None else np.maximum(cans.readings - cans.tare, 0.0)
    read_mm = to_depth(readings, cans)
    loss = _loss(site)
    state = np.full(len(cans.x), COUNTED, dtype=object)
    state[~site.ground.holds(cans.x, cans.y)] = OUTSIDE
    state[np.isnan(readings)] = MISSING
    state[list(cans.set_aside)] = SET_ASIDE
    return Catch(
        x=cans.x, y=cans.y, row=cans.row, column=cans.column, read_mm=read_mm,
        depth_mm=add_loss(read_mm, loss) if loss is not None else read_mm,
        state=state, why=tuple(cans.set_aside.get(number, "") for number in range(len(cans.x))),
        weight=_weights(site, state == COUNTED), evaporation_mm=loss or 0.0, corrected=loss is not None,
    )


def _loss(site: Site) -> float | None:
    """What every can lost that held water, [mm]; None without control cans."""
    control = site.cans.control
    if control is None:
        return None
    start, *end = to_depth(np.array([control.start, *control.end]), site.cans)
    exposed = site.duration if site.cans.exposed is None else site.cans.exposed
    return evaporation_loss(start, np.array(end), control.time.to("min"), exposed / 60)


def _weights(site: Site, counted: NDArray[np.bool_]) -> Array:
    """Weight of each can in the figures, (n,) [1]; 0 for cans that do not count."""
    cans, weight = site.cans, counted.astype(float)
    if cans.weight is not None:
        return weight * cans.weight
    if cans.by_area:
        weight[counted] = nearest_areas(cans.x[counted], cans.y[counted], site.ground.edges)
    return weight


def nearest_areas(x: Array, y: Array, ground: tuple[Edges, ...]) -> Array:
    """Area of the ground that is nearest to each can.

    Cells of the nearest can (Voronoi cells) are made finite by four far points and cut at the edges of the ground.

    Parameters
    ----------
    x, y : array (n,) [m]
        Places of the cans; cans at the same place share their cell.
    ground : tuple of (left, right, start, end) [m]
        Rectangles that do not overlap.

    Returns
    -------
    array (n,) [m2]
    """
    from scipy.spatial import Voronoi

    unique, back, counts = np.unique(np.column_stack([x, y]), axis=0, return_inverse=True, return_counts=True)
    edges = np.array(ground)
    far = 20 * max(np.ptp(edges[:, :2]), np.ptp(edges[:, 2:]), np.ptp(unique), 1.0)
    middle = unique.mean(axis=0)
    frame = middle + far * np.array([[-1, -1.1], [1.2, -1], [1, 1.3], [-1.4, 1]])
    cells = Voronoi(np.vstack([unique, frame]))
    area = np.zeros(len(unique))
    for number in range(len(unique)):
        corners = cells.vertices[cells.regions[cells.point_region[number]]]
        area[number] = sum(_cut_area(corners, *edge) for edge in ground)
    return area[back.ravel()] / counts[back.ravel()]


def _cut_area(corners: Array, left: float, right: float, start: float, end: float) -> float:
    """Area of a convex cell inside a rectangle, by cutting it at the four edges in turn.

    Plain numbers: a cell has about six corners, for which arrays are ten times slower.
    """
    order = np.argsort(np.arctan2(*(corners - corners.mean(axis=0)).T[::-1]))
    polygon = corners[order].tolist()
    for axis, edge, sign in ((0, left, 1), (0, right, -1), (1, start, 1), (1, end, -1)):
        kept, here = [], polygon[-1]
        a = sign * (here[axis] - edge)
        for there in polygon:
            b = sign * (there[axis] - edge)
            if a * b < 0:
                part = a / (a - b)
                kept.append([here[0] + part * (there[0] - here[0]), here[1] + part * (there[1] - here[1])])
            if b >= 0:
                kept.append(there)
            here, a = there, b
        if len(kept) < 3:
            return 0.0
        polygon = kept
    twice, (x, y) = 0.0, polygon[-1]
    for across, along in polygon:
        twice += x * along - across * y
        x, y = across, along
    return abs(twice) / 2
