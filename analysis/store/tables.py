"""How the store is laid out, and how an older layout becomes today's."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import (
    Column,
    Connection,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    insert,
    inspect,
    select,
    update,
)

from .errors import StoreError, Unreadable

META = MetaData()

# Texts of records as they were entered. Rows are only ever added.
REVISIONS = Table(
    "revisions", META,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("test", String(80), nullable=False),      # whose revision it is, see `rows.key_of`
    Column("version", Integer, nullable=False),      # 1, 2, ... of the test
    Column("kind", String(10), nullable=False),      # saved | beside | withdrawn
    Column("digest", String(64), nullable=False),    # SHA-256 of the text
    Column("text", Text, nullable=False),
    Column("owner", String(200), nullable=False),    # member, folded for comparing; empty without one
    Column("saved_at", String(40), nullable=False),  # ISO 8601 in UTC
    Column("saved_by", String(200), nullable=False),
    Column("source", String(1000), nullable=False),  # the file it came from, if any
    Column("batch", String(32), nullable=False),     # the action it came with, if any
    UniqueConstraint("test", "version"),
    Index("revisions_by_digest", "digest"),
    Index("revisions_by_batch", "batch"),
)

# Which version of a test stands: a pointer that saving moves, and the only row that changes.
STANDING = Table(
    "standing", META,
    Column("test", String(80), primary_key=True),
    Column("version", Integer, nullable=False),
    Column("owner", String(200), nullable=False),
    Index("standing_by_owner", "owner"),
)

# Computed from texts, by digest: may be thrown away and made anew at any time.
SUMMARIES = Table(
    "summaries", META,
    Column("digest", String(64), primary_key=True),
    Column("method", Integer, nullable=False),
    Column("complete", Integer, nullable=False),     # 1 once the whole floor is estimated, or cannot be
    Column("plain", Text, nullable=False),           # JSON of `summaries.to_plain`
)

# What people did, one row an action, only ever added to: the revisions that it made carry its name as their batch.
ACTIONS = Table(
    "actions", META,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("name", String(32), nullable=False, unique=True),
    Column("kind", String(10), nullable=False),      # import | save | stand | take off
    Column("way", String(10), nullable=False),       # done | taken back | again
    Column("target", String(32), nullable=False),    # the action that it takes back or does again, if any
    Column("label", String(200), nullable=False),    # what it was about: a folder, files, a test
    Column("made_at", String(40), nullable=False),   # ISO 8601 in UTC
    Column("person", String(200), nullable=False),   # see `viewer.Viewer.person`
    Index("actions_by_person", "person"),
)

NOTES = Table("notes", META, Column("key", String(40), primary_key=True), Column("value", String(200), nullable=False))


def _first(connection: Connection) -> None:
    META.create_all(connection, tables=[REVISIONS, STANDING, SUMMARIES, NOTES])


def _second(connection: Connection) -> None:
    META.create_all(connection, tables=[ACTIONS])


# STEPS[n] brings layout n to layout n + 1. A step that has been shipped is never changed; the tables above are always
# the newest layout, so once a step changes a table the one that made it has to spell out its own.
STEPS: list[Callable[[Connection], None]] = [_first, _second]


def bring_up_to_date(connection: Connection) -> None:
    """Bring a store to today's layout, or leave it as it is."""
    layout = layout_of(connection)
    if layout > len(STEPS):
        raise StoreError(f"received a store of layout {layout}, expected at most {len(STEPS)}: it was made by a newer "
                         "version, bring Evenfall up to date")
    for number in range(layout, len(STEPS)):
        STEPS[number](connection)
        value = {"value": str(number + 1)}
        if number == 0:
            connection.execute(insert(NOTES).values(key="layout", **value))
        else:
            connection.execute(update(NOTES).where(NOTES.c.key == "layout").values(**value))


def layout_of(connection: Connection) -> int:
    """Tell the layout of a store; 0 where there is no store yet."""
    there = inspect(connection).get_table_names()
    value = connection.execute(select(NOTES.c.value).where(NOTES.c.key == "layout")).scalar() if (
        "notes" in there) else None
    if value is None and "revisions" not in there:
        return 0
    if value is None or not (value.isascii() and value.isdecimal() and int(value)):
        found = "without the note of its layout" if value is None else f"whose note of its layout says {value[:20]!r}"
        raise Unreadable(f"received a store {found}, expected a whole number from 1 in the table 'notes' under "
                         "'layout': the note is damaged; restore the store's last archive into a new store, or put a "
                         "copy in its place; it was left as it is")
    return int(value)
