"""Crops: which part of the water that the soil holds for plants they may use before the next watering."""

from __future__ import annotations

from dataclasses import dataclass

# At a use of 5 mm a day (FAO-56, table 22).
MAY_USE = {
    "spinach": 0.20, "celery": 0.20, "strawberry": 0.20, "lettuce": 0.30, "onion": 0.30, "pepper": 0.30, "radish": 0.30,
    "carrot": 0.35, "tomato": 0.40, "cucumber": 0.50,
}
# The same table, from memory.
FROM_MEMORY = {"garlic": 0.30, "cabbage": 0.45, "cauliflower": 0.45, "broccoli": 0.45, "aubergine": 0.45,
               "eggplant": 0.45}
OTHER = 0.30       # of any other crop, until somebody says; from memory
BY_USE = 0.04      # more for each mm a day under 5, less for each over it (FAO-56, table 22) [1 per mm/d]
LEAST, MOST = 0.1, 0.8
SOURCE, MEMORY = "FAO-56, table 22", "from memory"
_PLURALS = {"strawberries": "strawberry", "tomatoes": "tomato", "radishes": "radish"}


@dataclass(frozen=True)
class MayUse:
    """What a crop may use.

    Attributes
    ----------
    part : float [1]
        Of the water that the soil holds for plants.
    known : bool
        Whether the crop is in the table.
    source : str
        Where it comes from.
    """

    part: float
    known: bool
    source: str


def may_use(kind: str | None, daily_mm: float) -> MayUse:
    """Which part of the held water a crop may use at its daily use: p + 0.04 (5 - ETc), held within 0.1 to 0.8.

    Parameters
    ----------
    kind : str or None
        As somebody wrote it; a crop is never taken by a part of the text.
    daily_mm : float [mm/d]
        What it uses, ETc.

    Returns
    -------
    MayUse
    """
    name = " ".join((kind or "").casefold().split())
    name = _PLURALS.get(name, name)
    table = MAY_USE | FROM_MEMORY
    name = name if name in table else name.removesuffix("s")
    at_five = table.get(name, OTHER)
    source = SOURCE if name in MAY_USE else MEMORY
    return MayUse(min(max(at_five + BY_USE * (5.0 - daily_mm), LEAST), MOST), name in table, source)
