"""What to read next: places for further cans on the page of causes, and mended heads beside before and after."""

from __future__ import annotations

import streamlit as st

from ..changes.errors import ChangeError
from ..changes.mended import MendedHead, mended_heads
from ..entry.drafts.drafts import Drafts
from ..planning.more import MOST_CANS, MoreCans, more_cans
from ..planning.more_words import bottle_rows, further_rows, narrows_words
from ..record.model import Record
from ..record.site import site_of
from . import hall
from .keeping import find_test, stands_of
from .say import say

FEW_CANS = 16  # at most so many are a look at a mended head, not a test of the floor


@st.cache_data(max_entries=16, show_spinner="Looking for the places that tell most …")
def _places(file: str, draft: str, revision: int, count: int, units: str, _record: Record) -> MoreCans:
    return more_cans(site_of(_record), count=count, system=units)


@st.cache_data(max_entries=16, show_spinner="Holding the cans against the earlier test …")
def _mended(file: str, draft: str, revision: int, stands: tuple[str, int], _record: Record,
            _earlier: Record) -> list[MendedHead]:
    return mended_heads(site_of(_record), site_of(_earlier))


def further_cans(test: hall.Open, record: Record, units: str) -> None:
    """Offer places for further cans; worked out when they are asked for."""
    st.subheader("Where further cans tell most")
    count = int(st.number_input("Further cans", 1, MOST_CANS, 8, key="further cans"))
    asked = (str(Drafts().file), test.draft, test.revision, count, units)
    if st.button("Find their places", key="find further cans"):
        st.session_state["further cans asked"] = asked
    if st.session_state.get("further cans asked") != asked:
        return
    try:
        found = _places(*asked, record)
    except ValueError as error:
        say(str(error), "warning")
        return
    st.text(" ".join(narrows_words(found)))
    for row in further_rows(found, units):
        place = f"{row['Across']} from the left edge, {row['Along']} from the inlet end wall"
        st.text(f"{row['Can']}. {place}: {row['Why']}")
    for row in bottle_rows(found):
        st.text(f"A bottle under {row['Head']}: {row['Why']}.")


def mended(test: hall.Open, record: Record) -> None:
    """Say of the weak heads of the earlier test whether a few cans around them find them mended."""
    name = record.test.rechecks
    stands = stands_of(name)
    if not name or stands is None or len(site_of(record).cans.x) > FEW_CANS:
        return
    earlier = find_test(name)
    if earlier is None or not earlier.lines:
        return
    try:
        found = _mended(str(Drafts().file), test.draft, test.revision, stands, record, earlier)
    except ChangeError:
        return  # cans that stand around no weak head ask nothing
    for head in found:
        st.text(head.says)
