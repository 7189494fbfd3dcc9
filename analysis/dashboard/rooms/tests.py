"""Your tests: start one, open one, look at an invented one."""

import streamlit as st

from analysis.dashboard import hall
from analysis.draft_record import NEW_TEST
from analysis.drafts import Drafts
from analysis.record.faults import RecordFaults
from analysis.record_file import decode, parse_toml
from analysis.samples import FIRST, SHOWS, sample_text

hall.heading("How even is the water?")
st.markdown(
    "Set cans out on a grid under the sprinklers, run the zone, read the cans. Evenfall tells how evenly the floor "
    "is watered, where it is dry, and what that means for you. Everything stays on this machine."
)

drafts = Drafts()
mine = drafts.listing()

with st.container(horizontal=True):
    if st.button("Start a new test", type="primary", key="new_test"):
        hall.enter(drafts.start(NEW_TEST), hall.SET_UP)
    if st.button("Open the invented example", key="open_example"):
        hall.enter(hall.begin(sample_text(FIRST), "Invented example"), hall.MAP)

if mine:
    st.subheader("Your tests")
    for item in mine[:40]:
        with st.container(border=True, horizontal=True, vertical_alignment="center"):
            title = item.title or "Untitled test"
            st.text(f"{title}\nchanged {item.changed[:10]} {item.changed[11:16]} UTC")
            if st.button("Readings", key=f"readings_{item.draft}"):
                hall.enter(item.draft, hall.READINGS)
            if st.button("Map", key=f"map_{item.draft}"):
                hall.enter(item.draft, hall.MAP)
            if st.button("Put away", key=f"away_{item.draft}", help="Takes it off this list; nothing is deleted."):
                drafts.put_away(item.draft)
                st.rerun()

st.subheader("Open a record")
chosen = st.file_uploader("A record (.toml) from this machine", type=["toml"], key="record_file",
                          help="At most 1 MB. The file itself is never changed.")
if chosen is not None and st.button("Open this record", key="open_record"):
    try:
        text = decode(chosen.getvalue(), chosen.name)
        parse_toml(text, chosen.name)
        hall.enter(hall.begin(text, chosen.name), hall.SET_UP)
    except RecordFaults as error:
        for line in error.lines:
            st.error(line)

st.subheader("More invented examples")
name = st.selectbox("An example", list(SHOWS), format_func=lambda key: SHOWS[key], key="sample_name")
if st.button("Open this example", key="open_sample"):
    hall.enter(hall.begin(sample_text(name), f"Invented example: {SHOWS[name]}"), hall.MAP)
st.text("The examples come from an invented growers' cooperative; no such farm exists.")
