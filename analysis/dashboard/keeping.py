"""Where finished tests are kept, for the pages: which store, and who is looking."""

from __future__ import annotations

import streamlit as st

from ..record.model import Record
from ..store import OWNER, Store, Viewer
from ..store.usual import open_usual, usual_address
from . import accounts


def viewer() -> Viewer:
    """Who is looking, as the store knows people: from this run's log-in alone."""
    if not accounts.accounts_on():
        return OWNER
    who = accounts.person()
    return Viewer(who.name, who.member, who.coordinator, who.key) if who else Viewer()


def store() -> Store:
    """The store of this server: the one that the secrets name, else the usual one."""
    return _opened(accounts.store_address() or usual_address())


@st.cache_resource(max_entries=4, show_spinner=False)
def _opened(address: str) -> Store:
    return open_usual(address)


def find_test(name: str) -> Record | None:
    """Find a kept test that the person who is looking may see."""
    return store().find(viewer(), name)


def stands_of(name: str | None) -> tuple[str, int] | None:
    """Which version stands of a test that this person may see, and in which store; None without a name."""
    return (store().name, store().standing(viewer(), name)) if name else None
