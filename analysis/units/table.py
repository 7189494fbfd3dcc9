"""The closed table of units, how they are spelt, and conversion to SI and back.

SI units used inside: m, m2, m3, kg, Pa, m3/s, s, m/s, degrees C, rad.
Factors are in `factors`; the metre of water is the conventional one (water of
1000 kg/m3 under standard gravity, 9806.65 Pa).
"""

from __future__ import annotations

from . import factors as f

# dimension -> {spelling: (factor, offset)}; SI = text number * factor + offset.
TABLE: dict[str, dict[str, tuple[float, float]]] = {
    "length": {"m": (1.0, 0), "cm": (f.CENTI, 0), "mm": (f.MILLI, 0), "ft": (f.FOOT, 0), "in": (f.INCH, 0)},
    "area": {"m2": (1.0, 0), "cm2": (f.CENTI**2, 0), "ft2": (f.FOOT**2, 0), "in2": (f.INCH**2, 0)},
    "volume": {
        "mL": (f.MILLI * f.LITER, 0),
        "cm3": (f.CENTI**3, 0),
        "L": (f.LITER, 0),
        "m3": (1.0, 0),
        "US gal": (f.GALLON_US, 0),
        "gal": (f.GALLON_US, 0),
        "fl oz": (f.FLUID_OUNCE_US, 0),
    },
    "mass": {"g": (f.GRAM, 0), "kg": (1.0, 0)},
    "pressure": {
        "kPa": (f.KILO, 0),
        "bar": (f.BAR, 0),
        "psi": (f.PSI, 0),
        "m of water": (1000 * f.G, 0),
    },
    "flow": {
        "L/h": (f.LITER / f.HOUR, 0),
        "L/min": (f.LITER / f.MINUTE, 0),
        "L/s": (f.LITER, 0),
        "m3/h": (1 / f.HOUR, 0),
        "gpm": (f.GALLON_US / f.MINUTE, 0),
        "gph": (f.GALLON_US / f.HOUR, 0),
        "lph": (f.LITER / f.HOUR, 0),
    },
    "time": {"s": (1.0, 0), "min": (f.MINUTE, 0), "h": (f.HOUR, 0)},
    "speed": {"m/s": (1.0, 0), "km/h": (f.KMH, 0), "mph": (f.MPH, 0), "ft/s": (f.FOOT, 0)},
    "rate": {"mm/h": (f.MILLI / f.HOUR, 0), "in/h": (f.INCH / f.HOUR, 0)},
    "temperature": {"C": (1.0, 0), "F": (f.DEGREE_FAHRENHEIT, -32 * f.DEGREE_FAHRENHEIT)},
    "angle": {"deg": (f.DEGREE, 0)},
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
    "angle": "rad",
}

# Capitals that would say something else: megalitre, megametre.
_MISLEADING = {"ML", "Ml", "Mm", "Mm/h"}
_ALIASES = {
    "°C": "C",
    "°F": "F",
    "degrees C": "C",
    "degrees F": "F",
    "°": "deg",
    "US fl oz": "fl oz",
    "m²": "m2",
    "cm²": "cm2",
    "ft²": "ft2",
    "in²": "in2",
    "cm³": "cm3",
    "m³": "m3",
    "m³/h": "m3/h",
    "\"": "in",
    "″": "in",
    "”": "in",
    "''": "in",
    "’’": "in",
    "'": "ft",
    "′": "ft",
    "’": "ft",
}
# Everyday words for units of the table.
_WORDS = {
    "m": "metre metres meter meters",
    "cm": "centimetre centimetres centimeter centimeters",
    "mm": "millimetre millimetres millimeter millimeters",
    "ft": "foot feet",
    "in": "inch inches",
    "mL": "millilitre millilitres milliliter milliliters",
    "L": "litre litres liter liters",
    "US gal": "gallon gallons",
    "g": "gram grams",
    "s": "sec secs second seconds",
    "min": "mins minute minutes",
    "h": "hr hrs hour hours",
    "deg": "degree degrees",
}
_ALIASES |= {word: unit for unit, words in _WORDS.items() for word in words.split()}

_FOLDED = {spelling.casefold(): unit for spelling, unit in _ALIASES.items()}


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
    return " or ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


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
