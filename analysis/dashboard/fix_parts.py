"""Parts of the page of fixes: what is offered, and a change that somebody asks for."""

from __future__ import annotations

import streamlit as st

from ..changes.change import read_changes
from ..changes.fixes.search import TriedChange, of_the_frame, try_change
from ..changes.table import KEYS
from ..figures.depth import change_map
from ..record.model import Record
from ..record.site import site_of
from ..result import advice, meanings
from ..result.model import Result
from ..units.shown import show
from . import hall
from .form import Field
from .say import say


def offered(record: Record, result: Result, units: str) -> None:
    """List the fixes that were found, and what other supplies would do."""
    if not result.fixes:
        st.text("No change that was tried brings 2 points of DUlq or more.")
    elif first := advice.look_first(result.causes):
        st.text(first)
    for number, fix in enumerate(result.fixes, 1):
        with st.container(border=True):
            name = f"{fix.name[0].upper()}{fix.name[1:]}"
            with st.container(key=f"name_fix_{number}"):
                st.text(f"{name}{' · the largest gain' if fix.largest_gain else ''}")
            st.text(fix.says)
            st.text(meanings.fix_brings(fix, units))
            _doubts(fix)
    for says in of_the_frame(site_of(record)):
        st.text(says)
    if result.supplies:
        st.subheader("On its other supplies")
        for supply in result.supplies:
            say(supply.says, "warning" if supply.holds is False else "")


def _doubts(fix) -> None:
    if fix.feasible is False:
        say(f"Not with this supply: {fix.why_not}", "warning")
    for warning in fix.warnings:
        st.text(f"Mind: {warning}")
    if fix.cautions:
        st.text(f"Careful. {' '.join(fix.cautions)}")


def asked(units: str) -> list[str]:
    """Ask for a change: each ``KEY=VALUE``, none until the form was sent."""
    typed = [Field(entry.key, entry.asked.label, entry.asked.metric, entry.asked.us) for entry in KEYS.values()
             if not entry.asked.choices]
    chosen = [entry for entry in KEYS.values() if entry.asked.choices]
    with st.form("a change"):
        texts = {one.key: st.text_input(one.label, key=f"try {one.key}", placeholder=one.example(units), max_chars=200)
                 for one in typed}
        texts |= {one.key: st.selectbox(one.asked.label, one.asked.choices, index=None, key=f"try {one.key}",
                                        placeholder="as it is") for one in chosen}
        if st.form_submit_button("What would it bring?", type="primary"):
            st.session_state["tried"] = [f"{key}={text}" for key, text in texts.items() if text]
    return st.session_state.get("tried", [])


def answer(record: Record, result: Result, items: list[str], units: str) -> None:
    """Predict a change that was asked for, and draw the ground before and after."""
    try:
        tried = try_change(site_of(record), result.floor, read_changes(items), units)
    except ValueError as error:
        say(str(error), "error")
        return
    fix = tried.fix
    with st.container(horizontal=True):
        st.metric("DUlq today", meanings.interval(tried.today.du_low_quarter))
        st.metric("DUlq after", meanings.interval(fix.du_low_quarter))
        st.metric("CU after", meanings.interval(fix.cu))
        st.metric("Rate after", show(fix.rate_mm_h, "rate", units, unit="mm/h"))
    st.text(fix.says)
    _doubts(fix)
    if tried.supply is not None:
        st.text(meanings.supply_means(tried.supply, units))
    elif fix.feasible is None:
        st.text("Whether the supply carries it is not known: describe the supply in the set-up.")
    _maps(record, result, tried, units)


def _maps(record: Record, result: Result, tried: TriedChange, units: str) -> None:
    look, size = hall.look(system=units), (record.floor.width.si, record.floor.length.si)
    for place, name, depth, heads in zip(st.columns(2), ("today", "after"), tried.depth, tried.heads, strict=True):
        with place:
            st.text(f"The ground {name}")
            hall.chart(change_map(result.floor, depth, heads, size, look), f"ground {name}", f"The ground {name}")
