"""The store of whoever runs the program: where it is, and what an older version kept as files."""

from __future__ import annotations

import os
import re
from pathlib import Path

from sqlalchemy import insert, select

from ..entry.drafts.file import shared_folder
from ..record.file import parse_record, read_text
from .errors import StoreError, Unreadable
from .many import add_many, states
from .reader import MANY
from .rows import entry_of
from .summaries import readable, summary_of
from .tables import NOTES, SUMMARIES
from .viewer import OWNER, Viewer
from .writer import Store, copy_summaries, summary_row

_OLDER = re.compile(r"([A-Za-z0-9][A-Za-z0-9._-]{0,59})(?:~(\d+))?")  # the name of a file that an older version saved


def usual_address() -> str:
    """Where tests are kept unless somebody says otherwise."""
    return os.environ.get("EVENFALL_STORE", "").strip() or str(shared_folder() / "store.sqlite")


def open_usual(address: str = "") -> Store:
    """Open the usual store; what an older version kept as files is taken into a new one."""
    store = Store(address or usual_address())
    if store.door.is_file:
        _take_files(store, shared_folder() / "records")
    return store


def _take_files(store: Store, folder: Path) -> None:
    """Take the records that were saved as files, oldest version first; the files stay where they are."""
    if not folder.is_dir():
        return
    with store.door.reading() as connection:
        if connection.execute(select(NOTES.c.value).where(NOTES.c.key == "files taken")).scalar():
            return
    named = [(found[1], int(found[2]) if found[2] else 10**9, path) for path in folder.glob("*.toml")
             if (found := _OLDER.fullmatch(path.stem))]
    for _, _, path in sorted(named):
        try:
            text = read_text(path)
            record = parse_record(text, path.name)
        except ValueError:
            continue  # it stays a file
        entry = entry_of(record, text, path.name)
        if entry.digest not in states(store, OWNER, [entry.digest]):  # else it was stopped on its way once
            add_many(store, OWNER, [(entry, summary_of(record, whole_floor=False))])
    with store.door.transaction() as connection:
        if not connection.execute(select(NOTES.c.value).where(NOTES.c.key == "files taken")).scalar():
            connection.execute(insert(NOTES).values(key="files taken", value="yes"))


def kept_figures(store: Store, viewer: Viewer) -> str:
    """Give a store the figures that were made for its texts elsewhere on this machine; what was wrong with them."""
    wanted = [item.digest for item in store.unfinished(viewer)]
    if not wanted or not _figures_file().exists():
        return ""
    try:
        there = _figures()
        rows = there.with_figures(lambda: _figures_of(there, wanted))
    except StoreError as error:
        return f"{error}; the figures are made anew"
    store.write(lambda connection: copy_summaries(connection, rows))
    return " ".join(there.news())


def _figures_of(there: Store, digests: list[str]) -> list[dict[str, object]]:
    with there.door.reading() as connection:
        return [row._asdict() for start in range(0, len(digests), MANY) for row in connection.execute(
            select(SUMMARIES).where(SUMMARIES.c.digest.in_(digests[start:start + MANY]))) if readable(row.plain)]


def keep_figures(store: Store, viewer: Viewer) -> None:
    """Keep a store's whole floors for the next time that one of its texts is met on this machine."""
    rows = [summary_row(item.digest, item.summary) for item in store.tests(viewer)
            if item.summary is not None and item.summary.complete]
    if rows:
        _figures().write(lambda connection: copy_summaries(connection, rows))


def _figures() -> Store:
    """The file of figures; one that is damaged makes room for a new one, as all of it is computed."""
    try:
        return Store(_figures_file())
    except Unreadable:
        _figures_file().unlink()
        made = Store(_figures_file())
        made.tell(f"{_figures_file()}: the file of figures was damaged and is made anew from the records")
        return made


def _figures_file() -> Path:
    return shared_folder() / "figures.sqlite"
