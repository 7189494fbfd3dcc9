"""Places of cans and heads on a floor that is still being described."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from ..record.head_keys import Line
from ..record.places import head_places
from ..units.shown import shown_value


def evenly(size: float, count: int, system: str) -> list[str]:
    """Spread places evenly over a size, each in the middle of its share."""
    places = [(number + 0.5) * size / count for number in range(count)]
    if system == "metric":
        return [f"{round(place / 0.05) * 0.05:.2f} m" for place in places]
    feet = [float(shown_value(place, "place", system)) for place in places]
    step = 0.5 if size / count > 0.6 else 1 / 12
    if step == 0.5:
        return [f"{round(place * 2) / 2:g} ft" for place in feet]
    return [f"{round(place * 12):g} in" for place in feet]


def heads_of(plain: dict[str, Any]) -> list[tuple[str, float, list[float]]]:
    """List the lines that are described well enough to draw."""
    found = []
    lines = plain.get("lines")
    for raw in lines if isinstance(lines, list) else []:
        try:
            line = Line.model_validate(raw)
        except ValidationError:
            continue
        found.append((line.name, line.x.si, head_places(line)))
    return found
