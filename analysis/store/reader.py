"""Reading a store: every question names who asks."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, Connection, Row, Select, and_, func, select

from ..record.file import parse_record
from ..record.model import Record
from .changed import what_changed
from .door import Door, address_of
from .errors import NotFound, Unreadable
from .figures_anew import renew
from .kept import Kept, Version
from .summaries import METHOD, readable
from .tables import REVISIONS, STANDING, SUMMARIES
from .viewer import Viewer, may_see, may_see_version

T = TypeVar("T")
MANY = 400  # values in one list of a query
VERSION = tuple(REVISIONS.c[name] for name in ("test", "version", "kind", "saved_at", "saved_by", "digest", "source"))


class Reader:
    """What can be read of the tests of one person or one cooperative."""

    def __init__(self, address: str | Path) -> None:
        self.door = Door(address_of(str(address)))
        self._news: list[str] = []
        self._unread: set[str] = set()

    @property
    def name(self) -> str:
        """How to call the store in a message, without its password."""
        return self.door.name

    def tests(self, viewer: Viewer, most: int | None = None) -> list[Kept]:
        """List what stands, with its figures."""
        return self.kept(may_see(viewer), most)

    def kept(self, condition: ColumnElement[bool], most: int | None = None) -> list[Kept]:
        """Read what stands under a condition; whoever asks must come from `viewer.may_see`, or get only what is made
        of the rows."""
        def work() -> tuple[list[Kept], set[str]]:
            with self.door.reading() as connection:
                return read_kept(connection, condition, most)

        found, unread = self.with_figures(work)
        if new := unread - self._unread:
            self._unread |= new
            self.tell(f"{self.name}: the figures of {len(new)} test{'' if len(new) == 1 else 's'} were damaged "
                              "and are made anew from the records, which are whole")
        return found

    def with_figures(self, work: Callable[[], T]) -> T:
        """Do something that reads or writes figures; where their table is damaged, again with a new one."""
        try:
            return work()
        except Unreadable:
            if not renew(self.door):
                raise
        self.tell(f"{self.name}: the table of figures was damaged and is made anew from the records, which are "
                          "whole")
        return work()

    def tell(self, says: str) -> None:
        """Keep a sentence for whoever asks for news."""
        self._news.append(says)

    def news(self) -> list[str]:
        """What the store had to mend since this was asked last, in sentences."""
        told, self._news = self._news, []
        return told

    def count(self, viewer: Viewer) -> int:
        """Count what stands."""
        query = select(func.count()).select_from(STANDING.join(REVISIONS, stands())).where(
            may_see(viewer), REVISIONS.c.kind == "saved")
        with self.door.reading() as connection:
            return connection.execute(query).scalar_one()

    def text(self, viewer: Viewer, test: str, version: int | None = None) -> str:
        """Read a record's text as it was entered."""
        with self.door.reading() as connection:
            now = self._own(connection, viewer, test)
            query = select(REVISIONS.c.text).where(
                REVISIONS.c.test == test, REVISIONS.c.version == (version or now.version),
                REVISIONS.c.kind != "withdrawn", may_see_version(viewer))
            found: str | None = connection.execute(query).scalar()
        if found is None:
            raise _not_found(test)
        return found

    def find(self, viewer: Viewer, test: str) -> Record | None:
        """Find the record of a test."""
        try:
            return parse_record(self.text(viewer, test), test)
        except ValueError:
            return None

    def versions(self, viewer: Viewer, test: str) -> list[Version]:
        """List the versions of a test."""
        with self.door.reading() as connection:
            self._own(connection, viewer, test)
            rows = connection.execute(select(*VERSION).where(
                REVISIONS.c.test == test, may_see_version(viewer)).order_by(REVISIONS.c.version)).all()
        return [Version(*row) for row in rows]

    def history(self, viewer: Viewer, test: str) -> list[Version]:
        """List the versions of a test, oldest first, each with what changed in it."""
        with self.door.reading() as connection:
            self._own(connection, viewer, test)
            rows = connection.execute(select(*VERSION, REVISIONS.c.text).where(
                REVISIONS.c.test == test, may_see_version(viewer)).order_by(REVISIONS.c.version)).all()
        found: list[Version] = []
        first: dict[str, int] = {}
        stood = ""
        for *values, text in rows:
            item = Version(*values)
            if item.digest in first:
                item = replace(item, changed=f"the text of version {first[item.digest]} again")
            elif item.kind != "withdrawn":
                first[item.digest] = item.version
                item = replace(item, changed=what_changed(stood, text) if stood else "")
            stood = text if item.kind == "saved" else stood
            found.append(item)
        return found

    def standing(self, viewer: Viewer, test: str) -> int:
        """Tell which version of a test stands."""
        with self.door.reading() as connection:
            found = _seen(connection, viewer, test)
        return found.version if found else 0

    def texts(self, viewer: Viewer) -> Iterator[tuple[str, str, str]]:
        """Go through the texts that stand, a few hundred in memory at a time."""
        after = ""
        while True:
            query = select(REVISIONS.c.test, REVISIONS.c.digest, REVISIONS.c.text).select_from(
                STANDING.join(REVISIONS, stands())).where(
                may_see(viewer), REVISIONS.c.kind == "saved", STANDING.c.test > after).order_by(STANDING.c.test)
            with self.door.reading() as connection:
                rows = connection.execute(query.limit(MANY)).all()
            if not rows:
                return
            yield from (tuple(row) for row in rows)
            after = rows[-1].test

    def stamp(self) -> str:
        """A text that changes with everything that is written; a key for caches."""
        def work() -> str:
            with self.door.reading() as connection:
                last, count = connection.execute(select(func.max(REVISIONS.c.number), func.count())).one()
                made, whole = connection.execute(select(
                    func.sum(SUMMARIES.c.method), func.sum(SUMMARIES.c.complete))).one()
            return f"{last} {count} {made} {whole}"

        return self.with_figures(work)

    def unfinished(self, viewer: Viewer) -> list[Kept]:
        """List tests whose figures are missing, of another method, or without the whole floor."""
        return [item for item in self.tests(viewer) if item.summary is None or not item.summary.complete]

    def _own(self, connection: Connection, viewer: Viewer, test: str) -> Row[Any]:
        found = _seen(connection, viewer, test)
        if found is None:
            raise _not_found(test)
        return found


