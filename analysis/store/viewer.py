"""Who looks at a store, and what they may see: applied where rows are read, in no other place."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from sqlalchemy import ColumnElement, true

from .tables import REVISIONS, STANDING


@dataclass(frozen=True)
class Viewer:
    """Somebody who reads or writes."""

    name: str = ""  # noted with what they save
    member: str | None = None  # whose tunnels they may see and write
    sees_all: bool = False  # the one person of a store without accounts, or a cooperative's coordinator
    key: str = ""  # the same at every log-in of one person, where there are accounts; names change and are shared

    @property
    def owner(self) -> str:
        """The member as rows have it."""
        return folded(self.member)

    @property
    def person(self) -> str:
        """Who that is, as rows of actions have it."""
        return (self.key or self.name)[:200]


OWNER = Viewer(sees_all=True)  # of a store without accounts


def folded(member: str | None) -> str:
    """Write a member so that two spellings that differ in capitals, blanks or the way to write an accent are one."""
    return " ".join(unicodedata.normalize("NFKC", member or "").split()).casefold()[:200]


def may_see(viewer: Viewer) -> ColumnElement[bool]:
    """The condition on standing tests that this viewer may see."""
    if viewer.sees_all:
        return true()
    return (STANDING.c.owner == viewer.owner) & (STANDING.c.owner != "")


def may_see_version(viewer: Viewer) -> ColumnElement[bool]:
    """The condition on versions of a test that this viewer may see."""
    if viewer.sees_all:
        return true()
    return (REVISIONS.c.owner == viewer.owner) & (REVISIONS.c.owner != "")
