"""On pages without the entry: what was typed and still waits in the browser is sent and stored.

It speaks as the entry does: the browser sends what it does not know to be stored,
again and again, until it is told can by can that it is.
"""

from __future__ import annotations

from functools import lru_cache

import streamlit as st

from ...entry.drafts.changes import DraftError
from ...entry.drafts.drafts import Drafts
from .component import Entered, entered_from, nothing, script_of, stored_numbers, waiting_entry

_PARTS = ("shelves.js", "journal.js", "connection.js", "sender.js")


def send_waiting(drafts: Drafts, draft: str, *, key: str) -> str:
    """Store what the browser sent, and let it send what waits; gives why it could not be stored, '' where it could.

    Meant to stand before a page reads the draft, so that the page shows what has arrived.
    """
    if not drafts.exists(draft):
        return ""
    known = f"stored {key}"
    sent = waiting_entry(draft, key=key)
    fault = _store(drafts, draft, sent, known)
    told = {"draft": draft, "stored": stored_numbers(sent) if not fault else {}}
    drawn = _component()(key=key, data=told, on_changes_change=nothing)
    # The first run of a session sees what the browser holds only after drawing.
    late = entered_from(drawn.get("changes"), draft)
    if late is None or late in (sent, st.session_state.get(known)):
        return fault
    fault = _store(drafts, draft, late, known)
    if not fault:
        st.rerun()  # which tells the browser
    return fault


def _store(drafts: Drafts, draft: str, sent: Entered | None, known: str) -> str:
    """Store once what stays in the session until the browser sends anew."""
    if sent is None or st.session_state.get(known) == sent:
        return ""
    try:
        drafts.put(draft, sent.changes, sent.device)
    except DraftError as refused:
        return str(refused)
    st.session_state[known] = sent
    return ""


@lru_cache(maxsize=1)
def _component():
    return st.components.v2.component("evenfall_sender", js=script_of(_PARTS))
