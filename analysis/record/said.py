"""What was said after the readings: what was checked and found right, and readings that were put right."""

from __future__ import annotations

import datetime
import hashlib
import json
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from .checks import build
from .model import Record, to_plain
from .places import Path, all_readings
from .said_keys import Checked

LONGEST_VALUE = 60  # characters of a value that is kept as it stands; of longer ones a fingerprint is kept
_READINGS = ("grid", "rows", "points")


def path_in(plain: Any, where: str) -> Path:
    """Find a key that is written with names and numbers.

    Parameters
    ----------
    plain : dict
        A record as plain values.
    where : str
        Such as ``lines.left.x`` or ``cans.grid[3]``: items by their names, others counted from 1.

    Returns
    -------
    tuple
        Keys and indices from 0; the last key need not be there.

    Raises
    ------
    KeyError
        For an item that is not there.
    """
    here, rest, path = plain, where, []
    step: str | int
    while rest:
        if isinstance(here, list) and not rest.startswith("["):
            names = [item.get("name") if isinstance(item, dict) else None for item in here]
            step = next((at for at, name in enumerate(names) if name and (rest == name or rest.startswith(f"{name}."))),
                        -1)
            if step < 0:
                raise KeyError(where)
            rest = rest[len(str(names[step])) + 1:]
        else:
            found = re.match(r"\[(\d+)\]\.?|([A-Za-z_]+)(?:\.|(?=\[)|$)", rest)
            if found is None or (found[1] is None) == isinstance(here, list):
                raise KeyError(where)
            step, rest = int(found[1]) - 1 if found[1] else found[2], rest[found.end():]
        path.append(step)
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            if rest or isinstance(step, int):
                raise KeyError(where) from None
            here = None
    return tuple(path)


def value_at(record: Record, where: str) -> str:
    """What stands at a key, so that a later change of it can be told.

    Parameters
    ----------
    record : Record
        Any.
    where : str
        As for `path_in`; ``lines.first`` is the first head of every line.

    Returns
    -------
    str
        The text, or a fingerprint where it is long; empty where nothing is there.
    """
    plain = to_plain(record)
    if where == "lines.first":
        value: Any = [line.get("first", line.get("heads_at")) for line in plain.get("lines", [])]
    else:
        value = plain
        try:
            for step in path_in(plain, where):
                value = value[step] if isinstance(step, int) else (value or {}).get(step)
        except KeyError:
            value = None
    if value is None:
        return ""
    text = value if isinstance(value, str) else json.dumps(value, default=str, ensure_ascii=False, sort_keys=True)
    return text if len(text) <= LONGEST_VALUE else hashlib.sha256(text.encode()).hexdigest()[:12]


def checked_now(record: Record) -> tuple[tuple[str, str], ...]:
    """What was checked and still stands as it was then.

    Parameters
    ----------
    record : Record
        Any.

    Returns
    -------
    tuple of (what, where)
        Of the entries of `[[checked]]` that hold.
    """
    return tuple((item.what, item.where) for item in record.checked or []
                 if item.value is None or item.value == value_at(record, item.where))


def with_checked(record: Record, what: str, where: str, on: datetime.date) -> Record:
    """The record with one more entry of `[[checked]]`.

    Parameters
    ----------
    record : Record
        Checked.
    what : str
        The explanation that it speaks against.
    where : str
        The key that was looked at.
    on : date
        The day.

    Returns
    -------
    Record
    """
    kept = [item for item in record.checked or [] if (item.what, item.where) != (what, where)]
    entry = Checked(what=what, where=where, value=value_at(record, where), on=on)
    return record.model_copy(update={"checked": [*kept, entry]})


def with_values(record: Record, changes: Mapping[str, str]) -> Record:
    """The record with other texts at some keys, checked again.

    Parameters
    ----------
    record : Record
        Checked.
    changes : mapping of str to str
        Key as for `path_in` -> its new text.

    Returns
    -------
    Record

    Raises
    ------
    RecordFaults
        Where the record would not be sound.
    KeyError
        For a key that is not there.
    """
    plain = to_plain(record)
    for where, text in changes.items():
        *way, last = path_in(plain, where)
        holder: Any = plain
        for step in way:
            holder = holder[step]
        holder[last] = text
    return build(plain)


