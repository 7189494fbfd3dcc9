"""Parts that keep a test: saving without losing anybody's work, the list of kept tests, their versions."""

from __future__ import annotations

import streamlit as st

from ..entry.drafts.changes import KEPT
from ..entry.drafts.drafts import Drafts
from ..record.file import record_text
from ..record.model import Record
from ..store import Kept, Saved, StoreError, with_id
from ..store.archive import reminder
from ..store.undoing import Turn, do, what_redo, what_undo
from . import hall, keeping
from .clocks import clock
from .list_parts import title_of
from .say import say

_MOST = 40


def save_button(test: hall.Open, record: Record) -> None:
    """The button that keeps a test, and what became of it."""
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
    """Give a record what it needs to be kept: an id, and the member for whom somebody is logged in."""
    record, whose = with_id(record, draft), keeping.viewer().member
    if whose and not record.test.member:
        record = record.model_copy(update={"test": record.test.model_copy(update={"member": whose})})
    return record


def keep(test: hall.Open, record: Record) -> Saved:
    """Keep a draft as the newest version of its test; where another has changed the test meanwhile, beside it."""
    seen = test.values.get(KEPT, "")
    saved = keeping.store().save(keeping.viewer(), record, record_text(record), int(seen) if seen.isdecimal() else 0)
    changes = {"test.id": record.test.id} | ({"test.member": record.test.member} if record.test.member else {})
    if saved.stands:
        changes[KEPT] = str(saved.version)
    hall.store(test.draft, {key: text for key, text in changes.items() if test.values.get(key) != text})
    return saved


def open_kept(key: str, page: str, version: int | None = None) -> None:
    """Open a kept test as a draft that knows which version it began from."""
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
    """What to call a kept test."""
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
    for one in store.history(viewer, item.test)[::-1]:
        who = f" by {one.saved_by}" if one.saved_by else ""
        source = f", from {one.source}" if one.source else ""
        kind = "".join(f", {part}" for part in (one.became, one.changed) if part)
        stands = ", stands now" if one.version == item.version else ""
        with st.container(horizontal=True, vertical_alignment="center", key=f"version_{item.test}_{one.version}"):
            st.text(f"Version {one.version}, saved {clock(one.saved_at)}{who}{source}{kind}{stands}")
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
        st.rerun()


def undo_part() -> None:
    """The way back from what this person did last, and forward again: what it will do is said first, and asked."""
    store, viewer, state = keeping.store(), keeping.viewer(), st.session_state
    with st.container(horizontal=True):
        for key, label, turn in (("undo", "Undo what I did last", what_undo(store, viewer)),
                                 ("redo", "Do it again", what_redo(store, viewer))):
            if turn and st.button(label, key=key, help="Says first what it will do, and asks."):
                state["asked turn"] = turn
    turn = state.get("asked turn")
    if turn:
        st.text(turn.says(clock))
        with st.container(horizontal=True):
            if turn.steps and st.button("Yes, do it", type="primary", key="turn_yes"):
                state["turned"] = _do(turn)
                del state["asked turn"]
                st.rerun()
            if st.button("No, leave it", key="turn_no"):
                del state["asked turn"]
                st.rerun()
    if told := state.pop("turned", ""):
        st.text(told)


def _do(turn: Turn) -> str:
    try:
        do(keeping.store(), keeping.viewer(), turn)
    except StoreError as error:
        return str(error)
    return turn.told()


def archive_reminder() -> None:
    """Say to whoever keeps the store of several members that its last archive is old."""
    if keeping.viewer().sees_all and (says := reminder(keeping.store())):
        say(f"{says} The button is on the members page, under 'Take it with you'.", "warning")
