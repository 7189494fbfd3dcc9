"""From a record's text to a row of the store."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass

from ..record.model import Record
from .viewer import folded


@dataclass(frozen=True)
class Entry:
    """A record on its way into the store.

    Attributes
    ----------
    key : str
        Of its test.
    text : str
        As it was entered.
    digest : str
        SHA-256 of the text.
    owner : str
        The member, folded.
    source : str
        The file it came from, if any.
    """

    key: str
    text: str
    digest: str
    owner: str
    source: str = ""


def entry_of(record: Record, text: str, source: str = "") -> Entry:
    """Make a record's entry.

    Parameters
    ----------
    record : Record
        Checked.
    text : str
        Its text, kept as it is.
    source : str
        The file it came from, if any.

    Returns
    -------
    Entry
    """
    return Entry(key_of(record), text, digest_of(text), folded(record.test.member), source[:1000])


def digest_of(text: str) -> str:
    """SHA-256 of a text.

    Parameters
    ----------
    text : str
        A record.

    Returns
    -------
    str
        64 characters 0-9 a-f.
    """
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def key_of(record: Record) -> str:
    """The key under which the versions of one test are kept.

    Parameters
    ----------
    record : Record
        Checked.

    Returns
    -------
    str
        Its id; without one, made of member, site, zone, tunnel and date. The title may be corrected, so it serves only
        where there is no date, or neither tunnel nor zone.
    """
    test = record.test
    if test.id:
        return test.id
    known = test.date and (test.tunnel or test.zone)
    named = "\n".join(str(part or "") for part in (
        folded(test.member), test.site, test.zone, test.tunnel, test.date, "" if known else test.title))
    return "~" + hashlib.sha256(named.encode("utf-8", "surrogatepass")).hexdigest()[:16]  # no id begins like this


def standing_texts(digests: list[str | None]) -> list[str | None]:
    """The texts that stood one after the other, without what was taken back; the last one stands.

    Undoing adds the older text again, so the history is read like a stack: a text that is on it already takes
    everything above it off.

    Parameters
    ----------
    digests : list of str or None
        Of the versions of a test, oldest first; None for a version that took it off the list.

    Returns
    -------
    list of str or None
    """
    stack: list[str | None] = []
    for digest in digests:
        if digest in stack:
            del stack[stack.index(digest) + 1:]
        else:
            stack.append(digest)
    return stack


def with_id(record: Record, draft: str = "") -> Record:
    """Give a record an id where it has none.

    Parameters
    ----------
    record : Record
        Checked.
    draft : str
        Id of the draft that it comes from: it gets the same id every time; a new one at random if left out.

    Returns
    -------
    Record
    """
    from ..entry.drafts.changes import is_draft_id

    if record.test.id:
        return record
    name = draft[:8] if is_draft_id(draft) else secrets.token_hex(4)
    test = record.test.model_copy(update={"id": f"t-{name}"})
    return record.model_copy(update={"test": test})
