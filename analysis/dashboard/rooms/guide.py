"""The guide: what is longer than a page's own words."""

import streamlit as st
from evenfall.dashboard import hall
from evenfall.dashboard.guide_parts import PARTS, guide_text, on_a_page

hall.heading("Guide")
part = st.segmented_control("Which part", list(PARTS), default=next(iter(PARTS)), format_func=PARTS.get,
                            key="guide_part", required=True) or next(iter(PARTS))
st.markdown(on_a_page(guide_text(part)))  # the text is our own
