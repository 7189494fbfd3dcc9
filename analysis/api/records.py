"""Records for a program: read from a file or text, made of a grid or a frame, or with simulated readings."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any

from ..record.checks import build
from ..record.file import parse_record, read_record
from ..record.model import Record
from .arrays import column, is_frame, numbers, quantity

Size = float | str


def read(source: str | os.PathLike[str], *, planning: bool = False) -> Record:
    """Read a record.

    Parameters
    ----------
    source : path or str
        A TOML file, or the text of a record (a text has line breaks).
    planning : bool
        Whether the test is still to come: cans, readings and run may be missing, for `plan` and `simulate`.

    Returns
    -------
    Record

    Raises
    ------
    ValueError
        One line a fault: where, what was received, what is expected, what to do.
    """
    if isinstance(source, str) and ("\n" in source or not source.strip()):
        return parse_record(source, planning=planning)
    return read_record(source, planning=planning)


def from_grid(depths: Any, *, across: Sequence[Size], along: Sequence[Size], width: Size, length: Size,
              minutes: Size, title: str = "A grid of cans", allow_nan: bool = False, **tables: Any) -> Record:
    """Make a record of a grid of cans.

    Places are measured from one corner: stand at the inlet end wall and look along the zone; x runs across from the
    left edge, y runs along from that wall. A size may also be a text with its unit (``"25 ft"``).

    Parameters
    ----------
    depths : array (rows, columns) or frame [mm]
        What the cans caught; rows lie one behind the other along the zone.
    across : sequence (columns,) of float [m]
        x of each column.
    along : sequence (rows,) of float [m]
        y of each row.
    width, length : float [m]
        The floor.
    minutes : float [min]
        How long water ran.
    title : str
        Of the test.
    allow_nan : bool
        Whether nan stands for a can without a reading; else it is refused.
    **tables
        Further tables of the record, as TOML would give them, such as ``heads={"flow": "40 L/h"}`` and
        ``lines=[{...}]``; keys for `test`, `floor`, `cans` and `run` are added to those made here.

    Returns
    -------
    Record

    Raises
    ------
    ValueError
        For depths that do not fit the places, nan that was not asked for, and whatever stops a record.
    """
    grid = numbers(depths.to_numpy() if is_frame(depths) else depths, "depths", allow_nan=allow_nan)
    rows, columns = len(along), len(across)
    if grid.shape != (rows, columns):
        raise ValueError(f"received depths of shape {grid.shape} for {rows} places along and {columns} across, "
                         f"expected shape ({rows}, {columns}), give a row for each place along (a header that was "
                         "read as a row, or a row that was read as a header, is a usual reason)")
    cans = {"reads": "depth", "unit": "mm", "across": [quantity(x, "m") for x in across],
            "along": [quantity(y, "m") for y in along], "grid": grid.tolist()}
    return _record(cans, width, length, minutes, title, tables)


def from_frame(frame: Any, *, width: Size, length: Size, minutes: Size, x: Any = "x", y: Any = "y",
               catch: Any = "catch", unit: str = "mm", opening: str | None = None, title: str = "Cans of a frame",
               allow_nan: bool = False, **tables: Any) -> Record:
    """Make a record of a frame with one can a row.

    Parameters
    ----------
    frame : pandas.DataFrame or mapping of columns
        One row a can.
    width, length : float [m]
        The floor.
    minutes : float [min]
        How long water ran.
    x, y, catch : object
        Names of the columns with places across and along [m] and with readings [unit].
    unit : str
        Of the readings: mm, cm, in; with `opening` mL, L, fl oz; with ``cans={"tare": "12 g"}`` too g.
    opening : str, optional
        Inside diameter of a can, such as ``"84 mm"``, or its area, such as ``"55 cm2"``.
    title : str
        Of the test.
    allow_nan : bool
        Whether nan stands for a can without a reading; else it is refused.
    **tables
        See `from_grid`.

    Returns
    -------
    Record

    Raises
    ------
    ValueError
        For columns that are missing or hold no numbers, and whatever stops a record.
    """
    readings = column(frame, catch, "readings", allow_nan=allow_nan)
    places = [column(frame, name, "places", allow_nan=False) for name in (x, y)]
    reads = "depth" if unit in ("mm", "cm", "in") else "weight" if unit == "g" else "volume"
    cans: dict[str, Any] = {"reads": reads, "unit": unit, "points": [
        {"x": quantity(across, "m"), "y": quantity(along, "m"), "catch": reading}
        for across, along, reading in zip(*(place.tolist() for place in places), readings.tolist(), strict=True)]}
    if opening is not None:
        cans["opening_area" if opening.rstrip().endswith("2") else "opening"] = opening
    return _record(cans, width, length, minutes, title, tables)


def _record(cans: dict[str, Any], width: Size, length: Size, minutes: Size, title: str,
            tables: dict[str, Any]) -> Record:
    plain: dict[str, Any] = {
        "record": 1, "test": {"title": title}, "cans": cans,
        "floor": {"width": quantity(width, "m"), "length": quantity(length, "m")},
        "run": {"duration": quantity(minutes, "min")}}
    for name, table in tables.items():
        plain[name] = {**plain[name], **table} if isinstance(plain.get(name), dict) else table
    return build(plain)
