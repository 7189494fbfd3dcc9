"""From what is being entered (a draft's texts) to a record, and the cans in walking order."""

from __future__ import annotations

import contextlib
import datetime
import json
import re
import tomllib
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from .record.checks import build
from .record.faults import Fault, RecordFaults
from .record.kinds import key_type
from .record.model import MOST_HEADS, Record
from .units import QuantityError, clip_text, parse, parse_number

NEW_TEST = """record = 1

[test]
title = ""

[floor]

[cans]
reads = "volume"
unit = "mL"

[run]
"""

_READING = re.compile(r"r([1-9]\d{0,3})c([1-9]\d{0,3})|p([1-9]\d{0,3})")
NO_READING = {"x", "-", "–", "nan", "n/a"}
_LIST = re.compile(r"\s*(?:;|\n|,\s+|(?<=[A-Za-z])\s*,)\s*")


@dataclass(frozen=True)
class CanPlace:
    """A can of the layout.

    Attributes
    ----------
    key : str
        ``r2c3`` or ``p7``.
    row, column : int
        Counted from 1; row 0 for free points.
    x, y : float or None [m]
        Where it stands; None where the layout does not say yet.
    """

    key: str
    row: int
    column: int
    x: float | None
    y: float | None


@dataclass(frozen=True)
class Unread:
    """A text that is not a reading.

    Attributes
    ----------
    key : str
        The can.
    says : str
        One sentence.
    """

    key: str
    says: str


def plain_of(values: dict[str, str]) -> tuple[dict[str, Any], list[Unread]]:
    """Put a draft's texts together as plain TOML values.

    Parameters
    ----------
    values : dict of str to str
        Newest text of each key in the order of arrival: ``base``, dotted set-up keys (list items from 0), whole
        lists of tables as JSON (``lines``), readings (``r2c3``, ``p7``) and reasons for cans set aside
        (``aside.r2c3``; empty puts the can back).

    Returns
    -------
    plain : dict
        As `record.checks.build` takes it.
    unread : list of Unread
        Texts in place of readings that are no numbers; they count as no reading.
    """
    try:
        plain = tomllib.loads(values.get("base") or NEW_TEST)
    except (ValueError, RecursionError):
        plain = tomllib.loads(NEW_TEST)
    for key, text in values.items():
        if key == "base" or key.startswith("aside.") or _READING.fullmatch(key) or key.startswith("!"):
            continue
        _set(plain, key.split("."), text)
    _drop_empty_tables(plain)
    unread = _put_readings(plain, values)
    _put_aside(plain, values)
    return {key: value for key, value in plain.items() if value not in ({}, [], None)}, unread


def record_of(values: dict[str, str]) -> tuple[Record | None, list[Fault], list[Unread]]:
    """Make a record of a draft, as far as it goes.

    Parameters
    ----------
    values : dict of str to str
        See `plain_of`.

    Returns
    -------
    record : Record or None
        None while something stops it.
    faults : list of Fault
        What stops it.
    unread : list of Unread
        Texts in place of readings that are no numbers.
    """
    plain, unread = plain_of(values)
    try:
        return build(plain), [], unread
    except RecordFaults as error:
        return None, list(error.faults), unread


def split_list(text: str) -> list[str]:
    """Split a list of quantities as people write it.

    Parameters
    ----------
    text : str
        ``0.6 m, 1.9 m`` or ``0,6 m; 1,9 m``; a comma inside a number stays.

    Returns
    -------
    list of str
        Without blanks. A last unit serves the numbers before it: ``1, 2, 3 m``.
    """
    parts = [part for part in _LIST.split(text.strip()) if part]
    if not parts:
        return []
    unit = re.search(r"[^\d\s.,/][^\d]*$", parts[-1])
    if unit and all(re.fullmatch(r"[\d.,/ ]+", part) for part in parts[:-1]):
        parts[:-1] = [f"{part} {unit[0].strip()}" for part in parts[:-1]]
    return parts


