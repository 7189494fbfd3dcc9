"""What is being entered, can by can, on disk at once.

A draft is a heap of changes in one SQLite file, to which changes are only ever
added. What a draft holds is the newest arrival for each key, so two devices
that fill different cans of one draft never overwrite each other; where they
filled the same can both texts are kept and the clash is told.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from pathlib import Path

from ...disk import sqlite
from . import rows as draft_rows
from .changes import (
    BASE,
    OUR_DEVICE,
    Change,
    Clash,
    DraftError,
    DraftSummary,
    Entry,
    Snapshot,
    checked_change,
    checked_device,
    checked_draft,
    clash_of,
    is_draft_id,
)
from .file import DraftFile, data_folder
from .rows import AWAY, TITLE

__all__ = ["MOST_KEYS", "Change", "DraftError", "Drafts"]

MOST_KEYS = 20_000


class Drafts:
    """The drafts of one user's data folder.

    Any number of processes and threads may hold one on the same folder; each
    call opens the file for itself.

    Parameters
    ----------
    folder : str or Path, optional
        Where `drafts.sqlite` is kept; default `data_folder()`. Made when it is missing.

    Raises
    ------
    DraftError
        By every method, when the file or its folder cannot be read or written.
    """

    def __init__(self, folder: str | Path | None = None) -> None:
        self._file = DraftFile(Path(folder) if folder is not None else data_folder())

    @property
    def file(self) -> Path:
        """Where the drafts are kept.

        Returns
        -------
        Path
            The file; it is there once something was stored.
        """
        return self._file.path

    # -- writing ----------------------------------------------------------

    def start(self, base: str = "", title: str = "") -> str:
        """Start a draft.

        Parameters
        ----------
        base : str
            Text of the record it begins from; empty for a new test.
        title : str
            Its title until one is typed.

        Returns
        -------
        str
            Id of the draft, 16 characters 0-9 a-f.

        Raises
        ------
        DraftError
            A text that is too long.
        """
        draft = secrets.token_hex(8)
        named = checked_change(Change("title", title, 1))
        rows = [Change(TITLE, named.text, 1)]
        if base:
            rows.append(checked_change(Change(BASE, base, 2)))
        with self._file.transaction(sqlite.WRITE) as connection:
            draft_rows.add(connection, draft, rows, OUR_DEVICE)
        return draft

    def put(self, draft: str, changes: Iterable[Change], device: str) -> int:
        """Store a device's changes, all or none; what is already stored is passed over.

        A change whose number is not above the device's last one for the same
        can is old news (sent again, or overtaken) and is not stored.

        Parameters
        ----------
        draft : str
            Id of a draft that exists.
        changes : iterable of Change
            In any order; they are stored by growing number.
        device : str
            Id of the device, 1 to 64 letters, digits or hyphens.

        Returns
        -------
        int
            The highest number stored for that device in this draft; 0 for none [1].

        Raises
        ------
        DraftError
            A bad key, text or number, an unknown draft, or too many keys.
        """
        checked_draft(draft), checked_device(device)
        rows = sorted((checked_change(change) for change in changes), key=lambda c: c.number)
        with self._file.transaction(sqlite.WRITE) as connection:
            if not draft_rows.exists(connection, draft):
                raise DraftError(
                    f"draft: there is no draft {draft} in {self.file}; open one from the list of drafts, or start one."
                )
            draft_rows.add(connection, draft, rows, device)
            keys = draft_rows.count_keys(connection, draft)
            if keys > MOST_KEYS:
                raise DraftError(
                    f"draft: {keys} cans and fields were received, at most "
                    f"{MOST_KEYS} can be kept in one draft; start another."
                )
            return draft_rows.acknowledged(connection, draft).get(device, 0)

    def put_away(self, draft: str) -> None:
        """Take a draft off the list; a change that arrives later brings it back.

        Parameters
        ----------
        draft : str
            Id of the draft. One that does not exist is passed over.
        """
        self._set_away(draft, "away")

    def take_out_again(self, draft: str) -> None:
        """Put a draft that was put away back on the list.

        Parameters
        ----------
        draft : str
            Id of the draft. One that does not exist is passed over.
        """
        self._set_away(draft, "")

    def _set_away(self, draft: str, text: str) -> None:
        checked_draft(draft)
        with self._file.transaction(sqlite.WRITE) as connection:
            if draft_rows.exists(connection, draft):
                last = draft_rows.acknowledged(connection, draft, ours=True).get(OUR_DEVICE, 0)
                draft_rows.add(connection, draft, [Change(AWAY, text, last + 1)], OUR_DEVICE)

    # -- reading ----------------------------------------------------------

    def exists(self, draft: str) -> bool:
        """Whether there is such a draft, put away or not.

        Parameters
        ----------
        draft : str
            Anything; a text that is no id at all is simply not there.

        Returns
        -------
        bool
            True where it was started.
        """
        if not is_draft_id(draft):
            return False
        with self._file.transaction(sqlite.READ) as connection:
            return draft_rows.exists(connection, draft)

    def snapshot(self, draft: str) -> Snapshot:
        """Values, revision and acknowledgements of one moment.

        Parameters
        ----------
        draft : str
            Id of the draft.

        Returns
        -------
        Snapshot
            Empty, with revision 0, for a draft that does not exist.
        """
        checked_draft(draft)
        with self._file.transaction(sqlite.READ) as connection:
            return draft_rows.snapshot(connection, draft)

    def values(self, draft: str) -> dict[str, str]:
        """Newest text of each key of a draft, in the order of arrival.

        Parameters
        ----------
        draft : str
            Id of the draft.

        Returns
        -------
        dict of str to str
            Empty for a draft that does not exist.
        """
        return self.snapshot(draft).values

    def values_before(self, draft: str, revision: int) -> dict[str, str]:
        """Newest text of each key as it was before a change, in the order of arrival.

        Parameters
        ----------
        draft : str
            Id of the draft.
        revision : int
            Number of the change, see `Entry` [1].

        Returns
        -------
        dict of str to str
            Empty where nothing was there yet.
        """
        checked_draft(draft)
        with self._file.transaction(sqlite.READ) as connection:
            return draft_rows.values_before(connection, draft, revision)

    def acknowledged(self, draft: str, device: str) -> int:
        """Highest change number stored for a device.

        Parameters
        ----------
        draft, device : str
            Ids of the draft and the device.

        Returns
        -------
        int
            0 where nothing of it is stored [1].
        """
        return self.snapshot(draft).acknowledged.get(checked_device(device), 0)

    def revision(self, draft: str) -> int:
        """A number that grows with every change of a draft; a key for caches.

        Parameters
        ----------
        draft : str
            Id of the draft.

        Returns
        -------
        int
            0 for a draft that does not exist [1].
        """
        return self.snapshot(draft).revision

    def history(self, draft: str, can: str) -> list[Entry]:
        """Everything ever stored for one can, oldest first.

        Parameters
        ----------
        draft : str
            Id of the draft.
        can : str
            Key of the can or field.

        Returns
        -------
        list of Entry
            Empty where nothing was entered.
        """
        checked_draft(draft)
        with self._file.transaction(sqlite.READ) as connection:
            return draft_rows.entries(connection, draft, can)

    def clashes(self, draft: str, here: str = "") -> list[Clash]:
        """Cans whose last text was typed without knowing of another device's different one.

        A later change by a device that has seen both settles a clash.

        Parameters
        ----------
        draft : str
            Id of the draft.
        here : str, optional
            Id of the device that asks, so that the sentence can say 'here'.

        Returns
        -------
        list of Clash
            In the order in which the clashing texts arrived.
        """
        checked_draft(draft)
        with self._file.transaction(sqlite.READ) as connection:
            shared = draft_rows.shared_entries(connection, draft)
        by_can: dict[str, list[Entry]] = {}
        for entry in shared:
            by_can.setdefault(entry.can, []).append(entry)
        found = sorted(by_can.values(), key=lambda entries: entries[-1].revision)
        return [clash for clash in (clash_of(entries, here) for entries in found) if clash]

    def listing(self, away: bool = False) -> list[DraftSummary]:
        """The drafts that are not put away, or those that are, the last changed first.

        Parameters
        ----------
        away : bool
            Whether those that are put away are listed instead.

        Returns
        -------
        list of DraftSummary
            Empty where there are none.
        """
        with self._file.transaction(sqlite.READ) as connection:
            return draft_rows.listing(connection, away)
