"""Parts of the page of causes: what may be wrong, and where the unevenness comes from."""

from __future__ import annotations

import streamlit as st

from ..causes.finding import Cause
from ..figures.curves import unevenness_bar
from ..result import advice
from ..result.model import Result
from . import hall


def causes(result: Result) -> None:
    """List the causes, strongest first, each with what to look at next."""
    told, hints = advice.told_causes(result.causes)
    unsought = advice.looked_for(result)
    if unsought:
        st.text(unsought)
    elif not told:
        st.text("Nothing stands out as a fault of heads, lines, supply or readings.")
    for number, cause in enumerate(told):
        with st.container(border=True):
            _told(cause, number)
    if hints:
        with st.expander(f"{len(hints)} mere hint{'' if len(hints) == 1 else 's'}"):
            for cause in hints:
                st.text(f"{advice.cause_title(cause)}: {cause.where}. {cause.says}")


def _told(cause: Cause, number: int) -> None:
    with st.container(key=f"name_cause_{number}"):
        st.text(advice.cause_title(cause))
    st.text(f"{advice.strength_means(cause.strength).capitalize()}")
    st.text(f"Where: {cause.where}")
    st.text(f"Seen: {cause.says}")
    st.text(f"Look next: {cause.check_next}")


def split(result: Result, units: str) -> None:
    """Show where the unevenness comes from."""
    if result.unevenness is None:
        st.text("How much of it is spacing, pressure or single heads is known once the lines and their heads are "
                "described in the set-up.")
        return
    hall.chart(unevenness_bar(result.unevenness, hall.look(system=units)), "unevenness",
               "Parts of the unevenness, in percent")
    st.text(advice.split_means(result.unevenness))
