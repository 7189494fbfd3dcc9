"""How quantities are shown to people, in metric or US units."""

from __future__ import annotations

import math

from .units import from_si

# What a person reads, by kind of thing: (dimension, unit, decimals) in metric and US.
SHOWN: dict[str, dict[str, tuple[str, str, int]]] = {
    "metric": {
        "place": ("length", "m", 1),
        "depth": ("length", "mm", 1),
        "height": ("length", "m", 1),
        "bore": ("length", "mm", 1),
        "area": ("area", "m2", 1),
        "volume": ("volume", "L", 0),
        "pressure": ("pressure", "kPa", 0),
        "flow": ("flow", "L/h", 0),
        "rate": ("rate", "mm/h", 1),
        "time": ("time", "min", 0),
        "speed": ("speed", "m/s", 1),
        "temperature": ("temperature", "C", 0),
    },
    "US": {
        "place": ("length", "ft", 0),
        "depth": ("length", "in", 2),
        "height": ("length", "ft", 1),
        "bore": ("length", "in", 2),
        "area": ("area", "ft2", 0),
        "volume": ("volume", "US gal", 0),
        "pressure": ("pressure", "psi", 0),
        "flow": ("flow", "gpm", 2),
        "rate": ("rate", "in/h", 2),
        "time": ("time", "min", 0),
        "speed": ("speed", "mph", 1),
        "temperature": ("temperature", "F", 0),
    },
}


def shown_unit(kind: str, system: str) -> str:
    """Tell the unit in which a kind of thing is shown.

    Parameters
    ----------
    kind : str
        A key of `SHOWN`, such as ``place`` or ``depth``.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
    """
    unit = SHOWN[system][kind][1]
    return {"C": "°C", "F": "°F", "m2": "m²", "ft2": "ft²"}.get(unit, unit)


def shown_value(si: float, kind: str, system: str) -> float:
    """Convert an SI value to the unit in which it is shown.

    Parameters
    ----------
    si : float or array [SI unit of the kind]
        Value inside the package.
    kind : str
        A key of `SHOWN`.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    float or array [shown unit]
    """
    dimension, unit, _ = SHOWN[system][kind]
    return from_si(si, unit, dimension)


def show(si: float | None, kind: str, system: str, *, with_unit: bool = True) -> str:
    """Write an SI value for a person.

    Parameters
    ----------
    si : float or None [SI unit of the kind]
        Value inside the package; None is written as a dash.
    kind : str
        A key of `SHOWN`.
    system : str
        ``metric`` or ``US``.
    with_unit : bool
        Whether the unit follows the number.

    Returns
    -------
    str
    """
    if si is None or not math.isfinite(si):
        return "–"
    decimals = SHOWN[system][kind][2]
    number = f"{shown_value(si, kind, system):.{decimals}f}"
    if float(number) == 0:
        number = number.lstrip("-")
    return f"{number} {shown_unit(kind, system)}" if with_unit else number
