"""Opens the dashboard: `streamlit run streamlit_app.py` does the same as `evenfall app`."""

import runpy
from importlib.util import find_spec
from pathlib import Path

if find_spec("evenfall") is None:
    raise SystemExit("Evenfall is not installed here: run 'pip install .' beside this file, then try again.")
runpy.run_path(str(Path(__file__).parent / "analysis" / "dashboard" / "app.py"), run_name="__main__")
