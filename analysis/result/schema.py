"""JSON Schema (draft 2020-12) of the record and of the result."""

from __future__ import annotations

import dataclasses
import inspect
import re
import types
from collections.abc import Mapping
from typing import Any, Union, get_args, get_origin, get_type_hints

from ..cans.index_table import INDICES
from ..record.model import Record
from . import model
from .as_json import FORMAT, KEYS

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_PLAIN = {str: "string", bool: "boolean", int: "integer", float: "number", type(None): "null"}
_FIELD = re.compile(r"^(\w+(?:, \w+)*) : (.*)\n((?: {4}.*\n?)*)", re.M)


def record_schema() -> dict[str, Any]:
    """Describe the layout of a record.

    Returns
    -------
    dict
        JSON Schema; dates are texts, and a quantity is a text with its unit. What several keys together must fulfil is
        not in it.
    """
    schema = {"$schema": _DIALECT, "title": "record", **Record.model_json_schema(mode="validation")}
    described: dict[str, Any] = _with_types(schema)
    return described


_QUANTITY = {"type": "string"}


def _with_types(node: Any) -> Any:
    """A key whose type only our own check knows holds a quantity, which is a text (pydantic leaves it open)."""
    if isinstance(node, list):
        return [_with_types(item) for item in node]
    if not isinstance(node, dict):
        return node
    known = {key: _with_types(value) for key, value in node.items()}
    if "properties" in known:
        known["properties"] = {name: _with_type(value) for name, value in known["properties"].items()}
    return known


def _with_type(value: dict[str, Any]) -> dict[str, Any]:
    if "anyOf" in value:
        return {**value, "anyOf": [item or _QUANTITY for item in value["anyOf"]]}
    if value.get("type") == "array" and value.get("items") == {}:
        return {**value, "items": _QUANTITY}
    return value if {"type", "$ref", "enum", "const", "allOf"} & set(value) else {**value, **_QUANTITY}


def result_schema() -> dict[str, Any]:
    """Describe the JSON of a result.

    Returns
    -------
    dict
        JSON Schema, made of the result's dataclasses and the table of indices; every key is always there.
    """
    hints = _hints(model.Result)
    properties: dict[str, Any] = {"result": {"const": FORMAT, "description": "version of this format"}}
    said = _said(model.Result)
    for key in KEYS:
        properties[key] = {**_of(hints[key]), "description": said.get(key, "")}
    return {"$schema": _DIALECT, "title": "result", "type": "object", "properties": properties,
            "required": list(properties), "additionalProperties": False}


def _of(kind: Any) -> dict[str, Any]:
    """Schema of one type."""
    origin, inside = get_origin(kind), get_args(kind)
    if kind in _PLAIN:
        return {"type": _PLAIN[kind]}
    if origin in (Union, types.UnionType):
        return {"anyOf": [_of(item) for item in inside]}
    if origin is list:
        return {"type": "array", "items": _of(inside[0])}
    if origin is tuple:
        if inside[-1] is Ellipsis:
            return {"type": "array", "items": _of(inside[0])}
        return {"type": "array", "prefixItems": [_of(item) for item in inside], "minItems": len(inside), "items": False}
    if origin in (dict, Mapping):
        return {"type": "object", "additionalProperties": _of(inside[1])}
    if dataclasses.is_dataclass(kind):
        return _object(kind)
    raise TypeError(f"the result has a field of type {kind!r}, which has no JSON")


def _object(kind: Any) -> dict[str, Any]:
    hints, said = _hints(kind), _said(kind)
    properties: dict[str, Any] = {}
    for item in dataclasses.fields(kind):
        how = item.metadata.get("json", True)
        if how == "each":
            properties |= {key: {"type": ["number", "null"], "description": f"{index.says} [{index.unit or '1'}]"}
                           for key, index in INDICES.items()}
        elif how:
            properties[item.name.rstrip("_")] = {**_of(hints[item.name]), "description": said.get(item.name, "")}
    return {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}


def _hints(kind: Any) -> dict[str, Any]:
    """The types of a dataclass's fields; those of the result's later parts are loaded for it."""
    from ..causes.finding import Cause, Unevenness
    from ..changes.fixes.search import Fix
    from ..changes.fixes.supplies import OtherTap
    from ..changes.recheck import Recheck
    from ..watering.schedule import Watering

    parts = {"Cause": Cause, "Unevenness": Unevenness, "Fix": Fix, "OtherTap": OtherTap, "Recheck": Recheck,
             "Watering": Watering}
    return get_type_hints(kind, localns=parts)


def _said(kind: Any) -> dict[str, str]:
    """What a docstring says of each field, with its unit."""
    said = {}
    for names, of_type, text in _FIELD.findall((inspect.getdoc(kind) or "") + "\n"):
        unit = re.search(r"\[.*\]", of_type)
        for name in names.split(", "):
            said[name] = " ".join([*text.split(), *([unit[0]] if unit else [])])
    return said
