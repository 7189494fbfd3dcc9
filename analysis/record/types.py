"""The types of a record's keys: quantities, readings, dates and texts, with the sizes they may have."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainSerializer, PlainValidator

from ..units import Quantity, QuantityError, clip_text, parse

# What a doubtful value closes, by the section it stands in (`Usual`).
FLOOR_PARTS = ("whole_floor", "heads", "profile", "causes", "fixes")
WATER_PARTS = ("causes", "fixes")


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


def _checker(dimension: str, low: str | None, high: str | None, signed: bool) -> Callable[[Any], Quantity]:
    bounds = [parse(text, dimension, signed=True).si if text else None for text in (low, high)]

    def check(value: Any) -> Quantity:
        if isinstance(value, Quantity):
            value = value.text
        quantity = parse(value, dimension, signed=signed)
        small = bounds[0] is not None and quantity.si < bounds[0] * (1 - 1e-9)
        large = bounds[1] is not None and quantity.si > bounds[1] * (1 + 1e-9)
        if small or large:
            raise QuantityError(
                f"received {clip_text(value)}", f"expected {low} to {high}", "check the number and its unit"
            )
        return quantity

    return check


def quantity(
    dimension: str, *, within: tuple[str, str] | None = None, usual: Usual | None = None, signed: bool = False
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

    Returns
    -------
    type
        For a pydantic model; values are `Quantity`.
    """
    low, high = within or (None, None)
    extra = (usual,) if usual else ()
    return Annotated[
        Quantity,
        PlainValidator(_checker(dimension, low, high, signed)),
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
            f"received {clip_text(value)}", "expected a number without quotes", "write a number such as 75 or 0.5"
        )
    if not 0 <= value <= 1e6:
        raise QuantityError(f"received {clip_text(value)}", "expected a number from 0 to 1,000,000", "correct it")
    return value


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
Bore = quantity("length", usual=Usual("3 mm", "160 mm", WATER_PARTS))
RunTime = quantity("time", within=("10 s", "72 h"))
