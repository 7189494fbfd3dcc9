"""The field sheet: a plan with numbered cans, and boxes for everything that is read in the tunnel."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence

from ..entry.cans import NO_READING, reading_texts
from ..planning.checks import checks
from ..planning.layouts import Stop, tape_text, walk
from ..record.file import record_text
from ..record.model import Record, SetAside
from ..record.places import head_places, line_named
from ..record.said import as_read
from ..record.site import site_of
from ..units.quantity import Quantity
from ..units.shown import show, shown_unit
from ..units.table import find_unit
from . import PlanView, new_page, to_bytes
from .page import FAINT, INK, Page

KIND = "Field sheet"
COLUMNS = 4          # of boxes for readings beside each other
EMPTY = 24           # boxes where no cans are planned yet
_BOX_HIGH = 8.4      # [mm]
_CHECKS = 82.0       # [mm] wide, what is checked before the run, where it stands beside the plan
_PLACES = ("supply", "filter inlet", "filter outlet", "regulator inlet", "regulator outlet")


def make_sheet(record: Record, system: str = "metric", paper: str = "A4") -> bytes:
    """Draw the field sheet of a test."""
    page = new_page(paper, record.test.title, KIND)
    cans = tomllib.loads(record_text(record)).get("cans", {}) if record.cans else {}
    stops = [stop for stop in walk(cans) if stop.x is not None and stop.y is not None]
    readings = reading_texts({"base": record_text(as_read(record))}) if cans else {}
    if set(readings.values()) <= {"", *NO_READING}:
        readings = {}  # a test that is still to come
    readings = {key: "–" if text in NO_READING else text for key, text in readings.items()}
    _head(page, record, system)
    told = _plan(page, record, stops, system)
    page.add_page()
    if not told:
        _before(page, record, system)
    _pressures(page, record, system)
    _controls(page, record)
    _boxes(page, record, stops, readings, system)
    _end(page)
    return to_bytes(page)


def own_unit(quantities: Sequence[Quantity | None], kind: str, system: str) -> str:
    """Tell in which unit somebody reads something: the one in which they wrote it before."""
    for one in quantities:
        if one is None:
            continue
        words = one.text.strip().lstrip("0123456789.,+-/ ")
        unit = find_unit(words, one.dimension) or find_unit(re.split(r"[\d\s]", words)[0], one.dimension)
        if unit:
            return {"C": "°C", "F": "°F"}.get(unit, unit)
    return shown_unit(kind, system)


def _head(page: Page, record: Record, system: str) -> None:
    test, run = record.test, record.run
    page.heading(f"{KIND}: {test.title}", 0)
    where = ", ".join(part for part in (test.site, test.zone) if part)
    if where:
        page.para(where, size=9, grey=FAINT)
    volume, wind, water = ([getattr(run, key) if run else None] for key in ("metered", "wind", "water"))
    meter = own_unit(volume, "volume", system)
    blanks = [
        ("Date", "", test.date.isoformat() if test.date else ""), ("Read by", "", test.by or ""),
        ("Purpose", "", test.purpose or ""), ("Water on at", "clock", ""), ("Water off at", "clock", ""),
        ("Ran for", "min", run.duration.text if run and run.duration else ""),
        ("Wind at the floor", own_unit(wind, "speed", system), _text(wind[0])),
        ("Sides", "", run.sides if run and run.sides else ""),
        ("Water temperature", own_unit(water, "temperature", system), _text(water[0])),
        ("Meter before", meter, ""), ("Meter after", meter, ""), ("Passed in the run", meter, _text(volume[0])),
        ("Lines run", "", run.lines if run and run.lines else "")]
    page.blanks([_with_unit(name, unit, value) for name, unit, value in blanks],
                filled=[value for *_, value in blanks])


def _text(value: Quantity | None) -> str:
    return value.text if value else ""


def _with_unit(name: str, unit: str, value: str = "") -> str:
    """The name of a blank with the unit of what is to be written there; what is filled in brings its own."""
    return f"{name}, {unit}" if unit and not value else name


def _plan(page: Page, record: Record, stops: list[Stop], system: str) -> bool:
    """Draw the plan; tells whether what comes before the run had room beside it."""
    width, length = record.floor.width.si, record.floor.length.si
    page.type(8, grey=FAINT)
    page.cell(0, 4, f"far end wall, {tape_text(length, system)} from the inlet end; the floor is "
                    f"{tape_text(width, system)} wide", align="C", new_x="LMARGIN", new_y="NEXT")
    top = page.get_y() + 3  # a can at the wall has a ring
    room = page.h - page.b_margin - top - 18
    beside = page.epw - _CHECKS - 12 >= room * width / length
    view = PlanView(page, (page.l_margin, top, page.epw - (_CHECKS if beside else 0), room), (width, length))
    view.frame()
    view.lines([(line.name, line.x.si, head_places(line)) for line in record.lines or []])
    ring = _ring(view, stops)
    view.marks([(*_at(stop), str(stop.number)) for stop in stops], size=min(7.0, ring * 2.4), ring=ring)
    if beside:
        left, page.l_margin = page.l_margin, page.l_margin + page.epw - _CHECKS
        page.set_xy(page.l_margin, top)
        _before(page, record, system)
        page.l_margin = left
    page.set_xy(page.l_margin, view.bottom + 7)
    page.type(8, grey=FAINT)
    one, metres = ("1 in", 0.0254) if system == "US" else ("1 cm", 0.01)
    page.multi_cell(0, 4, "inlet end wall, where x and y begin. Walk in the order of the numbers. Small dashes are "
                          f"heads. {one} here is {show(metres / (view.scale / 1e3), 'height', system)}.",
                    align="C", new_x="LMARGIN", new_y="NEXT")
    page.type(10)
    return beside


def _ring(view: PlanView, stops: list[Stop]) -> float:
    """A radius at which no two cans touch, 3.2 mm at most."""
    near = 3.2
    places = [_at(stop) for stop in stops]
    for number, (x, y) in enumerate(places):
        for across, along in places[number + 1:]:
            near = min(near, 0.45 * view.scale * ((x - across) ** 2 + (y - along) ** 2) ** 0.5)
    return max(near, 1.0)


def _boxes(page: Page, record: Record, stops: list[Stop], readings: dict[str, str], system: str) -> None:
    reads = f"{record.cans.reads} in {record.cans.unit}" if record.cans else "in one unit"
    page.heading(f"Readings ({reads}; 0 is a dry can, a dash no reading)")
    aside = {_key(item): item.why for item in (record.cans.set_aside or [] if record.cans else [])}
    items = [(str(stop.number), _where(stop, system), readings.get(stop.key, "")) for stop in stops]
    items = items or [(str(one), [""], "") for one in range(1, EMPTY + 1)]
    page.type(8, grey=FAINT)
    unit = " in m" if system == "metric" else ""
    page.cell(0, 4, f"number, across from the left edge / along from the inlet end{unit}, reading", new_x="LMARGIN",
              new_y="NEXT")
    columns, room = COLUMNS, 18
    start = 0
    while start < len(items):
        rows = max(int((page.h - page.b_margin - page.get_y()) / _BOX_HIGH), 1)
        rows = min(rows, -(-(len(items) - start) // columns))
        top, width = page.get_y(), page.epw / columns
        for place, (number, where, reading) in enumerate(items[start:start + rows * columns]):
            left, high = page.l_margin + (place // rows) * width, top + (place % rows) * _BOX_HIGH
            page.type(9, bold=True)
            page.set_xy(left, high + 1)
            page.cell(9, 5, number, align="R")
            _in_lines(page, where, (left + 9, high + 1, room))
            page.rect(left + 9 + room, high + 0.6, width - room - 12, _BOX_HIGH - 1.4)
            if reading:
                page.type(9)
                page.set_xy(left + 9 + room, high + 1)
                page.cell(width - room - 13, 5, page.clipped(reading, width - room - 14), align="R")
        start += rows * columns
        page.set_y(top + rows * _BOX_HIGH + 1)
        if start < len(items):
            page.add_page()
    page.type(10)
    for stop in stops:
        if stop.key in aside:
            page.para(f"Can {stop.number} is set aside: {aside[stop.key]}", size=8.5)
    page.blanks(["Kicked, moved, dripped on (number and why)"], columns=1)
    known = _text(record.cans.opening or record.cans.opening_area) if record.cans else ""
    page.blanks([_with_unit("Opening of a can", shown_unit("bore", system), known), "Reading began at, clock",
                 "Reading ended at, clock"], filled=[known])


def _where(stop: Stop, system: str) -> list[str]:
    """The place of a can as a tape shows it; feet and inches take two lines."""
    x, y = _at(stop)
    if system == "metric":
        return [f"{x:.2f} / {y:.2f}"]
    return [f"{tape_text(x, system)} /", tape_text(y, system)]


def _at(stop: Stop) -> tuple[float, float]:
    """Where a can stands [m]; in a record every can has its place."""
    if stop.x is None or stop.y is None:
        raise ValueError(f"received can {stop.number} without a place, expected one, give its row and column places")
    return stop.x, stop.y


def _in_lines(page: Page, texts: Sequence[str], box: tuple[float, float, float]) -> None:
    left, top, width = box
    page.type(6.5, grey=INK if len(texts) > 1 else FAINT)
    for number, text in enumerate(texts):
        page.set_xy(left, top + (0 if len(texts) == 1 else 3 * number - 0.4))
        page.cell(width, 5 if len(texts) == 1 else 3, page.clipped(text, width - 1))


def _key(item: SetAside) -> str:
    return f"p{item.point}" if item.point else f"r{item.row}c{item.column}"


def _pressures(page: Page, record: Record, system: str) -> None:
    page.heading("Pressures, read while the water runs")
    rows = [[_place(item.at, item.line, item.head), item.height.text if item.height else "", item.value.text]
            for item in record.pressures or []]
    if not rows:
        rows = [[place, "", ""] for place in _PLACES]
        for line in record.lines or []:
            count = len(head_places(line))
            rows += [[_place("line", line.name, head), "", ""] for head in dict.fromkeys((1, count)) if head]
    page.ruled(["place", f"height of the gauge, {_height_unit(record, system)}",
                f"reading, {_pressure_unit(record, system)}"], rows, (5, 3, 3), height=7.2)


def _pressure_unit(record: Record, system: str) -> str:
    heads = [*(record.lines or []), record.heads]
    static = record.supply.static if record.supply else None
    return own_unit([*(item.value for item in record.pressures or []), *(one.at for one in heads if one), static],
                    "pressure", system)


def _height_unit(record: Record, system: str) -> str:
    hung = [*(record.pressures or []), *(record.lines or []), record.heads]
    return own_unit([*(one.height for one in hung if one), record.floor.width], "height", system)


def _place(at: str, line: str | None, head: int | None) -> str:
    if at != "line":
        return at
    return line_named(line) + (f", beside head {head} (from the inlet end)" if head else "")


def _controls(page: Page, record: Record) -> None:
    page.heading("Control cans, outside the spray")
    known = record.cans.evaporation if record.cans else None
    unit = record.cans.unit if record.cans else ""
    names = [("Start (all)", unit), ("Filled at", "clock"), ("Read at", "clock"), ("End, can 1", unit),
             ("End, can 2", unit), ("End, can 3", unit)]
    page.blanks([_with_unit(*name) for name in names],
                filled=[f"{known.start:g}", "", "", *(f"{end:g}" for end in known.end[:3])] if known else [])


def _before(page: Page, record: Record, system: str) -> None:
    page.heading("Before the run")
    page.points(checks(site_of(record), system), size=8.5)


def _end(page: Page) -> None:
    page.heading("Notes")
    page.blanks([""] * 3, columns=1, height=8)
    page.blanks(["Signed", "Date"], columns=2, height=11)
