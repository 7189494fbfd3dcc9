"""Many records at once: what a folder's import asks of a store."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from itertools import groupby

from sqlalchemy import Connection, Row, func, insert, select, update

from .kept import Version
from .reader import MANY, VERSION, stand_query, stands
from .rows import Entry, standing_texts
from .summaries import Summary
from .tables import REVISIONS, STANDING, SUMMARIES
from .viewer import Viewer, may_see
from .writer import Store, copy_summaries, row_of, summary_row


def new_batch() -> str:
    """Name an import."""
    return secrets.token_hex(8)


def add_many(store: Store, viewer: Viewer, entries: Sequence[tuple[Entry, Summary]], batch: str) -> None:
    """Keep many records in one transaction, each as the newest version of its test."""
    # A text that stands is passed over.
    store.write(lambda connection: _add(connection, viewer, entries, batch))


def _add(connection: Connection, viewer: Viewer, entries, batch: str) -> None:
    keys = [entry.key for entry, _ in entries]
    last = {test: version for test, version in connection.execute(select(
        REVISIONS.c.test, func.max(REVISIONS.c.version)).where(REVISIONS.c.test.in_(keys)).group_by(REVISIONS.c.test))}
    now = {row.test: row.digest for row in connection.execute(stand_query().where(STANDING.c.test.in_(keys)))}
    entries = [pair for pair in entries if now.get(pair[0].key) != pair[0].digest]
    if not entries:
        return
    rows = [row_of(viewer, entry, last.get(entry.key, 0) + 1, "saved", batch) for entry, _ in entries]
    connection.execute(insert(REVISIONS), rows)
    for row in rows:
        if row["test"] in last:
            connection.execute(update(STANDING).where(STANDING.c.test == row["test"]).values(
                version=row["version"], owner=row["owner"]))
    fresh = [{key: row[key] for key in ("test", "version", "owner")} for row in rows if row["test"] not in last]
    if fresh:
        connection.execute(insert(STANDING), fresh)
    copy_summaries(connection, [summary_row(entry.digest, summary) for entry, summary in entries])


def states(store: Store, digests: Sequence[str]) -> dict[str, str]:
    """Tell what became of texts that a store has."""
    found: dict[str, str] = {}
    with store.door.reading() as connection:
        for start in range(0, len(digests), MANY):
            part = digests[start:start + MANY]
            tests = select(REVISIONS.c.test).where(REVISIONS.c.digest.in_(part))
            rows = connection.execute(select(REVISIONS.c.test, REVISIONS.c.kind, REVISIONS.c.digest).where(
                REVISIONS.c.test.in_(tests)).order_by(REVISIONS.c.test, REVISIONS.c.version)).all()
            for _, versions in groupby(rows, key=lambda row: row.test):
                found |= _states_in(list(versions))
    return {digest: found[digest] for digest in digests if digest in found}


def _states_in(versions: list[Row]) -> dict[str, str]:
    stood = standing_texts([row.digest if row.kind == "saved" else None for row in versions if row.kind != "beside"])
    made = {row.digest: "older" if row.kind == "beside" else "taken back" for row in versions
            if row.kind != "withdrawn"}
    if stood[-1] is not None:
        made |= {digest: "older" for digest in stood[:-1] if digest is not None} | {stood[-1]: "stands"}
    return made


def standing(store: Store, keys: Sequence[str]) -> dict[str, Row]:
    """Tell what stands of some tests, whoever may see them; for checks before a write."""
    found = {}
    query = stand_query().add_columns(SUMMARIES.c.plain).outerjoin(SUMMARIES, SUMMARIES.c.digest == REVISIONS.c.digest)
    with store.door.reading() as connection:
        for start in range(0, len(keys), MANY):
            rows = connection.execute(query.where(STANDING.c.test.in_(keys[start:start + MANY])))
            found |= {row.test: row for row in rows}
    return found


def last_batch(store: Store, viewer: Viewer) -> list[Version]:
    """List what the viewer's last import brought of what still stands; once that is taken back, the one before it."""
    join = STANDING.join(REVISIONS, stands())
    seen = may_see(viewer) & (REVISIONS.c.kind == "saved")
    with store.door.reading() as connection:
        # By the first revision of the batch: a text that stands again after an undo has a newer number.
        first = select(func.min(REVISIONS.c.number).label("first"), REVISIONS.c.batch).where(
            REVISIONS.c.batch != "", REVISIONS.c.saved_by == viewer.name).group_by(REVISIONS.c.batch).subquery()
        batch = connection.execute(select(REVISIONS.c.batch).select_from(
            join.join(first, first.c.batch == REVISIONS.c.batch)).where(seen).order_by(
            first.c.first.desc()).limit(1)).scalar()
        if not batch:
            return []
        return [Version(*row) for row in connection.execute(select(*VERSION).select_from(join).where(
            REVISIONS.c.batch == batch, seen))]
