"""Readings from a table: what was understood and is in doubt, what it would replace, and the way back."""

from __future__ import annotations

import hashlib
from typing import Any

import streamlit as st

from ..entry.grids.doubts import ASKED, TableDoubt
from ..entry.grids.reading import Understood, read_file, read_text, to_cans
from ..entry.grids.table import GridError
from ..units.shown import system_of
from . import hall
from .replacing import another_test, earlier, needs_question, put_back, question, same_places, take_table, typed
from .say import say


def from_elsewhere(test: hall.Open, plain: dict[str, Any]) -> None:
    """Take readings from a pasted block or a file, after showing what was understood and asking what is in doubt."""
    turn = st.session_state.get("table turn", 0)  # fields of another turn are empty again
    with st.expander("Take readings from a spreadsheet, a CSV file or a text"):
        pasted = st.text_area("Paste a table", key=f"pasted_{turn}", height=140, max_chars=200_000,
                              placeholder="one row of cans a line; a first row or column of distances is understood")
        chosen = st.file_uploader("or a file", type=["csv", "txt", "tsv", "xlsx"], key=f"grid_file_{turn}")
        if not pasted.strip() and chosen is None:
            return
        source, name = (chosen.getvalue(), chosen.name) if chosen is not None else (pasted, None)
        mark = f"table {hashlib.sha256(source if isinstance(source, bytes) else source.encode()).hexdigest()[:12]}"
        answers = {asks: given for asks in ASKED if (given := st.session_state.get(f"{mark} {asks}"))}
        cans, doubts = None, ()
        try:
            understood = _read(source, name, answers, plain)
            st.text(understood.says)
            cans, doubts = to_cans(understood), understood.doubts
        except GridError as error:
            say(str(error), "error")
        if not _settled(doubts, mark) or cans is None:
            return
        count = typed(test, plain)
        if needs_question(plain, cans, count):
            _ask(test, plain, cans, count)
        elif st.button("Take these readings", type="primary", key="take_grid"):
            _take(test, plain, cans)


def _read(source: str | bytes, name: str | None, answers: dict[str, str], plain: dict[str, Any]) -> Understood:
    unit, floor = plain.get("cans", {}).get("unit"), plain.get("floor", {})
    length = "ft" if system_of(floor.get("width"), floor.get("length")) == "US" else "m"
    if isinstance(source, bytes):
        return read_file(source, name or "", answers, default_unit=unit, length_unit=length)
    return read_text(source, answers, default_unit=unit, length_unit=length)


def _settled(doubts: tuple[TableDoubt, ...], mark: str) -> bool:
    """Ask what is in doubt, keep what was answered in sight, and tell whether nothing is left."""
    open_doubts = {doubt.asks: doubt for doubt in doubts if doubt.asks}
    for asks, label in ASKED.items():
        choices = st.session_state.setdefault(f"choices {mark}", {})
        if asks in open_doubts:
            choices[asks] = open_doubts[asks].choices
        if asks in choices:
            st.radio(label, choices[asks], index=None, horizontal=True, key=f"{mark} {asks}")
    if any(not doubt.asks for doubt in doubts) and not st.checkbox(
            "I looked at the doubts above: the table is right as shown", key=f"{mark} looked"):
        return False
    return not open_doubts


def _ask(test: hall.Open, plain: dict[str, Any], cans: dict[str, Any], count: int) -> None:
    """Nothing is touched before one of the three is chosen."""
    say(question(plain, cans, count), "warning")
    what = "readings" if same_places(plain.get("cans", {}), cans) else "cans' places and readings"
    with st.container(horizontal=True):
        if st.button(f"Replace this test's {what}", key="take_replace"):
            _take(test, plain, cans)
        if st.button("Put it into another, new test", key="take_other"):
            _clear()
            hall.enter(another_test(plain, cans), hall.READINGS)
        if st.button("Leave it", key="take_leave"):
            _clear()
            st.rerun()


def _take(test: hall.Open, plain: dict[str, Any], cans: dict[str, Any]) -> None:
    take_table(test, plain, cans)
    st.session_state["just taken"] = test.draft
    _clear()
    st.rerun()


def _clear() -> None:
    st.session_state["table turn"] = st.session_state.get("table turn", 0) + 1


def just_taken(test: hall.Open) -> bool:
    """Whether a table was taken in this session, so that the way back belongs at the top."""
    return st.session_state.get("just taken") == test.draft


def way_back(test: hall.Open) -> None:
    """Offer the cans of before they were last replaced."""
    found = earlier(test)
    if found is None:
        return
    with st.container(border=True, horizontal=True, vertical_alignment="center"):
        st.text(f"These cans replaced {found.says}.")
        if st.button("Put the earlier readings back", key="put_back"):
            put_back(test, found)
            st.session_state["just taken"] = test.draft
            st.rerun()
