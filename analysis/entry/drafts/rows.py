"""The rows of the file of drafts: what is added to them and asked of them, within one transaction.

Every function takes the open connection of a transaction, see `draft_file.DraftFile.transaction`,
and ids that were checked.
"""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime

from .changes import LONGEST_TEXT, OUR_DEVICE, Change, DraftSummary, Entry, Snapshot, is_reading_key

# Rows of our own, under keys that no device can send.
TITLE, AWAY = "!title", "!away"

_ADD = """
INSERT INTO changes (draft, can, text, device, number, seen, at)
SELECT :draft, :can, :text, :device, :number, :seen, :at
WHERE NOT EXISTS (SELECT 1 FROM changes WHERE draft = :draft AND device = :device
                  AND can = :can AND number >= :number)
"""
_NEWEST = """
SELECT can, text FROM changes WHERE id IN
    (SELECT max(id) FROM changes WHERE draft = ? GROUP BY can) ORDER BY id
"""
_BEFORE = """
SELECT can, text FROM changes WHERE id IN
    (SELECT max(id) FROM changes WHERE draft = ? AND id < ? GROUP BY can) ORDER BY id
"""
_ENTRIES = "SELECT id, can, text, device, number, seen, at FROM changes WHERE draft = ? AND can"


def add(connection: sqlite3.Connection, draft: str, rows: list[Change], device: str) -> None:
    """Add a device's changes; one that is not above the device's last for the same can is passed over.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction that writes.
    draft : str
        Id of the draft.
    rows : list of Change
        In the order in which they shall arrive.
    device : str
        Id of the device.
    """
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    connection.executemany(
        _ADD,
        [
            {
                "draft": draft,
                "can": row.can,
                "text": row.text,
                "device": device,
                "number": row.number,
                "seen": row.seen,
                "at": at,
            }
            for row in rows
        ],
    )


def exists(connection: sqlite3.Connection, draft: str) -> bool:
    """Whether anything is stored of a draft.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction.
    draft : str
        Id of the draft.

    Returns
    -------
    bool
        True from its start on.
    """
    return connection.execute("SELECT 1 FROM changes WHERE draft = ? LIMIT 1", (draft,)).fetchone() is not None


def count_keys(connection: sqlite3.Connection, draft: str) -> int:
    """How many cans and fields a draft has texts for.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction.
    draft : str
        Id of the draft.

    Returns
    -------
    int
        Our own rows included [1].
    """
    found: int = connection.execute("SELECT count(DISTINCT can) FROM changes WHERE draft = ?", (draft,)).fetchone()[0]
    return found


def acknowledged(connection: sqlite3.Connection, draft: str, ours: bool = False) -> dict[str, int]:
    """Highest change number stored of each device.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction.
    draft : str
        Id of the draft.
    ours : bool
        Whether the numbers of our own rows are listed too.

    Returns
    -------
    dict of str to int
        Id of the device -> number [1].
    """
    found = connection.execute("SELECT device, max(number) FROM changes WHERE draft = ? GROUP BY device", (draft,))
    return {device: number for device, number in found if ours or device != OUR_DEVICE}


def snapshot(connection: sqlite3.Connection, draft: str) -> Snapshot:
    """Values, revision and acknowledgements of a draft.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction.
    draft : str
        Id of the draft.

    Returns
    -------
    Snapshot
        Without our own rows; empty, with revision 0, for a draft that does not exist.
    """
    newest = connection.execute(_NEWEST, (draft,)).fetchall()
    revision = connection.execute("SELECT max(id) FROM changes WHERE draft = ?", (draft,)).fetchone()[0]
    return Snapshot(
        {can: text for can, text in newest if not can.startswith("!")},
        revision or 0,
        acknowledged(connection, draft),
    )


def values_before(connection: sqlite3.Connection, draft: str, revision: int) -> dict[str, str]:
    """Newest text of each key as it was before a change.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction.
    draft : str
        Id of the draft.
    revision : int
        Number of the change [1].

    Returns
    -------
    dict of str to str
        Without our own rows, in the order of arrival.
    """
    return {can: text for can, text in connection.execute(_BEFORE, (draft, revision)) if not can.startswith("!")}


def entries(connection: sqlite3.Connection, draft: str, can: str) -> list[Entry]:
    """Everything ever stored for one can.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction.
    draft : str
        Id of the draft.
    can : str
        Key of the can or field.

    Returns
    -------
    list of Entry
        Oldest first.
    """
    return [Entry(*row) for row in connection.execute(f"{_ENTRIES} = ? ORDER BY id", (draft, can))]


def shared_entries(connection: sqlite3.Connection, draft: str) -> list[Entry]:
    """Everything ever stored for the cans that more than one device filled.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction.
    draft : str
        Id of the draft.

    Returns
    -------
    list of Entry
        Of all these cans, oldest first.
    """
    found = connection.execute(
        f"{_ENTRIES} IN (SELECT can FROM changes WHERE draft = ? GROUP BY can "
        "HAVING count(DISTINCT device) > 1) ORDER BY id",
        (draft, draft),
    )
    return [Entry(*row) for row in found]


def listing(connection: sqlite3.Connection, away: bool = False) -> list[DraftSummary]:
    """The drafts that are not put away, or those that are, the last changed first.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of a transaction.
    away : bool
        Whether those that are put away are listed instead.

    Returns
    -------
    list of DraftSummary
        Empty where there are none.
    """
    spans = connection.execute(
        "SELECT draft, min(id), max(id) FROM changes GROUP BY draft ORDER BY max(id) DESC"
    ).fetchall()
    dates = dict(
        connection.execute(
            "SELECT id, at FROM changes WHERE id IN (SELECT min(id) FROM changes GROUP BY "
            "draft UNION SELECT max(id) FROM changes GROUP BY draft)"
        )
    )
    newest = connection.execute(
        "SELECT draft, can, substr(text, 1, ?), id FROM changes WHERE id IN "
        "(SELECT max(id) FROM changes GROUP BY draft, can)",
        (LONGEST_TEXT,),
    ).fetchall()
    held: dict[str, dict[str, tuple[str, int]]] = {}
    for draft, can, text, place in newest:
        held.setdefault(draft, {})[can] = (text, place)
    return [
        DraftSummary(
            draft,
            _title(held[draft]),
            dates[first],
            dates[last],
            sum(is_reading_key(can) and text.strip() != "" for can, (text, _) in held[draft].items()),
        )
        for draft, first, last in spans
        if (held[draft].get(AWAY) == ("away", last)) == away
    ]


def _title(held: dict[str, tuple[str, int]]) -> str:
    typed = held.get("test.title", ("", 0))[0].strip()
    return typed or held.get(TITLE, ("", 0))[0]
