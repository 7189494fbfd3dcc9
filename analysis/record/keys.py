"""The keys of a record, as the model states them: what each is, and the order of the format."""

from __future__ import annotations

from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from .model import Record
from .places import Path


def field_of(model: type[BaseModel], key: str | int) -> FieldInfo | None:
    """Find the field of a key.

    Parameters
    ----------
    model : type
        A model of a section.
    key : str
        As it stands in a file.

    Returns
    -------
    FieldInfo or None
        None for an unknown key.
    """
    return next((field for name, field in model.model_fields.items() if key == (field.alias or name)), None)


def keys_of(model: type[BaseModel]) -> list[str]:
    """List the keys of a section.

    Parameters
    ----------
    model : type
        A model of a section.

    Returns
    -------
    list of str
        As they stand in a file, in the order of the format.
    """
    return [field.alias or name for name, field in model.model_fields.items()]


def inner_model(annotation: Any) -> type[BaseModel] | None:
    """Find the model inside an annotation.

    Parameters
    ----------
    annotation : type
        Such as ``list[Line] | None``.

    Returns
    -------
    type or None
        None where the value is no table.
    """
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for argument in get_args(annotation) if (found := inner_model(argument))), None)


def model_at(path: Path) -> type[BaseModel]:
    """Find the model whose key the last part of a path is.

    Parameters
    ----------
    path : tuple
        Keys and indices.

    Returns
    -------
    type
        The innermost model on the way.
    """
    model: type[BaseModel] = Record
    for part in path[:-1]:
        if isinstance(part, int):
            continue
        field = field_of(model, part)
        inner = inner_model(field.annotation) if field else None
        if inner is None:
            break
        model = inner
    return model


def about_key(path: Path) -> str:
    """Say what a key is.

    Parameters
    ----------
    path : tuple
        Keys and indices.

    Returns
    -------
    str
        The model's description.
    """
    field = field_of(model_at(path), next((part for part in reversed(path) if isinstance(part, str)), ""))
    return (field.description if field else None) or "another value"


def path_order(path: Path) -> tuple[int, ...]:
    """Tell where a path stands in the order of the format.

    Parameters
    ----------
    path : tuple
        Keys and indices.

    Returns
    -------
    tuple of int
        To sort by; unknown keys come after the known ones of their table.
    """
    model: type[BaseModel] | None = Record
    order = []
    for part in path:
        if isinstance(part, int):
            order.append(part)
            continue
        keys = keys_of(model) if model else []
        order.append(keys.index(part) if part in keys else len(keys))
        field = field_of(model, part) if model else None
        model = inner_model(field.annotation) if field else None
    return tuple(order)
