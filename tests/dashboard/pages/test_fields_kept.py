"""Texts of fields are on disk whatever a newer touch cuts short."""

from types import SimpleNamespace

import pytest
from evenfall.dashboard import fields, hall
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.to_record import NEW_TEST


class Cut(BaseException):
    """What a run, and a callback, gets at its next word to the session when the page is touched again."""


class Session:
    """A session that can be read as a whole without giving way, and in which every other word is cut."""

    def __init__(self, values):
        self.values = values

    def to_dict(self):
        return dict(self.values)

    def __getattr__(self, name):
        raise Cut

    def __setitem__(self, key, value):
        raise Cut

    __getitem__ = __contains__ = __getattr__


@pytest.fixture
def draft():
    return Drafts().start(NEW_TEST, "cut")


def session_of(monkeypatch, draft, **more):
    values = {f"field {draft} floor.width 0": "6 m", f"field {draft} floor.length 3": "12 m",
              f"field {draft} test.title 0": "as it was", "field another floor.width 0": "9 m",
              "typed": fields._Typed({f"field {draft} floor.width 0": "", f"field {draft} floor.length 3": "11 m",
                                      f"field {draft} test.title 0": "as it was"}), **more}
    for module in (fields, hall):
        monkeypatch.setattr(module, "st", SimpleNamespace(session_state=Session(values)))
    return values["typed"]


def test_all_that_was_typed_is_stored_without_giving_way(monkeypatch, draft):
    typed = session_of(monkeypatch, draft, device="page-1")
    fields._keep(draft)
    found = Drafts().values(draft)
    assert (found["floor.width"], found["floor.length"]) == ("6 m", "12 m") and "test.title" not in found
    assert typed.stored[f"field {draft} floor.width 0"] == "6 m"
    assert typed.own == {f"field {draft} floor.width", f"field {draft} floor.length"}
    revision = Drafts().revision(draft)
    fields._keep(draft)  # nothing is left to store
    assert Drafts().revision(draft) == revision


def test_what_was_cut_short_is_stored_the_next_time(monkeypatch, draft):
    session_of(monkeypatch, draft)  # the first change of all has still to note its device
    with pytest.raises(Cut):
        fields._keep(draft)
    assert Drafts().values(draft)["floor.width"] == "6 m"
    session_of(monkeypatch, draft, device="page-1")
    fields._keep(draft)
    assert Drafts().values(draft)["floor.length"] == "12 m"


def test_numbers_of_changes_rise_from_session_to_session(monkeypatch, draft):
    for turn, width in enumerate(("6 m", "7 m", "8 m")):
        session_of(monkeypatch, draft, device="page-1", **{f"field {draft} floor.width 0": width})
        fields._keep(draft)
        assert Drafts().values(draft)["floor.width"] == width, turn
