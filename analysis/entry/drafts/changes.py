"""One change of a draft: its form, what is checked of it, and when two clash.

A draft is a heap of changes: *this can got this text, on this device, as that
device's change number so and so, when the device had seen the draft up to that
revision*. Nothing here touches the disk.

Keys ("cans") are short: a reading is ``r2c3`` (row 2, column 3, counted from 1)
or ``p7`` (seventh free point), a field of the set-up is a dotted key such as
``floor.width``, and ``base`` holds the text of the record a draft began from.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TypeGuard

BASE = "base"
KEPT = "kept"  # version of the kept test that the draft began from, or last became
NO_READING = "x"
LONGEST_BASE = 200_000
LONGEST_TEXT = 400
LARGEST_NUMBER = 2**53
OUR_DEVICE = "draft-itself"

_DRAFT = re.compile(r"[0-9a-f]{16}")
_DEVICE = re.compile(r"[A-Za-z0-9-]{1,64}")
_CAN = re.compile(r"[A-Za-z][A-Za-z0-9_.-]{0,79}")
_READING = re.compile(r"r([1-9][0-9]{0,4})c([1-9][0-9]{0,4})|p([1-9][0-9]{0,5})")


class DraftError(ValueError):
    """A draft that cannot be read or written; the text is one sentence for a person."""


@dataclass(frozen=True)
class Change:
    """One can's new text, as a device sends it.

    Attributes
    ----------
    can : str
        Key of the can or field.
    text : str
        What was typed, as typed; ``x`` is 'no reading'.
    number : int
        Number of the change on its device, growing, from 1 [1].
    seen : int
        Revision of the draft that the device had seen when this can's editing began [1].
    """

    can: str
    text: str
    number: int
    seen: int = 0


@dataclass(frozen=True)
class Entry:
    """One stored change.

    Attributes
    ----------
    revision : int
        Its place among all changes of the file [1].
    can, text, device : str
        Key, text as typed, and the device it came from.
    number, seen : int
        As sent, see `Change` [1].
    at : str
        When it was stored, ISO 8601 in UTC.
    """

    revision: int
    can: str
    text: str
    device: str
    number: int
    seen: int
    at: str


@dataclass(frozen=True)
class Clash:
    """Two texts for one can, the later typed without knowing of the earlier.

    Attributes
    ----------
    can : str
        Key of the can or field.
    text, other : str
        The text that stands (it came last), and the other device's.
    device, other_device : str
        Where each was typed.
    says : str
        One sentence for a person.
    """

    can: str
    text: str
    other: str
    device: str
    other_device: str
    says: str


@dataclass(frozen=True)
class DraftSummary:
    """One line of the list of drafts.

    Attributes
    ----------
    draft : str
        Its id.
    title : str
        The title typed in it, else the one it was started with.
    started, changed : str
        First and last change, ISO 8601 in UTC.
    readings : int
        Cans with something entered, 'no reading' included [1].
    """

    draft: str
    title: str
    started: str
    changed: str
    readings: int


@dataclass(frozen=True)
class Snapshot:
    """A draft as it stood at one moment.

    Attributes
    ----------
    values : dict of str to str
        Newest text of each key.
    revision : int
        The highest revision in it [1].
    acknowledged : dict of str to int
        For each device, the highest change number stored [1].
    """

    values: dict[str, str]
    revision: int
    acknowledged: dict[str, int]


def is_draft_id(text: object) -> TypeGuard[str]:
    """Whether a text from outside (an address, a message) has the form of a draft id.

    Parameters
    ----------
    text : object
        Anything.

    Returns
    -------
    bool
        True for 16 characters 0-9 a-f.
    """
    return isinstance(text, str) and _DRAFT.fullmatch(text) is not None


def is_reading_key(can: object) -> bool:
    """Whether a key is a can's (``r2c3``, ``p7``), not a field of the set-up.

    Parameters
    ----------
    can : object
        Anything.

    Returns
    -------
    bool
        True for a can's key.
    """
    return isinstance(can, str) and _READING.fullmatch(can) is not None


def can_words(can: str) -> str:
    """A key in words.

    Parameters
    ----------
    can : str
        ``r2c3``, ``p7`` or a dotted key.

    Returns
    -------
    str
        'Row 2, can 3', 'Can 7', or the key itself.
    """
    found = _READING.fullmatch(can)
    if not found:
        return can
    row, column, point = found.groups()
    return f"Can {point}" if point else f"Row {row}, can {column}"


def checked_draft(draft: object) -> str:
    """The id of a draft, if it has the form of one.

    Parameters
    ----------
    draft : object
        What was received.

    Returns
    -------
    str
        The same.

    Raises
    ------
    DraftError
        Anything else.
    """
    if not is_draft_id(draft):
        raise DraftError(
            f"draft: {str(draft)[:40]!r} is not the id of a draft, 16 characters "
            "0-9 a-f were expected; open it from the list of drafts."
        )
    return draft


def checked_device(device: object) -> str:
    """The id of a device, if it has the form of one.

    Parameters
    ----------
    device : object
        What was received.

    Returns
    -------
    str
        The same.

    Raises
    ------
    DraftError
        Anything else.
    """
    if not isinstance(device, str) or not _DEVICE.fullmatch(device) or device == OUR_DEVICE:
        raise DraftError(
            f"device: {str(device)[:40]!r} was received, 1 to 64 letters, digits "
            "or hyphens were expected; reload the page."
        )
    return device


def _is_count(value: object, least: int) -> bool:
    return type(value) is int and least <= value <= LARGEST_NUMBER


def checked_change(change: Change) -> Change:
    """A change that can be stored.

    Parameters
    ----------
    change : Change
        What was received.

    Returns
    -------
    Change
        The same.

    Raises
    ------
    DraftError
        A bad key, a text that is too long or cannot be written, bad numbers.
    """
    can, text = change.can, change.text
    if not isinstance(can, str) or not _CAN.fullmatch(can):
        raise DraftError(
            f"can: {str(can)[:40]!r} was received, a key such as r2c3, p7 or "
            "floor.width was expected; nothing of this was stored."
        )
    if not isinstance(text, str) or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise DraftError(f"{can}: a text was expected, what was received is not one; type it again.")
    longest = LONGEST_TEXT if is_reading_key(can) else LONGEST_BASE
    if len(text) > longest:
        raise DraftError(f"{can}: {len(text)} characters were received, at most {longest} can be kept; shorten it.")
    if not _is_count(change.number, 1) or not _is_count(change.seen, 0):
        raise DraftError(
            f"{can}: number {change.number!r} and seen {change.seen!r} were received, "
            "whole numbers from 1 and from 0 were expected; reload the page."
        )
    return change


def _text_words(text: str) -> str:
    if text.strip() == "":
        return "nothing"
    if text.strip() == NO_READING:
        return "'no reading'"
    return text if len(text) <= 40 else text[:37] + "..."


def _clash_words(can: str, last: Entry, other: Entry, here: str) -> str:
    text, against = _text_words(last.text), _text_words(other.text)
    if here == last.device:
        told = f"{text} was typed here, {against} on another device"
    elif here == other.device:
        told = f"{against} was typed here, {text} on another device"
    else:
        told = f"{text} was typed on one device, {against} on another"
    return f"{can_words(can)}: {told}; {text} came last and stands until the right one is typed again."


def clash_of(entries: list[Entry], here: str = "") -> Clash | None:
    """The clash that one can's history ends with.

    Parameters
    ----------
    entries : list of Entry
        All of the can's history, oldest first, at least one.
    here : str
        Id of the device that asks; '' for nobody in particular.

    Returns
    -------
    Clash or None
        A clash where the last entry's device had not seen another device's
        last, different text; None otherwise.
    """
    last = entries[-1]
    newest = {entry.device: entry for entry in entries[:-1] if entry.device != last.device}
    unseen = [
        entry for entry in newest.values() if entry.revision > last.seen and entry.text.strip() != last.text.strip()
    ]
    if not unseen:
        return None
    other = max(unseen, key=lambda entry: entry.revision)
    return Clash(last.can, last.text, other.text, last.device, other.device, _clash_words(last.can, last, other, here))
