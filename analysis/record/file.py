"""Records as TOML files: reading with every fault at its line, and writing."""

from __future__ import annotations

import os
import re
import tempfile
import tomllib
from pathlib import Path as FilePath
from typing import Any

from .checks import build
from .faults import Fault, RecordFaults
from .model import Record, to_plain
from .toml_lines import key_lines, line_of

MOST_BYTES = 1_000_000
MOST_PARTS = 50  # of a dotted key; the format needs 3
_DOTTED = re.compile(
    r"""(?:(?:(?<![\w-])[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+)""" + f"{{{MOST_PARTS}}}")
_TOO_DEEP = ("received brackets nested too deeply", "expected a record in TOML", "check the file")


def read_record(source: str | os.PathLike[str], *, planning: bool = False) -> Record:
    """Read a record from a file.

    Parameters
    ----------
    source : path
        A TOML file.
    planning : bool
        Whether its test is still to come: see `record.checks.build`.

    Returns
    -------
    Record

    Raises
    ------
    RecordFaults
        One line a fault, ``FILE:LINE: key: received, expected, what to do``.
    """
    return parse_record(read_text(source), os.fspath(source), planning=planning)


def read_text(source: str | os.PathLike[str]) -> str:
    """Read the text of a record's file, within the limits.

    Parameters
    ----------
    source : path
        A TOML file of at most `MOST_BYTES`.

    Returns
    -------
    str

    Raises
    ------
    RecordFaults
        Where the file cannot be read, is too large, or is not text.
    """
    name = os.fspath(source)
    try:
        if FilePath(source).is_dir():
            raise _whole_file(name, "received a folder", "expected a record (a .toml file)", "name a file in it")
        with open(source, "rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise _whole_file(name, f"received a file that cannot be read ({reason})",
                          "expected a record (a .toml file)", "check its name and place") from None
    return decode(data, name)


def decode(data: bytes, name: str = "record") -> str:
    """Turn the bytes of a record into text, within the limits.

    Parameters
    ----------
    data : bytes
        The file's content, or at least its first `MOST_BYTES` + 1 bytes.
    name : str
        What to call the file in a message.

    Returns
    -------
    str

    Raises
    ------
    RecordFaults
        Where it is empty, too large, or not UTF-8 text.
    """
    if len(data) > MOST_BYTES:
        raise _whole_file(name, "received a file of more than 1 MB", "expected a record of at most 1 MB",
                          "check that it is the right file")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _whole_file(name, "received a file that is not UTF-8 text", "expected a record in TOML",
                          "save it as plain text in UTF-8; spreadsheets go through `evenfall import`") from None
    if "\0" in text:
        raise _whole_file(name, "received a binary file", "expected a record in TOML",
                          "check that it is the right file")
    if not text.strip():
        raise _whole_file(name, "received an empty file", "expected a record in TOML",
                          "start from one of the sample records")
    return text


def parse_record(text: str, name: str = "record", *, planning: bool = False) -> Record:
    """Read a record from TOML text.

    Parameters
    ----------
    text : str
        The record.
    name : str
        What to call the text in a message.
    planning : bool
        Whether its test is still to come: see `record.checks.build`.

    Returns
    -------
    Record

    Raises
    ------
    RecordFaults
        One line a fault, ``NAME:LINE: key: received, expected, what to do``.
    """
    raw = parse_toml(text, name)
    try:
        return build(raw, planning=planning)
    except RecursionError:
        raise _whole_file(name, *_TOO_DEEP) from None
    except RecordFaults as error:
        lines = key_lines(text)
        raise RecordFaults(list(error.faults), [
            f"{name}:{line_of(lines, fault.path)}: {fault.key}: {fault.says}" for fault in error.faults
        ]) from None


