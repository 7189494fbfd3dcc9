"""Parts of the list of tests: one test with its ways in, those put away, opening a record."""

from __future__ import annotations

import tomllib

import streamlit as st

from ..entry.drafts.changes import DraftSummary
from ..entry.drafts.drafts import Drafts
from ..entry.to_record import NEW_TEST
from ..record.faults import RecordFaults
from ..record.file import decode, parse_toml
from . import hall
from .clocks import clock
from .say import say

_MOST = 40


def start() -> str:
    """Start a new test, or take the one that this session started and left empty."""
    drafts = Drafts()
    fresh = st.session_state.get("fresh draft")
    if fresh is None or not any(item.draft == fresh and is_empty(item) for item in drafts.listing()):
        fresh = drafts.start(NEW_TEST)
        st.session_state["fresh draft"] = fresh
    return fresh


def is_empty(item: DraftSummary) -> bool:
    """Whether nothing was entered in a test since it was started from nothing."""
    return item.started == item.changed and not item.title and not item.readings


def one_test(item: DraftSummary) -> None:
    """A test of the list with its three pages, and the way off the list."""
    with st.container(border=True):
        count = f"{item.readings} can{'' if item.readings == 1 else 's'} read, " if item.readings else ""
        st.text(f"{item.title or 'Untitled test'}\n{count}changed {clock(item.changed)}")
        with st.container(horizontal=True, key=f"ways_{item.draft}"):
            for name, label, page in (("set_up", "Set up", hall.SET_UP), ("readings", "Readings", hall.READINGS),
                                      ("map", "Map", hall.MAP)):
                if st.button(label, key=f"{name}_{item.draft}", width=100):
                    hall.enter(item.draft, page)
            if st.button("Put away", key=f"away_{item.draft}", type="tertiary",
                         help="Takes it off this list; nothing is deleted."):
                Drafts().put_away(item.draft)
                st.rerun()


def put_away_list() -> None:
    """Tests that were put away, each with the way back."""
    away = [item for item in Drafts().listing(away=True) if not is_empty(item)]
    if not away:
        return
    with st.expander(f"Put away ({len(away)})"):
        for item in away[:_MOST]:
            with st.container(horizontal=True, vertical_alignment="center"):
                st.text(f"{item.title or 'Untitled test'}\nput away {clock(item.changed)}")
                if st.button("Take out again", key=f"out_{item.draft}"):
                    Drafts().take_out_again(item.draft)
                    st.rerun()


def title_of(text: str, otherwise: str) -> str:
    """Title of a record."""
    try:
        test = tomllib.loads(text).get("test")
    except (ValueError, RecursionError):
        return otherwise
    title = test.get("title") if isinstance(test, dict) else None
    return title.strip()[:200] if isinstance(title, str) and title.strip() else otherwise


def open_record(text: str, name: str, page: str) -> None:
    """Open a record as a test, or say why it is none."""
    try:
        parse_toml(text, name)
    except RecordFaults as error:
        for line in error.lines:
            say(line, "error")
        return
    hall.enter(hall.begin(text, title_of(text, name)), page)


def open_upload() -> None:
    """Open a record that the person hands over."""
    chosen = st.file_uploader("A record (.toml) from this phone or computer", type=["toml"], key="record_file",
                              help="At most 1 MB. The file itself is never changed.")
    if chosen is not None and st.button("Open this record", key="open_record"):
        try:
            text = decode(chosen.getvalue(), chosen.name)
        except RecordFaults as error:
            for line in error.lines:
                say(line, "error")
            return
        open_record(text, chosen.name, hall.SET_UP)
