"""Quantities: text as people write it <-> SI floats, and how to show them.

The grammar is closed on purpose. A number is ``12``, ``2.5``, ``2,4``, ``1/2`` or ``1 1/4``;
a quantity is one number and one unit of the table below, or feet and inches (``2 ft 6 in``).
A general parser would read ``2,4 m`` as 24 m and ``70 F`` as farads.

SI units used inside: m, m2, m3, kg, Pa, m3/s, s, m/s, degrees C.
Factors come from scipy.constants; the metre of water is the conventional one (water of
1000 kg/m3 under standard gravity, 9806.65 Pa).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from scipy import constants as c

# dimension -> {spelling: (factor, offset)}; SI = text number * factor + offset.
TABLE: dict[str, dict[str, tuple[float, float]]] = {
    "length": {"m": (1.0, 0), "cm": (c.centi, 0), "mm": (c.milli, 0), "ft": (c.foot, 0), "in": (c.inch, 0)},
    "area": {"m2": (1.0, 0), "cm2": (c.centi**2, 0), "ft2": (c.foot**2, 0), "in2": (c.inch**2, 0)},
    "volume": {
        "mL": (c.milli * c.liter, 0),
        "cm3": (c.centi**3, 0),
        "L": (c.liter, 0),
        "m3": (1.0, 0),
        "US gal": (c.gallon_US, 0),
        "gal": (c.gallon_US, 0),
        "fl oz": (c.fluid_ounce_US, 0),
    },
    "mass": {"g": (c.gram, 0), "kg": (1.0, 0)},
    "pressure": {
        "kPa": (c.kilo, 0),
        "bar": (c.bar, 0),
        "psi": (c.psi, 0),
        "m of water": (1000 * c.g, 0),
    },
    "flow": {
        "L/h": (c.liter / c.hour, 0),
        "L/min": (c.liter / c.minute, 0),
        "L/s": (c.liter, 0),
        "m3/h": (1 / c.hour, 0),
        "gpm": (c.gallon_US / c.minute, 0),
        "gph": (c.gallon_US / c.hour, 0),
        "lph": (c.liter / c.hour, 0),
    },
    "time": {"s": (1.0, 0), "min": (c.minute, 0), "h": (c.hour, 0)},
    "speed": {"m/s": (1.0, 0), "km/h": (c.kmh, 0), "mph": (c.mph, 0)},
    "rate": {"mm/h": (c.milli / c.hour, 0), "in/h": (c.inch / c.hour, 0)},
    "temperature": {"C": (1.0, 0), "F": (c.degree_Fahrenheit, -32 * c.degree_Fahrenheit)},
}

SI_UNIT = {
    "length": "m",
    "area": "m2",
    "volume": "m3",
    "mass": "kg",
    "pressure": "Pa",
    "flow": "m3/s",
    "time": "s",
    "speed": "m/s",
    "rate": "m/s",
    "temperature": "degrees C",
}

# Capitals that would say something else: megalitre, megametre.
_MISLEADING = {"ML", "Ml", "Mm", "Mm/h"}
_ALIASES = {
    "°C": "C",
    "°F": "F",
    "degrees C": "C",
    "degrees F": "F",
    "US fl oz": "fl oz",
    "m²": "m2",
    "cm²": "cm2",
    "ft²": "ft2",
    "in²": "in2",
    "cm³": "cm3",
    "m³": "m3",
    "m³/h": "m3/h",
}

_FOLDED = {spelling.casefold(): unit for spelling, unit in _ALIASES.items()}

LONGEST = 80  # characters of a quantity; nobody needs more, and patterns stay quick
_NUMBER = r"[+-]?(?:\d+\s+\d+/\d+|\d+/\d+|(?:\d*[.,]\d+|\d+[.,]?)(?:[eE][+-]?\d+)?)"
_THOUSANDS = r"[+-]?[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?"
_QUANTITY = re.compile(rf"\s*(?P<number>{_THOUSANDS}|{_NUMBER})\s*(?P<unit>[^\d\s+\-.,/][^+]*?)?\s*")
_FEET_INCHES = re.compile(r"\s*(?P<feet>\d+)\s*ft\s*(?P<inches>\d[\d\s./,]*?)\s*in\s*", re.I)
_GROUPED = re.compile(_THOUSANDS)


class Refusal(ValueError):
    """Something received that cannot be taken.

    Attributes
    ----------
    received, expected, do : str
        The three parts of the message: what came, what was wanted, what to do.
    """

    def __init__(self, received: str, expected: str, do: str):
        self.received, self.expected, self.do = received, expected, do
        super().__init__(f"{received}, {expected}, {do}")


class QuantityError(Refusal):
    """A text that is not a quantity of the wanted kind."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity as it was entered, with its SI value.

    Attributes
    ----------
    text : str
        As entered, written back unchanged.
    si : float [SI unit of the dimension]
        Value in the SI unit of `SI_UNIT`.
    dimension : str
        A key of `TABLE`.
    """

    text: str
    si: float
    dimension: str

    def to(self, unit: str) -> float:
        """Value in another unit of the same dimension.

        Parameters
        ----------
        unit : str
            A spelling in `TABLE`.

        Returns
        -------
        float [unit]
        """
        return from_si(self.si, unit, self.dimension)


def clip_text(text: object, length: int = 40) -> str:
    """Shorten a received text for a message.

    Parameters
    ----------
    text : object
        Whatever was received.
    length : int
        Longest result, in characters.

    Returns
    -------
    str
        The text in quotes, cut with an ellipsis when longer.
    """
    try:
        shown = str(text)
    except ValueError:  # the interpreter refuses to write out very long whole numbers
        shown = hex(text) if isinstance(text, int) else "very long numbers"
    except RecursionError:
        shown = "brackets in brackets"
    shown = " ".join(shown[: 20 * length].split())
    shown = "".join(letter if letter.isprintable() else "?" for letter in shown)
    return "'" + (shown if len(shown) <= length else shown[: length - 1] + "…") + "'"


def parse_number(text: str) -> float:
    """Read a number with a decimal point, a decimal comma or a fraction.

    Parameters
    ----------
    text : str
        ``12``, ``2.5``, ``2,4``, ``.5``, ``1/2``, ``1 1/4``; spaces around are ignored.

    Returns
    -------
    float [1]

    Raises
    ------
    QuantityError
        For anything else, for texts of more than `LONGEST` characters, and for ``1,200``, which may mean 1200
        or 1.2.
    """
    clean = text.strip()
    if len(clean) <= LONGEST and _GROUPED.fullmatch(clean):
        plain = clean.replace(",", "")
        if "." in clean or clean.count(",") > 1:
            raise QuantityError(
                f"received {clip_text(clean)}", "expected a number without commas for thousands", f"write {plain}"
            )
        raise QuantityError(
            f"received {clip_text(clean)}",
            "which may mean thousands or a decimal comma",
            f"write {plain} or {clean.replace(',', '.')}",
        )
    if len(clean) > LONGEST or not re.fullmatch(_NUMBER, clean):
        raise QuantityError(
            f"received {clip_text(clean)}", "expected a number such as 12, 2.5, 2,4 or 1 1/4", "correct it"
        )
    if "/" in clean:
        sign = -1 if clean.startswith("-") else 1
        try:
            return sign * float(sum(Fraction(part) for part in clean.lstrip("+-").split()))
        except ZeroDivisionError:
            raise QuantityError(
                f"received {clip_text(clean)}", "expected a fraction with a bottom other than 0", "correct it"
            ) from None
    return float(clean.replace(",", "."))


def find_unit(text: str, dimension: str) -> str | None:
    """Find a unit of one dimension by its spelling.

    Capitals are ignored where they cannot mislead (``ML`` is not ``mL``).

    Parameters
    ----------
    text : str
        Unit as entered.
    dimension : str
        A key of `TABLE`.

    Returns
    -------
    str or None
        The spelling in `TABLE`, or None.
    """
    clean = " ".join(text.split()).rstrip(".")
    if clean in _MISLEADING:
        return None
    clean = _FOLDED.get(clean.casefold(), clean)
    units = TABLE[dimension]
    if clean in units:
        return clean
    for unit in units:
        if unit.casefold() == clean.casefold():
            return unit
    return None


def dimension_of(unit: str) -> str | None:
    """Tell which dimension a unit belongs to.

    Parameters
    ----------
    unit : str
        Unit as entered.

    Returns
    -------
    str or None
        A key of `TABLE`, or None for an unknown unit.
    """
    return next((dimension for dimension in TABLE if find_unit(unit, dimension)), None)


def units_of(dimension: str) -> str:
    """List the units of a dimension for a message.

    Parameters
    ----------
    dimension : str
        A key of `TABLE`.

    Returns
    -------
    str
        ``m, cm, mm, ft or in``.
    """
    names = [unit for unit in TABLE[dimension] if unit not in ("gal", "lph")]
    return f"{', '.join(names[:-1])} or {names[-1]}"


def _article(noun: str) -> str:
    return f"an {noun}" if noun[0] in "aeiou" else f"a {noun}"


def parse(text: object, dimension: str, *, signed: bool = False) -> Quantity:
    """Read one quantity.

    Parameters
    ----------
    text : object
        Text as entered, such as ``25 ft``, ``2 ft 6 in`` or ``1 1/4 in``.
    dimension : str
        A key of `TABLE`.
    signed : bool
        Whether a value below zero is allowed (temperatures always are).

    Returns
    -------
    Quantity

    Raises
    ------
    QuantityError
        For a bare number, an unknown unit, the wrong dimension, a negative or non-finite value, and for a text of
        more than one line or `LONGEST` characters.
    """
    example = f"{_article(dimension)} in {units_of(dimension)}"
    if isinstance(text, bool) or not isinstance(text, str):
        if isinstance(text, (int, float)) and not isinstance(text, bool):
            raise QuantityError(
                f"received the bare number {clip_text(text)[1:-1]}",
                f"expected {example}",
                f'add the unit in quotes, such as "{clip_text(text)[1:-1]} {next(iter(TABLE[dimension]))}"',
            )
        raise QuantityError(f"received {clip_text(text)}", f"expected {example}", "write it as text in quotes")
    if len(text) > LONGEST or len(text.splitlines()) > 1:
        raise QuantityError(f"received {clip_text(text)}", f"expected {example}",
                            f"write it on one line of at most {LONGEST} characters")
    value = _feet_and_inches(text) if dimension == "length" else None
    if value is None:
        value = _number_and_unit(text, dimension, example)
    if not math.isfinite(value) or abs(value) > 1e12:
        raise QuantityError(f"received {clip_text(text)}", f"expected {example} of finite size", "correct it")
    if value < 0 and not signed and dimension != "temperature":
        raise QuantityError(f"received {clip_text(text)}", f"expected {example}, not below zero", "correct it")
    return Quantity(text, value, dimension)


def _feet_and_inches(text: str) -> float | None:
    match = _FEET_INCHES.fullmatch(text)
    if not match:
        return None
    inches = parse_number(match["inches"])
    if inches >= 12:
        raise QuantityError(f"received {clip_text(text)}", "expected fewer than 12 in after the feet", "correct it")
    return float(match["feet"]) * c.foot + inches * c.inch


def _number_and_unit(text: str, dimension: str, example: str) -> float:
    match = _QUANTITY.fullmatch(text)
    if not match:
        raise QuantityError(
            f"received {clip_text(text)}",
            f"expected {example}",
            f'write one number and one unit, such as "2.5 {next(iter(TABLE[dimension]))}"',
        )
    number = parse_number(match["number"])
    if not match["unit"]:
        raise QuantityError(
            f"received {clip_text(text)} without a unit",
            f"expected {example}",
            f'add the unit, such as "{match["number"]} {next(iter(TABLE[dimension]))}"',
        )
    unit = find_unit(match["unit"], dimension)
    if unit is None:
        other = dimension_of(match["unit"])
        what = f"which is {_article(other)}" if other else f"whose unit {clip_text(match['unit'])} is unknown here"
        raise QuantityError(f"received {clip_text(text)}, {what}", f"expected {example}", "use one of these units")
    return to_si(number, unit, dimension)


def from_si(si: float, unit: str, dimension: str) -> float:
    """Convert an SI value to another unit.

    Parameters
    ----------
    si : float or array [SI unit of the dimension]
        Value inside the package.
    unit : str
        A spelling in `TABLE`.
    dimension : str
        A key of `TABLE`.

    Returns
    -------
    float or array [unit]
    """
    factor, offset = TABLE[dimension][unit]
    return (si - offset) / factor


def to_si(value: float, unit: str, dimension: str) -> float:
    """Convert a value in a unit of the table to SI.

    Parameters
    ----------
    value : float or array [unit]
        Value in `unit`.
    unit : str
        A spelling in `TABLE`.
    dimension : str
        A key of `TABLE`.

    Returns
    -------
    float or array [SI unit of the dimension]
    """
    factor, offset = TABLE[dimension][unit]
    return value * factor + offset
