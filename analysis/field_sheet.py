"""The field sheet: a plan with numbered cans, and boxes for everything that is read in the tunnel."""

from __future__ import annotations

import tomllib

from .draft_cans import NO_READING, reading_texts
from .paper import PlanView, new_page, to_bytes
from .paper.page import FAINT, Page
from .plan.checks import checks
from .plan.layouts import Stop, walk
from .record.model import Record
from .record.places import head_places, line_named
from .record_file import record_text
from .units_shown import place_text, show

KIND = "Field sheet"
COLUMNS = 4          # of boxes for readings beside each other
EMPTY = 24           # boxes where no cans are planned yet
_BOX_HIGH = 8.4      # [mm]
_PLACES = ("supply", "filter inlet", "filter outlet", "regulator inlet", "regulator outlet")


def make_sheet(record: Record, system: str = "metric", paper: str = "A4") -> bytes:
    """Draw the field sheet of a test.

    Parameters
    ----------
    record : Record
        Checked, with or without readings; what is known is filled in, so that a record with readings gives the raw
        record of its test.
    system : str
        ``metric`` or ``US``.
    paper : str
        ``A4`` or ``Letter``.

    Returns
    -------
    bytes
        A PDF, readable in black and white.

    Raises
    ------
    ValueError
        For another paper.
    """
    page = new_page(paper, record.test.title, KIND)
    cans = tomllib.loads(record_text(record)).get("cans", {}) if record.cans else {}
    stops = [stop for stop in walk(cans) if stop.x is not None and stop.y is not None]
    readings = reading_texts({"base": record_text(record)}) if cans else {}
    if set(readings.values()) <= {"", *NO_READING}:
        readings = {}  # a test that is still to come
    readings = {key: "–" if text in NO_READING else text for key, text in readings.items()}
    _head(page, record, system)
    _plan(page, record, stops, system)
    page.add_page()
    _boxes(page, record, stops, readings, system)
    _pressures(page, record, system)
    _controls(page, record)
    _before(page, record, system)
    return to_bytes(page)


def _head(page: Page, record: Record, system: str) -> None:
    test, run = record.test, record.run
    page.heading(f"{KIND}: {test.title}", 0)
    where = ", ".join(part for part in (test.site, test.zone) if part)
    if where:
        page.para(where, size=9, grey=FAINT)
    page.blanks(
        ["Date", "Read by", "Purpose", "Water on at", "Water off at", "Ran for", "Wind at the floor", "Sides",
         "Water temperature", "Meter before", "Meter after", "Lines run"],
        filled=[test.date.isoformat() if test.date else "", test.by or "", test.purpose or "", "", "",
                run.duration.text if run and run.duration else "", run.wind.text if run and run.wind else "",
                run.sides if run and run.sides else "", run.water.text if run and run.water else "", "",
                run.metered.text if run and run.metered else "", run.lines if run and run.lines else ""])


def _plan(page: Page, record: Record, stops: list[Stop], system: str) -> None:
    width, length = record.floor.width.si, record.floor.length.si
    page.type(8, grey=FAINT)
    page.cell(0, 4, f"far end wall, {show(length, 'place', system)} from the inlet end; the floor is "
                    f"{show(width, 'place', system)} wide", align="C", new_x="LMARGIN", new_y="NEXT")
    top = page.get_y() + 0.5
    room = page.h - page.b_margin - top - 14
    view = PlanView(page, (page.l_margin, top, page.epw, room), (width, length))
    view.frame()
    view.lines([(line.name, line.x.si, head_places(line)) for line in record.lines or []])
    ring = _ring(view, stops)
    view.marks([(stop.x, stop.y, str(stop.number)) for stop in stops], size=min(7.0, ring * 2.4), ring=ring)
    page.set_xy(page.l_margin, view.bottom + 7)
    page.type(8, grey=FAINT)
    page.cell(0, 4, "inlet end wall, where x and y begin. Walk in the order of the numbers. Small dashes are heads. "
                    f"1 cm here is {show(0.01 / (view.scale / 1e3), 'height', system)} on the ground.", align="C")
    page.type(10)


def _ring(view: PlanView, stops: list[Stop]) -> float:
    """A radius at which no two cans touch, 3.2 mm at most."""
    near = 3.2
    for number, one in enumerate(stops):
        for two in stops[number + 1:]:
            near = min(near, 0.45 * view.scale * ((one.x - two.x) ** 2 + (one.y - two.y) ** 2) ** 0.5)
    return max(near, 1.0)


def _boxes(page: Page, record: Record, stops: list[Stop], readings: dict[str, str], system: str) -> None:
    reads = f"{record.cans.reads} in {record.cans.unit}" if record.cans else "in one unit"
    page.heading(f"Readings ({reads}; 0 is a dry can, a dash no reading)")
    aside = {_key(item): item.why for item in (record.cans.set_aside or [] if record.cans else [])}
    items = [(str(stop.number), " / ".join(_tape(place, system) for place in (stop.x, stop.y)),
              readings.get(stop.key, "")) for stop in stops] or [(str(one), "", "") for one in range(1, EMPTY + 1)]
    page.type(8, grey=FAINT)
    unit = " in m" if system == "metric" else ""
    page.cell(0, 4, f"number, across from the left edge / along from the inlet end{unit}, reading", new_x="LMARGIN",
              new_y="NEXT")
    columns, room = (COLUMNS, 17) if system == "metric" else (COLUMNS, 21)
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
            page.type(6.5, grey=FAINT)
            page.cell(room, 5, page.clipped(where, room - 1))
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
    page.blanks(["Opening of a can", "Reading began at", "Reading ended at"],
                filled=[_opening(record)] if record.cans else [])


def _tape(place: float, system: str) -> str:
    text = place_text(place, system)
    return text.removesuffix(" m") if system == "metric" else text


def _key(item) -> str:
    return f"p{item.point}" if item.point else f"r{item.row}c{item.column}"


def _opening(record: Record) -> str:
    size = record.cans.opening or record.cans.opening_area
    return size.text if size else ""


def _pressures(page: Page, record: Record, system: str) -> None:
    page.heading("Pressures, read while the water runs")
    rows = [[_place(item.at, item.line, item.head), item.height.text if item.height else "", item.value.text]
            for item in record.pressures or []]
    if not rows:
        rows = [[place, "", ""] for place in _PLACES]
        for line in record.lines or []:
            count = len(head_places(line))
            rows += [[_place("line", line.name, head), "", ""] for head in dict.fromkeys((1, count)) if head]
    page.table(["place", "height of the gauge", "reading"], rows, (5, 3, 3), height=7.2)


def _place(at: str, line: str | None, head: int | None) -> str:
    if at != "line":
        return at
    return line_named(line) + (f", beside head {head} (from the inlet end)" if head else "")


def _controls(page: Page, record: Record) -> None:
    page.heading("Control cans, outside the spray")
    known = record.cans.evaporation if record.cans else None
    page.blanks(["Start (all)", "Filled at", "Read at", "End, can 1", "End, can 2", "End, can 3"],
                filled=[f"{known.start:g}", "", "", *(f"{end:g}" for end in known.end[:3])] if known else [])


def _before(page: Page, record: Record, system: str) -> None:
    page.heading("Before the run")
    page.points(checks(record, system), size=8.5)
    page.heading("Notes")
    page.blanks([""] * 3, columns=1, height=8)
    page.blanks(["Signed", "Date"], columns=2, height=11)
