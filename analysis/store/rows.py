"""From a record's text to a row of the store."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass

from ..record.model import Record
from .viewer import folded


@dataclass(frozen=True)
class StoredText:
    """A record on its way into the store."""

    key: str  # of its test
    text: str  # as it was entered
    digest: str  # SHA-256 of the text
    owner: str  # the member, folded
    source: str = ""  # the file it came from, if any


def entry_of(record: Record, text: str, source: str = "") -> StoredText:
    """Make a record's entry."""
    return StoredText(key_of(record), text, digest_of(text), folded(record.test.member), source[:1000])


def digest_of(text: str) -> str:
    """SHA-256 of a text."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def key_of(record: Record) -> str:
    """The key under which the versions of one test are kept."""
    test = record.test
    if test.id:
        return test.id
    known = test.date and (test.tunnel or test.zone)
    named = "\n".join(str(part or "") for part in (
        folded(test.member), test.site, test.zone, test.tunnel, test.date, "" if known else test.title))
    return "~" + hashlib.sha256(named.encode("utf-8", "surrogatepass")).hexdigest()[:16]  # no id begins like this


def standing_texts(digests: list[str | None]) -> list[str | None]:
    """The texts that stood one after the other, without what was taken back; the last one stands."""
    # Undoing adds the older text again, so the history is read like a stack: a text that is on it already takes
    # everything above it off.
    stack: list[str | None] = []
    for digest in digests:
        if digest in stack:
            del stack[stack.index(digest) + 1:]
        else:
            stack.append(digest)
    return stack


def with_id(record: Record, draft: str = "") -> Record:
    """Give a record an id where it has none."""
    from ..entry.drafts.changes import is_draft_id

    if record.test.id:
        return record
    name = draft[:8] if is_draft_id(draft) else secrets.token_hex(4)
    test = record.test.model_copy(update={"id": f"t-{name}"})
    return record.model_copy(update={"test": test})
