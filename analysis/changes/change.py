"""Changes of a system that somebody might make: read from text, and applied to a site."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from ..record.site import Site
from ..units.quantity import QuantityError
from .errors import ChangeError
from .key import Changed, Sketch
from .table import KEYS

__all__ = ["SystemChange", "ChangeError", "Changed", "changed_site", "exclude", "read_changes"]


@dataclass(frozen=True)
class SystemChange:
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


def read_changes(items: Sequence[str]) -> SystemChange:
    """Read changes as they are typed.

    Parameters
    ----------
    items : list of str
        Each ``KEY=VALUE``; the keys are those of `table.KEYS`.

    Returns
    -------
    SystemChange

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
    if pair := exclude(texts):
        raise ChangeError(f"received {pair[0]} together with {pair[1]}, expected only one of them, take one out")
    return SystemChange(texts, {key: _value(key, text) for key, text in texts.items()})


def exclude(keys: set[str] | dict[str, str]) -> tuple[str, str] | None:
    """Find two keys that exclude each other.

    Parameters
    ----------
    keys : set of str
        Of a change.

    Returns
    -------
    (str, str) or None
        None where all of them go together.
    """
    return next(((one, other) for one, entry in KEYS.items() if one in keys for other in entry.against
                 if other in keys), None)


def _value(key: str, text: str) -> Any:
    """What a text says under its key."""
    try:
        return KEYS[key].read(text)
    except QuantityError as error:
        raise ChangeError(f"{key}: {error}") from None


def changed_site(site: Site, change: SystemChange) -> Changed:
    """Apply a change to a site.

    Lines keep their order from the left with their heads' outputs, each moved as little as can be; a new line is a
    sound copy of its nearest neighbour.

    Parameters
    ----------
    site : Site
        With heads on lines.
    change : SystemChange
        From `read_changes`.

    Returns
    -------
    Changed

    Raises
    ------
    ChangeError
        Without heads or lines, or for a change that does not fit the floor or the record.
    """
    sketch = Sketch(site)
    for key, entry in KEYS.items():
        if key in change.texts:
            entry.apply(sketch, change.values[key], change.texts[key])
    return sketch.made()
