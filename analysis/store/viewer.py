"""Who looks at a store, and what they may see: applied where rows are read, in no other place."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from sqlalchemy import ColumnElement, true

from .tables import REVISIONS, STANDING


@dataclass(frozen=True)
class Viewer:
    """Somebody who reads or writes.

    Attributes
    ----------
    name : str
        Noted with what they save.
    member : str or None
        Whose tunnels they may see and write.
    sees_all : bool
        The one person of a store without accounts, or a cooperative's coordinator.
    """

    name: str = ""
    member: str | None = None
    sees_all: bool = False

    @property
    def owner(self) -> str:
        """The member as rows have it."""
        return folded(self.member)


OWNER = Viewer(sees_all=True)  # of a store without accounts


def folded(member: str | None) -> str:
    """Write a member so that two spellings that differ in capitals, blanks or the way to write an accent are one.

    Parameters
    ----------
    member : str or None
        As entered.

    Returns
    -------
    str
        Empty without one.
    """
    return " ".join(unicodedata.normalize("NFKC", member or "").split()).casefold()[:200]


def may_see(viewer: Viewer) -> ColumnElement[bool]:
    """The condition on standing tests that this viewer may see.

    Parameters
    ----------
    viewer : Viewer
        Who asks.

    Returns
    -------
    SQL expression
        For a query that has the table of standing versions in it; somebody without a member sees nothing.
    """
    if viewer.sees_all:
        return true()
    return (STANDING.c.owner == viewer.owner) & (STANDING.c.owner != "")


def may_see_version(viewer: Viewer) -> ColumnElement[bool]:
    """The condition on versions of a test that this viewer may see.

    Parameters
    ----------
    viewer : Viewer
        Who asks.

    Returns
    -------
    SQL expression
        For a query that has revisions in it: not those from when the tunnel was another's.
    """
    if viewer.sees_all:
        return true()
    return (REVISIONS.c.owner == viewer.owner) & (REVISIONS.c.owner != "")
