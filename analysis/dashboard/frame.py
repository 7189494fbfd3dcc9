"""The frame around every page: its style, the row of pages, the way on, the width of the screen."""

from __future__ import annotations

from functools import lru_cache

import streamlit as st

from ..entry.drafts.changes import DraftError
from ..entry.drafts.drafts import Drafts
from ..store import StoreError
from . import hall
from .accounts import gate
from .entry.sender import send_waiting
from .say import say

PAGES = {hall.TESTS: "Your tests", hall.SET_UP: "Set up", hall.PLAN: "Plan", hall.READINGS: "Readings", hall.MAP: "Map",
         hall.CAUSES: "Causes", hall.FIXES: "Fixes", hall.WATERING: "Watering",
         hall.HANDOVER: "Handover", hall.MEMBERS: "Members", hall.SAFETY: "Safety", hall.GUIDE: "Guide"}

# The row of pages stays in sight; the frame's own bar would lie over it. Text on a chosen or main button keeps its
# contrast in both themes. On a phone everything that is tapped is as high as a fingertip.
_STYLE = """<style>
[data-testid=stHeader] {height: 0; min-height: 0; background: none}
[data-testid=stMainBlockContainer] {padding-top: 0; padding-bottom: 4rem; max-width: 1300px}
[data-testid=stMetricValue] {font-size: 2rem}
.st-key-pages {position: sticky; top: 0; z-index: 90; padding: 0.4rem 0; flex-wrap: nowrap; gap: 0.25rem;
  overflow-x: auto}
[data-testid=stApp] :has(.st-key-pages), .st-key-pages {background-color: inherit}
.st-key-pages [data-testid=stPageLink-NavLink] {min-height: 44px; padding: 0 0.7rem; margin: 0}
.st-key-pages [data-testid=stPageLink-NavLink] p {white-space: nowrap}
.st-key-screen, .st-key-waiting {position: absolute; height: 0; overflow: hidden}
[class*=st-key-onward] [data-testid=stPageLink-NavLink] {min-height: 48px; padding: 0 1.2rem; border-radius: 0.5rem;
  width: fit-content; background: #1b6e8a; border: 1px solid #1b6e8a}
[class*=st-key-onward] [data-testid=stPageLink-NavLink] * {color: #ffffff; font-weight: 600}
[class*=st-key-aside] [data-testid=stPageLink-NavLink] {min-height: 44px; padding: 0 1rem; border-radius: 0.5rem;
  width: fit-content; border: 1px solid currentColor; color: inherit}
[class*=st-key-ways] {gap: 0.5rem}
[class*=st-key-name_] [data-testid=stText] {font-weight: 600}
.say {padding: 0.75rem 1rem; border-left: 0.35rem solid #7a7a7a; border-radius: 0.25rem; white-space: pre-wrap;
  overflow-wrap: anywhere; background: rgba(128, 128, 128, 0.14)}
.say-error {border-color: #c62828}
.say-warning {border-color: #c77700}
.say-done {border-color: #2e7d32}
[data-testid^=stBaseButton-primary] {background: #1b6e8a; border-color: #1b6e8a; color: #ffffff}
[data-testid^=stBaseButton-primary]:hover, [data-testid^=stBaseButton-primary]:focus-visible {
  background: #155a72; border-color: currentColor; color: #ffffff}
@media (max-width: 640px), (pointer: coarse) {
  [data-testid=stMain] button, [data-testid=stMain] [data-testid=stSelectbox] div:has(> input),
  [data-testid=stMain] [data-testid=stTextInputRootElement], [data-testid=stMain] summary,
  [data-testid=stMain] [data-testid=stCheckbox] label {min-height: 44px}
  [data-testid=stMain] [data-testid=stTooltipIcon] button {min-height: 0}
  [data-testid=stMain] [data-testid=stCheckbox] label {align-items: center}
}
@media (max-width: 640px) {
  .st-key-pages {gap: 0; justify-content: space-between}
  .st-key-pages [data-testid=stPageLink-NavLink] {padding: 0 0.4rem}
  [class*=st-key-onward] [data-testid=stPageLink-NavLink] {width: 100%; justify-content: center}
  [data-testid=stMainBlockContainer] h1 {font-size: 1.5rem; padding: 0}
  [data-testid=stMetricValue] {font-size: 1.5rem}
}
</style>"""

_MEASURE = """
export default function (component) {
  const { data, setStateValue } = component;
  const small = window.matchMedia("(max-width: 640px)");
  const tell = () => { if (small.matches !== data.narrow) setStateValue("narrow", small.matches); };
  tell();
  let tries = 0;
  const seek = () => {
    const here = document.querySelector(".st-key-page_here");
    if (!here || here.innerText.trim() !== data.page) { if (tries++ < 30) setTimeout(seek, 100); return; }
    const row = here.closest(".st-key-pages"), a = here.getBoundingClientRect(), b = row.getBoundingClientRect();
    row.scrollLeft += (a.left + a.right - b.left - b.right) / 2;
    // The links may come in one by one, so that the row is not yet wider than the screen.
    if (row.scrollWidth <= row.clientWidth && tries++ < 30) setTimeout(seek, 100);
  };
  seek();
  small.addEventListener("change", tell);
  return () => small.removeEventListener("change", tell);
}
"""


def open_door(page) -> None:
    """Run a page with what all pages have in common."""
    st.set_page_config(page_title=f"{page.title} · Evenfall", layout="wide")
    st.html(_STYLE)
    gate()
    _measure(page.title)
    draft = st.query_params.get("draft") or st.session_state.get("draft")
    with st.container(key="pages", horizontal=True):
        for path, label in PAGES.items():
            with st.container(key="page_here" if label == page.title else None, width="content"):
                st.page_link(path, label=label, query_params={"draft": draft} if draft else None)
    try:
        if draft and page.title != PAGES[hall.READINGS]:  # there the entry sends itself
            waiting(draft)
        page.run()
    except (DraftError, StoreError) as error:
        say(str(error), "error")


def waiting(draft: str) -> None:
    """Take in readings of a draft that were typed on this device and did not get away."""
    with st.container(key="waiting"):
        fault = send_waiting(Drafts(), draft, key=f"waiting {draft}")
    if fault:
        say(fault, "error")


def onward(label: str, page: str, test: hall.Open, *, main: bool = True, place: str = "") -> None:
    """A link to another page of the same test that looks like the button it is."""
    name = "onward" if main else "aside"
    with st.container(key=f"{name}_{PAGES[page].replace(' ', '_').lower()}{place}"):
        st.page_link(page, label=label, query_params={"draft": test.draft})


def _measure(page: str) -> None:
    """Let the browser say whether its screen is narrow; a run follows only where its name suggested otherwise."""
    # The row of pages is moved so that this page's name is in sight.
    with st.container(key="screen"):
        told = _screen()(key="screen_width", data={"narrow": hall.is_narrow(), "page": page}, on_narrow_change=_nothing)
    if isinstance(told.get("narrow"), bool):
        st.session_state["narrow"] = told["narrow"]


def _nothing() -> None:
    """Streamlit knows a state of a component by the callback named for it."""


@lru_cache(maxsize=1)
def _screen():
    return st.components.v2.component("evenfall_screen", js=_MEASURE)
