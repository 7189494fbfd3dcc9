"""Your tests: start one, open one, look at an invented one."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.keep_parts import archive_reminder, kept_list, undo_part
from evenfall.dashboard.list_parts import is_empty, one_test, open_upload, put_away_list, start
from evenfall.entry.drafts.drafts import Drafts
from evenfall.record.samples import FIRST, SHOWS, sample_text

hall.heading("How even is the water?")
st.markdown(
    "Set cans out on a grid under the sprinklers, run the zone, read the cans. Evenfall tells how evenly the floor "
    "is watered, where it is dry, and what that means for you. Everything stays where Evenfall runs: on this machine, "
    "or on the server and in the store that its keeper chose."
)

with st.container(horizontal=True):
    if st.button("Start a new test", type="primary", key="new_test"):
        hall.enter(start(), hall.SET_UP)
    if st.button("Open the invented example", key="open_example"):
        hall.enter(hall.begin(sample_text(FIRST), "Invented example"), hall.MAP)

mine = [item for item in Drafts().listing() if not is_empty(item)]
if mine:
    st.subheader("Your tests")
    for item in mine[:40]:
        one_test(item)
put_away_list()
kept_list()
undo_part()
archive_reminder()

st.subheader("Open a record")
open_upload()

st.subheader("More invented examples")
name = st.selectbox("An example", list(SHOWS), format_func=lambda key: SHOWS[key], key="sample_name")
if st.button("Open this example", key="open_sample"):
    hall.enter(hall.begin(sample_text(name), f"Invented example: {SHOWS[name]}"), hall.MAP)
st.text("The examples come from an invented growers' cooperative; no such farm exists.")
