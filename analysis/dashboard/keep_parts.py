"""Parts that keep a test: saving without losing anybody's work, the list of kept tests, their versions."""

from __future__ import annotations

import streamlit as st

from ..entry.drafts.changes import KEPT
from ..entry.drafts.drafts import Drafts
from ..record.file import record_text
from ..record.model import Record
from ..store import Kept, Saved, StoreError, with_id
from . import hall, keeping
from .clocks import clock
from .list_parts import title_of
from .say import say

_MOST = 40


def save_button(test: hall.Open, record: Record) -> None:
    """The button that keeps a test, and what became of it.

    Parameters
    ----------
    test : Open
        The draft.
    record : Record
        From `named`.
    """
    older_than = _later_version(test, record)
    if older_than:
        say(f"This began from version {test.values[KEPT]} of the test; version {older_than} stands now. What "
            "you save is kept beside it until you let it stand.", "warning")
    if st.button("Save the record", type="primary", key="save"):
        try:
            _note(test.draft, keep(test, record))
        except StoreError as error:
            say(str(error), "error")
            st.session_state.pop("saved as", None)
    draft, saved, revision = st.session_state.get("saved as", ("", None, 0))
    if draft != test.draft or (saved.stands and test.revision > revision):
        return  # of another draft, or of a text that has changed since
    if saved.stands:
        say(f"Saved as {saved.test}, version {saved.version}.", "done")
        return
    say("A later version of this test stands.", "warning")
    st.text(saved.says)  # as text: it repeats a person's name
    with st.container(horizontal=True):
        if st.button("Let mine stand", key="mine_stands", help="The other stays in the list of versions."):
            again = keeping.store().stand(keeping.viewer(), saved.test, saved.version)
            hall.store(test.draft, {KEPT: str(again.version)})
            _note(test.draft, again)
            st.rerun()
        if st.button("Look at the other", key="look_at_theirs", help="Opens it as a test of its own; yours stays."):
            st.session_state.pop("saved as", None)
            open_kept(saved.test, hall.MAP)


def _later_version(test: hall.Open, record: Record) -> int:
    """The version that stands where the draft began from an older one; else 0."""
    began = test.values.get(KEPT, "")
    if not (began.isdecimal() and int(began)):
        return 0
    stands = keeping.store().standing(keeping.viewer(), record.test.id)
    return stands if stands > int(began) else 0


def _note(draft: str, saved: Saved) -> None:
    """Remember what became of a save, and of which revision of the draft."""
    st.session_state["saved as"] = (draft, saved, Drafts().revision(draft))


def named(record: Record, draft: str) -> Record:
    """Give a record what it needs to be kept: an id, and the member for whom somebody is logged in.

    Parameters
    ----------
    record : Record
        Checked.
    draft : str
        The draft that it comes from.

    Returns
    -------
    Record
    """
    record, whose = with_id(record, draft), keeping.viewer().member
    if whose and not record.test.member:
        record = record.model_copy(update={"test": record.test.model_copy(update={"member": whose})})
    return record


def keep(test: hall.Open, record: Record) -> Saved:
    """Keep a draft's record as the newest version of its test; where another has changed the test meanwhile, beside it.

    Parameters
    ----------
    test : Open
        The draft.
    record : Record
        From `named`.

    Returns
    -------
    Saved

    Raises
    ------
    StoreError
        For another's test, or a store that cannot be written.
    """
    seen = test.values.get(KEPT, "")
    saved = keeping.store().save(keeping.viewer(), record, record_text(record), int(seen) if seen.isdecimal() else 0)
    changes = {"test.id": record.test.id} | ({"test.member": record.test.member} if record.test.member else {})
    if saved.stands:
        changes[KEPT] = str(saved.version)
    hall.store(test.draft, {key: text for key, text in changes.items() if test.values.get(key) != text})
    return saved


def open_kept(key: str, page: str, version: int | None = None) -> None:
    """Open a kept test as a draft that knows which version it began from.

    Parameters
    ----------
    key : str
        Of the test.
    page : str
        Where to go.
    version : int, optional
        An older one; the one that stands if left out.
    """
    began = version or keeping.store().standing(keeping.viewer(), key)
    text = keeping.store().text(keeping.viewer(), key, version)
    draft = hall.begin(text, title_of(text, key))
    hall.store(draft, {KEPT: str(began)})
    hall.enter(draft, page)


def kept_list() -> None:
    """Tests that were saved, the last first, each with the way in and its versions."""
    store, viewer = keeping.store(), keeping.viewer()
    tests = store.tests(viewer, _MOST)
    if not tests:
        return
    st.subheader("Saved records")
    for item in tests:
        _one(item)
    more = store.count(viewer) - len(tests)
    if more > 0:
        st.text(f"{more} more are kept; the members page has all of them.")


def title_of_kept(item: Kept) -> str:
    """What to call a kept test.

    Parameters
    ----------
    item : Kept
        Of the store.

    Returns
    -------
    str
        Its title, or its key where its figures are still to be made.
    """
    return item.summary.title if item.summary else item.test


def _one(item: Kept) -> None:
    with st.container(border=True):
        with st.container(horizontal=True, vertical_alignment="center"):
            day = f", {item.summary.date}" if item.summary and item.summary.date else ""
            st.text(f"{title_of_kept(item)}{day}\n{item.test}, saved {clock(item.saved_at)}")
            if st.button("Open as a test", key=f"saved_{item.test}",
                         help="Opens a copy to look at or change; what is saved stays as it is."):
                open_kept(item.test, hall.MAP)
            if st.button("Versions", key=f"versions_{item.test}", type="tertiary"):
                chosen = st.session_state.get("versions of")
                st.session_state["versions of"] = None if chosen == item.test else item.test
        if st.session_state.get("versions of") == item.test:
            _versions(item)


def _versions(item: Kept) -> None:
    store, viewer = keeping.store(), keeping.viewer()
    for one in store.versions(viewer, item.test)[::-1]:
        who = f" by {one.saved_by}" if one.saved_by else ""
        kind = f", {one.became}" if one.became else ""
        stands = ", stands now" if one.version == item.version else ""
        with st.container(horizontal=True, vertical_alignment="center", key=f"version_{item.test}_{one.version}"):
            st.text(f"Version {one.version}, saved {clock(one.saved_at)}{who}{kind}{stands}")
            if one.kind == "withdrawn" or one.version == item.version:
                continue
            if st.button("Look at it", key=f"look_{item.test}_{one.version}"):
                open_kept(item.test, hall.MAP, one.version)
            if st.button("Let it stand", key=f"stand_{item.test}_{one.version}",
                         help="Its text becomes the newest version; the others stay."):
                store.stand(viewer, item.test, one.version)
                st.rerun()
    if st.button("Take it off the list", key=f"withdraw_{item.test}", type="tertiary",
                 help="Nothing is deleted: every version stays, and saving the test again brings it back."):
        store.withdraw(viewer, item.test)
        st.session_state["taken off"] = item.test
        st.rerun()


def bring_back() -> None:
    """The way back for a test that was just taken off the list."""
    name = st.session_state.get("taken off")
    if not name:
        return
    with st.container(horizontal=True, vertical_alignment="center"):
        st.text(f"{name} was taken off the list.")
        if st.button("Bring it back", key="bring_back"):
            keeping.store().undo(keeping.viewer(), name)
            st.session_state.pop("taken off")
            st.rerun()
