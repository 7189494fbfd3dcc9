"""What is kept of a test beside its record, so that thousands can be compared: figures, conditions, a small map."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

import numpy as np

from ..cans.catch import Catch, read_catch
from ..cans.uniformity import Indices, indices
from ..cans.water_balance import all_doubts
from ..causes.cause import Cause
from ..pattern.floor import Figure
from ..pattern.overlap import average
from ..pattern.threads import one_thread
from ..record.conditions import Conditions, conditions_of
from ..record.doubts import Doubt
from ..record.ground import Cells
from ..record.head_keys import Line
from ..record.model import Record
from ..record.places import head_places, lines_from_the_left, of_line
from ..record.site import Site, site_of
from ..units.shown import SYSTEMS

METHOD = 4  # raise it whenever a change of the program changes a figure below: kept summaries are then made anew
MAP_CELLS = 240  # of the small map, about
NAMED_FROM = 0.5  # strength from which the likeliest cause is kept
_NONE = 255  # a cell of the small map that does not count


@dataclass(frozen=True)
class FloorSummary:
    """The estimate for all the ground."""

    how: str  # ``heads`` or ``cans only``
    cu: Figure  # [%] with 90 % intervals
    du_low_quarter: Figure  # [%]
    mean_mm: Figure  # [mm] mean depth
    suspects: int  # [1] heads that stand out
    # the likeliest cause with its place, where its strength is `NAMED_FROM` or more, in ``metric`` and ``US`` units;
    # else empty
    cause: dict[str, str]
    shape: tuple[int, int]  # rows and columns of the small map
    map: str  # depth in percent of the mean, row by row from the inlet end, one byte a cell, base64; 255 does not count


@dataclass(frozen=True)
class Habits:
    """What may go with unevenness."""

    last_head_kpa: float | None = None  # [kPa] lowest gauge reading beside the last head of a line
    last_head_part: float | None = None  # [1] the same / the heads' nominal pressure
    outlet_part: float | None = None  # [1] pressure at the regulator's outlet / the heads' nominal pressure
    head_spacing: float | None = None  # [1] between heads and between lines / wetted diameter
    line_spacing: float | None = None  # [1]
    heads_days: float | None = None  # [d] from hanging the heads to the test
    filter_days: float | None = None  # [d] from cleaning the filter
    flushed_days: float | None = None  # [d] from flushing the lines


@dataclass(frozen=True)
class Summary:
    """One test in short."""

    id: str | None
    title: str
    date: str | None  # ISO 8601
    site: str | None
    zone: str | None
    tunnel: str | None
    member: str | None
    purpose: str | None
    rechecks: str | None
    cans: int  # [1] cans that count
    can_places: str  # equal for tests whose cans stood at the same places of like floors
    cu: float  # [%] at the cans
    du_low_quarter: float  # [%]
    conditions: Conditions  # how it was run
    habits: Habits  # gauges, spacings, ages
    width_m: float  # [m] of the floor
    length_m: float  # [m]
    area_m2: float  # [m2] ground that counts
    daily_use_mm: float | None  # [mm] what the crop uses in a day
    target: float | None  # [%] DUlq that was agreed
    floor: FloorSummary | None  # None where it was not estimated yet, or cannot be
    units: str  # ``metric`` or ``US``, of the record
    closed: tuple[str, ...]  # keys that are hard to believe and close the estimate
    method: int = METHOD  # [1] `METHOD` of the program that made it

    @property
    def complete(self) -> bool:
        """Whether nothing is left to be made: the whole floor is estimated, or cannot be."""
        return self.floor is not None or bool(self.closed)

    @property
    def whole_floor(self) -> FloorSummary:
        """The estimate for all the ground of a test that is known to have one."""
        if self.floor is None:
            raise ValueError(f"{self.title}: received a test without its whole floor, expected an estimate, make it")
        return self.floor


def summary_of(record: Record, *, whole_floor: bool = True, progress: Callable[[float], None] | None = None) -> Summary:
    """Sum up a test."""
    site = site_of(record)
    catch = read_catch(site)
    figures = indices(catch.depth_mm[catch.counted], catch.weight[catch.counted])
    test, odd = record.test, all_doubts(site, catch)
    closed = tuple(doubt.key for doubt in odd if "whole_floor" in doubt.closes)
    floor = None
    if whole_floor and not closed:
        found = _floor(site, catch, figures, odd, progress)
        floor, closed = (found, ()) if isinstance(found, FloorSummary) else (None, (found.key,))
    use = record.crop.daily_use if record.crop else None
    return Summary(
        id=test.id, title=test.title, date=test.date.isoformat() if test.date else None, site=test.site, zone=test.zone,
        tunnel=test.tunnel, member=test.member, purpose=test.purpose, rechecks=test.rechecks,
        cans=int(catch.counted.sum()), can_places=_places(site, catch), cu=float(figures.cu),
        du_low_quarter=float(figures.du_low_quarter), conditions=conditions_of(record), habits=habits_of(record),
        width_m=site.width, length_m=site.length, area_m2=site.ground.area,
        daily_use_mm=use.si * 1e3 if use else None, target=record.target.du_low_quarter if record.target else None,
        floor=floor, units=site.system, closed=closed)


@one_thread
def _floor(site: Site, catch: Catch, figures: Indices, odd: list[Doubt],
           progress: Callable[[float], None] | None) -> FloorSummary | Doubt:
    """Figures of the whole floor; what closes it where nothing explains the readings."""
    from ..cans.surface import fit_surface
    from ..causes.explained import fit_of, floor_by, with_rival
    from ..causes.finding import causes_of, gather
    from ..causes.rivals import doubt_of

    fit, _ = fit_of(site, catch)
    rival = doubt_of(site, fit, site.system) if fit else None
    if rival and "whole_floor" in rival.closes:
        return rival
    floor = floor_by(site, catch, fit, progress)
    found = floor.estimate
    usable = catch.usable
    surface = fit_surface(catch.x[usable], catch.y[usable], catch.depth_mm[usable], site.width, site.length)
    seen = gather(site.believed(odd), catch, figures, surface, None if rival else floor)
    causes = {system: causes_of(replace(seen, system=system)) for system in SYSTEMS}
    cause = {system: text for system, each in causes.items()
             if (text := _likeliest(with_rival(each, site, fit, system) if fit else each))}
    shape, cells = _small_map(floor.depth_mm, floor.cells)
    cu, du, mean = (Figure(float(item.value), float(item.low), float(item.high))
                    for item in (found.cu, found.du_low_quarter, found.mean))
    return FloorSummary(found.how, cu, du, mean, len(found.suspects), cause, shape, base64.b64encode(cells).decode())


def _likeliest(causes: Sequence[Cause]) -> str | None:
    return next((f"{item.cause} ({item.where})" if item.where else item.cause
                 for item in causes if item.strength >= NAMED_FROM), None)


def _small_map(depth: np.ndarray, ground: Cells) -> tuple[tuple[int, int], bytes]:
    """Means over blocks of cells, in percent of the mean of the ground that counts."""
    step = max(1, round(np.sqrt(depth.size / MAP_CELLS)))
    rows, columns = (max(1, -(-count // step)) for count in depth.shape)
    part = np.zeros(depth.shape)
    part[ground.inside] = ground.part
    at = (np.arange(depth.shape[0]) * rows // depth.shape[0], np.arange(depth.shape[1]) * columns // depth.shape[1])
    total, held = np.zeros((rows, columns)), np.zeros((rows, columns))
    np.add.at(total, np.ix_(*at), np.where(ground.inside, depth, 0.0) * part)
    np.add.at(held, np.ix_(*at), part)
    here = held > 0
    percent = np.divide(total, held, out=np.zeros_like(total), where=here)
    percent = np.clip(np.rint(100 * percent / average(depth[ground.inside], ground.weight)), 0, _NONE - 1)
    return (rows, columns), np.where(here, percent, _NONE).astype(np.uint8).tobytes()


def small_map(floor: FloorSummary) -> np.ndarray:
    """Read the small map."""
    cells = np.frombuffer(base64.b64decode(floor.map), np.uint8).reshape(floor.shape).astype(float)
    cells[cells == _NONE] = np.nan
    return cells


def _places(site: Site, catch: Catch) -> str:
    """A short text that is equal where cans stand alike: to a decimetre, on floors of one size."""
    size = np.round([site.width, site.length], 1)
    where = np.round(np.column_stack([catch.x, catch.y])[catch.counted], 1)
    where = where[np.lexsort(where.T)] + 0.0
    return hashlib.sha256(size.tobytes() + where.tobytes()).hexdigest()[:12]


def habits_of(record: Record) -> Habits:
    """Gather what may go with unevenness."""
    lines = lines_from_the_left(record)
    if not lines:
        return Habits(filter_days=_days(record, "filter_cleaned"), flushed_days=_days(record, "lines_flushed"))
    diameters = [value.si for line in lines if (value := of_line(record, line, "wetted_diameter"))]
    nominal = [value.si / 1e3 for line in lines if (value := of_line(record, line, "at"))]
    last = _last_head(record, lines)
    outlet = next((item.value.si / 1e3 for item in record.pressures or [] if item.at == "regulator outlet"), None)
    steps = [gap for line in lines for gap in np.diff(head_places(line))]
    gaps = [gap for gap in np.diff([line.x.si for line in lines]) if gap > 0]
    wide = min(diameters) if diameters else None
    hung = [value for line in lines if (value := of_line(record, line, "installed"))]
    day = record.test.date
    return Habits(
        last_head_kpa=last, last_head_part=last / min(nominal) if last is not None and nominal else None,
        outlet_part=outlet / min(nominal) if outlet and nominal else None,
        head_spacing=float(np.median(steps)) / wide if steps and wide else None,
        line_spacing=float(np.median(gaps)) / wide if gaps and wide else None,
        heads_days=float((day - min(hung)).days) if day and hung else None,
        filter_days=_days(record, "filter_cleaned"), flushed_days=_days(record, "lines_flushed"))


def _last_head(record: Record, lines: Sequence[Line]) -> float | None:
    """Lowest gauge reading beside the last fifth of a line's heads, counted from where it is fed."""
    found = []
    counts = {line.name: (len(head_places(line)), line.fed_from) for line in lines}
    for item in record.pressures or []:
        if item.at != "line" or item.head is None or item.line not in counts:
            continue
        count, fed = counts[item.line]
        along = (item.head - 1) / max(count - 1, 1)
        far = {"far": 1 - along, "middle": abs(2 * along - 1)}.get(fed or "near", along)
        if far >= 0.8:
            found.append(item.value.si / 1e3)
    return min(found) if found else None


