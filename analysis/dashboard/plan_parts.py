"""Parts of the page of the plan: the record so far, the plan kept between runs, and the way to the readings."""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Any

import streamlit as st

from ..figures.depth import plan_sketch
from ..planning import words
from ..planning.plan import PlannedTest, plan_of
from ..record.checks import build
from ..record.faults import RecordFaults
from ..record.model import Record
from ..record.site import site_of
from . import hall
from .frame import onward
from .plain_words import problems
from .replacing import shape, take_table, typed
from .say import say

ENOUGH = "as many as are enough"
COUNTS = (ENOUGH, 12, 16, 20, 24, 30, 36, 42, 48, 60, 72, 96)
_PLANS_KEPT = 32
_UNKNOWN = ("–", "not known")
# What a plan depends on; readings are not among it, so that it is worked out once before and after them.
_SECTIONS = ("record", "floor", "heads", "lines", "supply", "care", "crop")
_OF_CANS = ("reads", "unit", "opening", "opening_area", "tare", "across", "along", "stagger")
_PLACES = ("across", "along", "stagger", "rows", "points")


def planned(test: hall.Open, plain: dict[str, Any]) -> tuple[Record | None, list]:
    """Make a record of the draft, as far as a plan needs it; None while something stops it, and what that is."""
    try:
        return build(_needed(plain), planning=True), []
    except RecordFaults as error:
        return None, problems(list(error.faults), plain, typed(test, plain))


def _needed(plain: dict[str, Any]) -> dict[str, Any]:
    """The parts of a draft that a plan depends on; a title is not asked for."""
    kept = {key: plain[key] for key in _SECTIONS if key in plain}
    cans = plain.get("cans", {})
    places = {key: cans[key] for key in _OF_CANS if key in cans}
    if isinstance(cans.get("rows"), list):
        places["rows"] = [{key: value for key, value in row.items() if key != "catch"} for row in cans["rows"]]
    if isinstance(cans.get("points"), list):
        places["points"] = [{key: value for key, value in point.items() if key != "catch"} for point in cans["points"]]
    run = {key: plain["run"][key] for key in ("water", "lines") if key in plain.get("run", {})}
    title = plain.get("test", {}).get("title") or "Untitled test"
    return {**kept, "test": {"title": title}, **({"cans": places} if places else {}), **({"run": run} if run else {})}


def the_plan(plain: dict[str, Any], record: Record, cans: int | None, units: str) -> PlannedTest:
    """Plan once for each state of the set-up, behind a bar; shared between sessions: nothing in it may be changed."""
    key = (json.dumps({**_needed(plain), "test": {}}, sort_keys=True, default=str), cans, units)
    bar = st.empty()
    try:
        return _once(key, lambda: plan_of(
            site_of(record), cans=cans, units=units,
            progress=lambda done: bar.progress(done, "Simulating tests in tunnels like this one …")))
    except ValueError as error:
        say(str(error), "error")
        st.stop()
    finally:
        bar.empty()


def _once(key: tuple, work: Callable[[], PlannedTest]) -> PlannedTest:
    kept, lock = _plans()
    with lock:
        if key in kept:
            kept.move_to_end(key)
            return kept[key]
    made = work()
    with lock:
        kept[key] = made
        while len(kept) > _PLANS_KEPT:
            kept.popitem(last=False)
    return made


@st.cache_resource(show_spinner=False)
def _plans() -> tuple[OrderedDict, Lock]:
    """Plans by what they depend on; a cached function could not tell of its progress."""
    return OrderedDict(), Lock()


def listed(pieces: tuple[str, ...], rows: list[dict[str, str]]) -> None:
    """Show the rows of a small table as lines that a phone can wrap and a screen reader can read."""
    known = [{key: text for key, text in row.items() if text not in _UNKNOWN} for row in rows]
    st.text("\n".join("• " + "".join(piece.format_map(row) for piece in pieces
                                      if any("{" + key + "}" in piece for key in row)) for row in known))


def said(sentences: list[str] | tuple[str, ...]) -> None:
    """Show sentences, each on a line of its own."""
    st.text("\n".join(sentences))


