"""Where cans could stand: a plain grid, staggered rows, or one dense row across with sparse staggered rows."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..entry.cans import cans_in
from ..record.ground import Array, Ground

GRID, STAGGERED, DENSE = "grid", "staggered rows", "one dense row across"
LAYOUTS = (GRID, STAGGERED, DENSE)
LEAST_CANS, MOST_CANS = 8, 400
STRETCH = 0.5            # rows may reach half a row's share beyond an even spread, or fall short of it
DENSER_ACROSS = 1.6      # rows lie so much farther apart than the cans of a row: along the lines little changes
# Parts of a column's share: rows moved to either side, and both to one side. The first if all do alike; a layout
# that is the same to the left and to the right of a line stands at few distances from it.
STAGGERS = tuple((apart, aside) for aside in (0.0, 0.06, 0.12) for apart in (0.25, 0.2, 0.15, 0.3))
TELLING = 5.0            # how a gap among the distances from the lines weighs against the shape of the rows
FEW_KEPT, TRIES = 0.85, 3  # part of the cans that must stand on the ground that counts, and how often it is tried
SAME_PHASE = 0.8         # resultant from which rows count as all standing alike to the heads
DENSE_APART = 0.4        # [m] least distance of the dense row from another
EDGE, END = 1 / 6, 1 / 7  # part of width and length that may lie between an edge or an end and the nearest can
_MARK = {"metric": 0.05, "US": 0.0762}  # [m] marks of the tape: 5 cm, 3 in


@dataclass(frozen=True)
class CanLayout:
    """Cans as they would stand.

    Attributes
    ----------
    name : str
        One of `LAYOUTS`, or that of the record.
    cans : dict
        The keys of ``[cans]`` that place them, as a record has them, without readings.
    places : array (n, 2) [m]
        In walking order.
    rows : int [1]
        How many rows there are.
    gap : float or None [m]
        Widest range of distances from the nearest line at which no can stands; None without lines.
    shares_period : bool
        Whether all rows stand alike to the heads of the lines.
    covers : bool
        Whether cans stand near both edges and both ends.
    """

    name: str
    cans: dict
    places: Array
    rows: int
    gap: float | None
    shares_period: bool
    covers: bool


@dataclass(frozen=True)
class Stop:
    """A can on the way through the tunnel.

    Attributes
    ----------
    number : int
        From 1, in walking order.
    key : str
        Of its reading, ``r2c3`` or ``p7``.
    row, column : int
        Counted from 1; row 0 for cans at places of their own.
    x, y : float or None [m]
        Across from the left edge, along from the inlet end wall.
    """

    number: int
    key: str
    row: int
    column: int
    x: float | None
    y: float | None


def walk(cans: dict) -> list[Stop]:
    """Number cans in walking order: up one row, back the next.

    The order is that of the entry of readings (`draft_cans.cans_in`), so that the sheet, the plan and the screen agree.

    Parameters
    ----------
    cans : dict
        ``[cans]``, plain; readings are not needed.

    Returns
    -------
    list of Stop
    """
    return [Stop(number, can.key, can.row, can.column, can.x, can.y)
            for number, can in enumerate(cans_in({"cans": cans}), 1)]


def layout_of(name: str, ground: Ground, count: int, lines: list[tuple[float, Array]], system: str) -> CanLayout:
    """Set cans out on a floor.

    Parameters
    ----------
    name : str
        One of `LAYOUTS`.
    ground : Ground
        The floor; cans stand on the ground that counts.
    count : int [1]
        At most so many cans, `LEAST_CANS` to `MOST_CANS`.
    lines : list of (x, places) [m]
        Lines of heads.
    system : str
        ``metric`` or ``US``: places fall on marks of the tape.

    Returns
    -------
    CanLayout

    Raises
    ------
    ValueError
        For another name or number of cans.
    """
    if name not in LAYOUTS:
        raise ValueError(f"received the layout {name!r}, expected one of {', '.join(LAYOUTS)}, choose one")
    if not LEAST_CANS <= count <= MOST_CANS:
        raise ValueError(f"received {count} cans, expected {LEAST_CANS} to {MOST_CANS}, choose another number")
    rows, asked = _set_out(name, ground, count, lines, system), count
    for _ in range(TRIES):  # beds that do not make a rectangle leave cans of it beside them
        kept = sum(len(xs) for _, xs in _on_ground(rows, ground))
        if kept >= FEW_KEPT * count:
            break
        asked = min(round(asked * count / max(kept, 1)), 4 * count)
        more = _set_out(name, ground, asked, lines, system)
        if kept < sum(len(xs) for _, xs in _on_ground(more, ground)) <= count:
            rows = more
    return described_layout(name, _cans_of(_on_ground(rows, ground), system), ground, lines)


def described_layout(name: str, cans: dict, ground: Ground, lines: list[tuple[float, Array]]) -> CanLayout:
    """Describe cans that stand somewhere.

    Parameters
    ----------
    name : str
        Of the layout.
    cans : dict
        ``[cans]``, plain.
    ground : Ground
        Their floor.
    lines : list of (x, places) [m]
        Lines of heads.

    Returns
    -------
    CanLayout
    """
    stops = [can for can in cans_in({"cans": cans}) if can.x is not None and can.y is not None]
    places = np.array([(can.x, can.y) for can in stops], float).reshape(-1, 2)
    rows = np.unique(places[:, 1]) if len(places) else np.array([])
    return CanLayout(name, cans, places, len(rows), _gap(places, ground, lines), _all_alike(rows, lines),
                     _covers(places, ground))


def _set_out(name: str, ground: Ground, count: int, lines, system: str):
    across, along = _spans(ground, 0), _spans(ground, 1)
    if name == DENSE:
        return _dense_rows(across, along, count, lines, system)
    return _rows(across, along, count, lines, system, staggered=name == STAGGERED)


def _spans(ground: Ground, way: int) -> list[tuple[float, float]]:
    """The ground that counts on one axis [m], overlaps joined."""
    found: list[tuple[float, float]] = []
    for low, high in sorted({edges[2 * way:2 * way + 2] for edges in ground.edges}):
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(high, found[-1][1]))
        else:
            found.append((low, high))
    return found


def _size(spans) -> float:
    return sum(high - low for low, high in spans)


def _at(spans, place: float) -> float:
    """A place on the ground that counts, measured along that ground alone [m]."""
    for low, high in spans:
        if place <= high - low or (low, high) == spans[-1]:
            return low + min(max(place, 0.0), high - low)
        place -= high - low
    return place


def _choices(count: int, width: float, length: float) -> list[tuple[float, int, int]]:
    """Columns and rows of at most so many cans, with what speaks against them [1]: cans unused, rows too close."""
    found = []
    for columns in range(2, min(count // 2, 20) + 1):
        rows = count // columns
        shape = abs(math.log((length / rows) / (width / columns) / DENSER_ACROSS))
        found.append((shape + 4.0 * (count - columns * rows) / count, columns, rows))
    return found


def _rows(across, along, count, lines, system, *, staggered):
    """Rows of cans: y, and x of each [m]."""
    width = _size(across)
    tried = []
    for against, columns, number in _choices(count, width, _size(along)):
        for place, (apart, aside) in enumerate(STAGGERS if staggered else ((0.0, 0.0),)):
            left, right = (_row(across, columns, (sign * apart + aside) * width / columns, system) for sign in (-1, 1))
            gap = _widest_gap([*left, *right], across, lines) if staggered else 0.0
            tried.append((round(against + TELLING * gap, 6), columns, place, number, left, right))
    *_, number, left, right = min(tried, key=lambda one: one[:3])
    return [(y, right if row % 2 else left) for row, y in enumerate(_along(along, number, lines, system))]


def _row(across, columns: int, shift: float, system: str) -> list[float]:
    """A row of cans in the middles of equal shares, moved along [m]."""
    share = _size(across) / columns
    if len(across) > 1:
        return [_on_mark(across, _at(across, (column + 0.5) * share + shift), system) for column in range(columns)]
    step = math.copysign(_tape(abs(shift), system, down=True), shift)
    return [_on_mark(across, across[0][0] + _tape((column + 0.5) * share, system) + step, system)
            for column in range(columns)]


def _gap(places: Array, ground: Ground, lines) -> float | None:
    return _gap_and_farthest(places[:, 0], _spans(ground, 0), lines)[0] if lines and len(places) else None


def _widest_gap(xs, across, lines) -> float:
    """The gap as a part of the largest distance from a line on the ground [1]."""
    if not lines:
        return 0.0
    gap, farthest = _gap_and_farthest(np.array(xs), across, lines)
    return gap / farthest if farthest > 0 else 0.0


def _gap_and_farthest(xs: Array, across, lines) -> tuple[float, float]:
    """Widest range of distances from the nearest line without a can, and the largest distance on the ground [m]."""
    at = np.array([x for x, _ in lines])
    ground = np.concatenate([np.linspace(low, high, 41) for low, high in across])
    farthest = float(np.abs(ground[:, None] - at).min(axis=1).max())
    known = np.sort(np.abs(xs[:, None] - at).min(axis=1))
    return float(np.diff(np.concatenate([[0.0], known, [farthest]])).max()), farthest


def _along(spans, number, lines, system) -> list[float]:
    """y of rows [m]: near both ends, and not all alike to the heads."""
    length = _size(spans)
    if len(spans) > 1 or number < 2:
        return [_on_mark(spans, _at(spans, (row + 0.5) * length / number), system) for row in range(number)]
    even, mark = length / number, _MARK[system]
    least, most = length / (number + STRETCH), length / (number - STRETCH)
    tried = sorted({even, *(step * mark for step in range(math.ceil(least / mark), math.floor(most / mark) + 1))})

    def rows(apart: float) -> list[float]:
        first = 0.5 * (length - (number - 1) * apart)
        return [_on_mark(spans, spans[0][0] + first + row * apart, system) for row in range(number)]

    return rows(min(tried, key=lambda apart: (_alike(np.array(rows(apart)), lines) + abs(apart - even) / even, apart)))


def _dense_rows(across, along, count, lines, system):
    """Half the cans in one row across near the middle, the others on sparse staggered rows [m]."""
    sparse = _rows(across, along, count - count // 2, lines, system, staggered=True)
    dense = count - sum(len(xs) for _, xs in sparse)
    share = _size(across) / dense
    tried = [sorted({_on_mark(across, _at(across, (can + 0.5 + part) * share), system, fine=True)
                     for can in range(dense)}) for part in (0.0, -0.25, 0.25)]  # a row off the middle repeats less
    xs = min(tried, key=lambda row: (round(_widest_gap(row, across, lines), 3), -len(row)))
    taken = np.array([y for y, _ in sparse])
    middle = 0.5 * _size(along)
    marks = np.arange(-0.3 * middle, 0.3 * middle + 1e-9, _MARK[system])
    wanted = sorted((abs(step), _on_mark(along, _at(along, middle + step), system)) for step in marks)
    y = next((y for _, y in wanted if np.abs(taken - y).min() >= DENSE_APART), wanted[0][1])
    return sorted([*sparse, (y, xs)])


def _on_ground(rows, ground: Ground):
    """Rows without cans that stand beside the beds."""
    kept = [(y, [x for x in xs if ground.holds(x, y)]) for y, xs in rows]
    return [(y, xs) for y, xs in kept if xs]


def _tape(metres: float, system: str, *, down: bool = False) -> float:
    """The nearest mark of the tape, or the one below [m]."""
    mark = _MARK[system]
    return (math.floor(metres / mark + 1e-6) if down else round(metres / mark)) * mark


def _on_mark(spans, place: float, system: str, *, fine: bool = False) -> float:
    """A mark near a place that lies on the same ground [m]; the place itself where there is none."""
    mark = _MARK[system] / (3 if system == "US" else 5) if fine else _MARK[system]
    low, high = min(spans, key=lambda span: max(span[0] - place, place - span[1]))
    for number in sorted((math.floor(place / mark), math.ceil(place / mark)), key=lambda n: abs(n * mark - place)):
        if low - 1e-9 <= number * mark <= high + 1e-9:
            return number * mark
    return min(max(place, low), high)


def on_marks(place: float, system: str) -> float:
    """Take the nearest mark of the tape.

    Parameters
    ----------
    place : float [m]
        From a wall.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    float [m]
    """
    return _tape(place, system)


def _alike(rows: Array, lines) -> float:
    """How alike rows stand to the heads [1]: 1 where each stands at the same part of the way between two heads."""
    found = [0.0]
    for _, places in lines:
        if len(places) > 1 and len(rows) > 1:
            phase = 2j * np.pi * rows / float(np.median(np.diff(places)))
            found.append(max(abs(np.exp(phase).mean()), 0.7 * abs(np.exp(2 * phase).mean())))
    return float(max(found))


def _all_alike(rows: Array, lines) -> bool:
    spacings = [float(np.median(np.diff(places))) for _, places in lines if len(places) > 1]
    return len(rows) > 1 and any(abs(np.exp(2j * np.pi * rows / spacing).mean()) > SAME_PHASE for spacing in spacings)


def _covers(places: Array, ground: Ground) -> bool:
    if not len(places):
        return False
    edges = np.array(ground.edges)
    for way, part in ((0, EDGE), (1, END)):
        low, high = edges[:, 2 * way].min(), edges[:, 2 * way + 1].max()
        if max(places[:, way].min() - low, high - places[:, way].max()) > part * (high - low) + 1e-9:
            return False
    return True


def _cans_of(rows, system: str) -> dict:
    """Rows as the keys of ``[cans]`` that place them."""
    shared = rows[0][1]
    if all(xs == shared for _, xs in rows):
        return {"across": [tape_text(x, system) for x in shared], "along": [tape_text(y, system) for y, _ in rows]}
    left, right = rows[0][1], rows[1][1] if len(rows) > 1 else []
    if len(left) == len(right) and all(xs == (right if row % 2 else left) for row, (_, xs) in enumerate(rows)):
        steps = {round(0.5 * (two - one), 6) for one, two in zip(left, right, strict=True)}
        on_marks = all(abs((0.5 * (one + two)) % _MARK[system]) < 1e-6 or abs((0.5 * (one + two)) % _MARK[system]
                       - _MARK[system]) < 1e-6 for one, two in zip(left, right, strict=True))
        if len(steps) == 1 and min(steps) > 0 and on_marks:
            step = steps.pop()
            return {"across": [tape_text(x + step, system) for x in left],
                    "along": [tape_text(y, system) for y, _ in rows], "stagger": tape_text(step, system)}
    return {"rows": [{"y": tape_text(y, system), "x": [tape_text(x, system) for x in xs]} for y, xs in rows]}


def tape_text(metres: float, system: str) -> str:
    """Write a length as it is read off a tape.

    Parameters
    ----------
    metres : float [m]
        Length.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        ``1.85 m``, or ``4 ft 3 in``; the record reads it back.
    """
    if system != "US":
        return f"{round(metres, 3):.3f}".rstrip("0").rstrip(".") + " m"
    inches = round(metres / 0.0254, 1)
    feet, rest = divmod(inches, 12)
    if not feet:
        return f"{rest:g} in"
    return f"{feet:g} ft {rest:g} in" if rest else f"{feet:g} ft"

