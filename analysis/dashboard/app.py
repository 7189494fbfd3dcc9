"""The dashboard's door: which pages there are, in the order of the job."""

import sys
from pathlib import Path

import streamlit as st

if __name__ == "__main__" and (root := str(Path(__file__).parents[2])) not in sys.path:
    sys.path.insert(0, root)  # in a checkout that is not installed

from analysis.dashboard import frame, hall

frame.open_door(st.navigation(
    [st.Page(path, title=title, url_path=Path(path).stem, default=path == hall.TESTS)
     for path, title in frame.PAGES.items()],
    position="hidden",  # the frame has a row of pages that also serves a thumb
))
