"""Parts of the readings page."""

from __future__ import annotations

from typing import Any

import streamlit as st

from ..cans.outliers import odd_cans
from ..entry.cans import aside_key, can_key, cans_in, key_words
from ..entry.drafts.drafts import Drafts
from ..entry.to_record import plain_of
from ..figures.depth import depth_map
from ..planning.layouts import tape_text
from ..record.site import site_of
from ..units.shown import place_text, show
from . import hall
from .entry.component import Can, draft_entry
from .frame import onward
from .plain_words import problems
from .problem_lists import show_problems, show_unread
from .replacing import typed
from .say import say

_DECIMAL_COMMA = {"de", "fr", "es", "it", "nl", "pt", "pl", "cs", "da", "sv", "nb", "nn", "no", "fi", "hu", "ro", "sk",
                  "sl", "hr", "bg", "el", "tr", "ru", "uk", "sr", "lt", "lv", "et", "ca"}


def decimal_sign() -> str:
    """Decimal sign of this browser's language."""
    return "," if (st.context.locale or "en").split("-")[0].casefold() in _DECIMAL_COMMA else "."


def cans_to_draw(plain: dict[str, Any], units: str) -> list[Can]:
    """List the cans for the entry component in walking order; empty where the layout is not there yet."""
    places = cans_in(plain)
    wide = max((can.x or 0.0 for can in places), default=1.0) or 1.0
    long = max((can.y or 0.0 for can in places), default=1.0) or 1.0
    drawn = []
    for can in places:
        label = key_words(can.key).capitalize()
        if can.x is not None and can.y is not None:
            label += f" - {_on_tape(can.x, units)} across, {_on_tape(can.y, units)} along"
        drawn.append(Can(can.key, can.row, can.column, label, (can.x or 0.0) / wide, (can.y or 0.0) / long))
    return drawn


def _on_tape(metres: float, units: str) -> str:
    """A place as a tape shows it: to a centimetre or an inch."""
    return tape_text(round(metres / 0.0254) * 0.0254, "US") if units == "US" else place_text(metres, "metric")


def walking_order(cans: list[Can]) -> str:
    """Say how the cans are walked and what the keys mean."""
    begins = "In walking order: up one row, back the next."
    if cans[0].row == 1 and cans[0].y_share == min(can.y_share for can in cans) < cans[-1].y_share:
        begins += " Row 1 stands nearest the inlet end wall."
    return begins + " 'No reading' is not 0: a dry can reads 0."


@st.fragment
def entry_and_map(draft: str, cans: list[Can], unit: str) -> None:
    """Entry beside the map that follows it; runs by itself with every reading."""
    left, right = st.columns([5, 3], gap="medium")
    with left:
        stored = draft_entry(
            Drafts(), draft, cans, decimal=decimal_sign(), unit=unit, key=f"entry {draft}",
            odd=lambda snapshot: to_read_again(hall.Open(draft, snapshot.values, snapshot.revision)))
        if stored.fault:
            say(stored.fault, "error")
        for clash in Drafts().clashes(draft, stored.device):
            say(clash.says, "warning")
        ask_again(hall.Open(draft, stored.snapshot.values, stored.snapshot.revision))
    with right:
        follow(hall.Open(draft, stored.snapshot.values, stored.snapshot.revision), len(cans))


def to_read_again(test: hall.Open) -> dict[str, str]:
    """Find cans whose reading is far off its neighbours', as far as the readings go."""
    record, _, _ = hall.read(test)
    if record is None:
        return {}
    right = st.session_state.get(f"right {test.draft}", set())
    cans = hall.result(test, record, 0.75, hall.system(test), only="cans").cans
    found = {can_key(cans.row[can.number], cans.column[can.number]): can.says
             for can in odd_cans(site_of(record), cans)}
    return {key: says for key, says in found.items() if (key, test.values.get(key)) not in right}


def ask_again(test: hall.Open) -> None:
    """Ask about cans that are far off their neighbours."""
    for key, says in to_read_again(test).items():
        with st.container(border=True, horizontal=True, vertical_alignment="center"):
            st.text(says)
            st.button("It is right", key=f"right_{key}", on_click=_is_right,
                      args=(test.draft, key, test.values.get(key)))


def _is_right(draft: str, key: str, text: str | None) -> None:
    st.session_state.setdefault(f"right {draft}", set()).add((key, text))


def follow(test: hall.Open, count: int) -> None:
    """Figures and map as far as the readings go."""
    record, faults, unread = hall.read(test)
    units = hall.system(test)
    if record is None:
        plain, _ = plain_of(test.values)
        entered = typed(test, plain)
        found = problems(faults, plain, entered)
        st.text(f"{entered} of {count} cans entered. The map appears with four readings and a complete set-up.")
        show_unread(unread)
        if entered:
            show_problems([problem for problem in found if problem.readings], "With the readings:")
        needed = [problem for problem in found if not problem.readings]
        if needed:
            show_problems(needed, "The set-up still needs:")
            onward("Back to the set-up", hall.SET_UP, test, main=False)
        return
    result = hall.result(test, record, 0.75, units, only="cans")
    with st.container(horizontal=True):
        st.metric("CU at the cans", f"{result.at_the_cans.cu:.0f} %")
        st.metric("DUlq at the cans", f"{result.at_the_cans.du_low_quarter:.0f} %")
        st.metric("Mean depth", show(result.catch.mean_mm, "depth", units, unit="mm"))
    look = hall.look(system=units, values=False, heads=False, live=True)
    st.plotly_chart(depth_map(record, result, look), key=f"live {test.draft}", theme=None,
                    config={"staticPlot": True}, alt="Depth map of the readings so far")
    st.text(f"{result.catch.used} of {result.catch.cans} cans are in the figures. Orange is drier than the mean, "
            "violet wetter.")
    show_unread(unread)


def set_aside(test: hall.Open, cans: list[Can]) -> None:
    """Set a can aside, or put it back."""
    with st.expander("Set a can aside (tipped, shaded, dripped on)"):
        st.text("It stays in the record and is left out of the figures. It can be put back.")
        keys = {can.key: can.label for can in cans}
        key = st.selectbox("Can", list(keys), format_func=keys.get, key="aside_can")
        why = st.text_input("Why", key="aside_why", max_chars=200, placeholder="kicked over")
        if st.button("Set it aside", key="aside_go"):
            if why.strip():
                hall.store(test.draft, {f"aside.{key}": why.strip()})
                st.rerun()
            say("Say why: the reason stays with the record.", "error")
        for item in plain_of(test.values)[0].get("cans", {}).get("set_aside") or []:
            place = aside_key(item)
            with st.container(horizontal=True, vertical_alignment="center"):
                st.text(f"{key_words(place)}: {item['why']}")
                if st.button("Put it back", key=f"back_{place}"):
                    hall.store(test.draft, {f"aside.{place}": ""})
                    st.rerun()
