"""Changes of a system that somebody might make: read from text, and applied to a record."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..record.checks import build
from ..record.faults import RecordFaults
from ..record.model import MOST_HEADS, Line, Record
from ..record.places import head_places, lines_from_the_left
from ..units.quantity import Quantity, QuantityError, parse

MOST_LINES_TRIED = 12
HOLE = 0.03      # [m] a hole so near a wanted place is used as it is
LEAST_GAP = 0.1  # [m] from the last head of today to one more at the end of the line

# What each key takes: a dimension, the words it allows, or a kind of its own.
KEYS: dict[str, Any] = {
    "lines": "count", "line_x": "places", "head_spacing": "length", "add_between": ("yes",), "first": "length",
    "add_at_ends": "length", "pressure": "pressure", "wetted_diameter": "length", "flow": "flow", "pipe": "length",
    "hose": "length", "hose_length": "length", "filter": ("clean",), "regulator_range": "range",
    "fed_from": ("near", "far", "middle"), "run_lines": ("together", "in turn"), "mend": "heads",
}
AGAINST = (("lines", "line_x"), ("head_spacing", "add_between"), ("first", "add_at_ends"))
_NOT_CHANGED = ("pressures", "head_flows", "patches")  # readings of the test as it was


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
    for one, other in AGAINST:
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

    Lines keep their order from the left with their heads' outputs, each moved as little as can be; a new line is a
    sound copy of its nearest neighbour.

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
    plain = {name: getattr(record, name) for name in type(record).model_fields
             if name not in _NOT_CHANGED and getattr(record, name) is not None}
    plain["lines"] = [_line(lines, plan, number, values) for number in range(len(plan))]
    _change_heads(plain, change)
    _change_supply(plain, change)
    heads = sum(len(ys) for _, _, ys in plan)
    if heads > MOST_HEADS:
        raise ChangeError(f"received a change to {heads} heads, expected at most {MOST_HEADS}, make it smaller")
    try:
        made = build(plain)
    except RecordFaults as error:
        fault = error.faults[0]
        raise ChangeError(f"{fault.key}: {fault.says}") from None
    hung = [line.model_copy(update={"heads_at": [_place(y) for y in ys]})
            for line, (_, _, ys) in zip(made.lines, plan, strict=True)]
    return Changed(made.model_copy(update={"lines": hung}), plan, values.get("mend", []))


def _place(y: float) -> Quantity:
    text = f"{y:.4f}"
    return Quantity(f"{text} m", float(text), "length")


def _line_plan(record: Record, lines: list[Line], values: dict[str, Any]):
    width, length = record.floor.width.si, record.floor.length.si
    today = np.array([line.x.si for line in lines])
    across = today
    if "lines" in values:
        across = (np.arange(values["lines"]) + 0.5) * width / values["lines"]
    elif "line_x" in values:
        across = np.array(values["line_x"])
        if across[-1] > width:
            raise ChangeError(f"received a line at {across[across > width][0]:g} m, expected places on a floor "
                              f"{width:g} m wide, correct it")
    kept = kept_lines(today, across)
    along = [np.array(head_places(line)) for line in lines]
    plan = []
    for x, was in zip(across, kept, strict=True):
        near = min((k for k, line in enumerate(kept) if line >= 0), key=lambda k, x=x: round(abs(across[k] - x), 3))
        source = was if was >= 0 else kept[near]
        plan.append((int(was) if was >= 0 else -1 - int(source), float(x),
                     _heads_along(along[source], length, values)))
    if "add_at_ends" in values and all(len(ys) == len(along[like if like >= 0 else -1 - like]) for like, _, ys in plan):
        raise ChangeError(f"received add_at_ends for lines whose last heads are nearer than {LEAST_GAP:g} m to that "
                          "place, expected a place nearer to the end walls, make it smaller")
    return plan


def kept_lines(today: np.ndarray, across: np.ndarray) -> list[int]:
    """Which line of today hangs at each new place: in their order, and moved as little as can be.

    Parameters
    ----------
    today : array (n,) [m]
        Places of the lines, rising.
    across : array (k,) [m]
        New places, rising.

    Returns
    -------
    list of int [1]
        Number of today's line for each new place; -1 for a new line. Where there are fewer places than lines, the
        others come down.
    """
    few, many = (today, across) if len(today) <= len(across) else (across, today)
    apart = np.abs(few[:, None] - many[None, :])
    best = np.full((len(few) + 1, len(many) + 1), np.inf)
    best[0] = 0.0
    for i in range(1, len(few) + 1):
        for j in range(i, len(many) + 1):
            best[i, j] = min(best[i, j - 1], best[i - 1, j - 1] + apart[i - 1, j - 1])
    pairs, j = [], len(many)
    for i in range(len(few), 0, -1):
        while best[i, j - 1] <= best[i, j] + 1e-9:
            j -= 1
        pairs.append((i - 1, j - 1))
        j -= 1
    if few is across:
        return [line for _, line in reversed(pairs)]
    found = [-1] * len(across)
    for line, place in pairs:
        found[place] = line
    return found


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
    if "add_at_ends" in values:
        end = values["add_at_ends"]
        begins = [end] * bool(found[0] - end > LEAST_GAP)
        ends = [length - end] * bool(length - end - found[-1] > LEAST_GAP)
        found = np.concatenate([begins, found, ends])
    found = _in_todays_holes(found, today)
    if len(found) > 1000:
        raise ChangeError(f"received a spacing that puts {len(found)} heads on a line, expected at most 1000, widen it")
    return found


def _in_todays_holes(found: np.ndarray, today: np.ndarray) -> np.ndarray:
    """Where every head of today has a new place within `HOLE`, it stays in its own hole."""
    nearest = np.abs(found[:, None] - today[None, :]).argmin(axis=0)
    if len(set(nearest)) < len(today) or np.abs(found[nearest] - today).max() > HOLE:
        return found
    found = found.copy()
    found[nearest] = today
    return found


def _line(lines: list[Line], plan, number: int, values: dict[str, Any]) -> Line:
    """A line of today at its new place, still without heads; a new one is a copy of its neighbour."""
    like, x, _ = plan[number]
    new = dict.fromkeys(("first", "spacing", "count", "heads_at")) | {"x": _place(x)}
    if like < 0:
        taken = {line.name for line in lines}
        new["name"] = next(name for k in range(number + 1, number + 1000) if (name := f"line {k}") not in taken)
        new["ran"] = None
    if "pipe" in values:
        new["pipe"] = parse(f"{values['pipe'] * 1e3:.6g} mm", "length")
    if "fed_from" in values:
        new["fed_from"] = values["fed_from"]
    new |= {key: None for key in ("wetted_diameter", "flow") if key in values}
    return lines[like if like >= 0 else -1 - like].model_copy(update=new)


def _plain(plain: dict[str, Any], section: str) -> dict[str, Any]:
    """A section as plain values, to be changed and checked again."""
    if section not in plain:
        plain[section] = {}
    elif not isinstance(plain[section], dict):
        plain[section] = plain[section].model_dump(by_alias=True, exclude_none=True)
    return plain[section]


def _change_heads(plain: dict[str, Any], change: Change) -> None:
    for key in ("wetted_diameter", "flow"):
        if key in change.texts:
            _plain(plain, "heads")[key] = change.texts[key]
    run = _plain(plain, "run")
    if len(plain["lines"]) == 1:
        if "run_lines" in change.texts:
            raise ChangeError("received run_lines with one line, expected two lines or more, leave it out")
        run.pop("lines", None)
    else:
        run["lines"] = change.texts.get("run_lines", run.get("lines", "together"))


_OF_SUPPLY = {"pressure": "regulator", "regulator_range": "regulator", "hose": "hose", "hose_length": "hose",
              "filter": "filter"}


def _change_supply(plain: dict[str, Any], change: Change) -> None:
    texts = change.texts
    wanted = [key for key in _OF_SUPPLY if key in texts]
    if not wanted:
        return
    supply = _plain(plain, "supply")
    for key in wanted:
        if not supply.get(_OF_SUPPLY[key]):
            raise ChangeError(f"received {key}={texts[key]}, expected a record with [supply] {_OF_SUPPLY[key]}, add "
                              "it before this change is tried")
    if "pressure" in texts:
        supply["regulator"]["set"] = texts["pressure"]
    if "regulator_range" in texts:
        supply["regulator"]["least_flow"], supply["regulator"]["most_flow"] = change.values["regulator_range"]
    for key, inner in (("hose", "inside"), ("hose_length", "length")):
        if key in texts:
            supply["hose"][inner] = texts[key]
    if "filter" in texts:
        supply["filter"].pop("loaded", None)
