"""Quantities: text as people write it <-> SI floats, and how to show them.

The grammar is closed on purpose. A number is ``12``, ``2.5``, ``2,4``, ``1/2`` or ``1 1/4``;
a quantity is one number and one unit of the table below or its everyday word (``45 minutes``, ``24'``), or two of
them that belong together: feet and inches (``2 ft 6 in``, ``8' 6"``), hours and minutes, minutes and seconds.
A time may be written ``0:45``, which is always hours and minutes.
A general parser would read ``2,4 m`` as 24 m and ``70 F`` as farads.

The table itself, and the units inside, are in `unit_table`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from . import factors
from .table import SI_UNIT, TABLE, dimension_of, find_unit, from_si, to_si, units_of

__all__ = ["LONGEST", "SI_UNIT", "TABLE", "Quantity", "QuantityError", "Refusal", "clip_text", "dimension_of",
           "find_unit", "from_si", "is_clock", "parse", "parse_number", "to_si", "units_of"]

LONGEST = 80  # characters of a quantity; nobody needs more, and patterns stay quick
_NUMBER = r"[+-]?(?:\d+\s+\d+/\d+|\d+/\d+|(?:\d*[.,]\d+|\d+[.,]?)(?:[eE][+-]?\d+)?)"
_THOUSANDS = r"[+-]?[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?"
_QUANTITY = re.compile(rf"\s*(?P<number>{_THOUSANDS}|{_NUMBER})\s*(?P<unit>[^\d\s+\-.,/][^+]*?)?\s*")
_PAIR = re.compile(r"\s*(?P<whole>\d+)\s*(?P<first>[^\W\d]+\.?|['′’])[\s-]*(?P<part>\d[\d\s./,]*?)\s*"
                   r"(?P<second>[^\W\d]+\.?|[\"″”]|''|’’)\s*")
_PAIRS = {("ft", "in"): 12, ("h", "min"): 60, ("min", "s"): 60}  # the second unit stays under so many
_CLOCK = re.compile(r"\s*(?P<hours>\d{1,2}):(?P<minutes>\d{2})\s*(?:h|hr|hrs|hours?)?\s*", re.I)
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


def _article(noun: str) -> str:
    return f"an {noun}" if noun[0] in "aeiou" else f"a {noun}"


def parse(text: object, dimension: str, *, signed: bool = False, such_as: tuple[str, ...] = ()) -> Quantity:
    """Read one quantity.

    Parameters
    ----------
    text : object
        Text as entered, such as ``25 ft``, ``2 ft 6 in``, ``8' 6"``, ``1 1/4 in``, ``1 h 30 min`` or ``0:45``.
    dimension : str
        A key of `TABLE`.
    signed : bool
        Whether a value below zero is allowed (temperatures always are).
    such_as : tuple of str
        Units that a message proposes for a bare number; what is usual for the dimension if left out.

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
    such_as = such_as or (_USUAL.get(dimension) or next(iter(TABLE[dimension])),)
    text = _one_line(text, example, such_as)
    value = _two_units(text, dimension)
    if value is None and dimension == "time":
        value = _hours_and_minutes(text)
    if value is None:
        value = _number_and_unit(text, dimension, example, such_as)
    if not math.isfinite(value) or abs(value) > 1e12:
        raise QuantityError(f"received {clip_text(text)}", f"expected {example} of finite size", "correct it")
    if value < 0 and not signed and dimension != "temperature":
        raise QuantityError(f"received {clip_text(text)}", f"expected {example}, not below zero", "correct it")
    return Quantity(text, value, dimension)


_USUAL = {"time": "min"}


def _one_line(text: object, example: str, such_as: tuple[str, ...]) -> str:
    """What was entered, where it is a text that could be a quantity."""
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        raise QuantityError(
            f"received the bare number {clip_text(text)[1:-1]}",
            f"expected {example}",
            f"add the unit in quotes, such as {_with_units(clip_text(text)[1:-1], such_as)}",
        )
    if not isinstance(text, str):
        raise QuantityError(f"received {clip_text(text)}", f"expected {example}", "write it as text in quotes")
    if len(text) > LONGEST or len(text.splitlines()) > 1:
        raise QuantityError(f"received {clip_text(text)}", f"expected {example}",
                            f"write it on one line of at most {LONGEST} characters")
    return text


def _with_units(number: str, units: tuple[str, ...]) -> str:
    return " or ".join(f'"{number} {unit}"' for unit in units)


def _two_units(text: str, dimension: str) -> float | None:
    match = _PAIR.fullmatch(text)
    if match is None:
        return None
    units = find_unit(match["first"], dimension), find_unit(match["second"], dimension)
    if units not in _PAIRS:
        return None
    part = parse_number(match["part"])
    if part >= _PAIRS[units]:
        after = {"ft": "feet", "h": "hours", "min": "minutes"}[units[0]]
        raise QuantityError(f"received {clip_text(text)}", f"expected fewer than {_PAIRS[units]} {units[1]} after the "
                            f"{after}", "correct it")
    return to_si(float(match["whole"]), units[0], dimension) + to_si(part, units[1], dimension)


def _hours_and_minutes(text: str) -> float | None:
    match = _CLOCK.fullmatch(text)
    if not match:
        return None
    if int(match["minutes"]) >= 60:
        raise QuantityError(f"received {clip_text(text)}", "expected hours and minutes such as 0:45 or 1:30",
                            "write fewer than 60 minutes")
    return int(match["hours"]) * factors.HOUR + int(match["minutes"]) * factors.MINUTE


def is_clock(text: str) -> bool:
    """Tell whether a time is written as hours and minutes with a colon.

    Parameters
    ----------
    text : str
        As entered.

    Returns
    -------
    bool
        True for ``0:45``.
    """
    return _CLOCK.fullmatch(text) is not None


def _number_and_unit(text: str, dimension: str, example: str, such_as: tuple[str, ...]) -> float:
    match = _QUANTITY.fullmatch(text)
    if not match:
        raise QuantityError(
            f"received {clip_text(text)}",
            f"expected {example}",
            f"write one number and one unit, such as {_with_units('2.5', such_as)}",
        )
    number = parse_number(match["number"])
    if not match["unit"]:
        raise QuantityError(
            f"received {clip_text(text)} without a unit",
            f"expected {example}",
            f"add the unit, such as {_with_units(match['number'], such_as)}",
        )
    unit = find_unit(match["unit"], dimension)
    if unit is None:
        other = dimension_of(match["unit"])
        what = f"which is {_article(other)}" if other else f"whose unit {clip_text(match['unit'])} is unknown here"
        raise QuantityError(f"received {clip_text(text)}, {what}", f"expected {example}", "use one of these units")
    return to_si(number, unit, dimension)