def readings_key(record: Record) -> str:
    """Where the readings of a record stand.

    Parameters
    ----------
    record : Record
        With readings.

    Returns
    -------
    str
        ``cans.grid``, ``cans.rows`` or ``cans.points``.
    """
    return f"cans.{next(key for key in _READINGS if getattr(record.cans, key) is not None)}"


def with_readings(record: Record, readings: Sequence[float], why: str, on: datetime.date) -> Record:
    """The record with other readings, and what was read before in `[[corrected]]`.

    Parameters
    ----------
    record : Record
        Checked.
    readings : sequence of float [unit of the readings]
        In the record's own order; nan where there is none.
    why : str
        Why they are put right.
    on : date
        The day.

    Returns
    -------
    Record
    """
    plain = to_plain(record)
    key = readings_key(record)
    entry = {"what": key, "was": _in_shape(plain["cans"], all_readings(record.cans)), "why": why, "on": on}
    _put(plain["cans"], _in_shape(plain["cans"], readings))
    plain["corrected"] = [*plain.get("corrected", []), entry]
    return build(plain)


def as_read(record: Record) -> Record:
    """The record with its readings as they were read, before they were put right.

    Parameters
    ----------
    record : Record
        Any.

    Returns
    -------
    Record
        The same where nothing was put right.
    """
    plain = to_plain(record)
    cans = plain.get("cans")
    for item in reversed(record.corrected or []):
        found = re.fullmatch(r"cans\.([a-z_]+)(?:\[(\d+)\])?", item.what)
        if not cans or found is None or found[1] not in cans:
            continue
        key, number = found[1], found[2]
        if key not in _READINGS:
            cans[key] = item.was
        elif number is None:
            _put(cans, item.was if isinstance(item.was, list) else [])
        elif int(number) <= len(cans[key]):
            _put(cans, [*_in_shape(cans, _flat(cans))[: int(number) - 1], item.was,
                        *_in_shape(cans, _flat(cans))[int(number):]])
    return build(plain) if record.corrected and cans else record


def corrected_words(record: Record) -> list[str]:
    """Say that readings were put right.

    Parameters
    ----------
    record : Record
        Any.

    Returns
    -------
    list of str
        A sentence for each entry of `[[corrected]]`.
    """
    return [f"{item.what} was put right after the fact{f' on {item.on}' if item.on else ''}: {item.why}. The figures "
            "follow what stands there now; the record keeps what was read." for item in record.corrected or []]


def _flat(cans: dict[str, Any]) -> list[float]:
    """The readings of plain cans in a row."""
    if "grid" in cans:
        return [value for row in cans["grid"] for value in row]
    if "rows" in cans:
        return [value for row in cans["rows"] for value in row["catch"]]
    return [point["catch"] for point in cans["points"]]


def _in_shape(cans: dict[str, Any], readings: Sequence[float]) -> list[Any]:
    """Readings in the shape in which these cans keep them."""
    whole = [int(value) if not math.isnan(value) and float(value).is_integer() else float(value) for value in readings]
    if "points" in cans:
        return whole
    lengths = [len(row) for row in cans["grid"]] if "grid" in cans else [len(row["catch"]) for row in cans["rows"]]
    ends = [sum(lengths[: at + 1]) for at in range(len(lengths))]
    return [whole[end - length: end] for end, length in zip(ends, lengths, strict=True)]


def _put(cans: dict[str, Any], shaped: list[Any]) -> None:
    """Put readings in that shape into plain cans, as far as they fit."""
    if "grid" in cans and len(shaped) == len(cans["grid"]):
        cans["grid"] = shaped
    elif "rows" in cans and len(shaped) == len(cans["rows"]):
        cans["rows"] = [{**row, "catch": values} for row, values in zip(cans["rows"], shaped, strict=True)]
    elif "points" in cans and len(shaped) == len(cans["points"]):
        cans["points"] = [{**point, "catch": value} for point, value in zip(cans["points"], shaped, strict=True)]
