"""Changes of a system that somebody might make: read from text, and applied to a record."""

from __future__ import annotations

import copy
import difflib
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .record.checks import build
from .record.faults import RecordFaults
from .record.model import Line, Record, to_plain
from .record.places import head_places, lines_from_the_left
from .units import QuantityError, parse

MOST_LINES_TRIED = 12

# What each key takes: a dimension, the words it allows, or a kind of its own.
KEYS: dict[str, Any] = {
    "lines": "count", "line_x": "places", "head_spacing": "length", "add_between": ("yes",), "first": "length",
    "pressure": "pressure", "wetted_diameter": "length", "flow": "flow", "pipe": "length", "hose": "length",
    "hose_length": "length", "filter": ("clean",), "regulator_range": "range", "fed_from": ("near", "far", "middle"),
    "run_lines": ("together", "in turn"), "mend": "heads",
}
_AGAINST = (("lines", "line_x"), ("head_spacing", "add_between"))


class ChangeError(ValueError):
    """A change that cannot be understood or made; one sentence."""


@dataclass(frozen=True)
class Change:
    """One or several changes that belong together.

    Attributes
    ----------
    texts : dict of str to str
        Key and value exactly as they were typed.
    values : dict of str to object
        The same understood: SI floats, counts, words, lists.
    """

    texts: dict[str, str]
    values: dict[str, Any] = field(compare=False)


def read_changes(items: list[str]) -> Change:
    """Read changes as they are typed.

    Parameters
    ----------
    items : list of str
        Each ``KEY=VALUE``; the keys are those of `KEYS`.

    Returns
    -------
    Change

    Raises
    ------
    ChangeError
        For a text without ``=``, an unknown or repeated key, a value that its key does not take, or two keys that
        exclude each other.
    """
    texts: dict[str, str] = {}
    for item in items:
        key, mark, value = item.partition("=")
        key = key.strip()
        if not mark:
            raise ChangeError(f"received the change {item!r}, expected KEY=VALUE such as lines=3, write it like that")
        if key not in KEYS:
            near = difflib.get_close_matches(key, KEYS, 1)
            raise ChangeError(f"received the change of {key!r}, expected one of {', '.join(KEYS)}, "
                              + (f"did you mean {near[0]}?" if near else "choose one"))
        if key in texts:
            raise ChangeError(f"received {key} twice, expected it once, take one out")
        texts[key] = value.strip()
    if not texts:
        raise ChangeError("received no change, expected at least one KEY=VALUE, add one")
    for one, other in _AGAINST:
        if one in texts and other in texts:
            raise ChangeError(f"received {one} together with {other}, expected only one of them, take one out")
    return Change(texts, {key: _value(key, text) for key, text in texts.items()})


def _value(key: str, text: str) -> Any:
    takes = KEYS[key]
    if isinstance(takes, tuple):
        if text not in takes:
            raise ChangeError(f"received {key}={text}, expected {' or '.join(takes)}, correct it")
        return text
    try:
        if takes == "count":
            if not text.isdigit() or not 1 <= int(text) <= MOST_LINES_TRIED:
                raise ChangeError(f"received {key}={text}, expected a whole number from 1 to {MOST_LINES_TRIED}, "
                                  "correct it")
            return int(text)
        if takes == "places":
            return sorted(parse(part.strip(), "length").si for part in text.split(","))
        if takes == "range":
            return _range(text)
        if takes == "heads":
            return "suspects" if text == "suspects" else _heads(text)
        found = parse(text, takes).si
    except QuantityError as error:
        raise ChangeError(f"{key}: {error}") from None
    if not found > 0:
        raise ChangeError(f"received {key}={text}, expected more than zero, correct it")
    return found


def _range(text: str) -> tuple[str, str]:
    low, mark, high = text.partition(" to ")
    if not mark:
        raise ChangeError(f"received regulator_range={text}, expected two flows such as 150 to 2700 L/h, correct it")
    unit = high.strip().lstrip("0123456789., ")
    low = low.strip() if not low.strip().replace(".", "").replace(",", "").isdigit() else f"{low.strip()} {unit}"
    if parse(low, "flow").si >= parse(high, "flow").si:
        raise ChangeError(f"received regulator_range={text}, expected the smaller flow first, turn them round")
    return low, high.strip()


def _heads(text: str) -> list[tuple[str, int]]:
    found = []
    for part in text.split(","):
        line, mark, number = part.strip().rpartition(":")
        if not mark or not number.strip().isdigit():
            raise ChangeError(f"received mend={text}, expected heads such as left:7, right:22, or suspects, correct it")
        found.append((line.strip(), int(number)))
    return found


@dataclass(frozen=True)
class Changed:
    """A record after a change, and where its heads come from.

    Attributes
    ----------
    record : Record
        With the new lines, heads and supply; its cans and readings are still those of the test.
    lines : list of (like, x, y) [1], [m], [m]
        For each line: the number of today's line that it is, or -1 - the number of the one that a new line takes
        after; its place; its heads' places.
    mend : list of (line, number) or "suspects"
        Heads that go back to their share.
    """

    record: Record
    lines: list[tuple[int, float, np.ndarray]]
    mend: Any


