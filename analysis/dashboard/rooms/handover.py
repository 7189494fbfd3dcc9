"""Handover: the paper that the owner gets, and that a later test is held against."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.frame import onward
from evenfall.dashboard.paper_parts import choose_paper, contents, handover_button, sheet_button

test = hall.current()
hall.heading("Hand it over", test)
record, _, _ = hall.read(test)
if record is None:
    st.text("There are no figures yet; the map says what is still needed.")
    onward("To the map", hall.MAP, test)
    st.stop()

units = hall.choose_units(test)
paper = choose_paper(units)
result = hall.whole_result(test, record, units)
contents(record, result)
with st.container(horizontal=True):
    handover_button(test, record, result, units, paper)
    sheet_button(test, record, units, paper)
st.text("The field sheet with its readings is the raw record of the test. Both are made for black and white.")
onward("To the set-up", hall.SET_UP, test, main=False)
onward("Before you climb, open or feed anything: safety", hall.SAFETY, test, main=False)
