"""The dashboard's door: which pages there are, in the order of the job."""

import sys
from pathlib import Path

import streamlit as st

if __name__ == "__main__" and (root := str(Path(__file__).parents[2])) not in sys.path:
    sys.path.insert(0, root)  # in a checkout that is not installed

from analysis.dashboard import hall

hall.open_door(st.navigation(
    [
        st.Page(hall.TESTS, title="Your tests", url_path="tests", default=True),
        st.Page(hall.SET_UP, title="Set up", url_path="set_up"),
        st.Page(hall.READINGS, title="Readings", url_path="readings"),
        st.Page(hall.MAP, title="Map", url_path="map"),
        st.Page(hall.SAFETY, title="Safety", url_path="safety"),
    ],
    position="top",
))
