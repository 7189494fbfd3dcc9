"""Where a record's heads, cans and beds are, and what was read from the cans."""

from __future__ import annotations

from typing import Any

from .head_keys import Line
from .model import Cans, Floor, Record

Path = tuple[str | int, ...]


def head_places(line: Line) -> list[float]:
    """List the heads of a line.

    Parameters
    ----------
    line : Line
        With `heads_at`, or `first`, `spacing` and `count`.

    Returns
    -------
    list of float [m]
        y of every head, nearest the inlet end wall first; empty where the keys do not say.
    """
    if line.heads_at is not None:
        return sorted(place.si for place in line.heads_at)
    if line.first is None or line.count is None or (line.spacing is None and line.count > 1):
        return []
    step = line.spacing.si if line.spacing else 0.0
    return [line.first.si + number * step for number in range(line.count)]


def line_named(name: str | None) -> str:
    """Call a line by its name.

    Parameters
    ----------
    name : str or None
        As in the record.

    Returns
    -------
    str
        ``line left``; only ``Line 4`` where the name says already that it is one; ``line`` without a name.
    """
    name = name or ""
    return name if name.casefold().startswith("line") and not name[4:5].isalpha() else f"line {name}".rstrip()


def lines_named(*names: str) -> str:
    """Call any number of lines by their names.

    Parameters
    ----------
    *names : str
        As in the record, at least one.

    Returns
    -------
    str
        ``line left``; ``lines left, middle and right``; ``line 4, line 5 and line right``.
    """
    if len(names) == 1:
        return line_named(names[0])
    said = [line_named(name) for name in names]
    if not set(names) & set(said):
        said = [f"lines {names[0]}", *names[1:]]
    return f"{', '.join(said[:-1])} and {said[-1]}"


def lines_from_the_left(record: Record) -> list[Line]:
    """List the lines that have heads.

    Parameters
    ----------
    record : Record
        Checked.

    Returns
    -------
    list of Line
        By their place across; in the record's order where that is the same.
    """
    return sorted((line for line in record.lines or [] if head_places(line)), key=lambda line: line.x.si)


def of_line(record: Record, line: Line, key: str) -> Any:
    """A value of a line's heads: its own, else that of all heads.

    Parameters
    ----------
    record : Record
        Checked.
    line : Line
        One of its lines.
    key : str
        A key of `model.HeadKind`.

    Returns
    -------
    object
        None where neither says it.
    """
    own = getattr(line, key)
    return own if own is not None else getattr(record.heads, key, None)


def of_all_lines(record: Record, key: str) -> float | None:
    """A quantity of the heads, only where all lines have the same.

    Parameters
    ----------
    record : Record
        Checked.
    key : str
        A key of `model.HeadKind` that holds a quantity.

    Returns
    -------
    float or None [SI]
    """
    values = {value.si if value else None
              for value in (of_line(record, line, key) for line in record.lines or [])}
    return values.pop() if len(values) == 1 else None


def row_lengths(cans: Cans) -> list[int]:
    """Tell how many cans stand in each row.

    Parameters
    ----------
    cans : Cans
        With grid, rows or points.

    Returns
    -------
    list of int
        One number a row; free points are one row. Empty where no can has its place yet.
    """
    if cans.grid is not None:
        return [len(row) for row in cans.grid]
    if cans.rows is not None:
        return [len(row.catch) for row in cans.rows]
    return [] if cans.points is None else [len(cans.points)]


def all_readings(cans: Cans) -> list[float]:
    """List every reading in order.

    Parameters
    ----------
    cans : Cans
        With grid, rows or points.

    Returns
    -------
    list of float [unit of the readings]
        Row by row; nan where there is no reading.
    """
    if cans.grid is not None:
        return [reading for row in cans.grid for reading in row]
    if cans.rows is not None:
        return [reading for row in cans.rows for reading in row.catch]
    return [point.catch for point in cans.points or []]


def can_places(cans: Cans) -> list[tuple[Path, float, float]]:
    """List where every can stands.

    Parameters
    ----------
    cans : Cans
        With grid, rows or points; `stagger` moves odd rows (the first, third ...) to the left.

    Returns
    -------
    list of (path, x, y) [m]
        In the order of `all_readings`; path leads to the key that places the can.
    """
    shift = cans.stagger.si if cans.stagger else 0.0
    places: list[tuple[Path, float, float]] = []
    if cans.points is not None:
        return [(("cans", "points", number), point.x.si, point.y.si) for number, point in enumerate(cans.points)]
    if cans.rows is not None:
        for number, row in enumerate(cans.rows):
            step = shift if number % 2 else -shift
            places += [(("cans", "rows", number, "x", at), place.si + step, row.y.si) for at, place in enumerate(row.x)]
        return places
    for number, y in enumerate(cans.along or []):
        step = shift if number % 2 else -shift
        places += [(("cans", "across", at), x.si + step, y.si) for at, x in enumerate(cans.across or [])]
    return places


def set_aside_numbers(cans: Cans) -> dict[int, str]:
    """Tell which cans are set aside.

    Parameters
    ----------
    cans : Cans
        Checked.

    Returns
    -------
    dict
        Number of the can (from 0, in the order of `all_readings`) -> why.
    """
    lengths = row_lengths(cans)
    numbers: dict[int, str] = {}
    for item in cans.set_aside or []:
        row, column = item.row or 1, item.column or 1
        numbers[item.point - 1 if item.point else sum(lengths[: row - 1]) + column - 1] = item.why
    return numbers


def in_beds(floor: Floor, x: float, y: float) -> bool:
    """Tell whether a place is on the ground that the figures speak of.

    Parameters
    ----------
    floor : Floor
        With beds, or none where all of it counts.
    x, y : float [m]
        The place.

    Returns
    -------
    bool
        True in a bed (its edges included), or anywhere when there are no beds.
    """
    if not floor.beds:
        return True
    return any(
        left - 1e-9 <= x <= right + 1e-9 and start - 1e-9 <= y <= end + 1e-9
        for left, right, start, end in bed_edges(floor)
    )


def bed_edges(floor: Floor) -> list[tuple[float, float, float, float]]:
    """List the ground that the figures speak of.

    Parameters
    ----------
    floor : Floor
        With or without beds.

    Returns
    -------
    list of (left, right, start, end) [m]
        The beds, or the whole floor as one.
    """
    length = floor.length.si
    if not floor.beds:
        return [(0.0, floor.width.si, 0.0, length)]
    return [
        (bed.from_.si, bed.to.si, bed.start.si if bed.start else 0.0, bed.end.si if bed.end else length)
        for bed in floor.beds
    ]
