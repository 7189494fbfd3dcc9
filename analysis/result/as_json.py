"""Results as JSON (contract: guide/json.md)."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from typing import Any

from ..changes.mended import MendedHead
from .model import Result

FORMAT = 1
DIGITS = 6  # of a number in the JSON
KEYS = ("record", "catch", "at_the_cans", "fit", "whole_floor", "dry_spots", "heads", "profile", "patches", "causes",
        "unevenness", "fixes", "supplies", "watering", "recheck", "not_done", "cautions")


def to_plain(result: Result) -> dict[str, Any]:
    """Turn a result into plain values.

    Parameters
    ----------
    result : Result
        From `assess.assess`.

    Returns
    -------
    dict
        The JSON contract: every key always there, no nan or infinity.
    """
    return {"result": FORMAT, **{key: _plain(getattr(result, key)) for key in KEYS}}


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        plain: dict[str, Any] = {}
        for item in dataclasses.fields(value):
            how = item.metadata.get("json", True)  # "each": what is inside stands beside the other fields
            if how:
                inside = _plain(getattr(value, item.name))
                plain |= inside if how == "each" else {item.name.rstrip("_"): inside}
        return plain
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def to_json(result: Result) -> str:
    """Write a result as JSON.

    Parameters
    ----------
    result : Result
        From `assess.assess`.

    Returns
    -------
    str
        Ends with a line break; numbers with `DIGITS` digits, more than any of them deserves.
    """
    return _text(to_plain(result))


def json_text(value: Any) -> str:
    """Write nested dataclasses, dictionaries and lists as JSON.

    Parameters
    ----------
    value : object
        Whatever has only such values in it.

    Returns
    -------
    str
        Ends with a line break; no nan or infinity, numbers with `DIGITS` digits.
    """
    return _text(_plain(value))


def _text(plain: dict[str, Any]) -> str:
    return json.dumps(_rounded(plain), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value


def mended_json(found: list[MendedHead]) -> str:
    """Write whether heads are mended as JSON.

    Parameters
    ----------
    found : list of MendedHead
        From `mended_heads`.

    Returns
    -------
    str
        Ends with a line break.
    """
    return _text({"result": FORMAT, "heads": _plain(found)})


def tried_json(tried: Any) -> str:
    """Write the answer to a change as JSON.

    Parameters
    ----------
    tried : fixes.TriedChange
        From `fixes.try_change`.

    Returns
    -------
    str
        Ends with a line break.
    """
    keys = ("cu", "du_low_quarter", "rate_mm_h", "flow_l_h")
    plain = {"result": FORMAT, "today": {key: _plain(getattr(tried.today, key)) for key in keys},
             "fix": _plain(tried.fix), "supply": _plain(tried.supply)}
    return _text(plain)
