"""Where on a map there is room for a text, in pixels of the screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .look import Look

_WIDE, _NARROW = 460, 298  # pixels across that a map surely gets
_LEAST, _MOST_WIDE, _MOST_NARROW = 60, 820, 640  # pixels along


@dataclass(frozen=True)
class Box:
    """A rectangle on the screen, x to the right, y up."""

    x: float  # [px] its middle
    y: float  # [px]
    wide: float  # [px] its size
    high: float  # [px]

    def meets(self, other: Box) -> bool:
        """Whether two boxes share ground."""
        return (abs(self.x - other.x) * 2 < self.wide + other.wide
                and abs(self.y - other.y) * 2 < self.high + other.high)


def map_pixels(width: float, length: float, look: Look) -> tuple[float, float]:
    """Size of a map of a floor on the screen, of equal scale across and along."""
    room, most = (_NARROW, _MOST_NARROW) if look.narrow else (_WIDE, _MOST_WIDE)
    along = float(np.clip(room * length / width, 1, most))
    return along * width / length, along


def plot_height(width: float, length: float, look: Look) -> int:
    """Height that a map needs, without gaps above or below."""
    return int(max(_LEAST, map_pixels(width, length, look)[1]))


def text_box(x: float, y: float, text: str, size: float) -> Box:
    """Room that one line of text takes."""
    return Box(x, y, 0.6 * size * len(text) + 4, size + 4)


def placed(wanted: Sequence[Box], taken: Sequence[Box], shifts: Sequence[float] = (0.0,)) -> list[float | None]:
    """Find room for boxes, the first ones first."""
    there, answers = list(taken), []
    for box in wanted:
        moved = [Box(box.x, box.y + shift, box.wide, box.high) for shift in shifts]
        free = next((place for place, one in enumerate(moved) if not any(one.meets(other) for other in there)), None)
        answers.append(None if free is None else shifts[free])
        if free is not None:
            there.append(moved[free])
    return answers
