"""What a store tells of the tests in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from .summaries import Summary
from .viewer import folded


@dataclass(frozen=True)
class Version:
    """One version of a test."""

    test: str  # key of the test
    version: int  # [1] 1, 2, 
    kind: str  # ``saved``, ``beside`` (somebody else had saved first) or ``withdrawn``
    saved_at: str  # ISO 8601 in UTC
    saved_by: str  # who saved it; empty without accounts
    digest: str  # SHA-256 of the text
    source: str = ""  # the file it came from, if any
    # what changed against the version before it: part of a sentence; only `Reader.history` tells it
    changed: str = ""

    @property
    def became(self) -> str:
        """What became of it, where it was not simply saved: part of a sentence, or empty."""
        return {"beside": "kept beside another's", "withdrawn": "taken off the list"}.get(self.kind, "")


@dataclass(frozen=True)
class Kept:
    """A test as it stands."""

    test: str  # key of the test
    version: int  # [1] the version that stands
    saved_at: str  # ISO 8601 in UTC
    digest: str  # SHA-256 of the text
    summary: Summary | None  # None where none is kept, or where it was made by another method

    @property
    def figures(self) -> Summary:
        """The summary of a test that is known to have one."""
        if self.summary is None:
            raise ValueError(f"{self.test}: received a test without figures, expected one with them, make them first")
        return self.summary



@dataclass(frozen=True)
class Saved:
    """What became of a save."""

    test: str  # key of the test
    version: int  # [1] under which the text is kept
    stands: bool  # whether it is the version that stands now
    says: str = ""  # one sentence where somebody else had saved first; empty otherwise


def tunnel_of(kept: Kept) -> tuple[str, ...]:
    """What makes two tests tests of one tunnel."""
    found = kept.figures
    place = found.tunnel or found.zone
    if not place:
        return ("", kept.test)
    return tuple(_folded(part or "") for part in (found.member, found.site, place))


@lru_cache(maxsize=20_000)
def _folded(name: str) -> str:
    return folded(name).replace(" ", "")


def by_tunnel(tests: Sequence[Kept]) -> dict[tuple[str, ...], list[Kept]]:
    """Sort tests by tunnel."""
    found: dict[tuple[str, ...], list[Kept]] = {}
    known = [item for item in tests if item.summary]
    for item in sorted(known, key=lambda kept: (kept.figures.date or "", kept.saved_at)):
        found.setdefault(tunnel_of(item), []).append(item)
    return found
