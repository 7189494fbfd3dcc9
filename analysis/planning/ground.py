"""Where heads stand and which ground counts, for a plan: from the record, else from what is usual."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..pattern.overlap import floor_grid
from ..record.doubts import doubts
from ..record.model import Line, Record
from ..record.places import bed_edges, head_places, of_line
from ..units.quantity import parse
from ..units.shown import show

USUAL_DIAMETER_M = 4.8   # of a micro-sprinkler; from memory
USUAL_SPACING_M = 0.9    # from head to head; common practice, no source
CELLS = 900              # of the ground on which figures are worked out
_HEADS, _SIZES = ("heads", "lines"), ("wetted_diameter", "flow")
_M3_S = 3.6e6            # L/h in a m3/s


@dataclass(frozen=True)
class Heads:
    """One kind of head, as far as a plan needs it.

    Attributes
    ----------
    diameter : float [m]
        That one head wets.
    flow : float or None [L/h]
        Nominal, of one head; None where the record does not say.
    spacing : float [m]
        From head to head along a line.
    along : array (k,) [m]
        y of the heads of a line.
    assumed : tuple of str
        What was taken because the record does not say, one sentence each.
    needs : tuple of str
        Keys of the record that would replace it.
    """

    diameter: float
    flow: float | None
    spacing: float
    along: np.ndarray
    assumed: tuple[str, ...]
    needs: tuple[str, ...]


def described(record: Record) -> list[Line]:
    """Lines of a record whose heads have their places.

    Parameters
    ----------
    record : Record
        Checked, its test still to come or not.

    Returns
    -------
    list of Line
        From the left.
    """
    return sorted((line for line in record.lines or [] if head_places(line)), key=lambda line: line.x.si)


def heads_of(record: Record, units: str = "metric") -> Heads:
    """The heads that a plan reckons with.

    Parameters
    ----------
    record : Record
        Checked, its test still to come or not.
    units : str
        ``metric`` or ``US``, for the sentences.

    Returns
    -------
    Heads
        Sizes of the record; what it does not say is taken as usual, and said.
    """
    hard = {doubt.path[-1]: doubt.says for doubt in doubts(record) if doubt.closes and doubt.path[0] in _HEADS}
    assumed, needs = [hard[key] for key in _SIZES if key in hard], []
    diameter, flow = (None if key in hard else _of_heads(record, key) for key in _SIZES)
    if diameter is not None and any(diameter != size.si for size in _sizes(record, "wetted_diameter")):
        assumed.append("The lines have heads that wet unlike diameters; their mean is taken.")
    if diameter is None:
        diameter = USUAL_DIAMETER_M
        assumed.append(f"One head is taken to wet {show(diameter, 'height', units)} across (from memory); give the "
                       "diameter of yours.")
        needs.append("heads.wetted_diameter")
    if flow is None:
        needs.append("heads.flow")
    lines = described(record)
    along = np.array(head_places(lines[0])) if lines else np.array([])
    if len(along) < 2:
        along = evenly_spaced(record.floor.length.si, USUAL_SPACING_M)
        assumed.append(f"Heads are taken {show(USUAL_SPACING_M, 'height', units)} apart along a line, the first half "
                       "as far from the end wall (common practice, no source).")
        needs.append("lines")
    spacing = float(np.median(np.diff(along))) if len(along) > 1 else USUAL_SPACING_M
    return Heads(diameter, None if flow is None else flow * _M3_S, spacing, along, tuple(assumed), tuple(needs))


def _of_heads(record: Record, key: str) -> float | None:
    """A size of the heads: the mean of the lines, where all are known, else that of [heads]."""
    sizes = _sizes(record, key)
    if sizes and len(sizes) == len(record.lines):
        return float(np.mean([size.si for size in sizes]))
    own = getattr(record.heads, key, None)
    return own.si if own else None


def _sizes(record: Record, key: str) -> list:
    return [size for line in record.lines or [] if (size := of_line(record, line, key)) is not None]


def evenly_spaced(length: float, spacing: float) -> np.ndarray:
    """Heads along a line, centred on the floor.

    Parameters
    ----------
    length : float [m]
        Of the floor.
    spacing : float [m]
        From head to head.

    Returns
    -------
    array (k,) [m]
        As many as leave about half a spacing to each end wall.
    """
    count = max(1, round(length / spacing))
    return 0.5 * length + (np.arange(count) - 0.5 * (count - 1)) * spacing


def ground_of(record: Record) -> np.ndarray:
    """Places that stand for equal parts of the ground that counts: the beds, else all of it.

    Parameters
    ----------
    record : Record
        Checked.

    Returns
    -------
    array (p, 2) [m]
    """
    width, length = record.floor.width.si, record.floor.length.si
    edges = bed_edges(record.floor)
    area = sum((right - left) * (end - start) for left, right, start, end in edges)
    step = np.sqrt(area / CELLS)
    parts = [floor_grid(right - left, end - start, min(step, right - left, end - start)) + [left, start]
             for left, right, start, end in edges]
    found = np.vstack(parts)
    return found[(found[:, 0] <= width) & (found[:, 1] <= length)]


def line_at(like: Line | None, name: str, x: float, along: np.ndarray) -> Line:
    """A line of heads at another place.

    Parameters
    ----------
    like : Line or None
        A line of the record whose tube and heads it shares.
    name : str
        Its name.
    x : float [m]
        From the left edge.
    along : array (k,) [m]
        y of its heads.

    Returns
    -------
    Line
    """
    places = [parse(f"{y:.4f} m", "length") for y in along]
    at = {"name": name, "x": parse(f"{x:.4f} m", "length"), "heads_at": places}
    if like is None:
        return Line.model_construct(**at)
    return like.model_copy(update={**at, "first": None, "spacing": None, "count": None, "ran": None})
