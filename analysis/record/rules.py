"""Faults that only several keys together show, each with what to do about it.

Every rule takes the checked sections of a record (None where a section is missing or faulty),
so that a fault in one section does not hide those of another.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

from ..units.quantity import Quantity, clip_text
from ..units.shown import place_text, system_of
from .can_rules import cans_faults, layout_faults, reading_faults
from .faults import Fault
from .head_keys import Line
from .model import MOST_HEADS, Cans, Floor
from .places import Path, bed_edges, can_places, head_places, row_lengths

Standing = tuple[Path, float, float]  # key that places a can, x and y [m]
Inside = Callable[[Path, float, Quantity, str, str], None]  # notes a place beyond a size of the floor


def _line_faults(part: SimpleNamespace) -> list[Fault]:
    faults, names, heads = [], set(), 0
    for number, line in enumerate(part.lines or []):
        path = ("lines", number)
        if ":" in line.name or "," in line.name:
            faults.append(
                Fault(
                    (*path, "name"),
                    f"received {clip_text(line.name)}",
                    "expected a name without colon or comma",
                    "rename the line",
                )
            )
        if line.name in names:
            faults.append(
                Fault(
                    (*path, "name"),
                    f"received {clip_text(line.name)} twice",
                    "expected a name of its own for every line",
                    "rename one",
                )
            )
        names.add(line.name)
        if line.heads_at is not None and (line.first or line.spacing or line.count):
            faults.append(
                Fault(
                    (*path, "heads_at"),
                    "received heads_at beside first, spacing or count",
                    "expected one way to place the heads",
                    "take one out",
                )
            )
        heads += len(head_places(line))
    if heads > MOST_HEADS:
        faults.append(
            Fault(("lines",), f"received {heads} heads", f"expected at most {MOST_HEADS}", "split the test into zones")
        )
    return faults


def _place_faults(part: SimpleNamespace) -> list[Fault]:
    floor = part.floor
    if floor is None:
        return []
    width, length = floor.width, floor.length
    faults: list[Fault] = []

    def inside(path: Path, si: float, size: Quantity, way: str, text: str) -> None:
        if si > size.si * (1 + 1e-9):
            faults.append(
                Fault(
                    path,
                    f"received {clip_text(text)}",
                    f"expected a place on the floor, {way} at most {size.text}",
                    "correct the place or the floor",
                )
            )

    for number, line in enumerate(part.lines or []):
        inside(("lines", number, "x"), line.x.si, width, "x", line.x.text)
        faults += _last_head_faults(number, line, length)
        for at, place in enumerate(line.heads_at or []):
            inside(("lines", number, "heads_at", at), place.si, length, "y", place.text)
    for at, place in enumerate(floor.hangs_at or []):
        inside(("floor", "hangs_at", at), place.si, width, "x", place.text)
    faults += _bed_faults(floor, inside)
    for number, patch in enumerate(part.patches or []):
        for key, size in (("x", width), ("y", length)):
            for at, place in enumerate(getattr(patch, key)):
                inside(("patches", number, key, at), place.si, size, key, place.text)
    if part.cans is not None and not layout_faults(part.cans):
        faults += _can_faults(part.cans, floor)
    return faults


def _last_head_faults(number: int, line: Line, length: Quantity) -> list[Fault]:
    places = head_places(line)
    if line.heads_at is not None or not places or places[-1] <= length.si * (1 + 1e-9):
        return []
    return [
        Fault(
            ("lines", number, "count"),
            f"received {line.count} heads, the last at "
            f"{place_text(places[-1], system_of(length.text) or 'metric')} from the inlet end",
            f"expected heads on a floor {length.text} long",
            "correct first, spacing or count",
        )
    ]


def _can_faults(cans: Cans, floor: Floor) -> list[Fault]:
    """Cans off the floor: one fault for a row, a column or a place that is off, with the number of its cans."""
    off: dict[tuple[str, object], list[Standing]] = {}
    at = [(row, column) for row, count in enumerate(row_lengths(cans)) for column in range(count)]
    for (row, column), (path, x, y) in zip(at, can_places(cans), strict=True):
        if not -1e-9 <= y <= floor.length.si * (1 + 1e-9):
            key, group = _row_of(cans, path, row, y)
            off.setdefault(("y", group), []).append((key, x, y))
        elif not -1e-9 <= x <= floor.width.si * (1 + 1e-9):
            off.setdefault(("x", _column_of(cans, row, column, x)), []).append((path, x, y))
    return [
        Fault(
            found[0][0],
            _received_off(way, found, floor),
            f"expected a place on the floor of {floor.width.text} by {floor.length.text}",
            "correct the place, the stagger or the floor",
        )
        for (way, _), found in off.items()
    ]


def _row_of(cans: Cans, path: Path, row: int, y: float) -> tuple[Path, object]:
    """The key that sets how far along a can stands, and what cans share that stand there."""
    if cans.points is not None:
        return path, round(y, 6)
    return (("cans", "along", row) if cans.grid is not None else ("cans", "rows", row, "y")), row


def _column_of(cans: Cans, row: int, column: int, x: float) -> object:
    """What cans share that stand as far across."""
    if cans.grid is not None:
        return column
    return (row, column) if cans.rows is not None else round(x, 6)


def _received_off(way: str, found: list[Standing], floor: Floor) -> str:
    system = system_of(floor.width.text) or "metric"
    _, x, y = found[0]
    if len(found) == 1:
        return f"received a can at x = {place_text(x, system)}, y = {place_text(y, system)}"
    if way == "x":
        across = [x for _, x, _ in found]
        worst = max(across) if max(across) > floor.width.si else min(across)
    else:
        worst = y
    return f"received {len(found)} cans at {way} = {place_text(worst, system)}"


def _bed_faults(floor: Floor, inside: Inside) -> list[Fault]:
    faults = []
    for number, bed in enumerate(floor.beds or []):
        path = ("floor", "beds", number)
        for key, place, size, way in (
            ("from", bed.from_, floor.width, "x"),
            ("to", bed.to, floor.width, "x"),
            ("start", bed.start, floor.length, "y"),
            ("end", bed.end, floor.length, "y"),
        ):
            if place is not None:
                inside((*path, key), place.si, size, way, place.text)
        start, end = bed.start.si if bed.start else 0.0, bed.end.si if bed.end else floor.length.si
        if bed.from_.si >= bed.to.si or start >= end:
            faults.append(
                Fault(
                    path,
                    "received a bed whose end is not beyond its beginning",
                    "expected from < to and start < end",
                    "correct the bed",
                )
            )
    return faults + _overlap_faults(floor)


def _overlap_faults(floor: Floor) -> list[Fault]:
    """Ground in two beds would be counted twice."""
    edges = bed_edges(floor) if floor.beds else []
    return [
        Fault(
            ("floor", "beds", number),
            f"received a bed that overlaps bed {other + 1}",
            "expected beds that share no ground, which would be counted twice",
            "correct one of the two",
        )
        for number in range(len(edges))
        for other in range(number)
        if _overlap(edges[number], edges[other])
    ]


def _overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    across = min(one[1], other[1]) - max(one[0], other[0])
    along = min(one[3], other[3]) - max(one[2], other[2])
    return across > 1e-9 and along > 1e-9


def _run_faults(part: SimpleNamespace) -> list[Fault]:
    faults = []
    if part.run is not None and part.lines and len(part.lines) > 1 and part.run.lines is None:
        faults.append(
            Fault(
                ("run", "lines"),
                f"received nothing with {len(part.lines)} lines",
                'expected "together" or "in turn"',
                "add it",
            )
        )
    test = part.test
    if test is not None and test.rechecks is not None and test.rechecks == test.id:
        faults.append(
            Fault(
                ("test", "rechecks"),
                f"received {clip_text(test.rechecks)}, this test's own id",
                "expected the id of an earlier test",
                "correct it or take it out",
            )
        )
    return faults


Rule = Callable[[SimpleNamespace], list[Fault]]
# Each takes the record's checked sections (None where missing or faulty) and lists faults.
RULES_BEFORE: tuple[Rule, ...] = (cans_faults, _line_faults, _place_faults, _run_faults)  # before there are readings
RULES: tuple[Rule, ...] = (*RULES_BEFORE, reading_faults)
