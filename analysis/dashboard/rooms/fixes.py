"""Fixes: what would mend it, and what a change would bring."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.fix_parts import answer, asked, offered
from evenfall.dashboard.frame import onward

test = hall.current()
hall.heading("What would mend it", test)
record, _, _ = hall.read(test)
if record is None:
    st.text("There are no figures yet; the map says what is still needed.")
    onward("To the map", hall.MAP, test)
    st.stop()

units = hall.choose_units(test)
result = hall.whole_result(test, record, units)
if result.floor is None or not result.heads:
    st.text("Fixes are predicted from the heads' pattern: describe the lines and their heads in the set-up.")
    onward("To the set-up", hall.SET_UP, test)
    st.stop()
st.subheader("Worth doing: what is at fault, then the cheapest first")
offered(record, result, units)
st.subheader("Try a change")
items = asked(units)
if items:
    answer(record, result, items, units)
onward("How long to water", hall.WATERING, test, main=False)
onward("Before you climb, open or feed anything: safety", hall.SAFETY, test, main=False)
