"""What a browser sends may be anything: only sound changes get through."""

import pytest
from evenfall.dashboard.entry import sender
from evenfall.dashboard.entry.component import MOST_CHANGES, Entered, entered_from, reading_entry
from evenfall.entry.drafts.changes import Change, DraftError
from evenfall.entry.drafts.drafts import Drafts
from streamlit.testing.v1 import AppTest

DRAFT = "0123456789abcdef"
GOOD = {"can": "r1c1", "text": "31", "number": 7, "seen": 3}


def message(*changes, **other):
    return {"draft": DRAFT, "device": "a1b2", "changes": list(changes), **other}


def test_a_sound_message_is_read():
    assert entered_from(message(GOOD), DRAFT) == Entered("a1b2", (Change("r1c1", "31", 7, 3),))


@pytest.mark.parametrize(
    "sent",
    [
        None,
        7,
        "text",
        [],
        {},
        message(),
        message(GOOD, draft="f" * 16),
        message(GOOD, draft=None),
        message(GOOD, device="a b"),
        message(GOOD, device=7),
        message(GOOD, device=""),
        message(changes_=1) | {"changes": {"0": GOOD}},
        {"draft": DRAFT, "device": "a1b2", "changes": [GOOD] * (MOST_CHANGES + 1)},
    ],
)
def test_anything_else_is_nothing(sent):
    assert entered_from(sent, DRAFT) is None


@pytest.mark.parametrize(
    "bad",
    [
        7,
        None,
        [],
        {},
        {**GOOD, "can": "base"},
        {**GOOD, "can": "floor.width"},
        {**GOOD, "can": "!away"},
        {**GOOD, "can": "r0c1"},
        {**GOOD, "can": ["r1c1"]},
        {**GOOD, "text": 31},
        {**GOOD, "text": None},
        {**GOOD, "text": "1" * 401},
        {**GOOD, "number": 0},
        {**GOOD, "number": True},
        {**GOOD, "number": 1.0},
        {**GOOD, "number": "7"},
        {**GOOD, "number": 2**53 + 1},
        {**GOOD, "seen": -1},
        {**GOOD, "seen": None},
        {key: GOOD[key] for key in ("can", "text", "number")},
    ],
)
def test_a_malformed_change_is_left_out_and_the_others_stay(bad):
    assert entered_from(message(bad, GOOD), DRAFT).changes == (Change("r1c1", "31", 7, 3),)


def test_half_a_character_can_still_be_stored():
    changes = entered_from(message({**GOOD, "text": "3\ud8001"}), DRAFT).changes
    assert changes[0].text == "3?1"


def test_another_decimal_sign_is_refused():
    with pytest.raises(ValueError, match="';' was received, '.' or ',' was expected"):
        reading_entry([], {}, draft=DRAFT, revision=0, acknowledged={}, decimal=";", key="entry")


def sending(draft):
    """A page that takes in what waits and shows what it then reads."""
    import streamlit as st
    from evenfall.dashboard.entry.sender import send_waiting
    from evenfall.entry.drafts.drafts import Drafts

    fault = send_waiting(Drafts(), draft, key="waiting")
    st.text(fault or Drafts().values(draft).get("r1c1", "nothing"))


@pytest.fixture
def browser_holds(monkeypatch):
    """Says what the browser holds for a draft; gives what it is told of it."""
    told = []

    def hold(draft, *changes):
        sent = message(*changes, draft=draft)

        def component(*, key, data, on_changes_change):
            told.append(data)
            return {"changes": sent}

        def waiting(draft, *, key):  # a session knows of the component after drawing it
            return entered_from(sent, draft) if told else None

        monkeypatch.setattr(sender, "_component", lambda: component)
        monkeypatch.setattr(sender, "waiting_entry", waiting)
        return told

    return hold


def test_what_waits_in_the_browser_is_stored_before_the_page_reads_it(browser_holds):
    draft = Drafts().start("")
    told = browser_holds(draft, GOOD)
    app = AppTest.from_function(sending, args=(draft,)).run()
    assert [item.value for item in app.text] == ["31"]
    assert told == [{"draft": draft, "stored": {}}, {"draft": draft, "stored": {"r1c1": 7}}]
    app.run()
    assert len(told) == 3 and len(Drafts().history(draft, "r1c1")) == 1


def test_what_cannot_be_stored_is_said_and_not_acknowledged(browser_holds, monkeypatch):
    draft = Drafts().start("")
    told = browser_holds(draft, GOOD)

    def full(*_):
        raise DraftError("draft: no room")

    with monkeypatch.context() as broken:
        broken.setattr(Drafts, "put", full)
        app = AppTest.from_function(sending, args=(draft,)).run()
    assert [item.value for item in app.text] == ["draft: no room"] and told[-1]["stored"] == {}
    assert [item.value for item in app.run().text] == ["31"] and told[-1]["stored"] == {"r1c1": 7}


def test_a_draft_that_is_not_there_is_asked_for_nothing(browser_holds):
    told = browser_holds(DRAFT, GOOD)
    app = AppTest.from_function(sending, args=(DRAFT,)).run()
    assert [item.value for item in app.text] == ["nothing"] and told == []
