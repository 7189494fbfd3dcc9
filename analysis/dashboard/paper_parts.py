"""Papers to take away: the field sheet and the handover."""

from __future__ import annotations

import streamlit as st

from ..paper import PAPERS
from ..paper.field_sheet import make_sheet
from ..paper.handover import make_handover
from ..record.model import Record
from ..result.model import Result
from . import hall
from .handing import file_button


def choose_paper(units: str) -> str:
    """Ask for the size of the paper."""
    first = "Letter" if units == "US" else "A4"
    return st.segmented_control("Paper", PAPERS, default=first, key=f"paper {first}", required=True) or first


def sheet_button(test: hall.Open, record: Record, units: str, paper: str) -> None:
    """Offer the field sheet."""
    file_button("Field sheet (.pdf)", lambda: make_sheet(record, units, paper), f"{test.draft}-sheet.pdf",
                "application/pdf", "get_sheet")


def handover_button(test: hall.Open, record: Record, result: Result, units: str, paper: str) -> None:
    """Offer the handover."""
    file_button("Handover (.pdf)", lambda: make_handover(record, result, units, paper),
                f"{record.test.id or test.draft}-handover.pdf", "application/pdf", "get_handover", main=True)


def contents(record: Record, result: Result) -> None:
    """Say what the handover will hold, and what is missing for a sound baseline."""
    causes = sum(cause.strength >= 0.25 for cause in result.causes)
    held = ["how even, at the cans" + (" and on the whole floor" if result.whole_floor else ""),
            "the map with dry ground", f"{causes} cause{'' if causes == 1 else 's'}",
            f"{len(result.fixes)} fix{'' if len(result.fixes) == 1 else 'es'}",
            *(["the watering plan"] if result.watering else []), "the baseline, the season's care, cautions, names"]
    st.text("It holds: " + "; ".join(held) + ".")
    gaps = [says for says, there in (
        ("the date of the test", record.test.date), ("who read it", record.test.by),
        ("a gauge reading, so that a later test can be held against it", record.pressures),
        ("the wind", record.run.wind), ("what was agreed (a target for DUlq)", record.target)) if not there]
    if gaps:
        st.text("Missing for a baseline that holds: " + "; ".join(gaps) + ". The set-up takes them.")