def _value(parts: list[str], text: str) -> Any:
    kind = key_type(parts)
    text = text.strip()
    if text.startswith(("[", "{")):
        try:
            return json.loads(text, object_hook=_with_dates)
        except ValueError:
            return text
    if kind == "list":
        return split_list(text)
    if kind == "numbers":
        return [_number(part) for part in re.split(r"\s*;\s*|,\s+|\s+", text) if part]
    if kind == "yes or no" and text.casefold() in ("yes", "no", "true", "false"):
        return text.casefold() in ("yes", "true")
    if kind == "date":
        try:
            return datetime.date.fromisoformat(text)
        except ValueError:
            return text
    if kind in ("number", "whole"):
        number = _number(text)
        return int(number) if kind == "whole" and isinstance(number, float) and number.is_integer() else number
    return text


def _with_dates(item: dict[str, Any]) -> dict[str, Any]:
    for key, value in item.items():
        if key == "installed" and isinstance(value, str):
            with contextlib.suppress(ValueError):
                item[key] = datetime.date.fromisoformat(value)
    return item


def _number(text: str) -> float | str:
    try:
        return parse_number(text)
    except QuantityError:
        return text


def _set(plain: dict[str, Any], parts: list[str], text: str) -> None:
    here: Any = plain
    for part, after in zip(parts, [*parts[1:], ""], strict=True):
        if isinstance(here, list):
            if not part.isdigit() or int(part) >= MOST_HEADS:
                return
            here += [{} if after else "" for _ in range(int(part) + 1 - len(here))]
        if not after:
            break
        if isinstance(here, dict) and not isinstance(here.get(part), dict | list):
            here[part] = [] if after.isdigit() else {}
        here = here[int(part) if isinstance(here, list) else part]
        if not isinstance(here, dict | list):
            return
    if isinstance(here, list):
        here[int(part)] = text.strip()
    elif text.strip():
        here[part] = _value(parts, text)
    else:
        here.pop(part, None)


def _drop_empty_tables(plain: dict[str, Any]) -> None:
    """A field that was emptied again must not leave an empty table behind."""
    for holder in (plain, *(value for value in plain.values() if isinstance(value, dict))):
        for key, value in list(holder.items()):
            if isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
                holder[key] = [item for item in value if item]
            if holder is not plain and holder[key] in ({}, []):
                del holder[key]


def cans_in(plain: dict[str, Any]) -> list[CanPlace]:
    """List the cans of a layout in walking order: up one row, back the next.

    Parameters
    ----------
    plain : dict
        From `plain_of`; may be unfinished.

    Returns
    -------
    list of CanPlace
        Empty where the layout is not there yet. Rows in the order of their distance from the inlet end wall,
        the first from left to right, the next from right to left.
    """
    cans = plain.get("cans") if isinstance(plain.get("cans"), dict) else {}
    points, rows = cans.get("points"), cans.get("rows")
    if isinstance(points, list):
        return [CanPlace(f"p{number}", 0, number, _metres(_get(point, "x")), _metres(_get(point, "y")))
                for number, point in enumerate(points, 1)]
    shift = _metres(cans.get("stagger")) or 0.0
    if isinstance(rows, list):
        table = [([_metres(x) for x in _list(_get(row, "x"))], _metres(_get(row, "y"))) for row in rows]
    else:
        across = [_metres(x) for x in _list(cans.get("across"))]
        table = [(across, _metres(y)) for y in _list(cans.get("along"))]
    numbered = [(row, xs, y) for row, (xs, y) in enumerate(table, 1)]
    numbered.sort(key=lambda item: (item[2] is None, item[2] or 0.0))
    places = []
    for turn, (row, xs, y) in enumerate(numbered):
        step = shift if row % 2 == 0 else -shift
        line = [CanPlace(f"r{row}c{column}", row, column, None if x is None else x + step, y)
                for column, x in enumerate(xs, 1)]
        line.sort(key=lambda can: (can.x is None, can.x or 0.0))
        places += line[::-1] if turn % 2 else line
    return places


def _get(item: Any, key: str) -> Any:
    return item.get(key) if isinstance(item, dict) else None


def _metres(text: Any) -> float | None:
    try:
        return parse(text, "length").si
    except QuantityError:
        return None


