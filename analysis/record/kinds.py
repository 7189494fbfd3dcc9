"""What kind of value each key of a record takes, by its dotted name (list items are numbers from 0)."""

from __future__ import annotations

import datetime
import types
import typing
from typing import Any

from ..units.quantity import Quantity
from .keys import field_of, inner_model
from .model import Record
from .told import TOLD


def key_type(parts: list[str]) -> str:
    """Tell what kind of value a dotted key takes.

    Parameters
    ----------
    parts : list of str
        The key, split at its dots; list items are numbers.

    Returns
    -------
    str
        ``text``, ``list`` (of texts), ``numbers``, ``number``, ``whole``, ``date``, ``yes or no`` or ``choice``.
    """
    field = _field(parts)
    return _kind(field.annotation, parts[-1].isdigit()) if field else "text"


def choices(parts: list[str]) -> list[str]:
    """List what a key of the kind ``choice`` may be.

    Parameters
    ----------
    parts : list of str
        The key, split at its dots.

    Returns
    -------
    list of str
        Empty for other keys.
    """
    found: list[str] = []

    def walk(annotation: Any) -> None:
        if typing.get_origin(annotation) is typing.Literal:
            found.extend(typing.get_args(annotation))
        else:
            for inner in typing.get_args(annotation):
                walk(inner)

    field = _field(parts)
    walk(field.annotation if field else None)
    return found


def about(parts: list[str]) -> str:
    """Say what a key is, for a person who fills its field.

    Parameters
    ----------
    parts : list of str
        The key, split at its dots.

    Returns
    -------
    str
        What is told of it, else the model's description; empty for an unknown key.
    """
    field = _field(parts)
    told = TOLD.get(".".join(part for part in parts if not part.isdigit()))
    return told or ((field.description or "").replace(", in quotes", "").replace(", without quotes", "")
                    if field else "")


def _field(parts: list[str]) -> Any:
    model: Any = Record
    field = None
    for part in parts:
        if part.isdigit():
            continue
        field = field_of(model, part) if model else None
        if field is None:
            return None
        model = inner_model(field.annotation)
    return field


def _kind(annotation: Any, item: bool) -> str:
    flat = _flat(annotation)
    if list in flat and str in flat and not item:
        return "text"  # a word, or a list as JSON
    if list in flat and not item:
        return "numbers" if float in flat or int in flat else "list"
    if "choice" in flat:
        return "choice"
    for kind, name in ((bool, "yes or no"), (datetime.date, "date"), (Quantity, "text"), (float, "number"),
                       (int, "whole")):
        if kind in flat:
            return name
    return "text"


def _flat(annotation: Any) -> set[Any]:
    origin = typing.get_origin(annotation)
    if origin is typing.Literal:
        return {"choice"}
    if origin is list:
        return {list, *(part for inner in typing.get_args(annotation) for part in _flat(inner))}
    if origin in (typing.Union, types.UnionType):
        return {part for inner in typing.get_args(annotation) for part in _flat(inner)}
    if origin is typing.Annotated:
        return _flat(typing.get_args(annotation)[0])
    return {annotation}