def changed_record(record: Record, change: Change) -> Changed:
    """Apply a change to a record.

    Lines keep their order from the left with their heads' outputs; a new line is a sound copy of its nearest
    neighbour.

    Parameters
    ----------
    record : Record
        Checked, with heads on lines.
    change : Change
        From `read_changes`.

    Returns
    -------
    Changed

    Raises
    ------
    ChangeError
        Without heads or lines, or for a change that does not fit the floor or the record.
    """
    values = change.values
    lines = lines_from_the_left(record)
    if not lines:
        raise ChangeError("received a record without heads on lines, expected [[lines]] with the places of their "
                          "heads, add them before a change is tried")
    plan = _line_plan(record, lines, values)
    plain = to_plain(record)
    plain["lines"] = [_plain_line(lines, plan, number, values) for number in range(len(plan))]
    if len(plan) > 1:
        plain["run"].setdefault("lines", "together")
    else:
        plain["run"].pop("lines", None)
    _change_heads(plain, change)
    _change_supply(plain, change)
    try:
        made = build({key: copy.deepcopy(value) for key, value in plain.items()
                      if key not in ("pressures", "head_flows", "patches")})
    except RecordFaults as error:
        fault = error.faults[0]
        raise ChangeError(f"{fault.key}: {fault.says}") from None
    return Changed(made, plan, values.get("mend", []))


def _line_plan(record: Record, lines: list[Line], values: dict[str, Any]):
    width, length = record.floor.width.si, record.floor.length.si
    across = [line.x.si for line in lines]
    if "lines" in values:
        across = [(number + 0.5) * width / values["lines"] for number in range(values["lines"])]
    elif "line_x" in values:
        across = values["line_x"]
        outside = [x for x in across if x > width]
        if outside:
            raise ChangeError(f"received a line at {outside[0]:g} m, expected places on a floor {width:g} m wide, "
                              "correct it")
    plan = []
    for number, x in enumerate(across):
        if number < len(lines):
            like, source = number, number
        else:
            source = min(range(len(lines)), key=lambda other: abs(across[other] - x))
            like = -1 - source
        plan.append((like, float(x), _heads_along(np.array(head_places(lines[source])), length, values)))
    return plan


def _heads_along(today: np.ndarray, length: float, values: dict[str, Any]) -> np.ndarray:
    found = today
    spacing = values.get("head_spacing") or (float(np.median(np.diff(today))) if len(today) > 1 else None)
    if "head_spacing" in values:
        span = today[-1] - today[0]
        count = int(round(span / spacing)) + 1
        middle = 0.5 * (today[0] + today[-1])
        while count > 1 and (count - 1) * spacing > 2 * min(middle, length - middle):
            count -= 1
        found = middle + (np.arange(count) - 0.5 * (count - 1)) * spacing
    if "first" in values:
        first = values["first"]
        if first > length / 2:
            raise ChangeError(f"received a first head {first:g} m from the inlet end wall, expected at most half the "
                              f"length of {length:g} m, correct it")
        if spacing is None:
            raise ChangeError("received a first head for a line with one head, expected head_spacing with it, add it")
        found = first + spacing * np.arange(int((length - 2 * first) / spacing + 1e-9) + 1)
    if "add_between" in values:
        if len(today) < 2:
            raise ChangeError("received add_between for a line with one head, expected two or more, leave it out")
        found = np.sort(np.concatenate([found, 0.5 * (found[1:] + found[:-1])]))
    if len(found) > 1000:
        raise ChangeError(f"received a spacing that puts {len(found)} heads on a line, expected at most 1000, widen it")
    return found


def _plain_line(lines: list[Line], plan, number: int, values: dict[str, Any]) -> dict[str, Any]:
    like, x, ys = plan[number]
    source = lines[like if like >= 0 else -1 - like]
    plain = source.model_dump(by_alias=True, exclude_none=True)
    for key in ("first", "spacing", "count", "heads_at"):
        plain.pop(key, None)
    plain["heads_at"] = [f"{y:.4f} m" for y in ys]
    plain["x"] = f"{x:.4f} m"
    if like < 0:
        taken = {line.name for line in lines}
        plain["name"] = next(name for k in range(number + 1, number + 1000) if (name := f"line {k}") not in taken)
        plain.pop("ran", None)
    for key in ("pipe", "fed_from"):
        if key in values:
            plain[key] = values[key] if key == "fed_from" else f"{values[key] * 1e3:.6g} mm"
    for key in ("wetted_diameter", "flow"):
        if key in values:
            plain.pop(key, None)
    return plain


def _change_heads(plain: dict[str, Any], change: Change) -> None:
    for key in ("wetted_diameter", "flow"):
        if key in change.texts:
            plain.setdefault("heads", {})[key] = change.texts[key]
    if "run_lines" in change.texts and len(plain["lines"]) > 1:
        plain["run"]["lines"] = change.texts["run_lines"]


def _change_supply(plain: dict[str, Any], change: Change) -> None:
    texts, supply = change.texts, plain.get("supply", {})
    if "pressure" in texts and supply.get("regulator"):
        supply["regulator"]["set"] = texts["pressure"]
    if "regulator_range" in texts:
        _needs(supply.get("regulator"), "regulator_range", "[supply] regulator")
        supply["regulator"]["least_flow"], supply["regulator"]["most_flow"] = change.values["regulator_range"]
    for key, inner in (("hose", "inside"), ("hose_length", "length")):
        if key in texts:
            _needs(supply.get("hose"), key, "[supply] hose")
            supply["hose"][inner] = texts[key]
    if "filter" in texts:
        _needs(supply.get("filter"), "filter", "[supply] filter")
        supply["filter"].pop("loaded", None)


def _needs(there: Any, key: str, what: str) -> None:
    if not there:
        raise ChangeError(f"received {key}, expected a record with {what}, add it before this change is tried")
