"""From what is being entered (a draft's texts) to a record."""

from __future__ import annotations

import contextlib
import datetime
import json
import re
import tomllib
from typing import Any

from ..record.checks import build
from ..record.faults import Fault, RecordFaults
from ..record.kinds import key_type
from ..record.model import MOST_HEADS, Record
from ..units.quantity import QuantityError, dimension_of, parse_number
from .cans import Unread, is_can_key, put_aside, put_readings

NEW_TEST = """record = 1

[test]
title = ""

[floor]

[cans]
reads = "volume"
unit = "mL"

[run]
"""

_LIST = re.compile(r"\s*(?:;|\n|,\s+|(?<=[A-Za-z'\"′″’”])\s*,)\s*")


def plain_of(values: dict[str, str]) -> tuple[dict[str, Any], list[Unread]]:
    """Put a draft's texts together as plain TOML values."""
    try:
        plain = tomllib.loads(values.get("base") or NEW_TEST)
    except (ValueError, RecursionError):
        plain = tomllib.loads(NEW_TEST)
    for key, text in values.items():
        if key in ("base", "kept") or key.startswith("aside.") or is_can_key(key) or key.startswith("!"):
            continue
        _set(plain, key.split("."), text)
    _drop_empty_tables(plain)
    unread = put_readings(plain, values)
    put_aside(plain, values)
    return {key: value for key, value in plain.items() if value not in ({}, [], None)}, unread


def record_of(values: dict[str, str]) -> tuple[Record | None, list[Fault], list[Unread]]:
    """Make a record of a draft, as far as it goes."""
    plain, unread = plain_of(values)
    try:
        return build(plain), [], unread
    except RecordFaults as error:
        return None, list(error.faults), unread


def split_list(text: str) -> list[str]:
    """Split a list of quantities as people write it."""
    parts = [part for part in _LIST.split(text.strip()) if part]
    if not parts:
        return []
    unit = re.search(r"[^\d\s.,/][^\d]*$", parts[-1])
    if unit and all(re.fullmatch(r"[\d.,/ ]+", part) for part in parts[:-1]):
        parts[:-1] = [f"{part} {unit[0].strip()}" for part in parts[:-1]]
    return parts


def with_unit(text: str, example: str) -> str:
    """Give bare numbers of a field the unit that its example shows; anything else stays as it is."""
    shown = re.match(r"[\d.,/ ]+([^\W\d]\S*)", example)
    unit = shown[1].rstrip(",;") if shown else ""
    if not unit or dimension_of(unit) is None:
        return text
    parts = split_list(text) or [text]
    try:
        numbers = [part for part in parts if parse_number(part) is not None]
    except QuantityError:
        return text
    between = "; " if any("," in part for part in parts) else ", "
    return between.join(f"{number} {unit}" for number in numbers)


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
        if key in ("installed", "on") and isinstance(value, str):
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
