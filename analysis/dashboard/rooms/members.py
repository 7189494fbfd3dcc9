"""Members: many tests beside each other, for a cooperative or for one grower with several tunnels."""

import streamlit as st
from evenfall.dashboard import hall, keeping
from evenfall.dashboard.keep_parts import archive_reminder
from evenfall.dashboard.member_parts import (
    bring_in,
    choose,
    compared,
    estimate_missing,
    hand_out,
    how_others_stand,
    invented,
    mended,
    open_one,
    over_time,
    small_maps_of,
    to_check,
    what_goes_with,
    who_needs_help,
)

everybody = keeping.viewer().sees_all
hall.heading("Whose tunnels need help first?" if everybody else "Which of your tunnels need help first?")
st.markdown(("Every test" if everybody else "Every test of yours")
            + " that was saved here, each tunnel by its newest one, compared on the whole floor.")
if not keeping.store().count(keeping.viewer()):
    st.text("No test is saved here yet: save one on its map, or bring records in.")
    bring_in()
    invented()
    st.stop()
found = compared(*choose())
mended()
archive_reminder()
estimate_missing(found)
to_check(found)
who_needs_help(found)
open_one(found)
small_maps_of(found)
over_time(found)
what_goes_with(found)
how_others_stand()
bring_in()
hand_out(found)