def stands() -> ColumnElement[bool]:
    """The condition that a revision is the one that stands, for a join of the two tables."""
    return and_(STANDING.c.test == REVISIONS.c.test, STANDING.c.version == REVISIONS.c.version)


def stand_query() -> Select[Any]:
    """What stands, whoever may see it: `test`, `version`, `owner`, `kind`, `digest`, `saved_by`, `source`, `batch`."""
    return select(STANDING.c.test, STANDING.c.version, STANDING.c.owner, REVISIONS.c.kind, REVISIONS.c.digest,
                  REVISIONS.c.saved_by, REVISIONS.c.source, REVISIONS.c.batch).select_from(
        STANDING.join(REVISIONS, stands()))


def _seen(connection: Connection, viewer: Viewer, test: str) -> Row[Any] | None:
    return connection.execute(stand_query().where(STANDING.c.test == test, may_see(viewer))).first()


def read_kept(connection: Connection, condition: ColumnElement[bool],
              most: int | None = None) -> tuple[list[Kept], set[str]]:
    """Read what stands under a condition, the last saved first, and the digests of figures that are damaged."""
    query = select(REVISIONS.c.test, REVISIONS.c.version, REVISIONS.c.saved_at, REVISIONS.c.digest, SUMMARIES.c.method,
                   SUMMARIES.c.plain).select_from(
        STANDING.join(REVISIONS, stands()).outerjoin(SUMMARIES, SUMMARIES.c.digest == REVISIONS.c.digest)).where(
        condition, REVISIONS.c.kind == "saved").order_by(REVISIONS.c.number.desc()).limit(most)
    unread = set()
    with _no_collection():
        found = []
        for test, version, at, digest, method, plain in connection.execute(query):
            # Figures of another method do not count: the record is the truth.
            summary = readable(plain) if method == METHOD else None
            if summary is None and method == METHOD:
                unread.add(digest)
            found.append(Kept(test, version, at, digest, summary))
    return found, unread


@contextmanager
def _no_collection() -> Iterator[None]:
    # Nothing that is made here is thrown away: looking for rubbish meanwhile would take as long as the reading.
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _not_found(test: str) -> NotFound:
    return NotFound(f"received {test[:80]!r}, expected a test that is kept here and that you may see, look at the list")
