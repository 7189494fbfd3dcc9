"""From plain TOML values to a checked record, with every fault listed at once.

A *fault* stops a record: a wrong key, unit or dimension anywhere, a place off the floor, anything
wrong in the test, the floor, the cans or the run. A *doubt* does not: an implausible or contradictory
value elsewhere closes only the parts of the result that would need it (`doubts.py`).
"""

from __future__ import annotations

import copy
import difflib
from collections.abc import Iterable, Mapping, Sequence
from types import SimpleNamespace
from typing import Annotated, Any, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError

from ..units.quantity import LONGEST, QuantityError, clip_text
from ..units.shown import system_of
from .faults import Fault, RecordFaults
from .keys import about_key, field_of, keys_of, model_at, path_order
from .model import FORMAT, Record
from .places import Path
from .planning import as_given, filled, stops_planning
from .rules import RULES, RULES_BEFORE, Rule

MOST_FAULTS = 500  # listed of one section; a file with more is not a record


def build(raw: dict[str, Any], *, planning: bool = False) -> Record:
    """Check plain TOML values and make a record of them.

    Parameters
    ----------
    raw : dict
        As tomllib reads them.
    planning : bool
        Whether the test is still to come: cans, readings, opening and run may be missing, all else is checked. What
        was not given is None then (`cans`, `run`, `run.duration`).

    Returns
    -------
    Record

    Raises
    ------
    RecordFaults
        With every fault found (`MOST_FAULTS` of a section), in the order of the format. What several keys
        together show is looked for in all that is sound; a section without one of its needed keys is not.
    """
    faults = _format_faults(raw)
    if faults:
        raise RecordFaults(faults)
    given, raw = raw, filled(raw) if planning else raw
    sections, faults = _sections(raw)
    unknown = [name for name in raw if name not in Record.model_fields][:MOST_FAULTS]
    faults += [_unknown((name,), Record) for name in unknown]
    faults += _together(sections, RULES_BEFORE if planning else RULES, [fault.path for fault in faults])
    if planning:
        faults = [fault for fault in faults if stops_planning(fault)]
    if faults:
        raise RecordFaults(sorted(dict.fromkeys(faults), key=lambda fault: path_order(fault.path)))
    return Record.model_construct(**(as_given(given, sections) if planning else sections))


def _sections(raw: dict[str, Any]) -> tuple[dict[str, Any], list[Fault]]:
    """Each section by itself: what is sound of it, and its faults."""
    sections: dict[str, Any] = {}
    faults = []
    context = {"system": _system(raw)}
    for name, field in Record.model_fields.items():
        if name not in raw:
            faults += [_missing((name,), Record)] if field.is_required() else []
            continue
        try:
            sections[name] = _adapter(name).validate_python(raw[name], context=context)
        except ValidationError as error:
            details = error.errors(include_url=False)[:MOST_FAULTS]
            faults += [_one_fault(detail, name) for detail in details]
            sections[name] = _sound_part(name, raw[name], details)
    return sections, faults


def _together(sections: dict[str, Any], rules: Iterable[Rule], known: list[Path]) -> list[Fault]:
    """What only several keys together show, save where a fault is known already."""
    partial = SimpleNamespace(**{name: sections.get(name) for name in Record.model_fields})
    return [fault for check in rules for fault in check(partial)
            if not any(_same_place(fault.path, path) for path in known)]


def _system(raw: dict[str, Any]) -> str | None:
    """Units of the record, for what a message proposes: the floor's, else those of the first length in it."""
    floor = raw.get("floor")
    if isinstance(floor, dict):
        found = system_of(floor.get("width"), floor.get("length"))
        if found:
            return found
    places = []
    for section in [raw.get("cans"), *(raw["lines"] if isinstance(raw.get("lines"), list) else [])]:
        for value in section.values() if isinstance(section, dict) else ():
            places += value[:1] if isinstance(value, list) else [value]
    return system_of(*(text for text in places[:200] if isinstance(text, str) and len(text) <= LONGEST))


def _same_place(one: Path, other: Path) -> bool:
    shorter = min(len(one), len(other))
    return one[:shorter] == other[:shorter]


def _sound_part(section: str, value: Any, details: Sequence[Mapping[str, Any]]) -> Any:
    """A section without its faulty optional keys, so that what is left can be checked; None where that fails."""
    if len(details) >= MOST_FAULTS:
        return None
    value = copy.deepcopy(value)
    for detail in details:
        if section == "cans" and detail["type"] != "extra_forbidden":
            return None  # nearly every rule of the cans needs all of their keys
        path = (section, *detail["loc"])
        end = next((end for end in range(len(path), 1, -1) if _can_go(path[:end])), None)
        if end is None:
            return None
        holder = value
        for part in path[1 : end - 1]:
            holder = holder[part] if isinstance(holder, list) or part in holder else {}
        holder.pop(path[end - 1], None)
    try:
        return _adapter(section).validate_python(value)
    except ValidationError:
        return None


