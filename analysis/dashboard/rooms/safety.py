"""Safety: the usual cautions."""

import streamlit as st
from evenfall.causes.cautions import SAFETY
from evenfall.dashboard import hall

hall.heading("Before you climb, open or feed anything")
st.markdown("\n".join(f"- {caution}" for caution in SAFETY))
