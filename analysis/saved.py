"""Records that were saved, as files in the user's data folder."""

from __future__ import annotations

import re
import secrets
from pathlib import Path

from .drafts.changes import is_draft_id
from .drafts.draft_file import data_folder
from .record.model import Record
from .record_file import read_record, record_text, save_text

ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,59}")  # of a test, as in the model; an older version's name has a ~


def records_folder() -> Path:
    """Where saved records are.

    Returns
    -------
    Path
        `records` in the user's data folder (`EVENFALL_DATA` overrides); made where it is missing.
    """
    folder = data_folder() / "records"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def with_id(record: Record, draft: str = "") -> Record:
    """Give a record an id where it has none.

    Parameters
    ----------
    record : Record
        Checked.
    draft : str
        Id of the draft that it comes from: it gets the same id every time; a new one at random if left out.

    Returns
    -------
    Record
    """
    if record.test.id:
        return record
    name = draft[:8] if is_draft_id(draft) else secrets.token_hex(4)
    test = record.test.model_copy(update={"id": f"t-{name}"})
    return record.model_copy(update={"test": test})


def save(record: Record) -> Path:
    """Save a record; an older one with the same id is kept beside it as ``id~1.toml``, ``id~2.toml`` ...

    Parameters
    ----------
    record : Record
        With an id (`with_id`).

    Returns
    -------
    Path
        The new file, the one without a number.
    """
    target = records_folder() / f"{record.test.id}.toml"
    text = record_text(record)
    if target.exists():
        if target.read_text("utf-8") == text:
            return target
        number = 1
        while (older := target.with_name(f"{record.test.id}~{number}.toml")).exists():
            number += 1
        save_text(target.read_text("utf-8"), older)
    save_text(text, target)
    return target


def find_test(name: str) -> Record | None:
    """Find a test that was saved here.

    Parameters
    ----------
    name : str
        Id of the test, or any other text.

    Returns
    -------
    Record or None
        None where there is none, or where its file cannot be read as one.
    """
    path = records_folder() / f"{name}.toml"
    if not ID.fullmatch(name) or not path.is_file():
        return None
    try:
        return read_record(path)
    except ValueError:
        return None
