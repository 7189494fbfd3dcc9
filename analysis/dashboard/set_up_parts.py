"""Parts of the set-up page that are more than a field."""

from __future__ import annotations

from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from ..entry.cans import cans_in
from ..entry.layout import evenly, heads_of
from ..figures.depth import plan_sketch
from ..record.doubts import nominal_bore
from ..units.quantity import QuantityError, parse
from . import hall
from .frame import onward
from .line_names import against_place, keep_lines, taken, unnamed
from .plain_words import Problem, summary
from .replacing import shape, spread, typed
from .say import say


def cans_evenly(test: hall.Open, plain: dict[str, Any], units: str) -> None:
    """Offer an even grid of cans; what it would replace is said, and readings are asked about."""
    sizes = [len(row) for row in plain.get("cans", {}).get("grid") or []]
    wide, long = (max(sizes), len(sizes)) if sizes and max(sizes) > 1 else (6, 8)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        columns = st.selectbox("Cans across", range(2, 21), index=min(max(wide, 2), 20) - 2, key="even_columns",
                               width=140)
        rows = st.selectbox("Rows along", range(2, 41), index=min(max(long, 2), 40) - 2, key="even_rows", width=140)
        there = _places_typed(plain)
        label = f"Replace {there} by {rows} even rows of {columns}" if there else "Spread them evenly"
        pressed = st.button(label, key="even_go")
    asks = f"ask spread {test.draft}"
    if pressed:
        try:
            _floor_size(plain)
        except QuantityError:
            say("The width and the length of the floor are needed first.", "error")
            return
        st.session_state[asks] = True
    if not st.session_state.get(asks):
        return
    count = typed(test, plain)
    lay = shape(plain.get("cans", {}))
    same = lay == f"{rows} rows of {columns}"
    answer = "go" if not count or same and not there else _ask_readings(count, lay, same)
    if answer:
        st.session_state.pop(asks)
        if answer != "leave":
            width, length = _floor_size(plain)
            spread(test, plain, evenly(width, columns, units), evenly(length, rows, units),
                   keep=answer == "keep" or answer == "go" and same)
        st.rerun()


def _places_typed(plain: dict[str, Any]) -> str:
    """What stands in the fields for the places, in words; empty where nothing does."""
    cans = plain.get("cans", {})
    if cans.get("across") and cans.get("along"):
        return f"the {shape(cans)} typed below"
    return "the places typed below" if cans.get("across") or cans.get("along") else ""


def _ask_readings(count: int, lay: str, same: bool) -> str:
    say(f"This test has {count} reading{'' if count == 1 else 's'}{f' in {lay}' if lay else ''}. "
        "A reading belongs to the place of its can.", "warning")
    with st.container(horizontal=True):
        if same and st.button("Only the distances change: keep the readings", key="even_keep"):
            return "keep"
        if st.button("Replace the places, put the readings away", key="even_away"):
            return "away"
        if st.button("Leave it", key="even_leave"):
            return "leave"
    return ""


def still_needed(test: hall.Open, found: list[Problem]) -> None:
    """Say near the top what the set-up still needs, or offer the way on."""
    with st.container(border=True, key="still_needed"):
        needed = [problem for problem in found if not problem.readings]
        if not needed:
            st.text("The set-up is complete.")
            onward("Go on to the readings", hall.READINGS, test, place="_top")
            return
        lines = summary(needed)
        st.text("\n".join([f"Still needed before there are figures ({len(needed)}):",
                           *(f"• {line}" for line in lines[:12])]))


def _floor_size(plain: dict[str, Any]) -> list[float]:
    floor = plain.get("floor", {})
    return [parse(floor.get(key, ""), "length").si for key in ("width", "length")]


def take_out(test: hall.Open, plain: dict[str, Any], number: int) -> None:
    """Offer to take a line out."""
    if st.button("Take this line out", key=f"line_out_{number}"):
        free = unnamed(test, plain)
        keep_lines(test, [line for place, line in enumerate(plain["lines"]) if place != number],
                   {place - (place > number) for place in free if place != number})
        st.rerun()


def another(test: hall.Open, plain: dict[str, Any]) -> None:
    """Offer another line like the last one."""
    lines = plain.get("lines") or []
    if st.button("Add a line" if not lines else "Add another line like the last", key="line_add"):
        # A first name; `line_names.settle` finds the right one as soon as the line has a place.
        free = unnamed(test, plain)
        used = taken(plain, free) | {line.get("name") for line in lines}
        name = next(name for name in ("left", "right", "middle", *(f"line {count}" for count in range(4, 199)))
                    if name not in used)
        last = {key: value for key, value in lines[-1].items() if key not in ("name", "x")} if lines else {}
        keep_lines(test, [*lines, {"name": name, **last}], free | {len(lines)})
        st.rerun()
    if len(lines) > 1 and unnamed(test, plain):
        st.text("Lines are called by where they hang, from the left edge, until you name them.")


def about_line(plain: dict[str, Any], number: int, units: str) -> None:
    """Say under a line's fields what is doubtful in them."""
    name = against_place(plain).get(number)
    if name:
        say(name, "warning")
    try:
        pipe = nominal_bore(parse(plain["lines"][number].get("pipe", ""), "length"), units)
    except QuantityError:
        return
    if pipe:
        say(f"Inside diameter of the tube: {pipe}.", "warning")


def section(test: hall.Open, title: str, needed: bool) -> DeltaGenerator:
    """A section that opens by itself where something in it is missing, and that only the person closes."""
    # Taking `expanded` back would fold it under the finger as soon as what was missing is filled in.
    name = f"opened {test.draft} {title}"
    opened = needed or st.session_state.get(name, False)
    st.session_state[name] = opened
    return st.expander(title, expanded=opened, key=f"section_{title.partition(':')[0].replace(' ', '_').lower()}")


def sketch(plain: dict[str, Any], units: str) -> None:
    """Draw the plan of cans and heads as far as it is known."""
    try:
        width, length = _floor_size(plain)
    except QuantityError:
        st.text("The plan appears when width and length of the floor are there.")
        return
    if not (width and length):
        return
    cans = [(can.x, can.y) for can in cans_in(plain) if can.x is not None and can.y is not None]
    lines = heads_of(plain)
    if cans or lines:
        hall.chart(plan_sketch(cans, lines, width, length, hall.look(system=units)), "plan_sketch",
                   "Plan of cans (dots) and heads (triangles)")
    st.text(f"Plan: {len(cans)} cans (dots), {sum(len(line[2]) for line in lines)} heads (triangles)")
