"""A whole store in one file: every version with its author and time, what stands, what was done, drafts, checksums.

The file is a ZIP archive of JSON lines, one row a line, and of ``contents.json``, which has the number of rows and the
SHA-256 of every other part. What can be computed from the records comes along, so that it need not be made anew.
"""

from __future__ import annotations

import datetime
import hashlib
import io
import json
import os
import tempfile
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from sqlalchemy import Connection, Table, delete, func, insert, select

from ..entry.drafts.copies import rows_of
from .actions import now
from .errors import StoreError
from .reader import MANY, Reader
from .tables import ACTIONS, NOTES, REVISIONS, STANDING, SUMMARIES
from .writer import Store

FORM = 1  # of the file; one with a higher number was made by a newer version
CONTENTS, ARCHIVED = "contents.json", "archived"
PARTS: dict[str, Table] = {f"{table.name}.jsonl": table for table in (REVISIONS, STANDING, ACTIONS, NOTES, SUMMARIES)}
REMIND_DAYS = 30  # after which a store of several members is due
_OWN = ("layout", ARCHIVED)  # notes of the one store


@dataclass(frozen=True)
class Contents:
    """What is in an archive."""

    made_at: str  # ISO 8601 in UTC
    parts: Mapping[str, Mapping[str, int | str]]  # of each part its ``rows`` and ``sha256``

    def says(self) -> str:
        """What is in it, for a person."""
        count = {name: int(part["rows"]) for name, part in self.parts.items()}
        drafts = sum(rows for name, rows in count.items() if is_drafts(name))
        made = datetime.datetime.fromisoformat(self.made_at).astimezone()
        return (f"{_counted(count['standing.jsonl'], 'test')} in {_counted(count['revisions.jsonl'], 'version')}, "
                f"{_counted(drafts, 'change')} of drafts, made {made:%Y-%m-%d %H:%M}")


def is_drafts(part: str) -> bool:
    """Whether a part of an archive holds drafts."""
    return part == "drafts.jsonl" or part.startswith("drafts/")


def drafts_part(name: str) -> str:
    """The part of an archive for the drafts of a folder, by its name in `entry.drafts.copies.draft_folders`."""
    return f"drafts/{name}.jsonl" if name else "drafts.jsonl"


def archive_to(store: Store, path: str | os.PathLike[str], folders: Mapping[str, Path]) -> Contents:
    """Write an archive, whole or not at all; a file that is there is left alone."""
    path = Path(path)
    if path.exists():
        raise StoreError(f"{path}: received the name of a file that exists, expected a new name, choose another")
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:100]}.")
    except OSError as error:
        raise _not_written(path, error) from None
    try:
        with os.fdopen(handle, "wb") as file:
            made = write_archive(store, file, folders, str(path))
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException as error:
        os.unlink(temporary)
        if isinstance(error, OSError):
            raise _not_written(path, error) from None
        raise
    mark_archived(store, made.made_at)
    return made


def archive_bytes(store: Store, folders: Mapping[str, Path]) -> bytes:
    """The same as bytes, for a browser."""
    file = io.BytesIO()
    mark_archived(store, write_archive(store, file, folders, "archive").made_at)
    return file.getvalue()


def write_archive(store: Reader, file: BinaryIO, folders: Mapping[str, Path], name: str) -> Contents:
    """Write one moment of a store, and the drafts of some folders, into a file that is open."""
    parts: dict[str, dict[str, int | str]] = {}
    try:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            with store.door.reading() as connection:
                try:
                    for part, table in PARTS.items():
                        parts[part] = _write_part(archive, part, table_rows(connection, table))
                except OSError as error:
                    raise _not_written(name, error) from None
            for key, folder in folders.items():
                parts[drafts_part(key)] = _write_part(archive, drafts_part(key), rows_of(folder))
            made = Contents(now(), parts)
            archive.writestr(CONTENTS, json.dumps({
                "evenfall_archive": FORM, "made_at": made.made_at, "parts": parts}, indent=1))
    except OSError as error:
        raise _not_written(name, error) from None
    return made


def table_rows(connection: Connection, table: Table) -> Iterator[dict[str, object]]:
    """Every row of a table in the order of its key, without the notes that are the one store's own."""
    query = select(table).order_by(*table.primary_key.columns)
    if table is NOTES:
        query = query.where(NOTES.c.key.not_in(_OWN))
    for row in connection.execute(query.execution_options(yield_per=MANY)):
        yield row._asdict()


def lines_of(rows: Iterable[dict[str, object]]) -> Iterator[bytes]:
    """Rows as an archive has them."""
    for row in rows:
        yield json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _write_part(archive: zipfile.ZipFile, name: str, rows: Iterable[dict[str, object]]) -> dict[str, int | str]:
    count, digest = 0, hashlib.sha256()
    with archive.open(name, "w", force_zip64=True) as part:
        for line in lines_of(rows):
            part.write(line)
            digest.update(line)
            count += 1
    return {"rows": count, "sha256": digest.hexdigest()}


def mark_archived(store: Store, at: str) -> None:
    """Note when a store was archived last."""
    def work(connection: Connection) -> None:
        connection.execute(delete(NOTES).where(NOTES.c.key == ARCHIVED))
        connection.execute(insert(NOTES).values(key=ARCHIVED, value=at))

    store.write(work)


def last_archived(store: Reader) -> str:
    """When a store was archived last, ISO 8601 in UTC; empty where it never was."""
    with store.door.reading() as connection:
        return connection.execute(select(NOTES.c.value).where(NOTES.c.key == ARCHIVED)).scalar() or ""


def reminder(store: Reader) -> str:
    """A sentence where a store of several members has had no archive for `REMIND_DAYS` days; else empty."""
    with store.door.reading() as connection:
        members = connection.execute(select(func.count(STANDING.c.owner.distinct())).where(
            STANDING.c.owner != "")).scalar_one()
        first = connection.execute(select(func.min(REVISIONS.c.saved_at))).scalar()
    last = last_archived(store)
    since = _days_since(last or first or now())
    if members < 2 or since <= REMIND_DAYS:
        return ""
    what = f"The last archive of this store is {since} days old" if last else (
        f"This store has been kept for {since} days and was never archived")
    return f"{what}, and {members} members rely on it: make one and keep it on another machine."


def _days_since(at: str) -> int:
    try:
        return (datetime.datetime.now(datetime.UTC) - datetime.datetime.fromisoformat(at)).days
    except (ValueError, TypeError):
        return REMIND_DAYS + 1  # a date that cannot be read is no archive that can be relied on


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _not_written(path: str | os.PathLike[str], error: OSError) -> StoreError:
    return StoreError(f"{path}: the archive cannot be written ({(error.strerror or str(error)).lower()}), expected a "
                      "place with room and rights, choose another; the store is as it was")
