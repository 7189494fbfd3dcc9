"""The types of a record's keys: quantities, readings, dates and texts, with the sizes they may have."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import inf
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainSerializer, PlainValidator, ValidationInfo

from ..units.quantity import Quantity, QuantityError, clip_text, parse, parse_number, to_si
from ..units.shown import in_system

# What a doubtful value closes, by the section it stands in (`Usual`).
FLOOR_PARTS = ("whole_floor", "heads", "profile", "fixes")
WATER_PARTS = ("fixes",)


@dataclass(frozen=True)
class Usual:
    """Sizes outside which a well-formed value is doubted.

    Attributes
    ----------
    low, high : str or float
        Quantity texts, or numbers for keys without a dimension; from memory, generous on purpose.
    closes : tuple of str
        Parts of the result that the value would spoil.
    """

    low: str | float
    high: str | float
    closes: tuple[str, ...]


# Units that a message proposes for a bare number, metric and US, where a key says nothing else.
_SUCH_AS = {
    "length": ("m", "ft"), "area": ("cm2", "in2"), "volume": ("L", "US gal"), "mass": ("g", "g"),
    "pressure": ("kPa", "psi"), "flow": ("L/h", "gpm"), "time": ("min", "min"), "speed": ("m/s", "mph"),
    "rate": ("mm/h", "in/h"), "temperature": ("C", "F"),
}


@lru_cache(maxsize=20_000)
def _read(text: str, dimension: str, signed: bool) -> Quantity:
    """The same few texts stand in all records of a cooperative."""
    return parse(text, dimension, signed=signed)


def _checker(
    dimension: str, low: str | None, high: str | None, signed: bool, such_as: tuple[str, str]
) -> Callable[[Any, ValidationInfo], Quantity]:
    bounds = [parse(text, dimension, signed=True).si if text else None for text in (low, high)]

    def check(value: Any, info: ValidationInfo) -> Quantity:
        if isinstance(value, Quantity):
            value = value.text
        system = (info.context or {}).get("system")
        try:
            quantity = _read(value, dimension, signed) if isinstance(value, str) else parse(value, dimension)
        except QuantityError:  # once more, for a message that proposes the units which make sense of it
            quantity = parse(value, dimension, signed=signed,
                             such_as=_proposed(value, dimension, such_as, system, bounds))
        small = bounds[0] is not None and quantity.si < bounds[0] * (1 - 1e-9)
        large = bounds[1] is not None and quantity.si > bounds[1] * (1 + 1e-9)
        if small or large:
            limits = [in_system(text, dimension, system or "metric") for text in (low, high)]
            raise QuantityError(
                f"received {clip_text(value)}", f"expected {' to '.join(limits)}", "check the number and its unit"
            )
        return quantity

    return check


def _proposed(
    value: Any, dimension: str, such_as: tuple[str, str], system: str | None, bounds: list[float | None]
) -> tuple[str, ...]:
    """Units to propose for a bare number: the system's, unless only the other one makes sense of it."""
    try:
        number = parse_number(clip_text(value)[1:-1])
    except QuantityError:
        number = None
    low, high = (bound if bound is not None else end for bound, end in zip(bounds, (-inf, inf), strict=True))
    fitting = [unit for unit in dict.fromkeys(such_as)
               if number is None or low * 0.999 <= to_si(number, unit, dimension) <= high * 1.001]
    own = {"metric": such_as[0], "US": such_as[1]}.get(system)
    if own and (own in fitting or not fitting):
        return (own,)
    return tuple(fitting) or tuple(dict.fromkeys(such_as))


def quantity(
    dimension: str, *, within: tuple[str, str] | None = None, usual: Usual | None = None, signed: bool = False,
    such_as: tuple[str, str] | None = None,
) -> Any:
    """Make the type of a key that holds a quantity.

    Parameters
    ----------
    dimension : str
        A key of `units.TABLE`.
    within : tuple of str, optional
        Smallest and largest value; anything else stops the record.
    usual : Usual, optional
        Sizes outside which the value is doubted.
    signed : bool
        Whether a value below zero is allowed.
    such_as : tuple of str, optional
        Units that a message proposes for a bare number, metric and US.

    Returns
    -------
    type
        For a pydantic model; values are `Quantity`.
    """
    low, high = within or (None, None)
    extra = (usual,) if usual else ()
    return Annotated[
        Quantity,
        PlainValidator(_checker(dimension, low, high, signed, such_as or _SUCH_AS[dimension])),
        PlainSerializer(lambda quantity: quantity.text),
        *extra,
    ]


