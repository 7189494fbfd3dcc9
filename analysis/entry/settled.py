"""What a draft stores so that its record becomes another one that differs in places, readings or lists of tables."""

from __future__ import annotations

import json
from typing import Any

from ..record.file import record_text
from ..record.model import Record, to_plain
from .cans import reading_texts

_LISTS = ("checked", "corrected")


def texts_between(before: Record, after: Record) -> dict[str, str]:
    """The draft's keys that differ between two records of one test, with their new texts."""
    one, other = to_plain(before), to_plain(after)
    found = {name: json.dumps(other.get(name, []), default=str, ensure_ascii=False)
             for name in _LISTS if one.get(name) != other.get(name)}
    for at, (line, new) in enumerate(zip(one.get("lines", []), other.get("lines", []), strict=True)):
        found |= {f"lines.{at}.{key}": _text(value) for key, value in new.items() if line.get(key) != value}
    found |= {f"heads.{key}": _text(value) for key, value in other.get("heads", {}).items()
              if one.get("heads", {}).get(key) != value}
    was, read = (reading_texts({"base": record_text(record)}) for record in (before, after))
    return found | {key: text for key, text in read.items() if was.get(key) != text}


def _text(value: Any) -> str:
    return "; ".join(map(str, value)) if isinstance(value, list) else str(value)
