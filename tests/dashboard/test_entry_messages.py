"""What a browser sends may be anything: only sound changes get through."""

import pytest
from evenfall.dashboard.entry.component import MOST_CHANGES, Entered, entered_from, reading_entry
from evenfall.entry.drafts.changes import Change

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
