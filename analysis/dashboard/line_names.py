"""Names of lines by where they hang, for lines that nobody named, and what refers to these names."""

from __future__ import annotations

from typing import Any

from ..entry.drafts.changes import Change
from ..entry.drafts.drafts import Drafts
from ..entry.to_record import plain_of
from ..units.quantity import QuantityError, parse
from . import hall

BY_PLACE = "named-by-place"  # the device of names that no person typed
_FROM_THE_LEFT = ("left", "middle", "right")
_REFER = ("pressures", "head_flows")


def names_by_place(count: int) -> list[str]:
    """Names for lines, from the left edge: ``left, right``; ``left, middle, right``; ``line 1`` and so on for more."""
    few = {1: ["left"], 2: ["left", "right"], 3: list(_FROM_THE_LEFT)}
    return few.get(count) or [f"line {number}" for number in range(1, count + 1)]


def by_place(plain: dict[str, Any], free: set[int]) -> dict[int, str]:
    """Find better names for lines that nobody named: line -> new name."""
    # None while a place is missing, where two lines hang at one place, and where a person's line, or a reading on a
    # line that is gone, has one of the names.
    lines = plain.get("lines") or []
    places = [_place(line) for line in lines]
    if len(lines) < 2 or None in places or len(set(places)) < len(places):
        return {}
    order = sorted(range(len(lines)), key=places.__getitem__)
    wanted = {line: name for line, name in zip(order, names_by_place(len(lines)), strict=True) if line in free}
    if set(wanted.values()) & taken(plain, free):
        return {}
    return {line: name for line, name in wanted.items() if lines[line].get("name") != name}


def taken(plain: dict[str, Any], free: set[int]) -> set[str]:
    """Names that no line may be given: those a person gave, and those that a reading has without such a line."""
    lines = plain.get("lines") or []
    names = {line.get("name") for line in lines}
    named = {line.get("name") for number, line in enumerate(lines) if number not in free}
    referred = {item.get("line") for section in _REFER for item in plain.get(section) or [] if item.get("line")}
    return (named | (referred - names)) - {None}


def against_place(plain: dict[str, Any]) -> dict[int, str]:
    """Say where the name of a line contradicts its place: line from 0 -> a sentence."""
    hang = [(number, str(line.get("name")).casefold(), _place(line))
            for number, line in enumerate(plain.get("lines") or [])]
    known = [item for item in hang if item[1] in _FROM_THE_LEFT and item[2] is not None]
    found: dict[int, str] = {}
    for number, name, place in known:
        rank = _FROM_THE_LEFT.index(name)
        wrong = [other for _, other, there in known if (_FROM_THE_LEFT.index(other) - rank) * (there - place) < 0]
        if wrong:
            side = "left" if any(_FROM_THE_LEFT.index(other) < rank for other in wrong) else "right"
            found[number] = (f"The line named {name} hangs {side} of the line named {wrong[0]}: correct the name or "
                             "the distance from the left edge.")
    return found


def unnamed(test: hall.Open, plain: dict[str, Any]) -> set[int]:
    """Find the lines, from 0, whose name no person typed; a list that came whole has names of a person."""
    drafts = Drafts()
    lines = plain.get("lines") or []
    if not lines or not drafts.acknowledged(test.draft, BY_PLACE):
        return set()
    whole = max((entry.revision for entry in drafts.history(test.draft, "lines")), default=0)
    last = {number: (drafts.history(test.draft, f"lines.{number}.name") or [None])[-1] for number in range(len(lines))}
    return {number for number, entry in last.items() if entry and entry.device == BY_PLACE
            and entry.revision > whole and entry.text == lines[number].get("name")}


def settle(test: hall.Open) -> hall.Open:
    """Name the lines that nobody named by where they hang; readings on them follow."""
    plain, _ = plain_of(test.values)
    new = by_place(plain, unnamed(test, plain))
    if not new:
        return test
    lines = plain["lines"]
    follow = {lines[number].get("name"): name for number, name in new.items()}
    changes = {f"lines.{number}.name": name for number, name in new.items()}
    for section in _REFER:
        items = plain.get(section) or []
        if any(item.get("line") in follow for item in items):
            changes[section] = hall.list_text([item | {"line": follow.get(item["line"], item["line"])} if "line" in item
                                         else item for item in items])
    _store(test.draft, changes)
    snapshot = Drafts().snapshot(test.draft)
    return hall.Open(test.draft, snapshot.values, snapshot.revision)


def keep_lines(test: hall.Open, lines: list[dict[str, Any]], free: set[int]) -> None:
    """Replace the lines of a draft, and remember which of their names no person typed."""
    _store(test.draft, {"lines": hall.list_text(lines),
                        **{f"lines.{number}.name": lines[number]["name"] for number in sorted(free)}})


def _store(draft: str, changes: dict[str, str]) -> None:
    """All or none, in this order; nothing here speaks to the session, so that no touch can cut it short."""
    drafts = Drafts()
    seen, last = drafts.revision(draft), drafts.acknowledged(draft, BY_PLACE)
    drafts.put(draft, [Change(key, text, last + place, seen) for place, (key, text) in enumerate(changes.items(), 1)],
               BY_PLACE)


def _place(line: dict[str, Any]) -> float | None:
    try:
        return parse(str(line.get("x", "")), "length").si
    except QuantityError:
        return None
