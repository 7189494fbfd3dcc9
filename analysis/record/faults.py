"""What stops a record: faults, each with what was received, what was expected and what to do."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..units.quantity import clip_text
from .places import Path

_PLAIN_KEY = re.compile(r"[\w-]{1,60}")


@dataclass(frozen=True)
class Fault:
    """One thing that stops a record.

    Attributes
    ----------
    path : tuple
        Keys and indices (from 0) that lead to the value.
    received, expected, do : str
        What came, what was wanted, what to do.
    """

    path: Path
    received: str
    expected: str
    do: str

    @property
    def key(self) -> str:
        """The key as a person reads it, list items counted from 1: ``lines[2].x``."""
        return key_text(self.path)

    @property
    def says(self) -> str:
        """The sentence without key and place."""
        return f"{self.received}, {self.expected}, {self.do}"


class RecordFaults(ValueError):
    """Everything that stops a record.

    Attributes
    ----------
    faults : tuple of Fault
        All of them, in the record's order.
    lines : tuple of str
        One line a fault, as printed: ``FILE:LINE: key: received, expected, do``.
    """

    def __init__(self, faults: list[Fault], lines: list[str] | None = None):
        self.faults = tuple(faults)
        self.lines = tuple(lines or (f"{fault.key}: {fault.says}" if fault.key else fault.says for fault in faults))
        super().__init__("\n".join(self.lines))


def key_text(path: Path) -> str:
    """Write a path as a person reads it.

    Parameters
    ----------
    path : tuple
        Keys and indices, indices from 0.

    Returns
    -------
    str
        ``cans.grid[2][3]``: list items are counted from 1; long or odd keys are cut and quoted.
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
            continue
        shown = part if _PLAIN_KEY.fullmatch(part) else clip_text(part)
        text += f".{shown}" if text else shown
    return text
