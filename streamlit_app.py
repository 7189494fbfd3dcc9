"""Opens the dashboard: `streamlit run streamlit_app.py` does the same as `evenfall app`."""

import runpy
from pathlib import Path

runpy.run_path(str(Path(__file__).parent / "analysis" / "dashboard" / "app.py"), run_name="__main__")
