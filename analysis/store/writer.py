"""Writing to a store: every change is a new version, and nothing is overwritten."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable, Sequence
from typing import TypeVar

from sqlalchemy import Connection, Row, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from ..record.file import parse_record
from ..record.model import Record
from .errors import StoreError
from .kept import Saved
from .reader import MANY, Reader, stand_query
from .rows import Entry, entry_of, standing_texts
from .summaries import Summary, summary_of, to_plain
from .tables import REVISIONS, STANDING, SUMMARIES
from .viewer import Viewer

TRIES = 20  # of a write that met another's
T = TypeVar("T")


class Store(Reader):
    """The tests of one person or one cooperative, to read and to write; see `Reader` for its address."""

    def save(self, viewer: Viewer, record: Record, text: str, seen: int | None = None, *, source: str = "",
             batch: str = "") -> Saved:
        """Keep a record as the newest version of its test."""
        entry = entry_of(record, text, source)
        check_owner(viewer, entry)
        figures = summary_row(entry.digest, summary_of(record, whole_floor=False))

        def work(connection: Connection) -> Saved:
            copy_summaries(connection, [figures])
            return self._save(connection, viewer, entry, seen, batch)

        return self.write(work)

    def write(self, work: Callable[[Connection], T]) -> T:
        """Do something in one transaction, again where another writer was first with the same rows."""
        for _ in range(TRIES):
            try:
                with self.door.transaction() as connection:
                    return work(connection)
            except IntegrityError:
                continue
        raise StoreError(f"{self.name}: others saved the same {TRIES} times meanwhile; try again")

    def _save(self, connection: Connection, viewer: Viewer, entry: Entry, seen: int | None, batch: str) -> Saved:
        stands, version = _standing(connection, entry.key), _last(connection, entry.key) + 1
        if stands is None:
            self._add(connection, viewer, entry, version, "saved", batch)
            return Saved(entry.key, version, True)
        if not viewer.sees_all and stands.owner != viewer.owner:
            raise StoreError(f"received a test with the id {entry.key!r}, which another test has, expected an id of "
                             "its own, change it under [test]")
        if stands.digest == entry.digest and stands.kind == "saved":
            return Saved(entry.key, stands.version, True)
        if seen is not None and seen != stands.version:
            self._add(connection, viewer, entry, version, "beside", batch)
            began = f"the one that yours began from ({seen})" if seen else "yours was begun"
            return Saved(entry.key, version, False, (
                f"{stands.saved_by or 'Somebody'} saved version {stands.version} after {began}. That one stands; yours "
                f"is kept beside it as version {version}, and nothing is lost."))
        self._add(connection, viewer, entry, version, "saved", batch)
        return Saved(entry.key, version, True)

    def _add(self, connection: Connection, viewer: Viewer, entry: Entry, version: int, kind: str, batch: str) -> None:
        connection.execute(insert(REVISIONS).values(row_of(viewer, entry, version, kind, batch)))
        if kind == "beside":
            return
        moved = connection.execute(update(STANDING).where(STANDING.c.test == entry.key).values(
            version=version, owner=entry.owner))
        if not moved.rowcount:
            connection.execute(insert(STANDING).values(test=entry.key, version=version, owner=entry.owner))

    def stand(self, viewer: Viewer, test: str, version: int) -> Saved:
        """Let an older version, or one that was kept beside, stand again: its text becomes a new version."""
        text = self.text(viewer, test, version)
        with self.door.reading() as connection:
            source, batch = connection.execute(select(REVISIONS.c.source, REVISIONS.c.batch).where(
                REVISIONS.c.test == test, REVISIONS.c.version == version)).one()
        return self.save(viewer, parse_record(text, test), text, source=source, batch=batch)

    def undo(self, viewer: Viewer, test: str) -> Saved:
        """Take the last change of a test back: the version that stood before stands again, as a new version."""
        found = self.versions(viewer, test)
        texts = {item.version: item.digest if item.kind == "saved" else None for item in found if item.kind != "beside"}
        stood = standing_texts(list(texts.values()))
        if len(stood) < 2 or stood[-2] is None:
            return self.withdraw(viewer, test)
        number = next(version for version, digest in texts.items() if digest == stood[-2])
        return self.stand(viewer, test, number)

    def withdraw(self, viewer: Viewer, test: str) -> Saved:
        """Take a test off every list; all its versions stay, and saving or `stand` brings it back."""
        with self.door.transaction() as connection:
            _standing(connection, test)
            entry = Entry(test, "", "", self._own(connection, viewer, test).owner)
            version = _last(connection, test) + 1
            self._add(connection, viewer, entry, version, "withdrawn", "")
        return Saved(test, version, True)

    def put_summary(self, digest: str, summary: Summary) -> None:
        """Keep the figures of a text; one with the whole floor is never replaced by one without."""
        self.write(lambda connection: copy_summaries(connection, [summary_row(digest, summary)]))


def check_owner(viewer: Viewer, entry: Entry) -> None:
    """Refuse a record that is not the viewer's own."""
    if not viewer.sees_all and (not viewer.owner or entry.owner != viewer.owner):
        raise StoreError(f"received a test whose member is not {viewer.member or 'known'}, expected a test of your "
                         f"own, write member = \"{viewer.member or ''}\" under [test]")


def row_of(viewer: Viewer, entry: Entry, version: int, kind: str, batch: str) -> dict:
    """A row of the table of revisions."""
    return {"test": entry.key, "version": version, "kind": kind, "digest": entry.digest, "text": entry.text,
            "owner": entry.owner, "saved_at": datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds"),
            "saved_by": viewer.name[:200], "source": entry.source, "batch": batch}


def summary_row(digest: str, summary: Summary) -> dict:
    """A row of the table of summaries."""
    return {"digest": digest, "method": summary.method, "complete": int(summary.complete),
            "plain": json.dumps(to_plain(summary), ensure_ascii=False, separators=(",", ":"))}


def copy_summaries(connection: Connection, rows: Sequence[dict]) -> None:
    """Keep figures of texts that have none that are better."""
    new = {row["digest"]: row for row in rows}
    digests = list(new)
    for start in range(0, len(digests), MANY):
        part = digests[start:start + MANY]
        for there in connection.execute(select(SUMMARIES.c.digest, SUMMARIES.c.method, SUMMARIES.c.complete).where(
                SUMMARIES.c.digest.in_(part))).all():
            row = new[there.digest]
            if (there.method, there.complete) >= (row["method"], row["complete"]):
                del new[there.digest]
            else:
                connection.execute(SUMMARIES.delete().where(SUMMARIES.c.digest == there.digest))
    if new:
        connection.execute(insert(SUMMARIES), list(new.values()))


def _standing(connection: Connection, test: str) -> Row | None:
    """What stands, kept from other writers until the transaction ends (SQLite has only one writer anyway)."""
    # The lock is taken first and the row read after it: one statement would wait for the other writer and then join
    # what that one wrote with revisions as they were before.
    if connection.dialect.name != "sqlite":
        connection.execute(select(STANDING.c.version).where(STANDING.c.test == test).with_for_update())
    return connection.execute(stand_query().where(STANDING.c.test == test)).first()


def _last(connection: Connection, test: str) -> int:
    return connection.execute(select(func.max(REVISIONS.c.version)).where(REVISIONS.c.test == test)).scalar() or 0
