"""What every page shares: the open draft, units, one cached call into the library."""

from __future__ import annotations

import json
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from threading import Lock

import streamlit as st

from ..cans.dry_spots import PART_OF_MEAN
from ..entry.cans import Unread, reading_texts
from ..entry.drafts.changes import Change, is_draft_id
from ..entry.drafts.drafts import Drafts
from ..entry.to_record import plain_of, record_of
from ..figures.look import Look
from ..record.faults import Fault
from ..record.model import Record
from ..result.assessment import assess
from ..result.model import Result
from ..units.shown import system_of
from .keeping import find_test, stands_of
from .say import say

_RESULTS_KEPT = 32
_NUMBERS = count(time.time_ns() // 1000)  # of changes: ever higher, also where this module is loaded anew

# Whole paths: the dashboard also opens from a script in another folder.
TESTS, SET_UP, PLAN, READINGS, MAP, CAUSES, FIXES, WATERING, HANDOVER, MEMBERS, SAFETY, GUIDE = (
    str(Path(__file__).parent / "rooms" / f"{name}.py")
    for name in ("tests", "set_up", "plan", "readings", "map", "causes", "fixes", "watering", "handover", "members",
                 "safety", "guide"))


@dataclass(frozen=True)
class Open:
    """The draft that a page is about."""

    draft: str
    values: dict[str, str]  # newest text of each key
    revision: int  # grows with every change


def current(*, needed: bool = True) -> Open | None:
    """Find the draft that this page is about: the one in the address, else the one opened last."""
    asked = st.query_params.get("draft")
    if asked is not None and not (is_draft_id(asked) and Drafts().exists(asked)):
        say("The test in this address is not kept where Evenfall runs. Nothing was changed.", "error")
        asked = None
        st.session_state.pop("draft", None)
    draft = asked or st.session_state.get("draft")
    if draft and Drafts().exists(draft):
        st.session_state["draft"] = draft
        st.session_state.setdefault("device", _new_device())
        if st.query_params.get("draft") != draft:
            st.query_params["draft"] = draft
        snapshot = Drafts().snapshot(draft)
        return Open(draft, snapshot.values, snapshot.revision)
    if needed:
        say("No test is open yet.", "note")
        st.page_link(TESTS, label="Go to your tests")
        st.stop()
    return None


def begin(text: str, title: str) -> str:
    """Start a draft from a record, whose readings are its first entries; gives the draft's id."""
    draft = Drafts().start(text, title)
    store(draft, reading_texts({"base": text}))
    return draft


def enter(draft: str, page: str) -> None:
    """Open a draft on a page."""
    st.session_state["draft"] = draft
    st.switch_page(page, query_params={"draft": draft})


def store(draft: str, changes: dict[str, str]) -> None:
    """Put changes of the set-up on disk."""
    # A touch that comes while a run goes on ends that run, or a callback, at its next word to the session; a text
    # that is not on disk by then would be lost. So nothing here speaks to the session before the text is on disk
    # (`to_dict` reads without giving way).
    known = st.session_state.to_dict().get("device")
    device = known or _new_device()
    drafts = Drafts()
    seen = drafts.revision(draft)
    drafts.put(draft, [Change(key, text, next(_NUMBERS), seen) for key, text in changes.items()], device)
    if not known:
        st.session_state["device"] = device


def _new_device() -> str:
    return f"page-{secrets.token_hex(6)}"


def heading(title: str, test: Open | None = None) -> None:
    """Write a page's title, the test's name and what does not fit together in it."""
    st.title(title)
    if test is None:
        return
    name = plain_of(test.values)[0].get("test", {}).get("title")
    st.text(str(name or "Untitled test"))
    for clash in Drafts().clashes(test.draft):
        say("Two people changed the same thing. " + clash.says, "warning")


def system(test: Open) -> str:
    """Units as the person likes them, whatever the record uses."""
    return st.session_state.get("units") or _own_system(test)


def _own_system(test: Open) -> str:
    return system_of(plain_of(test.values)[0].get("floor", {}).get("width", "")) or "metric"


def choose_units(test: Open) -> str:
    """Let the person choose units."""
    return ask_units(system(test), "units_widget")


def ask_units(default: str, key: str) -> str:
    """Ask in which units things are shown, on this page and the others."""
    names = {"metric": "metric (m, mm, kPa)", "US": "US (ft, in, psi)"}
    chosen = st.segmented_control("Units shown", list(names), default=default, format_func=names.get, key=key,
                                  required=True)
    if chosen:
        st.session_state["units"] = chosen
    return st.session_state.get("units") or default


def look(**more) -> Look:
    """How this person's screen wants figures."""
    dark = getattr(st.context.theme, "type", "light") == "dark"
    return Look(narrow=is_narrow(), dark=dark, **more)


def is_narrow() -> bool:
    """Whether the screen is a phone's: as the browser measured it, else as its name suggests."""
    measured = st.session_state.get("narrow")
    return "Mobi" in (st.context.headers.get("User-Agent") or "") if measured is None else measured


def read(test: Open) -> tuple[Record | None, list[Fault], list[Unread]]:
    """Make a record of the draft; the faults and the texts that are no readings beside it."""
    return _read(str(Drafts().file), test.draft, test.revision, test.values)


@st.cache_data(max_entries=32, show_spinner=False)
def _read(file: str, draft: str, revision: int, _values: dict[str, str]):
    return record_of(_values)


def result(
    test: Open, record: Record, part_of_mean: float, units: str, only: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> Result:
    """Assess the draft's record; shared between sessions, so nothing in the result may be changed."""
    # The file too: a copy of a draft in another person's folder may have gone on in another way. And the earlier test:
    # what is saved of it later is held against this one.
    key = (str(Drafts().file), test.draft, test.revision, part_of_mean, units, only, stands_of(record.test.rechecks))
    kept, lock = _results()
    with lock:
        if key in kept:
            kept.move_to_end(key)
            return kept[key]
    made = assess(record, part_of_mean=part_of_mean, system=units, only=only, earlier=find_test, progress=progress,
                  rivals=True)
    with lock:
        kept[key] = made
        while len(kept) > _RESULTS_KEPT:
            kept.popitem(last=False)
    return made


def assessed(record: Record, units: str) -> Result:
    """Assess a record that is in no draft yet, to look at it."""
    return assess(record, part_of_mean=dry_part(), system=units, earlier=find_test, rivals=True)


def dry_part() -> float:
    """The part of the mean under which ground is dry, as the person set it."""
    return st.session_state.get("dry part", PART_OF_MEAN)


def whole_result(test: Open, record: Record, units: str) -> Result:
    """Assess the draft's record, the whole floor too, behind a bar."""
    bar = st.empty()
    made = result(test, record, dry_part(), units, progress=lambda done: bar.progress(
        done, "Estimating the whole floor from the heads' pattern …"))
    bar.empty()
    return made


@st.cache_resource(show_spinner=False)
def _results() -> tuple[OrderedDict, Lock]:
    """Results by file, draft, revision and options; a cached function could not tell of its progress."""
    return OrderedDict(), Lock()


def replace_list(test: Open, name: str, items: list[dict]) -> None:
    """Replace a list of tables of the draft."""
    store(test.draft, {name: list_text(items)})


def list_text(items: list[dict]) -> str:
    """Write a list of tables as a draft keeps it."""
    return json.dumps(items, default=str, ensure_ascii=False)


def chart(figure, key: str, alt: str) -> None:
    """Draw a figure to look at, as it was made and without a bar of tools."""
    st.plotly_chart(figure, key=key, theme=None, config={"displayModeBar": False}, alt=alt)
