"""What a store tells of the tests in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from .summaries import Summary
from .viewer import folded


@dataclass(frozen=True)
class Version:
    """One version of a test.

    Attributes
    ----------
    test : str
        Key of the test.
    version : int [1]
        1, 2, ...
    kind : str
        ``saved``, ``beside`` (somebody else had saved first) or ``withdrawn``.
    saved_at : str
        ISO 8601 in UTC.
    saved_by : str
        Who saved it; empty without accounts.
    digest : str
        SHA-256 of the text.
    """

    test: str
    version: int
    kind: str
    saved_at: str
    saved_by: str
    digest: str

    @property
    def became(self) -> str:
        """What became of it, where it was not simply saved: part of a sentence, or empty."""
        return {"beside": "kept beside another's", "withdrawn": "taken off the list"}.get(self.kind, "")


@dataclass(frozen=True)
class Kept:
    """A test as it stands.

    Attributes
    ----------
    test : str
        Key of the test.
    version : int [1]
        The version that stands.
    saved_at : str
        ISO 8601 in UTC.
    digest : str
        SHA-256 of the text.
    summary : Summary or None
        None where none is kept, or where it was made by another method.
    """

    test: str
    version: int
    saved_at: str
    digest: str
    summary: Summary | None


@dataclass(frozen=True)
class Saved:
    """What became of a save.

    Attributes
    ----------
    test : str
        Key of the test.
    version : int [1]
        Under which the text is kept.
    stands : bool
        Whether it is the version that stands now.
    says : str
        One sentence where somebody else had saved first; empty otherwise.
    """

    test: str
    version: int
    stands: bool
    says: str = ""


def tunnel_of(kept: Kept) -> tuple[str, ...]:
    """What makes two tests tests of one tunnel.

    Parameters
    ----------
    kept : Kept
        With its summary.

    Returns
    -------
    tuple of str
        Member, site and tunnel, or the zone where no tunnel is named, whatever their capitals, blanks and ways to write
        an accent; the test's own key where neither is.
    """
    found = kept.summary
    place = found.tunnel or found.zone
    if not place:
        return ("", kept.test)
    return tuple(_folded(part or "") for part in (found.member, found.site, place))


@lru_cache(maxsize=20_000)
def _folded(name: str) -> str:
    return folded(name).replace(" ", "")


def by_tunnel(tests: Sequence[Kept]) -> dict[tuple[str, ...], list[Kept]]:
    """Sort tests by tunnel.

    Parameters
    ----------
    tests : sequence of Kept
        Those without a summary are left out.

    Returns
    -------
    dict of tuple to list of Kept
        The tests of each tunnel, oldest first; those without a date before all others.
    """
    found: dict[tuple[str, ...], list[Kept]] = {}
    known = [item for item in tests if item.summary]
    for item in sorted(known, key=lambda kept: (kept.summary.date or "", kept.saved_at)):
        found.setdefault(tunnel_of(item), []).append(item)
    return found
