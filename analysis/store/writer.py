"""Writing to a store: every change is a new version, and nothing is overwritten."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from ..record.file import parse_record
from ..record.model import Record
from .actions import SAVE, STAND, TAKE_OFF, new_name, note, now
from .errors import StoreError
from .kept import Saved
from .reader import MANY, Reader, stand_query
from .rows import StoredText, entry_of
from .summaries import METHOD, Summary, readable, summary_of, to_plain
from .tables import REVISIONS, STANDING, SUMMARIES
from .viewer import Viewer

TRIES = 20  # of a write that met another's
T = TypeVar("T")


class Store(Reader):
    """The tests of one person or one cooperative, to read and to write; see `Reader` for its address."""

    def save(self, viewer: Viewer, record: Record, text: str, seen: int | None = None, *, source: str = "") -> Saved:
        """Keep a record as the newest version of its test; where another stands than was seen, beside that one."""
        return self._keep(viewer, entry_of(record, text, source), record, seen, SAVE)

    def _keep(self, viewer: Viewer, entry: StoredText, record: Record, seen: int | None, kind: str,
              label: str = "") -> Saved:
        check_owner(viewer, entry)
        figures = summary_row(entry.digest, summary_of(record, whole_floor=False))

        def work(connection: Connection) -> Saved:
            copy_summaries(connection, [figures])
            return self._save(connection, viewer, entry, seen, kind, label or entry.key)

        return self.write(work)

    def write(self, work: Callable[[Connection], T]) -> T:
        """Do something in one transaction, again where another writer was first with the same rows."""
        def tries() -> T:
            for _ in range(TRIES):
                try:
                    with self.door.transaction() as connection:
                        return work(connection)
                except IntegrityError:
                    continue
            raise StoreError(f"{self.name}: others saved the same {TRIES} times meanwhile; try again")

        return self.with_figures(tries)

    def _save(self, connection: Connection, viewer: Viewer, entry: StoredText, seen: int | None, kind: str,
              label: str) -> Saved:
        stands, version = _standing(connection, entry.key), _last(connection, entry.key) + 1
        if stands is not None and not viewer.sees_all and stands.owner != viewer.owner:
            raise StoreError(not_yours_to_use(entry.key))
        if stands is not None and stands.digest == entry.digest and stands.kind == "saved":
            return Saved(entry.key, stands.version, True)
        if stands is not None and seen is not None and seen != stands.version:
            connection.execute(insert(REVISIONS).values(row_of(viewer, entry, version, "beside", "")))
            began = f"the one that yours began from ({seen})" if seen else "yours was begun"
            return Saved(entry.key, version, False, (
                f"{stands.saved_by or 'Somebody'} saved version {stands.version} after {began}. That one stands; yours "
                f"is kept beside it as version {version}, and nothing is lost."))
        _act(connection, viewer, entry, version, "saved", kind, label)
        return Saved(entry.key, version, True)

    def stand(self, viewer: Viewer, test: str, version: int) -> Saved:
        """Let an older version, or one that was kept beside, stand again: its text becomes a new version."""
        text = self.text(viewer, test, version)
        with self.door.reading() as connection:
            source = connection.execute(select(REVISIONS.c.source).where(
                REVISIONS.c.test == test, REVISIONS.c.version == version)).scalar_one()
        record = parse_record(text, test)
        return self._keep(viewer, entry_of(record, text, source), record, None, STAND, f"version {version} of {test}")

    def withdraw(self, viewer: Viewer, test: str) -> Saved:
        """Take a test off every list; all its versions stay, and saving or `stand` brings it back."""
        def work(connection: Connection) -> Saved:
            _standing(connection, test)
            found = self._own(connection, viewer, test)
            if found.kind == "withdrawn":
                return Saved(test, found.version, True)
            version = _last(connection, test) + 1
            _act(connection, viewer, StoredText(test, "", "", found.owner), version, "withdrawn", TAKE_OFF, test)
            return Saved(test, version, True)

        return self.write(work)

    def put_summary(self, digest: str, summary: Summary) -> None:
        """Keep the figures of a text; one with the whole floor is never replaced by one without."""
        self.write(lambda connection: copy_summaries(connection, [summary_row(digest, summary)]))


def _act(connection: Connection, viewer: Viewer, entry: StoredText, version: int, became: str, kind: str,
         label: str) -> None:
    """Add the version that stands from now on, as an action of its own."""
    name = new_name()
    note(connection, viewer, name, kind, label)
    connection.execute(insert(REVISIONS).values(row_of(viewer, entry, version, became, name)))
    moved = connection.execute(update(STANDING).where(STANDING.c.test == entry.key).values(
        version=version, owner=entry.owner))
    if not moved.rowcount:
        connection.execute(insert(STANDING).values(test=entry.key, version=version, owner=entry.owner))


def not_yours_to_use(key: str) -> str:
    """Refuse an id in words that do not say whether a test has it."""
    return (f"received the id {key!r}, expected one that is yours to use, write another under [test], best one that "
            "begins with your member's name")


def check_owner(viewer: Viewer, entry: StoredText) -> None:
    """Refuse a record that is not the viewer's own."""
    if not viewer.sees_all and (not viewer.owner or entry.owner != viewer.owner):
        raise StoreError(f"received a test whose member is not {viewer.member or 'known'}, expected a test of your "
                         f"own, write member = \"{viewer.member or ''}\" under [test]")


def row_of(viewer: Viewer, entry: StoredText, version: int, kind: str, batch: str) -> dict[str, object]:
    """A row of the table of revisions."""
    return {"test": entry.key, "version": version, "kind": kind, "digest": entry.digest, "text": entry.text,
            "owner": entry.owner, "saved_at": now(),
            "saved_by": viewer.name[:200], "source": entry.source, "batch": batch}


def summary_row(digest: str, summary: Summary) -> dict[str, object]:
    """A row of the table of summaries."""
    return {"digest": digest, "method": summary.method, "complete": int(summary.complete),
            "plain": json.dumps(to_plain(summary), ensure_ascii=False, separators=(",", ":"))}


def copy_summaries(connection: Connection, rows: Sequence[dict[str, object]]) -> None:
    """Keep figures of texts that have none that are better."""
    new = {row["digest"]: row for row in rows}
    digests = list(new)
    for start in range(0, len(digests), MANY):
        part = digests[start:start + MANY]
        for there in connection.execute(select(SUMMARIES).where(SUMMARIES.c.digest.in_(part))).all():
            row = new[there.digest]
            as_good = (there.method, there.complete) >= (row["method"], row["complete"])
            if as_good and (there.method != METHOD or readable(there.plain)):
                del new[there.digest]
            else:
                connection.execute(SUMMARIES.delete().where(SUMMARIES.c.digest == there.digest))
    if new:
        connection.execute(insert(SUMMARIES), list(new.values()))


def _standing(connection: Connection, test: str) -> Row[Any] | None:
    """What stands, kept from other writers until the transaction ends (SQLite has only one writer anyway)."""
    # The lock is taken first and the row read after it: one statement would wait for the other writer and then join
    # what that one wrote with revisions as they were before.
    if connection.dialect.name != "sqlite":
        connection.execute(select(STANDING.c.version).where(STANDING.c.test == test).with_for_update())
    return connection.execute(stand_query().where(STANDING.c.test == test)).first()


def _last(connection: Connection, test: str) -> int:
    return connection.execute(select(func.max(REVISIONS.c.version)).where(REVISIONS.c.test == test)).scalar() or 0
