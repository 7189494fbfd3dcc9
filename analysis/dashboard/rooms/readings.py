"""Readings: typed can by can, or taken from a table; the map follows."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.frame import onward, waiting
from evenfall.dashboard.reading_parts import cans_to_draw, entry_and_map, set_aside, walking_order
from evenfall.dashboard.replacing import shape
from evenfall.dashboard.say import say
from evenfall.dashboard.table_parts import from_elsewhere, just_taken, way_back
from evenfall.entry.to_record import plain_of

test = hall.current()
hall.heading("Read the cans", test)
plain, _ = plain_of(test.values)
if just_taken(test):
    way_back(test)
cans = cans_to_draw(plain, hall.system(test))
if not cans:
    waiting(test.draft)  # there is no entry that sends it
    table = shape(plain.get("cans", {}))
    say(f"The readings of {table} are kept, but where these cans stand is not known yet." if table else
        "Where the cans stand is not known yet.", "warning")
    onward("Say where they stand", hall.SET_UP, test)
    st.text("Or take a table of readings that says where they stand:")
else:
    entry_and_map(test.draft, cans, str(plain.get("cans", {}).get("unit", "")))
    st.text(walking_order(cans))
    set_aside(test, cans)
from_elsewhere(test, plain)
if not just_taken(test):
    way_back(test)
onward("Go on to the map", hall.MAP, test)
