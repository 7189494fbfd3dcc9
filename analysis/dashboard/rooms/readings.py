"""Readings: typed can by can, or taken from a table; the map follows."""

import streamlit as st

from analysis.dashboard import hall
from analysis.dashboard.reading_parts import cans_to_draw, entry_and_map, from_elsewhere, set_aside
from analysis.draft_record import plain_of

test = hall.current()
hall.heading("Read the cans", test)
plain, _ = plain_of(test.values)
cans = cans_to_draw(plain, hall.system(test))
if not cans:
    st.info("Where the cans stand is not known yet.")
    st.page_link(hall.SET_UP, label="Say where they stand", query_params={"draft": test.draft})
    st.text("Or take a table of readings that says where they stand:")
else:
    entry_and_map(test.draft, cans, str(plain.get("cans", {}).get("unit", "")))
    st.text("In walking order: up one row, back the next. 'No reading' is not 0: a dry can reads 0.")
    set_aside(test, cans)
from_elsewhere(test, plain)
st.page_link(hall.MAP, label="Go on to the map", query_params={"draft": test.draft})
