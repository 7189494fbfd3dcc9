"""Readings -> depths [mm] at places: openings, tare, evaporation, set-aside cans, beds, weights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..record.model import Record
from ..record.places import all_readings, bed_edges, can_places, in_beds, row_lengths, set_aside_numbers
from ..units.quantity import TABLE, to_si

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

    x: np.ndarray
    y: np.ndarray
    row: np.ndarray
    column: np.ndarray
    read_mm: np.ndarray
    depth_mm: np.ndarray
    state: np.ndarray
    why: tuple[str, ...]
    weight: np.ndarray
    evaporation_mm: float
    corrected: bool

    @property
    def counted(self) -> np.ndarray:
        """Cans of the at-the-cans figures, array (n,) of bool."""
        return self.state == COUNTED

    @property
    def usable(self) -> np.ndarray:
        """Cans that tell something about the floor, in a bed or not, array (n,) of bool."""
        return (self.state == COUNTED) | (self.state == OUTSIDE)

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


def depth_from_volume(volume: np.ndarray, area: float) -> np.ndarray:
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


def rate_from_depth(depth: np.ndarray, minutes: float) -> np.ndarray:
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


def run_minutes(record: Record) -> float:
    """How long water ran over the floor.

    Parameters
    ----------
    record : Record
        `run.duration` is how long each line ran, unless the line says otherwise (`ran`).

    Returns
    -------
    float [min]
        The longest line where they ran together; the sum where they ran in turn.
    """
    duration = record.run.duration.to("min")
    times = [line.ran.to("min") if line.ran else duration for line in record.lines or []] or [duration]
    return sum(times) if record.run.lines == "in turn" else max(times)


def evaporation_loss(start: float, end: np.ndarray, time: float, exposed: float) -> float:
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


def add_loss(depth: np.ndarray, loss: float) -> np.ndarray:
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


def to_depth(readings: np.ndarray, record: Record) -> np.ndarray:
    """Turn readings into depths by what the record says of its cans.

    Parameters
    ----------
    readings : array (n,) [unit of the readings]
        As read, or differences of readings; no tare is taken off.
    record : Record
        For `cans.reads`, `unit`, `opening` and `opening_area`.

    Returns
    -------
    array (n,) [mm]
    """
    cans = record.cans
    readings = np.asarray(readings, float)
    if cans.reads == "depth":
        return to_si(readings, cans.unit, "length") * 1e3
    if cans.reads == "weight":
        volume = readings / _WATER_G_PER_ML
    else:
        volume = readings * TABLE["volume"][cans.unit][0] * 1e6
    area = cans.opening_area.to("cm2") if cans.opening_area else np.pi / 4 * cans.opening.to("cm") ** 2
    return depth_from_volume(volume, area)


def read_catch(record: Record) -> Catch:
    """Read the cans of a record.

    Parameters
    ----------
    record : Record
        Checked, so at least four cans are usable.

    Returns
    -------
    Catch
    """
    cans = record.cans
    readings = np.array(all_readings(cans), float)
    if cans.reads == "weight":
        readings = np.maximum(readings - cans.tare.to("g"), 0.0)
    places = can_places(cans)
    x, y = np.array([place[1] for place in places]), np.array([place[2] for place in places])
    lengths = row_lengths(cans)
    if cans.points is not None:
        row, column = np.zeros(len(x), int), np.arange(1, len(x) + 1)
    else:
        row = np.repeat(np.arange(1, len(lengths) + 1), lengths)
        column = np.concatenate([np.arange(1, count + 1) for count in lengths])
    read_mm = to_depth(readings, record)
    loss = _loss(record)
    why = set_aside_numbers(cans)
    state = np.full(len(x), COUNTED, dtype=object)
    state[[not in_beds(record.floor, *place) for place in zip(x, y, strict=True)]] = OUTSIDE
    state[np.isnan(readings)] = MISSING
    state[list(why)] = SET_ASIDE
    return Catch(
        x=x, y=y, row=row, column=column, read_mm=read_mm,
        depth_mm=add_loss(read_mm, loss) if loss is not None else read_mm,
        state=state, why=tuple(why.get(number, "") for number in range(len(x))),
        weight=_weights(record, x, y, state == COUNTED),
        evaporation_mm=loss or 0.0, corrected=loss is not None,
    )


def _loss(record: Record) -> float | None:
    control = record.cans.evaporation
    if control is None:
        return None
    start, *end = to_depth(np.array([control.start, *control.end]), record)
    exposed = record.cans.exposed or record.run.duration
    return evaporation_loss(start, np.array(end), control.time.to("min"), exposed.to("min"))


def _weights(record: Record, x: np.ndarray, y: np.ndarray, counted: np.ndarray) -> np.ndarray:
    given = record.cans.weights
    weight = counted.astype(float)
    if isinstance(given, list):
        flat = np.concatenate([np.atleast_1d(np.asarray(row, float)) for row in given])
        return weight * flat
    if given == "nearest area":
        weight[counted] = nearest_areas(x[counted], y[counted], bed_edges(record.floor))
    return weight


def nearest_areas(x: np.ndarray, y: np.ndarray, ground: list[tuple[float, float, float, float]]) -> np.ndarray:
    """Area of the ground that is nearest to each can.

    Cells of the nearest can (Voronoi cells) are made finite by four far points and cut at the edges of the ground.

    Parameters
    ----------
    x, y : array (n,) [m]
        Places of the cans; cans at the same place share their cell.
    ground : list of (left, right, start, end) [m]
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


def _cut_area(corners: np.ndarray, left: float, right: float, start: float, end: float) -> float:
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
