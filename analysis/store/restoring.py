"""An archive, checked from end to end and brought back into an empty store."""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select, text

from ..entry.drafts.copies import COLUMNS, bring, folder_of
from .archive import CONTENTS, FORM, PARTS, Contents, drafts_part, is_drafts, lines_of, mark_archived, table_rows
from .errors import StoreError
from .reader import MANY
from .rows import digest_of
from .tables import ACTIONS, NOTES, REVISIONS, SUMMARIES
from .writer import Store, copy_summaries

_LONGEST = 8_000_000  # of one line: a record of the largest size, every sign of it escaped
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError, ValueError, KeyError,
           TypeError)
_AGAIN = "take another archive; this one was left as it is"


@dataclass(frozen=True)
class Restored:
    """What came back."""

    contents: Contents
    there: bool  # whether the store had all of it already
    left: tuple[str, ...]  # drafts that went on here and were left alone

    def says(self) -> str:
        """What came back, for a person."""
        left = f"; {len(self.left)} of the drafts went on here and stay as they are" if self.left else ""
        what = "Nothing was restored: all of it is here already" if self.there else "Restored"
        return f"{what}: {self.contents.says()}{left}."


def verify(path: str | os.PathLike[str]) -> tuple[Contents | None, list[str]]:
    """Check an archive from end to end: what is in it, and one line for each part that is damaged."""
    try:
        with zipfile.ZipFile(path) as archive:
            found = _contents(archive)
            faults = [fault for part in found.parts if (fault := _fault_in(archive, part, found))]
            return found, [f"{path}: {fault}, {_AGAIN}" for fault in faults or _fault_between(archive)]
    except FileNotFoundError:
        return None, [f"{path}: received no file, expected an archive of a store, check its name"]
    except StoreError as error:
        return None, [f"{path}: {error}"]
    except _BROKEN:
        return None, [f"{path}: received a file that is damaged or no archive of a store, expected one that "
                      f"--archive made, {_AGAIN}"]


def restore(store: Store, path: str | os.PathLike[str]) -> Restored:
    """Bring an archive back into an empty store, all or nothing, and its drafts to those that are here."""
    contents, faults = verify(path)
    if contents is None or faults:
        raise StoreError("\n".join(faults))
    left: list[str] = []
    with zipfile.ZipFile(path) as archive:
        for part in filter(is_drafts, contents.parts):
            left += bring(folder_of(_key_of(part)), _rows(archive, part))[1]
        there = store.write(lambda connection: _bring_in(connection, archive, contents, str(path)))
    if not there:
        mark_archived(store, contents.made_at)
    return Restored(contents, there, tuple(left))


def _bring_in(connection: Connection, archive: zipfile.ZipFile, contents: Contents, path: str) -> bool:
    """Fill an empty store; True where it has all of it already."""
    if connection.execute(select(func.count()).select_from(REVISIONS)).scalar_one():
        if all(_digest(connection, PARTS[part]) == contents.parts[part]["sha256"]
               for part in ("revisions.jsonl", "standing.jsonl", "actions.jsonl")):
            return True
        raise StoreError(f"{path}: received a store that has tests already, expected an empty one, name a new file or "
                         "an empty database; nothing was changed")
    for part, table in PARTS.items():
        for rows in _some(_rows(archive, part)):
            if table is SUMMARIES:
                copy_summaries(connection, rows)
            elif table is NOTES:
                known = set(connection.execute(select(NOTES.c.key)).scalars())
                rows = [row for row in rows if row["key"] not in known]
            if rows and table is not SUMMARIES:
                connection.execute(insert(table), rows)
    if connection.dialect.name != "sqlite":  # a new row gets the number after the last; SQLite sees that by itself
        for table in (REVISIONS, ACTIONS):
            connection.execute(text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'number'), "
                                    f"(SELECT coalesce(max(number), 0) + 1 FROM {table.name}), false)"))
    return False


def _digest(connection: Connection, table: Table) -> str:
    digest = hashlib.sha256()
    for line in lines_of(table_rows(connection, table)):
        digest.update(line)
    return digest.hexdigest()


def _contents(archive: zipfile.ZipFile) -> Contents:
    with archive.open(CONTENTS) as file:
        plain = json.loads(file.read(_LONGEST))
    if plain["evenfall_archive"] != FORM:
        raise StoreError(f"received an archive of form {str(plain['evenfall_archive'])[:20]}, expected {FORM}: it was "
                         "made by a newer version, bring Evenfall up to date")
    parts: dict[str, dict[str, int | str]] = {str(name): {"rows": int(part["rows"]), "sha256": str(part["sha256"])}
             for name, part in plain["parts"].items()}
    names = archive.namelist()
    if sorted(names) != sorted([*parts, CONTENTS]) or not set(PARTS) <= set(parts) or not all(
            name in PARTS or is_drafts(name) and name == drafts_part(_key_of(name)) for name in parts):
        raise ValueError("other parts than the contents say")
    return Contents(str(plain["made_at"]), parts)


def _key_of(part: str) -> str:
    key = part.removeprefix("drafts").removeprefix("/").removesuffix(".jsonl")
    if key and not (len(key) == 16 and set(key) <= set("0123456789abcdef")):
        raise ValueError("a folder of drafts that is none")
    return key


def _fault_in(archive: zipfile.ZipFile, part: str, contents: Contents) -> str:
    """What is wrong with one part; empty where it is whole."""
    kinds = COLUMNS if is_drafts(part) else {
        column.name: column.type.python_type for column in PARTS[part].columns}
    count, digest = 0, hashlib.sha256()
    try:
        for line in _lines(archive, part):
            digest.update(line)
            row = json.loads(line)
            if not (isinstance(row, dict) and row.keys() == kinds.keys()
                    and all(type(row[key]) is kind for key, kind in kinds.items())):
                raise ValueError("no row of its table")
            if part == "revisions.jsonl" and row["kind"] != "withdrawn" and digest_of(row["text"]) != row["digest"]:
                return f"received {part} with a text that does not have its checksum (line {count + 1})"
            count += 1
    except _BROKEN:
        return f"received {part} damaged at line {count + 1}"
    if {"rows": count, "sha256": digest.hexdigest()} != contents.parts[part]:
        return f"received {part} with other rows than when it was made"
    return ""


def _fault_between(archive: zipfile.ZipFile) -> list[str]:
    """What does not hold together between parts that are whole themselves."""
    versions: dict[str, set[int]] = {}
    for row in _rows(archive, "revisions.jsonl"):
        versions.setdefault(row["test"], set()).add(row["version"])
    stands = {row["test"]: row["version"] for row in _rows(archive, "standing.jsonl")}
    torn = [test for test, found in versions.items()
            if found != set(range(1, len(found) + 1)) or stands.get(test) not in found]
    return [f"received versions of {len(torn)} tests that do not hold together"] if (
        torn or stands.keys() - versions.keys()) else []


def _lines(archive: zipfile.ZipFile, part: str) -> Iterator[bytes]:
    with archive.open(part) as file:
        while line := file.readline(_LONGEST):
            if not line.endswith(b"\n"):
                raise ValueError("a line without an end")
            yield line


def _rows(archive: zipfile.ZipFile, part: str) -> Iterator[dict[str, Any]]:
    return (json.loads(line) for line in _lines(archive, part))


def _some(rows: Iterator[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    held: list[dict[str, Any]] = []
    for row in rows:
        held.append(row)
        if len(held) == MANY:
            yield held
            held = []
    if held:
        yield held
