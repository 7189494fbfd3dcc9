"""Any text safe to be drawn, its width, and names cut so that they fit."""

from __future__ import annotations

import unicodedata
from typing import Any

from .look import Look

SIZE = 12                    # pixels of the font
_LONGEST = 60                # signs of a name that are looked at when it is cut
_JOINERS = "\u200c\u200d"    # invisible, but part of how some scripts are written
_THIN, _FAT = set("fijlrtI.,:;'|!()[]{} ·-/\"`"), set("mwMWOQGD@%&…—")


def plain_text(text: str) -> str:
    """Make any text safe to be drawn letter by letter."""
    for sign, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ("$", "&#36;")):
        text = text.replace(sign, entity)
    return clean_text(text)


def clean_text(text: str) -> str:
    """Make one line of any text."""
    return " ".join("".join(sign if sign.isprintable() or sign in _JOINERS else " " for sign in text).split())


def text_width(text: str, size: float = SIZE) -> float:
    """Estimate how wide a text is drawn, rather too wide than too narrow."""
    return size * sum(map(_part, text))


def _part(sign: str) -> float:
    """Width of a sign / size of the font."""
    if unicodedata.combining(sign):
        return 0.0
    if unicodedata.east_asian_width(sign) in "WF":
        return 1.05
    return 0.4 if sign in _THIN else 0.95 if sign in _FAT else 0.72 if sign.isupper() else 0.63


def shortened(text: str, room: float, size: float = SIZE) -> str:
    """Cut a name in its middle so that it fits: what tells names apart stands at either end, or is a number."""
    text = clean_text(text)
    if text_width(text, size) <= room:
        return text
    text = text if len(text) <= _LONGEST else text[:_LONGEST // 2] + text[-_LONGEST // 2:]
    for kept in range(len(text) - 1, 1, -1):
        # Where there is a choice digits stay, for they tell tunnels apart; else both ends alike.
        head = max(range(1, kept), key=lambda head: (
            sum(map(str.isdigit, text[:head] + text[len(text) - kept + head :])), -abs(2 * head - kept - 1)))
        cut = f"{text[:head].rstrip()}…{text[len(text) - kept + head :].lstrip()}"
        if text_width(cut, size) <= room:
            return cut
    return "…"


def hover_label(look: Look) -> dict[str, Any]:
    """Colours of the box that opens under a pointer, readable whatever the colour of the mark."""
    return {"bgcolor": "#262730" if look.dark else "#ffffff", "bordercolor": "#888888", "align": "left",
            "font": {"color": look.ink, "size": SIZE}}
