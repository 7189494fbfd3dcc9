"""All drafts of a folder as rows, out and in again: for an archive."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from ...disk import sqlite
from .changes import is_draft_id
from .file import FILE_NAME, DraftFile, people_folder, shared_folder

COLUMNS = {"id": int, "draft": str, "can": str, "text": str, "device": str, "number": int, "seen": int, "at": str}
_INSERT = f"INSERT INTO changes ({', '.join(COLUMNS)}) VALUES ({', '.join(f':{name}' for name in COLUMNS)})"
_KEY = ("can", "device", "number")


def draft_folders() -> dict[str, Path]:
    """Folders with drafts on this machine, by the person's key; empty for the one that is nobody's own."""
    found = {"": shared_folder()}
    if people_folder().is_dir():
        found |= {path.name: path for path in sorted(people_folder().iterdir()) if is_draft_id(path.name)}
    return {name: path for name, path in found.items() if (path / FILE_NAME).is_file()}


def folder_of(name: str) -> Path:
    """The folder of a name of `draft_folders`."""
    return people_folder() / name if name else shared_folder()


def rows_of(folder: Path) -> Iterator[dict[str, object]]:
    """Every change in a folder's file of drafts, in the order of arrival."""
    with DraftFile(folder).transaction(sqlite.READ) as connection:
        for row in connection.execute(f"SELECT {', '.join(COLUMNS)} FROM changes ORDER BY id"):
            yield dict(zip(COLUMNS, row, strict=True))


def bring(folder: Path, rows: Iterable[dict[str, object]]) -> tuple[int, list[str]]:
    """Bring drafts back, all or none: how many of them there are now, and which were left alone.

    A draft that went on in this folder stays as it is; one of which only a part is here gets the rest.
    """
    brought: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        brought.setdefault(str(row["draft"]), []).append(row)
    left: list[str] = []
    with DraftFile(folder).transaction(sqlite.WRITE) as connection:
        # Numbers are the order of arrival and what a device has seen: all move by the same step.
        step = connection.execute("SELECT coalesce(max(id), 0) FROM changes").fetchone()[0]
        fresh: list[dict[str, Any]] = []
        for draft, changes in brought.items():
            there = set(connection.execute("SELECT can, device, number FROM changes WHERE draft = ?", (draft,)))
            if there - {tuple(row[name] for name in _KEY) for row in changes}:
                left.append(draft)
                continue
            fresh += [row for row in changes if tuple(row[name] for name in _KEY) not in there]
        connection.executemany(_INSERT, [
            row | {"id": row["id"] + step, "seen": row["seen"] + step if row["seen"] else 0}
            for row in sorted(fresh, key=lambda row: row["id"])])
    return len(brought) - len(left), left
