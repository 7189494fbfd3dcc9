"""The file in which drafts are kept: where it is, how it is laid out, what is said when it cannot be used."""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from ...disk import sqlite
from .changes import DraftError

FILE_NAME = "drafts.sqlite"

_LAYOUT = """
CREATE TABLE IF NOT EXISTS changes (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    draft TEXT NOT NULL, can TEXT NOT NULL, text TEXT NOT NULL,
    device TEXT NOT NULL, number INTEGER NOT NULL, seen INTEGER NOT NULL,
    at TEXT NOT NULL,
    UNIQUE (draft, device, can, number)
);
CREATE INDEX IF NOT EXISTS changes_by_can ON changes (draft, can, id);
CREATE INDEX IF NOT EXISTS changes_by_device ON changes (draft, device, number);
CREATE TRIGGER IF NOT EXISTS changes_stay BEFORE UPDATE ON changes
    BEGIN SELECT RAISE(ABORT, 'changes are only ever added'); END;
CREATE TRIGGER IF NOT EXISTS changes_remain BEFORE DELETE ON changes
    BEGIN SELECT RAISE(ABORT, 'changes are only ever added'); END;
"""


# Asked before the folder is named, where one machine serves several people; None where it serves one.
whose: Callable[[], Path | None] | None = None


def set_owner_of_folder(ask: Callable[[], Path | None] | None) -> None:
    """Name what tells in whose folder to look, from now on and in every thread.

    Parameters
    ----------
    ask : callable or None
        Gives the folder of the person who is looking, None where there are no accounts, and raises where nothing
        may be seen. None to ask nobody.
    """
    global whose
    whose = ask


def data_folder() -> Path:
    """Folder in which this user's data are kept; it need not exist yet.

    Returns
    -------
    Path
        The person's own folder where accounts name one, else `shared_folder`.
    """
    own = whose() if whose is not None else None
    return shared_folder() if own is None else own


def shared_folder() -> Path:
    """Folder in which data are kept where nobody's own folder is asked for; it need not exist yet.

    Returns
    -------
    Path
        The value of the environment variable ``EVENFALL_DATA`` where it is set,
        else the platform's folder for a user's data.
    """
    chosen = os.environ.get("EVENFALL_DATA", "").strip()
    if chosen:
        return Path(chosen).expanduser()
    from platformdirs import user_data_dir

    return Path(user_data_dir("evenfall", appauthor=False))


def people_folder() -> Path:
    """Folder of the folders of those who have an account; it need not exist."""
    return shared_folder() / "people"


class DraftFile:
    """One file of changes; each transaction opens it for itself.

    Parameters
    ----------
    folder : Path
        Where the file is kept; made when it is missing.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / FILE_NAME

    def _connect(self) -> sqlite3.Connection:
        connection = sqlite.connect(self.path)
        try:
            if (
                connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'changes_remain'").fetchone()[0]
                == 0
            ):
                # executescript would commit first: one statement after another under one lock
                connection.execute(sqlite.WRITE)
                for statement in re.split(r";\n(?=CREATE|\Z)", _LAYOUT.strip() + "\n"):
                    if statement.strip():
                        connection.execute(statement)
                connection.execute("COMMIT")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    @contextmanager
    def transaction(self, begin: str) -> Iterator[sqlite3.Connection]:
        """One transaction, committed at the end of the block, undone by any error in it.

        Parameters
        ----------
        begin : str
            ``BEGIN`` to read, ``BEGIN IMMEDIATE`` to write.

        Yields
        ------
        sqlite3.Connection
            Open within the block.

        Raises
        ------
        DraftError
            What the disk or the file says against it, as a sentence.
        """
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with closing(self._connect()) as connection:
                connection.execute(begin)
                try:
                    yield connection
                    connection.execute("COMMIT")
                except BaseException:
                    if connection.in_transaction:
                        connection.execute("ROLLBACK")
                    raise
        except OSError as fault:
            raise DraftError(
                f"The folder {self.folder} cannot be used for drafts "
                f"({fault.strerror or fault}); free it, or name another one in "
                "EVENFALL_DATA."
            ) from fault
        except sqlite3.Error as fault:
            raise DraftError(self._fault_words(fault)) from fault

    def _fault_words(self, fault: sqlite3.Error) -> str:
        kind = sqlite.kind_of(fault)
        if kind == sqlite.FULL:
            return (
                f"The disk with {self.path} is full, so this was not stored; free some space "
                "and enter it again or wait, nothing already stored is lost."
            )
        if kind == sqlite.SHUT:
            return (
                f"{self.path} cannot be written (read-only folder or file?); allow it, or name "
                "another folder in EVENFALL_DATA."
            )
        if kind == sqlite.BUSY:
            return (
                f"{self.path} has been in use by another program for {sqlite.WAIT_S:.0f} s, so this "
                "was not stored; close that program and try again."
            )
        if kind == sqlite.DAMAGED:
            return (
                f"{self.path} is damaged or is not a file of drafts, and was left as it is; "
                "move it elsewhere (keep it) and a new one will be started."
            )
        return (
            f"{self.path} cannot be used for drafts ({sqlite.name_of(fault)}), and was left as it is; move it "
            "elsewhere (keep it) and a new one will be started."
        )