def _real(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise QuantityError(
            f"received {clip_text(value)}",
            "expected a number without quotes",
            "write a number such as 31 or 30.5, or nan where there is no reading",
        )
    if value < 0 or value == float("inf"):
        raise QuantityError(f"received {clip_text(value)}", "expected a reading of 0 or more", "correct it")
    if value > 1e6:
        raise QuantityError(
            f"received {clip_text(value)}", "expected a reading of at most 1,000,000", "check it and its unit"
        )
    return value


def _number(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise QuantityError(
            f"received {clip_text(value)}", "expected a number without quotes", "write a number such as 0.5 or 2"
        )
    if not 0 <= value <= 1e6:
        raise QuantityError(f"received {clip_text(value)}", "expected a number from 0 to 1,000,000", "correct it")
    return value


def _percent(value: Any) -> Any:
    """A number in percent, with or without its sign."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return _number(value)
    signed = re.fullmatch(r"\s*(.{1,40}?)\s*(%|percent|per cent)\s*", value, re.I) if isinstance(value, str) else None
    try:
        number = parse_number(signed[1] if signed else "no number")
    except QuantityError:
        raise QuantityError(
            f"received {clip_text(value)}", "expected a number in percent, without quotes", "write a number such as 75"
        ) from None
    return _number(int(number) if number.is_integer() else number)


def _day(value: Any) -> Any:
    if isinstance(value, datetime.datetime) or not isinstance(value, datetime.date):
        raise QuantityError(
            f"received {clip_text(value)}", "expected a date such as 2027-03-18, without quotes", "write year-month-day"
        )
    return value


def _whole(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int):
        raise QuantityError(f"received {clip_text(value)}", "expected a whole number", "correct it")
    return value


def _weights(value: Any) -> Any:
    if value in ("equal", "nearest area"):
        return value
    if not isinstance(value, list) or not value:
        raise QuantityError(
            f"received {clip_text(value)}",
            'expected "equal", "nearest area" or numbers in the shape of the readings',
            "correct it",
        )
    flat = [number for row in value for number in (row if isinstance(row, list) else [row])]
    for number in flat:
        _number(number)
    return value


Weights = Annotated[str | list, PlainValidator(_weights)]
Reading = Annotated[int | float, BeforeValidator(_real)]
Number = Annotated[int | float, BeforeValidator(_number)]
Percent = Annotated[int | float, BeforeValidator(_percent)]
Whole = Annotated[int, BeforeValidator(_whole)]
Day = Annotated[datetime.date, PlainValidator(_day)]
Name = Annotated[str, Field(min_length=1, max_length=60)]
Short = Annotated[str, Field(max_length=200)]
Long = Annotated[str, Field(max_length=4000)]

Place = quantity("length", within=("0 m", "1000 m"))
Length = quantity("length")
Height = quantity("length", usual=Usual("0 m", "12 m", FLOOR_PARTS))
WorkingPressure = quantity("pressure", usual=Usual("1 kPa", "1600 kPa", WATER_PARTS))
Gauge = quantity("pressure", usual=Usual("0 kPa", "1600 kPa", WATER_PARTS))
HeadFlowRate = quantity("flow", usual=Usual("1 L/h", "2000 L/h", FLOOR_PARTS))
SystemFlow = quantity("flow", usual=Usual("1 L/h", "100 m3/h", WATER_PARTS))
Wetted = quantity("length", usual=Usual("0.3 m", "30 m", FLOOR_PARTS))
Bore = quantity("length", usual=Usual("3 mm", "160 mm", WATER_PARTS), such_as=("mm", "in"))
RunTime = quantity("time", within=("10 s", "72 h"))
