"""One way to open an SQLite file, for drafts and tests alike, and one reading of what SQLite says against it.

What was committed survives the killing of the process and the loss of power, and all of it is in one file, which may
stand on a shared drive: a rollback journal with ``synchronous=FULL``. Transactions are begun by hand, with `READ` or
`WRITE`: a writer begins as one, so that none has to give up half-way.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

WAIT_S = 30.0  # for another program that writes
READ, WRITE = "BEGIN", "BEGIN IMMEDIATE"
FULL, SHUT, BUSY, DAMAGED, MISSING, OTHER = "full", "shut", "busy", "damaged", "missing", "other"
_KINDS = {
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_READONLY: SHUT, sqlite3.SQLITE_CANTOPEN: SHUT, sqlite3.SQLITE_PERM: SHUT,
    sqlite3.SQLITE_BUSY: BUSY, sqlite3.SQLITE_LOCKED: BUSY,
    sqlite3.SQLITE_CORRUPT: DAMAGED, sqlite3.SQLITE_NOTADB: DAMAGED,
}


def connect(path: str | Path) -> sqlite3.Connection:
    """Open a file, made where it is missing; every statement is its own transaction until one is begun."""
    connection = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA journal_mode = TRUNCATE")
        connection.execute("PRAGMA synchronous = FULL")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def kind_of(error: sqlite3.Error) -> str:
    """Tell what is wrong: `FULL`, `SHUT`, `BUSY`, `DAMAGED`, `MISSING` (a table or column) or `OTHER`."""
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if code in _KINDS:
        return _KINDS[code]
    said = str(error)
    if said.startswith("Could not decode"):  # a text in the file that is no text; the message would repeat it
        return DAMAGED
    return MISSING if said.startswith(("no such table", "no such column")) else OTHER


def name_of(error: sqlite3.Error) -> str:
    """SQLite's own name of a fault, without the values that its message may repeat."""
    return getattr(error, "sqlite_errorname", None) or type(error).__name__
