"""Whether heads are mended as plain text, 80 columns wide."""

from __future__ import annotations

import textwrap

from ..changes.mended import MendedHead
from .text import WIDTH


def mended_text(found: list[MendedHead]) -> str:
    """Write whether heads are mended for a terminal.

    Parameters
    ----------
    found : list of MendedHead
        From `mended_heads`.

    Returns
    -------
    str
        No line is longer than 80 characters.
    """
    return "\n".join(textwrap.fill(head.says, WIDTH, subsequent_indent="  ") for head in found) + "\n"