def _can_go(path: Path) -> bool:
    field = field_of(model_at(path), path[-1])
    return isinstance(path[-1], str) and (field is None or not field.is_required())


_ADAPTERS: dict[str, TypeAdapter[Any]] = {}


def _adapter(name: str) -> TypeAdapter[Any]:
    if name not in _ADAPTERS:
        field = Record.model_fields[name]
        annotation: Any = field.annotation if field.is_required() else get_args(field.annotation)[0]
        _ADAPTERS[name] = TypeAdapter(Annotated[(annotation, *field.metadata)] if field.metadata else annotation)
    return _ADAPTERS[name]


def _format_faults(raw: dict[str, Any]) -> list[Fault]:
    version = raw.get("record")
    if version is None:
        return []
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        return [
            Fault(
                ("record",),
                f"received {clip_text(version)}",
                f"expected record = {FORMAT}",
                "write it at the top, without quotes",
            )
        ]
    if version > FORMAT:
        return [
            Fault(
                ("record",),
                f"received record = {clip_text(version)[1:-1]}",
                f"expected record = {FORMAT} or older",
                "this file was made by a newer version: bring Evenfall up to date",
            )
        ]
    return []


# --- pydantic's errors in our words ---------------------------------------------------------------


def _missing(path: Path, model: type[BaseModel]) -> Fault:
    key = str(path[-1])
    field = field_of(model, key)
    return Fault(path, "received nothing", f"expected {field.description if field else key}", "add it")


def _unknown(path: Path, model: type[BaseModel]) -> Fault:
    keys = keys_of(model)
    near = difflib.get_close_matches(str(path[-1])[:60], keys, 1, 0.6)
    return Fault(
        path,
        f"received the unknown key {clip_text(path[-1])}",
        f"expected {near[0]!r}" if near else f"expected one of {', '.join(keys)}",
        f"did you mean {near[0]!r}? Rename it or take it out" if near else "rename it or take it out",
    )


_LENGTHS = {"too_long": "at most {max_length}", "too_short": "at least {min_length}"}


def _one_fault(detail: Mapping[str, Any], section: str) -> Fault:
    path: Path = (section, *detail["loc"])
    kind, context = detail["type"], detail.get("ctx", {})
    received = f"received {clip_text(detail['input'])}"
    if kind == "value_error" and isinstance(context.get("error"), QuantityError):
        error = context["error"]
        return Fault(path, error.received, error.expected, error.do)
    if kind == "missing":
        return _missing(path, model_at(path))
    if kind == "extra_forbidden":
        return _unknown(path, model_at(path))
    if kind == "literal_error":
        choices = context["expected"].replace("'", '"').replace(" or ", ", ")
        near = difflib.get_close_matches(clip_text(detail["input"])[1:-1], choices.replace('"', "").split(", "), 1, 0.6)
        return Fault(path, received, f"expected {_or(choices)}", f'did you mean "{near[0]}"?' if near else "choose one")
    if kind.endswith(tuple(_LENGTHS)):
        return _length_fault(path, detail)
    if kind in ("greater_than_equal", "less_than_equal"):
        limit = context.get("ge", context.get("le"))
        return Fault(
            path, received, f"expected a number of {limit} or {'more' if 'ge' in context else 'less'}", "correct it"
        )
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return Fault(path, received, f"expected {about_key(path)}", "write it as a table")
    if kind == "list_type":
        return Fault(path, received, f"expected a list: {about_key(path)}", "put it in square brackets")
    return Fault(path, received, f"expected {about_key(path)}", "correct it")


def _length_fault(path: Path, detail: Mapping[str, Any]) -> Fault:
    kind, context = detail["type"], detail.get("ctx", {})
    ending = next(ending for ending in _LENGTHS if kind.endswith(ending))
    unit = "character" if kind.startswith("string") else "item"
    size = context.get("actual_length") or len(detail["input"])
    if not size:
        return Fault(path, "received an empty one", f"expected {about_key(path)}", "write it, or take the key out")
    return Fault(
        path,
        f"received {size} {unit}{'' if size == 1 else 's'}",
        f"expected {_LENGTHS[ending].format(**context)} {unit}s",
        "shorten it" if ending == "too_long" else "write what is missing",
    )


def _or(choices: str) -> str:
    head, comma, tail = choices.rpartition(", ")
    return f"{head} or {tail}" if comma else tail
