"""How quantities are shown to people, in metric or US units."""

from __future__ import annotations

import math
import re

from .quantity import QuantityError, find_unit, from_si, parse, to_si

SYSTEMS = ("metric", "US")
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
        "stream": ("speed", "m/s", 1),
        "temperature": ("temperature", "C", 0),
        "angle": ("angle", "deg", 0),
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
        "stream": ("speed", "ft/s", 1),
        "temperature": ("temperature", "F", 0),
        "angle": ("angle", "deg", 0),
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


def shown_value(value: float, kind: str, system: str, *, unit: str | None = None) -> float:
    """Convert a value to the unit in which it is shown.

    Parameters
    ----------
    value : float or array [unit]
        Value inside the package.
    kind : str
        A key of `SHOWN`.
    system : str
        ``metric`` or ``US``.
    unit : str, optional
        Unit of `TABLE` that the value is in; the SI unit of the kind if left out.

    Returns
    -------
    float or array [shown unit]
    """
    dimension, shown, _ = SHOWN[system][kind]
    if unit == shown:
        return value
    return from_si(value if unit is None else to_si(value, unit, dimension), shown, dimension)


def show(value: float | None, kind: str, system: str, *, unit: str | None = None, with_unit: bool = True) -> str:
    """Write a value for a person.

    Parameters
    ----------
    value : float or None [unit]
        Value inside the package; None is written as a dash.
    kind : str
        A key of `SHOWN`.
    system : str
        ``metric`` or ``US``.
    unit : str, optional
        Unit of `TABLE` that the value is in; the SI unit of the kind if left out.
    with_unit : bool
        Whether the unit follows the number.

    Returns
    -------
    str
    """
    if value is None or not math.isfinite(value):
        return "–"
    decimals = SHOWN[system][kind][2]
    number = f"{shown_value(value, kind, system, unit=unit):.{decimals}f}"
    if float(number) == 0:
        number = number.lstrip("-")
    return f"{number} {shown_unit(kind, system)}" if with_unit else number


def show_rough(value: float, kind: str, system: str, digits: int = 2, *, unit: str | None = None,
               with_unit: bool = True) -> str:
    """Write a value for a person with no more digits than an estimate carries.

    Parameters
    ----------
    value : float [unit]
        Value inside the package.
    kind : str
        A key of `SHOWN`.
    system : str
        ``metric`` or ``US``.
    digits : int
        Digits that are not filled up with zeros.
    unit : str, optional
        Unit of `TABLE` that the value is in; the SI unit of the kind if left out.
    with_unit : bool
        Whether the unit follows the number.

    Returns
    -------
    str
        ``1 200 L``; the space between thousands does not break a line.
    """
    rounded = float(f"{shown_value(value, kind, system, unit=unit):.{digits}g}")
    number = f"{rounded:,.0f}".replace(",", "\N{NO-BREAK SPACE}")
    return f"{number} {shown_unit(kind, system)}" if with_unit else number


def system_of(*texts: object) -> str | None:
    """Tell in which system lengths were written.

    Parameters
    ----------
    *texts : object
        Lengths as entered, such as ``24 ft``, ``24'`` or ``7.6 m``; the first that can be read decides.

    Returns
    -------
    str or None
        ``US`` for feet and inches, else ``metric``; None where none is a length.
    """
    for text in texts:
        try:
            text = parse(text, "length", signed=True).text
        except QuantityError:
            continue
        units = {find_unit(word, "length") for word in re.findall(r"[^\W\d]+|[^\w\s.,/+-]+", text)}
        return "US" if units & {"ft", "in"} else "metric"
    return None


def place_text(si: float, system: str) -> str:
    """Write a place closely enough to find it again with a tape.

    Parameters
    ----------
    si : float [m]
        Distance from an edge.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        ``9.14 m`` or ``30 ft``; feet to a tenth.
    """
    if system != "US":
        return f"{si:.2f} m"
    feet = round(from_si(si, "ft", "length"), 1) + 0.0
    return f"{feet:g} ft" if abs(feet) < 1e5 else f"{feet:.0f} ft"


# The US unit of each metric limit: (unit of small ones, under how much of the other, the other).
_US = {
    "length": ("in", 1.0, "ft"), "area": ("in2", 1.0, "ft2"), "volume": ("fl oz", 1.0, "US gal"),
    "pressure": ("psi", 0.0, "psi"), "flow": ("gph", 1.0, "gpm"), "speed": ("mph", 0.0, "mph"),
    "rate": ("in/h", 0.0, "in/h"), "temperature": ("F", 0.0, "F"),
    "angle": ("deg", 0.0, "deg"),
}


def in_system(text: str, dimension: str, system: str) -> str:
    """Write a limit of ours in the system that a person uses.

    Parameters
    ----------
    text : str
        The limit in metric units, such as ``200 m``.
    dimension : str
        A key of `units.TABLE`.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        The text itself, or three digits in a US unit.
    """
    if system != "US" or dimension not in _US:
        return text
    si = parse(text, dimension, signed=True).si
    small, limit, unit = _US[dimension]
    if si and abs(from_si(si, unit, dimension)) < limit:
        unit = small
    return f"{float(f'{from_si(si, unit, dimension):.3g}') + 0.0:g} {unit}"
