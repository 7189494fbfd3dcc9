"""The dashboard: the only rooms that import streamlit."""
