"""From plain TOML values to a checked record, with every fault listed at once.

A *fault* stops a record: a wrong key, unit or dimension anywhere, a place off the floor, anything
wrong in the test, the floor, the cans or the run. A *doubt* does not: an implausible or contradictory
value elsewhere closes only the parts of the result that would need it (`doubts.py`).
"""

from __future__ import annotations

import difflib
from types import SimpleNamespace
from typing import Any, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError

from ..units import QuantityError, clip_text
from .faults import Fault, RecordFaults
from .model import FORMAT, Record
from .places import Path
from .rules import RULES


def build(raw: dict[str, Any]) -> Record:
    """Check plain TOML values and make a record of them.

    Parameters
    ----------
    raw : dict
        As tomllib reads them.

    Returns
    -------
    Record

    Raises
    ------
    RecordFaults
        With every fault found, in the order of the format.
    """
    faults = _format_faults(raw)
    if faults:
        raise RecordFaults(faults)
    sections: dict[str, Any] = {}
    for name, field in Record.model_fields.items():
        if name not in raw:
            if field.is_required():
                faults.append(_missing((name,), Record))
            continue
        try:
            sections[name] = _adapter(name).validate_python(raw[name])
        except ValidationError as error:
            faults += _translate(error, name, raw[name])
    faults += [_unknown((name,), Record, value) for name, value in raw.items() if name not in Record.model_fields]
    partial = SimpleNamespace(**{name: sections.get(name) for name in Record.model_fields})
    for check in RULES:
        faults += check(partial)
    if faults:
        raise RecordFaults(_once(faults))
    return Record.model_construct(**sections)


_ADAPTERS: dict[str, TypeAdapter] = {}


def _adapter(name: str) -> TypeAdapter:
    if name not in _ADAPTERS:
        field = Record.model_fields[name]
        annotation = field.annotation if field.is_required() else get_args(field.annotation)[0]
        _ADAPTERS[name] = TypeAdapter(annotation)
    return _ADAPTERS[name]


def _once(faults: list[Fault]) -> list[Fault]:
    order = list(Record.model_fields)
    unique = list(dict.fromkeys(faults))
    return sorted(
        unique,
        key=lambda fault: order.index(fault.path[0]) if fault.path[:1] and fault.path[0] in order else len(order),
    )


def _format_faults(raw: dict[str, Any]) -> list[Fault]:
    version = raw.get("record")
    if version is None:
        return []
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        return [
            Fault(("record",), f"received {clip_text(version)}", f"expected record = {FORMAT}", "write it at the top")
        ]
    if version > FORMAT:
        return [
            Fault(
                ("record",),
                f"received record = {version}",
                f"expected record = {FORMAT} or older",
                "this file was made by a newer version: bring Evenfall up to date",
            )
        ]
    return []


# --- pydantic's errors in our words ---------------------------------------------------------------


def _translate(error: ValidationError, section: str, value: Any) -> list[Fault]:
    return [_one_fault(detail, section, value) for detail in error.errors(include_url=False)]


def _model_at(path: Path) -> type[BaseModel]:
    """Find the model whose key the last part of a path is."""
    model: type[BaseModel] = Record
    for part in path[:-1]:
        if isinstance(part, int):
            continue
        inner = _inner_model(_field(model, part).annotation)
        if inner is None:
            break
        model = inner
    return model


def _field(model: type[BaseModel], key: str):
    for name, field in model.model_fields.items():
        if key in (name, field.alias):
            return field
    return None


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for argument in get_args(annotation) if (found := _inner_model(argument))), None)


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _about(path: Path) -> str:
    field = _field(_model_at(path), next((part for part in reversed(path) if isinstance(part, str)), ""))
    return (field.description if field else None) or "another value"


def _missing(path: Path, model: type[BaseModel]) -> Fault:
    key = str(path[-1])
    return Fault(path, "received nothing", f"expected {_field(model, key).description}", "add it")


def _unknown(path: Path, model: type[BaseModel], value: Any) -> Fault:
    keys = _keys(model)
    near = difflib.get_close_matches(str(path[-1]), keys, 1, 0.6)
    return Fault(
        path,
        f"received the unknown key {clip_text(path[-1])}",
        f"expected {near[0]!r}" if near else f"expected one of {', '.join(keys)}",
        f"did you mean {near[0]!r}? Rename it or take it out" if near else "rename it or take it out",
    )


_LENGTHS = {"too_long": "at most {max_length}", "too_short": "at least {min_length}"}


def _one_fault(detail: dict[str, Any], section: str, value: Any) -> Fault:
    path: Path = (section, *detail["loc"])
    kind, context = detail["type"], detail.get("ctx", {})
    received = f"received {clip_text(detail['input'])}"
    if kind == "value_error" and isinstance(context.get("error"), QuantityError):
        error = context["error"]
        return Fault(path, error.received, error.expected, error.do)
    if kind == "missing":
        return _missing(path, _model_at(path))
    if kind == "extra_forbidden":
        return _unknown(path, _model_at(path), detail["input"])
    if kind == "literal_error":
        choices = context["expected"].replace("'", '"').replace(" or ", ", ")
        near = difflib.get_close_matches(str(detail["input"]), choices.replace('"', "").split(", "), 1, 0.6)
        return Fault(path, received, f"expected {_or(choices)}", f'did you mean "{near[0]}"?' if near else "choose one")
    for ending, phrase in _LENGTHS.items():
        if kind.endswith(ending):
            letters = " characters" if kind.startswith("string") else " items"
            size = context.get("actual_length") or len(detail["input"])
            if not size:
                return Fault(path, "received an empty one", f"expected {_about(path)}", "write it, or take the key out")
            return Fault(
                path,
                f"received {size}{letters}",
                f"expected {phrase.format(**context)}{letters}",
                "shorten it" if ending == "too_long" else "write what is missing",
            )
    if kind in ("greater_than_equal", "less_than_equal"):
        limit = context.get("ge", context.get("le"))
        return Fault(
            path, received, f"expected a number of {limit} or {'more' if 'ge' in context else 'less'}", "correct it"
        )
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return Fault(path, received, f"expected {_about(path)}", "write it as a table")
    if kind == "list_type":
        return Fault(path, received, f"expected a list: {_about(path)}", "put it in square brackets")
    return Fault(path, received, f"expected {_about(path)}", "correct it")


def _or(choices: str) -> str:
    head, comma, tail = choices.rpartition(", ")
    return f"{head} or {tail}" if comma else tail
