"""Map: how even it is, where it is dry, and what that means."""

import streamlit as st

from analysis.dashboard import hall
from analysis.dashboard.map_parts import choose_look, dry_ground, figures, hand_out, patches, the_map, whole_floor

test = hall.current()
hall.heading("How even, and where it is dry", test)
record, faults, unread = hall.read(test)
if record is None:
    hall.show_faults(faults, unread)
    st.page_link(hall.SET_UP, label="Back to the set-up", query_params={"draft": test.draft})
    st.page_link(hall.READINGS, label="Back to the readings", query_params={"draft": test.draft})
    st.stop()

units = hall.choose_units(test)
part = st.session_state.get("dry part", 0.75)
left, right = st.columns(2, gap="medium")
with left:
    figures(hall.result(test, record, part, units, only="cans"), units)
with right, st.spinner("Estimating the whole floor from the heads' pattern …"):
    result = hall.result(test, record, part, units)
    whole_floor(result, units)
look = choose_look(result, units)
left, right = st.columns([3, 2], gap="medium")
with left:
    the_map(test, record, result, look)
with right:
    dry_ground(result, units, part)
patches(test, record, result, units)
if result.cautions:
    st.subheader("Mind")
    for caution in result.cautions:
        st.text(f"• {caution}")
hall.show_faults([], unread)
hand_out(test, record, result, units)
st.page_link(hall.SAFETY, label="Before you climb, open or feed anything: safety")
