"""The dashboard's door: which pages there are, in the order of the job."""

from pathlib import Path

import streamlit as st
from evenfall.dashboard import frame, hall

frame.open_door(st.navigation(
    [st.Page(path, title=title, url_path=Path(path).stem, default=path == hall.TESTS)
     for path, title in frame.PAGES.items()],
    position="hidden",  # the frame has a row of pages that also serves a thumb
))
