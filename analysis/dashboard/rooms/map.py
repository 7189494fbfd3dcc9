"""Map: how even it is, where it is dry, and what that means."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.frame import onward
from evenfall.dashboard.map_parts import agreed, choose_look, dry_ground, figures, hand_out, mind, the_map, whole_floor
from evenfall.dashboard.more_parts import mended
from evenfall.dashboard.patch_parts import patches
from evenfall.dashboard.plain_words import problems
from evenfall.dashboard.problem_lists import show_problems, show_unread
from evenfall.dashboard.recheck_parts import before_and_after
from evenfall.dashboard.replacing import typed
from evenfall.dashboard.settle_parts import settle
from evenfall.entry.to_record import plain_of

test = hall.current()
hall.heading("How even, and where it is dry", test)
record, faults, unread = hall.read(test)
if record is None:
    plain, _ = plain_of(test.values)
    count = typed(test, plain)
    show_unread(unread)
    if not count:
        st.text("No readings are entered yet.")
    show_problems(problems(faults, plain, count), "Still needed before there are figures:")
    onward("Back to the set-up", hall.SET_UP, test, main=False)
    onward("Back to the readings", hall.READINGS, test, main=False)
    st.stop()

units = hall.choose_units(test)
part = hall.dry_part()
at_the_cans = hall.result(test, record, part, units, only="cans")
doubtful = st.empty()
with doubtful.container():
    mind(test, at_the_cans.cautions, "first")
    show_unread(unread)
left, right = st.columns(2, gap="medium")
with left:
    figures(at_the_cans, units)
with right:
    result = hall.whole_result(test, record, units)
    whole_floor(result, units)
    agreed(record, result)
if result.cautions != at_the_cans.cautions:
    doubtful.empty()
    with doubtful.container():
        mind(test, result.cautions, "all")
        show_unread(unread)
settle(test, record, result, units)
look = choose_look(result, units)
left, right = st.columns([3, 2], gap="medium")
with left:
    the_map(test, record, result, look)
with right:
    dry_ground(result, units, part)
patches(test, record, result, units)
before_and_after(record, result, units)
mended(test, record)
hand_out(test, record, result, units)
onward("Why it is uneven", hall.CAUSES, test)
onward("Before you climb, open or feed anything: safety", hall.SAFETY, test, main=False)
