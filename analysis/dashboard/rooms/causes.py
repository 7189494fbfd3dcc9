"""Causes: why it is uneven, and what to look at next."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.cause_parts import causes, split
from evenfall.dashboard.frame import onward
from evenfall.dashboard.more_parts import further_cans

test = hall.current()
hall.heading("Why it is uneven", test)
record, _, _ = hall.read(test)
if record is None:
    st.text("There are no figures yet; the map says what is still needed.")
    onward("To the map", hall.MAP, test)
    st.stop()

units = hall.choose_units(test)
result = hall.whole_result(test, record, units)
st.subheader("What may be wrong, strongest first")
st.text("Hypotheses from the cans, the gauges and the hydraulics: look before you mend.")
causes(result)
st.subheader("Where the unevenness comes from")
split(result, units)
further_cans(test, record, units)
onward("What would mend it", hall.FIXES, test)
onward("Before you climb, open or feed anything: safety", hall.SAFETY, test, main=False)
