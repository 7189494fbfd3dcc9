"""What changed between two versions of a record, by its keys."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

_NAMED = 4  # keys that are named


def what_changed(old: str, new: str) -> str:
    """Say which values of a record are others: part of a sentence."""
    try:
        before, after = (dict(_values(tomllib.loads(text))) for text in (old, new))
    except (ValueError, RecursionError):
        return "another text"
    keys = [key for key in {**before, **after} if before.get(key) != after.get(key)]
    if not keys:
        return "only comments or blanks changed"
    more = f" and {len(keys) - _NAMED} more" if len(keys) > _NAMED else ""
    return f"changed: {', '.join(keys[:_NAMED])}{more}"


def _values(value: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Each value under its dotted key; tables and rows of a list are counted from 1."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _values(inner, f"{key}.{name}" if key else name)
    elif isinstance(value, list) and any(isinstance(item, dict | list) for item in value):
        for number, inner in enumerate(value, 1):
            yield from _values(inner, f"{key}[{number}]")
    else:
        yield key, repr(value)
