"""Safety: the usual cautions."""

import streamlit as st

from analysis.cautions import SAFETY
from analysis.dashboard import hall

hall.heading("Before you climb, open or feed anything")
st.markdown("\n".join(f"- {caution}" for caution in SAFETY))
