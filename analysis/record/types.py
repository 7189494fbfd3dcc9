"""The types of a record's keys: quantities, readings, dates and texts, with the sizes they may have."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import inf
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, GetCoreSchemaHandler, PlainSerializer, PlainValidator, ValidationInfo

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
    "rate": ("mm/h", "in/h"), "temperature": ("C", "F"), "angle": ("deg", "deg"),
}


@lru_cache(maxsize=20_000)
def _read(text: str, dimension: str, signed: bool) -> Quantity:
    """The same few texts stand in all records of a cooperative."""
    return parse(text, dimension, signed=signed)


@dataclass(frozen=True)
class Sized:
    """What a key that holds a quantity takes: ``Annotated[Quantity, Sized("length")]``; pydantic asks it how to read.

    Attributes
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
    """

    dimension: str
    within: tuple[str, str] | None = None
    usual: Usual | None = None
    signed: bool = False
    such_as: tuple[str, str] | None = None

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> Any:
        """How pydantic reads and writes the value, in its own terms."""
        return handler.generate_schema(Annotated[Any, PlainValidator(self._checker()), PlainSerializer(_text_of)])

    def _checker(self) -> Callable[[Any, ValidationInfo], Quantity]:
        dimension, such_as = self.dimension, self.such_as or _SUCH_AS[self.dimension]
        low, high = (parse(text, dimension, signed=True).si for text in self.within) if self.within else (-inf, inf)

        def check(value: Any, info: ValidationInfo) -> Quantity:
            if isinstance(value, Quantity):
                value = value.text
            system = (info.context or {}).get("system")
            try:
                quantity = (_read(value, dimension, self.signed) if isinstance(value, str)
                            else parse(value, dimension))
            except QuantityError:  # once more, for a message that proposes the units which make sense of it
                quantity = parse(value, dimension, signed=self.signed,
                                 such_as=_proposed(value, dimension, such_as, system, low, high))
            if self.within and not low * (1 - 1e-9) <= quantity.si <= high * (1 + 1e-9):
                limits = [in_system(text, dimension, system or "metric") for text in self.within]
                raise QuantityError(
                    f"received {clip_text(value)}", f"expected {' to '.join(limits)}", "check the number and its unit"
                )
            return quantity

        return check


def _text_of(quantity: Quantity) -> str:
    return quantity.text


def _proposed(
    value: Any, dimension: str, such_as: tuple[str, str], system: str | None, low: float, high: float
) -> tuple[str, ...]:
    """Units to propose for a bare number: the system's, unless only the other one makes sense of it."""
    try:
        number: float | None = parse_number(clip_text(value)[1:-1])
    except QuantityError:
        number = None
    fitting = [unit for unit in dict.fromkeys(such_as)
               if number is None or low * 0.999 <= to_si(number, unit, dimension) <= high * 1.001]
    own = {"metric": such_as[0], "US": such_as[1]}.get(system or "")
    if own and (own in fitting or not fitting):
        return (own,)
    return tuple(fitting) or tuple(dict.fromkeys(such_as))


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


# Where the ways that have a name point, from x towards y.
WAYS = {"right": "0 deg", "far": "90 deg", "left": "180 deg", "inlet": "270 deg"}


def _direction(value: Any) -> Any:
    """One of `WAYS`, or an angle with its unit."""
    if isinstance(value, str) and value not in WAYS:
        try:
            parse(value, "angle", signed=True)
        except QuantityError:
            raise QuantityError(f"received {clip_text(value)}", 'expected "left", "right", "inlet", "far" or an angle '
                                'from x towards y such as "45 deg"', "choose one") from None
    elif not isinstance(value, str):
        raise QuantityError(f"received {clip_text(value)}", 'expected "left", "right", "inlet", "far" or an angle '
                            'such as "45 deg"', "write it in quotes")
    return value


def direction(text: str) -> float:
    """Where a direction of a record points.

    Parameters
    ----------
    text : str
        One of `WAYS`, or an angle with its unit.

    Returns
    -------
    float [rad]
        From x towards y: 0 to the right, a quarter turn to the far end.
    """
    return parse(WAYS.get(text, text), "angle", signed=True).si


def _was_read(value: Any) -> Any:
    """Readings in any depth of lists, or a text."""
    flat, at = [value], 0
    while at < len(flat):
        if isinstance(flat[at], list):
            flat += flat[at]
        elif not isinstance(flat[at], str):
            _real(flat[at])
        at += 1
        if at > 20_000:
            raise QuantityError("received more than 20,000 readings", "expected those of one test", "shorten it")
    return value


