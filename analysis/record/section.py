"""What all sections of a record have in common, and how their keys are told."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field


class Section(BaseModel):
    """A table of a record: nothing but the keys it knows, each of its own type."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


def key(description: str, default: Any = None, **more: Any) -> Any:
    """A key that may be left out.

    Parameters
    ----------
    description : str
        What it is, as a message says it.
    default : object
        What it is where it is left out.
    **more : object
        For pydantic.

    Returns
    -------
    object
        A field of pydantic.
    """
    return Field(default, description=description, **more)


def must(description: str, **more: Any) -> Any:
    """A key that must be there.

    Parameters
    ----------
    description : str
        What it is, as a message says it.
    **more : object
        For pydantic.

    Returns
    -------
    object
        A field of pydantic.
    """
    return Field(description=description, **more)
