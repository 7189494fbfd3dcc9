"""The dashboard as a server runs it: the door with the doorkeeper in front of it."""

from evenfall.dashboard.serving import DOOR, served
from streamlit.starlette import App

app = App(DOOR, **served())