def parse_toml(text: str, name: str = "record") -> dict[str, Any]:
    """Read TOML text into plain values.

    Parameters
    ----------
    text : str
        A TOML document.
    name : str
        What to call the text in a message.

    Returns
    -------
    dict

    Raises
    ------
    RecordFaults
        With the line of the mistake.
    """
    text = text.removeprefix("\ufeff")
    deep = _DOTTED.search(text)
    if deep:
        line = text.count("\n", 0, deep.start()) + 1
        fault = Fault((), f"received a key of more than {MOST_PARTS} parts", "expected a record in TOML",
                      "check the file")
        raise RecordFaults([fault], [f"{name}:{line}: {fault.says}"])
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        found = re.search(r"\(at line (\d+), column (\d+)\)", message)
        line, column = (int(found[1]), int(found[2])) if found else (max(1, text.rstrip().count("\n") + 1), 1)
        what = re.sub(r"\s*\(at .*\)$", "", message)
        what = what[:1].lower() + what[1:]
        fault = Fault((), f"received text that is not TOML ({what}, column {column})", "expected TOML 1.0",
                      "correct this line")
    except RecursionError:
        raise _whole_file(name, *_TOO_DEEP) from None
    except ValueError:  # the interpreter reads no whole number of more than 4300 digits
        found = re.search(r"[0-9_]{4300,}", text)
        line = text.count("\n", 0, found.start()) + 1 if found else 1
        fault = Fault((), "received a number of too many digits", "expected a record in TOML", "correct this line")
    raise RecordFaults([fault], [f"{name}:{line}: {fault.says}"])


def _whole_file(name: str, received: str, expected: str, do: str) -> RecordFaults:
    fault = Fault((), received, expected, do)
    return RecordFaults([fault], [f"{name}:1: {fault.says}"])


def record_text(record: Record) -> str:
    """Write a record as TOML text.

    Parameters
    ----------
    record : Record
        Any record.

    Returns
    -------
    str
        TOML 1.0; quantities as they were entered.
    """
    return plain_text(to_plain(record))


def plain_text(plain: dict[str, Any]) -> str:
    """Write plain values in the layout of a record.

    Parameters
    ----------
    plain : dict
        Nested dictionaries and lists of TOML values, such as a record that is not finished.

    Returns
    -------
    str
        TOML 1.0; the grid has one line a row.
    """
    import tomlkit

    document = tomlkit.document()
    # Plain keys first, an empty list of tables among them: after a table they would belong to it.
    for key, value in sorted(plain.items(), key=lambda pair: isinstance(pair[1], dict | list) and bool(pair[1])):
        document.add(key, _item(key, value, top=True))
    return tomlkit.dumps(document)


# Lists of these keys are tables of their own ([[lines]]); other lists stay on one line each.
_TABLES = {"lines", "other_heads", "pressures", "head_flows", "patches", "other_supplies", "checked", "corrected",
           "rows"}
_NESTED = {"evaporation"}


def _item(key: str, value: Any, top: bool = False) -> Any:
    import tomlkit

    if isinstance(value, dict):
        table = tomlkit.table() if top or key in _NESTED else tomlkit.inline_table()
        for inner, item in sorted(value.items(), key=_comes_last):
            table.add(inner, _item(inner, item))
        return table
    if isinstance(value, list) and value and key in _TABLES:
        tables = tomlkit.aot()
        for item in value:
            tables.append(_item(key, item, top=True))
        return tables
    if isinstance(value, list):
        array = tomlkit.array()
        for item in value:
            array.append(_item("", item))
        return array.multiline(key in ("grid", "points", "beds", "set_aside") and len(value) > 1)
    return tomlkit.item(value)


def _comes_last(pair: tuple[str, Any]) -> bool:
    """Tables inside a table come after its plain keys."""
    key, value = pair
    return key in _TABLES and isinstance(value, list) or key in _NESTED


def save_record(record: Record, target: str | os.PathLike[str]) -> None:
    """Write a record to a file, whole or not at all.

    Parameters
    ----------
    record : Record
        Any record.
    target : path
        The file; an old one is replaced only when the new one is on disk.
    """
    save_text(record_text(record), target)


def save_text(text: str, target: str | os.PathLike[str]) -> None:
    """Write text to a file, whole or not at all.

    Parameters
    ----------
    text : str
        What to write.
    target : path
        The file; an old one is replaced only when the new one is on disk.
    """
    target = FilePath(target)
    handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, target)
    except BaseException:
        os.unlink(temporary)
        raise