def reading_texts(values: dict[str, str]) -> dict[str, str]:
    """Texts of the readings: those of the record a draft began from, under those entered since.

    Parameters
    ----------
    values : dict of str to str
        See `plain_of`.

    Returns
    -------
    dict of str to str
        Key of the can -> text; ``x`` where the record says that there is no reading.
    """
    try:
        base = tomllib.loads(values.get("base") or "")
    except (ValueError, RecursionError):
        base = {}
    texts = {}
    cans = base.get("cans") if isinstance(base.get("cans"), dict) else {}
    for row, line in enumerate(_list(cans.get("grid")), 1):
        texts |= {f"r{row}c{column}": _text(value) for column, value in enumerate(_list(line), 1)}
    for row, line in enumerate(_list(cans.get("rows")), 1):
        texts |= {f"r{row}c{column}": _text(value) for column, value in enumerate(_list(_get(line, "catch")), 1)}
    for number, point in enumerate(_list(cans.get("points")), 1):
        texts[f"p{number}"] = _text(_get(point, "catch"))
    texts |= {key: text for key, text in values.items() if _READING.fullmatch(key)}
    return texts


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _text(value: Any) -> str:
    if value is None or isinstance(value, float) and value != value:
        return "x"
    return f"{Decimal(repr(value)):f}" if isinstance(value, float) else clip_text(value)[1:-1]


def read_text(text: str) -> float:
    """Read one reading as typed.

    Parameters
    ----------
    text : str
        ``31``, ``30.5``, ``30,5``; blank, ``x`` or a dash for no reading.

    Returns
    -------
    float [unit of the readings]
        nan for no reading.

    Raises
    ------
    QuantityError
        For anything else, for numbers below zero or of more than seven digits.
    """
    clean = text.strip()
    if not clean or clean.casefold() in NO_READING:
        return float("nan")
    if not re.fullmatch(r"\d{0,7}(?:[.,]\d*)?", clean) or not re.search(r"\d", clean):
        raise QuantityError(f"received '{clean[:20]}'", "expected a number such as 31 or 30.5, or x for no reading",
                            "correct it; until then it counts as no reading")
    number = float(clean.replace(",", "."))
    return int(number) if clean.isdigit() else number


def _put_readings(plain: dict[str, Any], values: dict[str, str]) -> list[Unread]:
    cans = plain.get("cans")
    if not isinstance(cans, dict):
        return []
    texts = reading_texts(values)
    unread: list[Unread] = []

    def reading(key: str) -> float:
        try:
            return read_text(texts.get(key, ""))
        except QuantityError as error:
            unread.append(Unread(key, f"{key_words(key)}: {error}."))
            return float("nan")

    if isinstance(cans.get("points"), list):
        for number, point in enumerate(cans["points"], 1):
            if isinstance(point, dict):
                point["catch"] = reading(f"p{number}")
    elif isinstance(cans.get("rows"), list):
        for number, row in enumerate(cans["rows"], 1):
            if isinstance(row, dict) and isinstance(row.get("x"), list):
                row["catch"] = [reading(f"r{number}c{column}") for column in range(1, len(row["x"]) + 1)]
    elif isinstance(cans.get("across"), list) and isinstance(cans.get("along"), list):
        if cans["across"] and cans["along"]:
            cans["grid"] = [[reading(f"r{row}c{column}") for column in range(1, len(cans["across"]) + 1)]
                            for row in range(1, len(cans["along"]) + 1)]
    return unread


def key_words(key: str) -> str:
    """Say which can a key means.

    Parameters
    ----------
    key : str
        ``r2c3`` or ``p7``.

    Returns
    -------
    str
        ``row 2, can 3`` or ``can 7``.
    """
    match = _READING.fullmatch(key)
    if not match:
        return key
    return f"can {match[3]}" if match[3] else f"row {match[1]}, can {match[2]}"


def _put_aside(plain: dict[str, Any], values: dict[str, str]) -> None:
    cans = plain.get("cans")
    if not isinstance(cans, dict):
        return
    aside = {}
    for item in _list(cans.get("set_aside")):
        if isinstance(item, dict):
            key = f"p{item['point']}" if "point" in item else f"r{item.get('row')}c{item.get('column')}"
            aside[key] = item.get("why") or "no reason given"
    for key, text in values.items():
        if key.startswith("aside."):
            aside[key.removeprefix("aside.")] = text.strip()
    there = {can.key for can in cans_in(plain)}
    kept = []
    for key, why in aside.items():
        match = _READING.fullmatch(key)
        if why and match and key in there:
            place = {"point": int(match[3])} if match[3] else {"row": int(match[1]), "column": int(match[2])}
            kept.append({**place, "why": why})
    if kept:
        cans["set_aside"] = kept
    else:
        cans.pop("set_aside", None)
