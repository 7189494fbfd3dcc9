"""The part of the map page that settles what would explain the readings better: put right, or measured and right."""

from __future__ import annotations

import datetime

import streamlit as st

from ..entry.settled import texts_between
from ..record.model import Record
from ..result.correcting import Settling, before_after, can_be_put_right, found_right, put_right
from ..result.model import Result
from . import hall
from .say import say

_OPEN = "putting right"  # in the session: which draft, at which revision, is looked at before and after


def settle(test: hall.Open, record: Record, result: Result, units: str) -> None:
    """Buttons where something of the record is told first."""
    if not _told_first(result):
        return
    with st.container(border=True, key="settle"):
        st.subheader("Is the record right?")
        st.text(result.fit.rivals[0].check_next)
        with st.container(horizontal=True):
            if can_be_put_right(result.fit.rivals[0].kind) and st.button(
                    "Correct it", key="correct_it", help="First you see the figures before and after."):
                st.session_state[_OPEN] = (test.draft, test.revision)
            if st.button("I measured it: it is right", key="found_right"):
                _store(test, record, found_right(record, 1, datetime.date.today()))
        if st.session_state.get(_OPEN) == (test.draft, test.revision):
            _look(test, record, result, units)


def _told_first(result: Result) -> bool:
    """Whether a rival of the record is told before the figures."""
    fit = result.fit
    return fit is not None and bool(fit.rivals) and fit.rivals[0].of == "record" and any(
        caution.startswith(fit.says) for caution in result.cautions)


def _look(test: hall.Open, record: Record, result: Result, units: str) -> None:
    """Before and after, and the second tap that takes it."""
    try:
        settling = put_right(record, 1, datetime.date.today())
    except ValueError as error:
        say(str(error), "warning")
        return
    readings = "" if "corrected" not in texts_between(record, settling.record) else (
        " Readings would stand at other cans; what was read is kept beside them.")
    st.text(f"It would be taken that {settling.says}.{readings}")
    after = hall.assessed(settling.record, units)
    st.table([{"": what, "before": one, "after": other} for what, one, other in before_after(result, after)])
    with st.container(horizontal=True):
        if st.button("Take it", key="take_it", type="primary"):
            _store(test, record, settling)
        if st.button("Leave it as it is", key="leave_it"):
            st.session_state.pop(_OPEN, None)
            st.rerun()


def _store(test: hall.Open, record: Record, settling: Settling) -> None:
    """Put it into the draft, which keeps what was before, and draw the page anew."""
    hall.store(test.draft, texts_between(record, settling.record))
    st.session_state.pop(_OPEN, None)
    st.rerun()
