"""Entry of readings: a keypad for a phone and a table for a laptop, one component.

The browser keeps every keystroke on two shelves of its own and sends each changed
can at once, again and again until it is told that this change of this can is
stored. `draft_entry` stores what arrives and draws the component; `reading_entry`
only draws it and hands back what arrived.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import streamlit as st

from ...entry.drafts.changes import (
    LARGEST_NUMBER,
    LONGEST_TEXT,
    Change,
    DraftError,
    Snapshot,
    checked_device,
    is_reading_key,
)
from ...entry.drafts.drafts import Drafts

MOST_CHANGES = 2000
_PARTS = ("shelves.js", "journal.js", "connection.js", "guard.js", "keypad.js", "table.js", "entry.js")


@dataclass(frozen=True)
class Can:
    """One can, as the component draws it.

    Attributes
    ----------
    key : str
        ``r2c3`` or ``p7``.
    row, column : int
        Its row and its place in the row, counted from 1; 0 and 0 for a free point [1].
    label : str
        In words; what follows the first ' - ' is shown smaller,
        as in 'Row 2, can 3 - 3.2 m across, 3.6 m along'.
    x_share, y_share : float
        Its place as a share of the floor's width and length; y 0, the inlet end, is drawn below [1].
    """

    key: str
    row: int
    column: int
    label: str
    x_share: float
    y_share: float


@dataclass(frozen=True)
class Entered:
    """What a browser sent.

    Attributes
    ----------
    device : str
        Id of the device.
    changes : tuple of Change
        What it does not know to be stored; some may be stored already.
    """

    device: str
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class DraftEntry:
    """The draft after a run of `draft_entry`.

    Attributes
    ----------
    snapshot : Snapshot
        The draft as it stands.
    device : str
        Id of the device that sent last in this session; '' before it sent.
    fault : str
        Why something could not be stored or read, one sentence; '' where all went well.
        What was typed stays in the browser and is sent again.
    """

    snapshot: Snapshot
    device: str
    fault: str


def entered_from(message: object, draft: str) -> Entered | None:
    """Read what the browser sent, which may be anything.

    Parameters
    ----------
    message : object
        The value of the component's state 'changes'.
    draft : str
        Id of the draft the page is showing.

    Returns
    -------
    Entered or None
        None for no message, one of another draft or one without a usable change;
        changes that are malformed are left out.
    """
    if not isinstance(message, Mapping) or message.get("draft") != draft:
        return None
    changes = message.get("changes")
    if not isinstance(changes, list) or len(changes) > MOST_CHANGES:
        return None
    try:
        device = checked_device(message.get("device"))
    except DraftError:
        return None
    usable = tuple(change for change in map(_change_from, changes) if change is not None)
    return Entered(device, usable) if usable else None


def _change_from(sent: object) -> Change | None:
    if not isinstance(sent, Mapping) or not is_reading_key(sent.get("can")):
        return None
    text, number, seen = sent.get("text"), sent.get("number"), sent.get("seen")
    if not isinstance(text, str) or len(text) > LONGEST_TEXT:
        return None
    if type(number) is not int or type(seen) is not int:
        return None
    if not 1 <= number <= LARGEST_NUMBER or not 0 <= seen <= LARGEST_NUMBER:
        return None
    # half a surrogate pair cannot be written; all else is kept as typed
    return Change(sent["can"], text.encode("utf-8", "replace").decode("utf-8"), number, seen)


@lru_cache(maxsize=1)
def _component():
    style = files(__package__).joinpath("entry.css").read_text(encoding="utf-8")
    return st.components.v2.component("evenfall_entry", css=style, js=script_of(_PARTS))


def script_of(parts: Sequence[str]) -> str:
    """The script of a component, which is one file to the browser."""
    return "\n".join(files(__package__).joinpath(part).read_text(encoding="utf-8") for part in parts)


def reading_entry(
    cans: Sequence[Can],
    values: Mapping[str, str],
    *,
    draft: str,
    revision: int,
    acknowledged: Mapping[str, int],
    stored: Mapping[str, int] | None = None,
    decimal: str = ".",
    unit: str = "mL",
    odd: Mapping[str, str] | None = None,
    key: str,
) -> Entered | None:
    """Draw the component and hand back what the browser sent last.

    Parameters
    ----------
    cans : sequence of Can
        In walking order.
    values : mapping of str to str
        Texts of the draft; those of other keys than the cans' are not sent.
    draft : str
        Id of the draft.
    revision : int
        Revision of the draft that `values` show [1].
    acknowledged : mapping of str to int
        For each device, the highest change number stored; its next ones are above [1].
    stored : mapping of str to int, optional
        For each can that the browser sent last, the number up to which it is stored [1].
    decimal : str
        ``.`` or ``,``, the keypad's decimal key.
    unit : str
        Unit shown beside the reading.
    odd : mapping of str to str, optional
        Cans to read again, each with the sentence that asks for it.
    key : str
        Key of the component in the page.

    Returns
    -------
    Entered or None
        The same again on every run until the browser sends anew.

    Raises
    ------
    ValueError
        Another decimal sign.
    """
    if decimal not in (".", ","):
        raise ValueError(f"decimal: {decimal!r} was received, '.' or ',' was expected; name one of the two.")
    data = {
        "draft": draft,
        "revision": revision,
        "acknowledged": dict(acknowledged),
        "stored": dict(stored or {}),
        "decimal": decimal,
        "unit": unit,
        "cans": [[can.key, can.row, can.column, can.label, can.x_share, can.y_share] for can in cans],
        "values": {can.key: values[can.key] for can in cans if values.get(can.key)},
        "odd": dict(odd or {}),
    }
    result = _component()(key=key, data=data, on_changes_change=nothing)
    return entered_from(result.get("changes"), draft)


def waiting_entry(draft: str, *, key: str) -> Entered | None:
    """What the browser sent last, before the component is drawn or without drawing it.

    A page that stops drawing the component in this run can store with it what came with the click.

    Parameters
    ----------
    draft : str
        Id of the draft.
    key : str
        Key of the component in the page.

    Returns
    -------
    Entered or None
        None too in the first run of a session, which knows of the component only after drawing it.
    """
    waiting = st.session_state.get(key)
    return entered_from(waiting.get("changes"), draft) if isinstance(waiting, Mapping) else None


def nothing() -> None:
    """Streamlit knows a state of a component by the callback named for it."""


def draft_entry(
    drafts: Drafts, draft: str, cans: Sequence[Can], *, decimal: str = ".", unit: str = "mL",
    odd: Callable[[Snapshot], Mapping[str, str]] | None = None, key: str
) -> DraftEntry:
    """Store what the browser sent, then draw the component with the draft as it stands.

    Meant to stand alone in an ``st.fragment``, so that a reading costs no run of the page.

    Parameters
    ----------
    drafts : Drafts
        Where to store.
    draft : str
        Id of a draft that exists.
    cans : sequence of Can
        In walking order.
    decimal, unit, key : str
        See `reading_entry`.
    odd : callable, optional
        Tells of a snapshot which cans to read again, see `reading_entry`.

    Returns
    -------
    DraftEntry
        Faults of the disk or the file are in it as a sentence: the component is drawn
        all the same, so that nobody is interrupted in typing.
    """
    early = waiting_entry(draft, key=key)
    snapshot, fault = _stored(drafts, draft, early)
    stored = stored_numbers(early) if not fault else {}
    late = reading_entry(
        cans,
        snapshot.values,
        draft=draft,
        revision=snapshot.revision,
        acknowledged=snapshot.acknowledged,
        stored=stored,
        decimal=decimal,
        unit=unit,
        odd=odd(snapshot) if odd else None,
        key=key,
    )
    # The first run of a session sees what the browser holds only after drawing.
    if late is not None and late != early and not fault:
        snapshot, fault = _stored(drafts, draft, late)
    device = (late or early or Entered("", ())).device
    return DraftEntry(snapshot, device, fault)


def stored_numbers(entered: Entered | None) -> dict[str, int]:
    """The number up to which each can that was sent is stored."""
    # by can: another tab's change with a lower number may still be on its way
    return {change.can: change.number for change in entered.changes} if entered else {}


def _stored(drafts: Drafts, draft: str, entered: Entered | None) -> tuple[Snapshot, str]:
    fault, snapshot = "", Snapshot({}, 0, {})
    try:
        if entered is not None:
            drafts.put(draft, entered.changes, entered.device)
    except DraftError as refused:
        fault = str(refused)
    try:
        snapshot = drafts.snapshot(draft)
    except DraftError as refused:
        fault = fault or str(refused)
    return snapshot, fault
