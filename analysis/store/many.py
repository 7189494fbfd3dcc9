"""Many records at once: what a folder's import asks of a store."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select, update

from .actions import IMPORT, note
from .reader import MANY, stand_query
from .rows import StoredText, standing_texts
from .summaries import Summary
from .tables import REVISIONS, STANDING, SUMMARIES
from .viewer import Viewer, may_see_version
from .writer import Store, copy_summaries, row_of, summary_row


def add_many(store: Store, viewer: Viewer, entries: Sequence[tuple[StoredText, Summary]], batch: str = "",
             label: str = "") -> None:
    """Keep many records of different tests in one transaction, as a step of an import where `batch` names one."""
    store.write(lambda connection: _add(connection, viewer, entries, batch, label))


def _add(connection: Connection, viewer: Viewer, entries: Sequence[tuple[StoredText, Summary]], batch: str,
         label: str) -> None:
    keys = [entry.key for entry, _ in entries]
    last = {test: version for test, version in connection.execute(select(
        REVISIONS.c.test, func.max(REVISIONS.c.version)).where(REVISIONS.c.test.in_(keys)).group_by(REVISIONS.c.test))}
    now = {row.test: row.digest for row in connection.execute(stand_query().where(STANDING.c.test.in_(keys)))}
    entries = [pair for pair in entries if now.get(pair[0].key) != pair[0].digest]
    if not entries:  # what stands is passed over
        return
    if batch:
        note(connection, viewer, batch, IMPORT, label)
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


def states(store: Store, viewer: Viewer, digests: Sequence[str]) -> dict[str, str]:
    """Tell what became of texts that a store has of this viewer's tests: ``stands``; ``older``, where a newer version
    stands or it was kept beside another's; ``taken back``, where it was undone or its test is off the list."""
    found: dict[str, str] = {}
    with store.door.reading() as connection:
        for part in _parts(digests):
            tests = select(REVISIONS.c.test).where(REVISIONS.c.digest.in_(part))
            rows = connection.execute(select(REVISIONS.c.test, REVISIONS.c.kind, REVISIONS.c.digest).where(
                REVISIONS.c.test.in_(tests), may_see_version(viewer)).order_by(
                REVISIONS.c.test, REVISIONS.c.version)).all()
            for _, versions in groupby(rows, key=lambda row: row.test):
                found |= _states_in(list(versions))
    return {digest: found[digest] for digest in digests if digest in found}


def _states_in(versions: Sequence[Any]) -> dict[str, str]:
    stood = standing_texts([row.digest if row.kind == "saved" else None for row in versions if row.kind != "beside"])
    made = {row.digest: "older" if row.kind == "beside" else "taken back" for row in versions
            if row.kind != "withdrawn"}
    if stood and stood[-1] is not None:
        made |= {digest: "older" for digest in stood[:-1] if digest is not None} | {stood[-1]: "stands"}
    return made


def standing(store: Store, keys: Sequence[str]) -> dict[str, Row[Any]]:
    """Tell what stands of some tests, whoever may see them, with its figures as JSON; for checks before a write."""
    query = stand_query().add_columns(SUMMARIES.c.plain).outerjoin(SUMMARIES, SUMMARIES.c.digest == REVISIONS.c.digest)

    def work() -> dict[str, Row[Any]]:
        with store.door.reading() as connection:
            return {row.test: row for part in _parts(keys)
                    for row in connection.execute(query.where(STANDING.c.test.in_(part)))}

    return store.with_figures(work)


def _parts(items: Sequence[str]) -> list[Sequence[str]]:
    return [items[start:start + MANY] for start in range(0, len(items), MANY)]
