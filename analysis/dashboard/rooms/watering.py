"""Watering: how long to run, how often, in how many runs, and what unevenness costs."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.frame import onward
from evenfall.dashboard.water_parts import costs, planned, price, the_plan, wanted

test = hall.current()
hall.heading("How long to water", test)
record, _, _ = hall.read(test)
if record is None:
    st.text("There are no figures yet; the map says what is still needed.")
    onward("To the map", hall.MAP, test)
    st.stop()

units = hall.choose_units(test)
result = hall.whole_result(test, record, units)
if result.floor is None:
    st.text("Run times come from the estimate for all the ground, which is closed; the map says why.")
    onward("To the map", hall.MAP, test)
    st.stop()
text, serves = wanted(units)
plan = planned(record, result, text, serves)
if plan is not None:
    the_plan(plan, units)
    st.subheader("What unevenness costs")
    costs(record, result, plan, units)
    price(plan, units)
onward("To the set-up", hall.SET_UP, test, main=plan is None)
onward("Hand it over", hall.HANDOVER, test, main=plan is not None)
onward("Before you climb, open or feed anything: safety", hall.SAFETY, test, main=False)
