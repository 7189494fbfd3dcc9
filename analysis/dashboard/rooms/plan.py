"""Plan: how many lines, and the test that will tell how even it is; before there are readings."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.frame import onward
from evenfall.dashboard.paper_parts import choose_paper, sheet_button
from evenfall.dashboard.plan_parts import (
    COUNTS,
    ENOUGH,
    assumed_part,
    cans_part,
    lines_part,
    planned,
    run_part,
    the_plan,
)
from evenfall.dashboard.problem_lists import show_problems
from evenfall.entry.to_record import plain_of

test = hall.current()
hall.heading("Plan the lines and the test", test)
plain, _ = plain_of(test.values)
record, found = planned(test, plain)
st.text("From the floor, the heads and the supply alone: no readings are needed, and none are used.")
if record is None:
    show_problems(found, "The plan still needs:")
    onward("Back to the set-up", hall.SET_UP, test)
    st.stop()

units = hall.choose_units(test)
count = st.selectbox("How many cans there are", COUNTS, key="plan_cans", width=300)
plan = the_plan(plain, record, None if count == ENOUGH else count, units)
if plan.proposed_lines:  # nothing hangs yet: the lines come first
    lines_part(plan, units)
cans_part(test, plain, record, plan, units)
run_part(plan, units)
if not plan.proposed_lines:
    lines_part(plan, units)
assumed_part(plan)
st.subheader("On paper")
sheet_button(test, record, units, choose_paper(units))
onward("Go on to the readings", hall.READINGS, test, main=False)
onward("Before you climb, open or feed anything: safety", hall.SAFETY, test, main=False)
