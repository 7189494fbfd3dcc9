"""What still stops a test, in the page's own words: the field by its label and box, and what is missing there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from ..record.faults import Fault
from .form import NEEDED, place_of

_READINGS = {"grid", "points", "rows", "set_aside"}
_FILE_WORDS = [(", in quotes", ""), (", without quotes", ""), (" without quotes", ""), (", or take the key out", ""),
               (", or take the table out", ", or empty all three fields"), ("opening_area", "the area"),
               ('expected "together" or "in turn"', "expected together or in turn")]
_EMPTY = ("received nothing", "received an empty one")
# Whole sections that are not there yet, by the fields that make them up.
_SECTIONS = {
    "floor": (("floor", "width"), ("floor", "length")),
    "run": (("run", "duration"),),
    "test": (("test", "title"),),
    "cans": (("cans", "opening"), ("cans", "across"), ("cans", "along")),
}


@dataclass(frozen=True)
class Problem:
    """One thing that stops the figures."""

    path: tuple  # key in the record
    label: str  # of its field; what it is about where no field shows it
    says: str  # one sentence with the field's label and box
    readings: bool  # whether it is about the readings rather than the set-up
    box: str = ""
    missing: str = ""  # what is missing, without the box; empty where something is there and wrong


def problems(faults: list[Fault], plain: dict[str, Any], typed: int) -> list[Problem]:
    """Put faults into words for the pages."""
    found: dict[tuple, Problem] = {}
    for fault in faults:
        for problem in _problems(fault, plain, typed):
            found.setdefault((problem.path, problem.says), problem)
    return list(found.values())


def _problems(fault: Fault, plain: dict[str, Any], typed: int) -> list[Problem]:
    path = fault.path
    if len(path) == 1 and path[0] in _SECTIONS and fault.received in _EMPTY:
        return [_missing(key) for key in _SECTIONS[path[0]]]
    if path[:1] == ("cans",) and len(path) > 1 and path[1] in _READINGS:
        return _of_readings(fault, plain, typed)
    if path == ("cans", "opening") and fault.received in _EMPTY:
        label = "Inside diameter of a can's opening"
        return [Problem(path, label, _sentence(label, NEEDED, "", "is still empty (or give its area)"), False, NEEDED,
                        f"{label}, or its area")]
    if fault.received in _EMPTY or fault.received.startswith("received nothing"):
        return [_missing(path)]
    label, box, item = place_of(path) or (in_words(fault.key), "", "")
    return [Problem(path, label, _sentence(label, box, item, what_is_wrong(fault), joint=": "), False)]


def _missing(path: tuple) -> Problem:
    label, box, item = place_of(path) or (in_words(".".join(map(str, path))), "", "")
    says = "is still empty"
    if path == ("run", "lines"):
        says = "is not said: together, or in turn (one after the other)"
    missing = label.partition(":")[0] if path[:1] == ("cans",) else label
    return Problem(path, label, _sentence(label, box, item, says), False, box,
                   f"{missing} ({item})" if item else missing)


def _of_readings(fault: Fault, plain: dict[str, Any], typed: int) -> list[Problem]:
    cans = plain.get("cans", {})
    if not {"points", "rows"} & set(cans):
        empty = [key for key in ("across", "along") if not cans.get(key)]
        if empty:
            return [_missing(("cans", key)) for key in empty]
    if not typed:
        return []
    if "usable can" in fault.received:
        count = re.search(r"\d+", fault.received)
        says = f"{count[0] if count else typed} of the cans can be used so far; figures need at least four."
        return [Problem(fault.path, "Readings", says, True)]
    return [Problem(fault.path, "Readings", f"{in_words(fault.key)}: {what_is_wrong(fault)}.", True)]


def _sentence(label: str, box: str, item: str, says: str, joint: str = " ") -> str:
    where = ", ".join(part for part in (f"in '{box}'" if box else "", item) if part)
    return f"'{label}'{f' ({where})' if where else ''}{joint}{says}."


def what_is_wrong(fault: Fault) -> str:
    """Say what is wrong with a value, without naming its field."""
    path = fault.path
    if path[-1:] == ("heads_at",) and "beside" in fault.received:
        return ("this line has both a list of its heads and a first head with distance and number; keep one of the two "
                "and empty the other")
    if path == ("cans", "opening_area") and "both" in fault.received:
        return "both the diameter and the area of a can's opening are given; empty one of them"
    if path == ("cans", "unit") and " with reads = " in fault.received:
        unit, reads = re.findall(r"'([^']*)'", fault.received)[:2]
        return f"{unit} is no unit of {reads}; choose {fault.expected.removeprefix('expected ')}"
    if path[:1] == ("lines",) and path[-1] == "count" and "the last at" in fault.received:
        return f"{fault.received.removeprefix('received ')}, is beyond the floor; correct the first head, the " \
               "distance or the number"
    received = fault.received.removeprefix("received ")
    says = f"{received} does not fit, {fault.expected.replace('expected', 'needed is', 1)}: {fault.do}"
    for word, plain in _FILE_WORDS:
        says = says.replace(word, plain)
    return says


def summary(found: list[Problem]) -> list[str]:
    """Put problems into as few lines as can be: what is empty box by box, then what is wrong."""
    empty: dict[str, list[str]] = {}
    for problem in found:
        if problem.missing:
            empty.setdefault(problem.box or "This test", []).append(problem.missing)
    return [f"{box}: {'; '.join(missing)}" for box, missing in empty.items()] + [
        problem.says for problem in found if not problem.missing]


def with_labels(text: str) -> str:
    """Write a sentence with the labels of the page in place of the record's keys."""
    def label(found: re.Match) -> str:
        path = tuple(int(part) - 1 if part.isdigit() else part for part in re.findall(r"\w+", found[0]))
        place = place_of(path)
        if place is None:
            return in_words(found[0])
        return f"'{place[0]}'" + (f" ({place[2]})" if place[2] and place[2] not in place[0] else "")

    return re.sub(r"\b(?:test|run|floor|cans|heads|lines|supply|pressures|target)(?:\[\d+\])?(?:\.[a-z_]+)+", label,
                  text)


def in_words(key: str) -> str:
    """Turn a record's key into words: ``lines[2].heads_at`` is ``lines 2, heads at``."""
    return key.replace("[", " ").replace("]", "").replace(".", ", ").replace("_", " ")