def _days(record: Record, key: str) -> float | None:
    day, since = record.test.date, getattr(record.care, key, None)
    return float((day - since).days) if day and since else None


def to_plain(summary: Summary) -> dict[str, Any]:
    """Turn a summary into plain values for JSON."""
    return asdict(summary)


def from_plain(plain: dict[str, Any]) -> Summary:
    """Make a summary of plain values."""
    plain = dict(plain)
    if plain["floor"] is not None:
        floor = dict(plain["floor"])
        for key in ("cu", "du_low_quarter", "mean_mm"):
            floor[key] = _made(Figure, floor[key])
        rows, columns = floor["shape"]
        if len(base64.b64decode(floor["map"], validate=True)) != rows * columns:
            raise ValueError("received a small map of another size than its shape, make the summary anew")
        floor["shape"] = (rows, columns)
        plain["floor"] = _made(FloorSummary, floor)
    plain["closed"] = tuple(plain["closed"])
    plain["conditions"] = _made(Conditions, plain["conditions"])
    plain["habits"] = _made(Habits, plain["habits"])
    made: Summary = _made(Summary, plain)
    return made


# Fields whose values are looked at when a summary is read: what a damaged row may hold in their place ends a page.
_NUMBERS = {
    Summary: ("cans", "cu", "du_low_quarter", "width_m", "length_m", "area_m2", "method"),
    FloorSummary: ("suspects",), Figure: ("value", "low", "high"), Conditions: (), Habits: (),
}
_TEXTS = {Summary: ("title", "can_places", "units"), FloorSummary: ("how", "map"), Figure: (), Conditions: (),
          Habits: ()}
_FIELDS = {kind: {item.name for item in fields(kind)} for kind in _NUMBERS}


def readable(plain: str) -> Summary | None:
    """A summary from its JSON; None where that is damaged."""
    try:
        return from_plain(json.loads(plain))
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None


def _made(kind: type, values: dict[str, Any]) -> Any:
    """A dataclass with these values."""
    # Its own way in sets one field after the other, which takes three times as long, and ten thousand summaries are
    # read for one page.
    if values.keys() != _FIELDS[kind]:
        raise TypeError(f"received the fields {sorted(values)}, expected {sorted(_FIELDS[kind])}, make the summary "
                        "anew")
    if not (all(type(values[key]) in (int, float) for key in _NUMBERS[kind])
            and all(type(values[key]) is str for key in _TEXTS[kind])):
        raise TypeError(f"received values of the wrong kind for {kind.__name__}, expected those of a summary, make it "
                        "anew")
    made: Any = object.__new__(kind)
    made.__dict__.update(values)
    return made