Weights = Annotated[str | list[Any], PlainValidator(_weights)]
Reading = Annotated[int | float, BeforeValidator(_real)]
Number = Annotated[int | float, BeforeValidator(_number)]
Percent = Annotated[int | float, BeforeValidator(_percent)]
Whole = Annotated[int, BeforeValidator(_whole)]
WasRead = Annotated[int | float | str | list[Any], PlainValidator(_was_read)]
Direction = Annotated[str, PlainValidator(_direction)]
Day = Annotated[datetime.date, PlainValidator(_day)]
Name = Annotated[str, Field(min_length=1, max_length=60)]
Short = Annotated[str, Field(max_length=200)]
Long = Annotated[str, Field(max_length=4000)]

Place = Annotated[Quantity, Sized("length", within=("0 m", "1000 m"))]
Length = Annotated[Quantity, Sized("length")]
Height = Annotated[Quantity, Sized("length", usual=Usual("0 m", "12 m", FLOOR_PARTS))]
WorkingPressure = Annotated[Quantity, Sized("pressure", usual=Usual("1 kPa", "1600 kPa", WATER_PARTS))]
Gauge = Annotated[Quantity, Sized("pressure", usual=Usual("0 kPa", "1600 kPa", WATER_PARTS))]
HeadFlowRate = Annotated[Quantity, Sized("flow", usual=Usual("1 L/h", "2000 L/h", FLOOR_PARTS))]
SystemFlow = Annotated[Quantity, Sized("flow", usual=Usual("1 L/h", "100 m3/h", WATER_PARTS))]
Arc = Annotated[Quantity, Sized("angle", within=("10 deg", "360 deg"))]
Wetted = Annotated[Quantity, Sized("length", usual=Usual("0.3 m", "30 m", FLOOR_PARTS))]
Bore = Annotated[Quantity, Sized("length", usual=Usual("3 mm", "160 mm", WATER_PARTS), such_as=("mm", "in"))]
RunTime = Annotated[Quantity, Sized("time", within=("10 s", "72 h"))]
FloorWidth = Annotated[Quantity, Sized("length", within=("20 cm", "200 m"))]
FloorLength = Annotated[Quantity, Sized("length", within=("20 cm", "1000 m"))]
Spacing = Annotated[Quantity, Sized("length", within=("1 cm", "100 m"))]
Rise = Annotated[Quantity, Sized("length", signed=True, usual=Usual("-20 m", "20 m", WATER_PARTS))]
Feed = Annotated[Quantity, Sized("length", usual=Usual("0 m", "300 m", WATER_PARTS))]
EvaporationTime = Annotated[Quantity, Sized("time", within=("1 min", "72 h"))]
Opening = Annotated[Quantity, Sized("length", within=("1 cm", "1 m"), such_as=("mm", "in"))]
OpeningArea = Annotated[Quantity, Sized("area", within=("1 cm2", "1 m2"))]
Tare = Annotated[Quantity, Sized("mass", within=("0 g", "20 kg"))]
PlacedWithin = Annotated[Quantity, Sized("length", within=("0 mm", "2 m"), such_as=("cm", "in"))]
Stagger = Annotated[Quantity, Sized("length", within=("0 m", "100 m"))]
Exposure = Annotated[Quantity, Sized("time", within=("1 min", "72 h"))]
WindSpeed = Annotated[Quantity, Sized("speed", within=("0 m/s", "60 m/s"))]
WaterTemperature = Annotated[Quantity, Sized("temperature", within=("-5 C", "70 C"))]
MeteredVolume = Annotated[Quantity, Sized("volume", within=("0 L", "1000 m3"))]
CaughtVolume = Annotated[Quantity, Sized("volume", usual=Usual("0 mL", "50 L", WATER_PARTS), such_as=("mL", "fl oz"))]
CaughtTime = Annotated[Quantity, Sized("time", usual=Usual("3 s", "2 h", WATER_PARTS), such_as=("s", "s"))]
BucketVolume = Annotated[Quantity, Sized("volume", usual=Usual("0.1 L", "2 m3", WATER_PARTS))]
BucketTime = Annotated[Quantity, Sized("time", usual=Usual("1 s", "2 h", WATER_PARTS), such_as=("s", "s"))]
HoseLength = Annotated[Quantity, Sized("length", usual=Usual("0.1 m", "1000 m", WATER_PARTS))]
DailyUse = Annotated[Quantity, Sized("length", usual=Usual("0.1 mm", "30 mm", ("watering",)), such_as=("mm", "in"))]
RootDepth = Annotated[Quantity, Sized("length", usual=Usual("2 cm", "3 m", ("watering",)), such_as=("mm", "in"))]
