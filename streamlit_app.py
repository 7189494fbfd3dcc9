"""Opens the dashboard: `streamlit run streamlit_app.py` does the same as `evenfall app`."""

from importlib.util import find_spec

from streamlit.starlette import App

if find_spec("evenfall") is None:
    raise SystemExit("Evenfall is not installed here: run 'pip install .' beside this file, then try again.")

from evenfall.dashboard.serving import DOOR, served  # noqa: E402 - after it is known to be there

app = App(DOOR, **served())