def lines_part(plan: PlannedTest, units: str) -> None:
    """How many lines, what they draw, and what the supply says to it."""
    st.subheader("How many lines")
    said(words.counts_words(plan, units))
    listed(("{Lines}", ", {Apart} apart", ": DUlq {DUlq % (range)} %", ", flow {Flow}",
            ", {Last head} at the last head", "; the supply runs them {Supply runs}"),
           words.line_rows(plan, units))
    said(words.supply_words(plan, units))


def cans_part(test: hall.Open, plain: dict[str, Any], record: Record, plan: PlannedTest, units: str) -> None:
    """Where the cans stand, what that is worth, and the click that takes them."""
    st.subheader("Where the cans stand")
    said(words.layout_words(plan, units))
    _take_cans(test, plain, plan)
    _drawing(record, plan, units)
    with st.expander("Row by row, in walking order"):
        listed(("{Along} along", ", cans {Cans}", ": {Across, in walking order}"), words.walk_rows(plan, units))
    with st.expander("Other layouts and other numbers of cans"):
        st.text("As many cans, with the expected error of the whole floor's DUlq:")
        listed(("{Layout}", ", {Cans} cans", ": ±{Expected error of DUlq}",
                "; at the cans off by {At the cans off by}"), words.layout_rows(plan))
        st.text("Other numbers of cans:")
        listed(("{Cans} cans", ": {Expected error of DUlq}"), words.curve_rows(plan))
    st.text(words.error_words(plan, units))


def run_part(plan: PlannedTest, units: str) -> None:
    """How long to run, where to read pressure, what to check before."""
    st.subheader("The run")
    said([*words.run_words(plan, units), plan.control])
    with st.expander("Where to read pressure, while the lines run"):
        listed(("{Gauge}", ", expected {Expected}", ": {What for}"), words.gauge_rows(plan, units))
    with st.expander("What to check before"):
        said([f"• {check}" for check in plan.checks])


def assumed_part(plan: PlannedTest) -> None:
    """What was assumed; nothing where nothing was."""
    if plan.assumed:
        st.subheader("What was assumed")
        said([f"• {text}" for text in plan.assumed])


def _drawing(record: Record, plan: PlannedTest, units: str) -> None:
    places = [tuple(place) for place in plan.proposed.layout.places]
    figure = plan_sketch(places, list(plan.tested), record.floor.width.si, record.floor.length.si,
                         hall.look(system=units))
    hall.chart(figure, "plan_of_cans", "Plan of the proposed cans (dots) and heads (triangles)")
    st.text("Proposed cans (dots) and heads (triangles); the inlet end wall is below.")


def _take_cans(test: hall.Open, plain: dict[str, Any], plan: PlannedTest) -> None:
    """Make the proposed layout the test's cans, after asking where there are readings."""
    cans, many = plan.proposed.layout.cans, len(plan.proposed.layout.places)
    asks, count = f"ask plan {test.draft}", typed(test, plain)
    places = {key: value for key, value in _needed(plain).get("cans", {}).items() if key in _PLACES}
    if places == cans:  # taken before; its readings stay
        onward(f"Enter the readings of these {many} cans", hall.READINGS, test, place="_taken")
        return
    if st.button(f"Set out these {many} cans and enter their readings", type="primary", key="plan_take"):
        if not count:
            _take(test, plain, cans)
        st.session_state[asks] = True
    if not (st.session_state.get(asks) and count):
        return
    lay = shape(plain.get("cans", {}))
    say(f"This test has {count} reading{'' if count == 1 else 's'}{f' in {lay}' if lay else ''}. A reading "
        "belongs to the place of its can.", "warning")
    with st.container(horizontal=True):
        if st.button("Take the new places, put the readings away", key="plan_away"):
            st.session_state.pop(asks)
            _take(test, plain, cans)
        if st.button("Leave it", key="plan_leave"):
            st.session_state.pop(asks)
            st.rerun()
    st.text("Readings that are put away are kept; the page of readings can put them back.")


def _take(test: hall.Open, plain: dict[str, Any], cans: dict[str, Any]) -> None:
    reads = plain.get("cans", {})
    kind = {} if {"reads", "unit"} & set(reads) else {"reads": "volume", "unit": "mL"}  # as a new test begins
    take_table(test, plain, {**kind, **cans})
    hall.enter(test.draft, hall.READINGS)

