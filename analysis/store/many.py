"""Many records at once: what a folder's import asks of a store."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

from sqlalchemy import Connection, Row, insert, select, update
from sqlalchemy.exc import IntegrityError

from ..summaries import Summary
from .errors import StoreError
from .kept import Version
from .reader import MANY, VERSION, stand_query, stands
from .rows import Entry
from .tables import REVISIONS, STANDING, SUMMARIES
from .viewer import Viewer, may_see, may_see_version
from .writer import TRIES, Store, row_of, summary_row


def new_batch() -> str:
    """Name an import.

    Returns
    -------
    str
        16 characters 0-9 a-f, at random.
    """
    return secrets.token_hex(8)


def add_many(store: Store, viewer: Viewer, entries: Sequence[tuple[Entry, Summary]], batch: str) -> None:
    """Keep many records in one transaction, each as the newest version of its test; a text that its test had already
    is passed over.

    Parameters
    ----------
    store : Store
        Where.
    viewer : Viewer
        Who brings them; each was checked to be theirs.
    entries : sequence of (Entry, Summary)
        Of different tests.
    batch : str
        The import that they came with.

    Raises
    ------
    StoreError
        Where the store cannot be written; nothing of these entries was kept then.
    """
    for _ in range(TRIES):
        try:
            with store.door.transaction() as connection:
                return _add(connection, viewer, entries, batch)
        except IntegrityError:
            continue  # another writer was first with one of them: what is there is read again
    raise StoreError(f"{store.name}: others saved the same tests {TRIES} times meanwhile; try again")


def _add(connection: Connection, viewer: Viewer, entries, batch: str) -> None:
    last: dict[str, int] = {}
    had: set[tuple[str, str]] = set()
    for test, version, digest in connection.execute(select(
            REVISIONS.c.test, REVISIONS.c.version, REVISIONS.c.digest).where(
            REVISIONS.c.test.in_([entry.key for entry, _ in entries]))):
        last[test] = max(last.get(test, 0), version)
        had.add((test, digest))
    entries = [pair for pair in entries if (pair[0].key, pair[0].digest) not in had]
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
    there = set(connection.execute(select(SUMMARIES.c.digest).where(
        SUMMARIES.c.digest.in_([entry.digest for entry, _ in entries]))).scalars())
    new = {entry.digest: summary_row(entry.digest, summary) for entry, summary in entries if entry.digest not in there}
    if new:
        connection.execute(insert(SUMMARIES), list(new.values()))


def known(store: Store, digests: Sequence[str]) -> set[str]:
    """Tell which texts are in a store already, in whatever version.

    Parameters
    ----------
    store : Store
        Where.
    digests : sequence of str
        SHA-256 of texts.

    Returns
    -------
    set of str
        Says nothing of what is in them or whose they are.
    """
    found: set[str] = set()
    with store.door.reading() as connection:
        for start in range(0, len(digests), MANY):
            found |= set(connection.execute(select(REVISIONS.c.digest).where(
                REVISIONS.c.digest.in_(digests[start:start + MANY]))).scalars())
    return found


def standing(store: Store, keys: Sequence[str]) -> dict[str, Row]:
    """Tell what stands of some tests, whoever may see them; for checks before a write.

    Parameters
    ----------
    store : Store
        Where.
    keys : sequence of str
        Keys of tests.

    Returns
    -------
    dict of str to row
        With `version`, `kind`, `digest`, `owner`, `source`.
    """
    found = {}
    with store.door.reading() as connection:
        for start in range(0, len(keys), MANY):
            rows = connection.execute(stand_query().where(STANDING.c.test.in_(keys[start:start + MANY])))
            found |= {row.test: row for row in rows}
    return found


def last_batch(store: Store, viewer: Viewer) -> list[Version]:
    """List what the last import brought that still stands.

    Parameters
    ----------
    store : Store
        Where.
    viewer : Viewer
        Who asks.

    Returns
    -------
    list of Version
        That this viewer may see; empty where nothing of it stands any more.
    """
    join = STANDING.join(REVISIONS, stands())
    with store.door.reading() as connection:
        batch = connection.execute(select(REVISIONS.c.batch).where(
            REVISIONS.c.batch != "", may_see_version(viewer)).order_by(REVISIONS.c.number.desc()).limit(1)).scalar()
        if not batch:
            return []
        return [Version(*row) for row in connection.execute(select(*VERSION).select_from(join).where(
            REVISIONS.c.batch == batch, may_see(viewer)))]
