"""The cans of a draft: where they stand, in walking order, and what was typed for each."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from ..units.quantity import QuantityError, clip_text, parse, parse_number

_READING = re.compile(r"r([1-9]\d{0,3})c([1-9]\d{0,3})|p([1-9]\d{0,3})")
_AMBIGUOUS = re.compile(r"\d{1,3},\d{3}")  # thousands, or a decimal comma
NO_READING = {"x", "-", "–", "nan", "n/a"}


@dataclass(frozen=True)
class CanPlace:
    """A can of the layout.

    Attributes
    ----------
    key : str
        ``r2c3`` or ``p7``.
    row, column : int
        Counted from 1; row 0 for free points.
    x, y : float or None [m]
        Where it stands; None where the layout does not say yet.
    """

    key: str
    row: int
    column: int
    x: float | None
    y: float | None


@dataclass(frozen=True)
class Unread:
    """A text that is not a reading.

    Attributes
    ----------
    key : str
        The can.
    says : str
        One sentence.
    """

    key: str
    says: str


def is_can_key(key: str) -> bool:
    """Whether a key is that of a can."""
    return _READING.fullmatch(key) is not None


def can_key(row: int, column: int) -> str:
    """Key of a can."""
    return f"r{row}c{column}" if row else f"p{column}"


def aside_key(item: dict[str, Any]) -> str:
    """Key of a can that is set aside."""
    return f"p{item['point']}" if "point" in item else f"r{item.get('row')}c{item.get('column')}"


def key_words(key: str) -> str:
    """Say which can a key means."""
    match = _READING.fullmatch(key)
    if not match:
        return key
    return f"can {match[3]}" if match[3] else f"row {match[1]}, can {match[2]}"


def cans_in(plain: dict[str, Any]) -> list[CanPlace]:
    """List the cans of a layout in walking order: up one row, back the next."""
    cans = _dict(plain.get("cans"))
    points = cans.get("points")
    if isinstance(points, list):
        return [CanPlace(can_key(0, number), 0, number, _metres(_get(point, "x")), _metres(_get(point, "y")))
                for number, point in enumerate(points, 1)]
    shift = _metres(cans.get("stagger")) or 0.0
    rows = sorted(enumerate(_rows_in(cans), 1), key=lambda item: (item[1][1] is None, item[1][1] or 0.0))
    places = []
    for turn, (row, (xs, y)) in enumerate(rows):
        step = shift if row % 2 == 0 else -shift
        line = [CanPlace(can_key(row, column), row, column, None if x is None else x + step, y)
                for column, x in enumerate(xs, 1)]
        line.sort(key=lambda can: (can.x is None, can.x or 0.0))
        places += line[::-1] if turn % 2 else line
    return places


def _rows_in(cans: dict[str, Any]) -> list[tuple[list[float | None], float | None]]:
    """Places of the columns, and place of each row [m]."""
    rows = cans.get("rows")
    if isinstance(rows, list):
        return [([_metres(x) for x in _list(_get(row, "x"))], _metres(_get(row, "y"))) for row in rows]
    across = [_metres(x) for x in _list(cans.get("across"))]
    return [(across, _metres(y)) for y in _list(cans.get("along"))]


def _dict(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _get(item: Any, key: str) -> Any:
    return item.get(key) if isinstance(item, dict) else None


def _metres(text: Any) -> float | None:
    try:
        return parse(text, "length").si
    except QuantityError:
        return None


def reading_texts(values: dict[str, str]) -> dict[str, str]:
    """Texts of the readings: those of the record a draft began from, under those entered since."""
    try:
        base = tomllib.loads(values.get("base") or "")
    except (ValueError, RecursionError):
        base = {}
    texts: dict[str, str] = {}
    cans = _dict(base.get("cans"))
    for row, line in enumerate(_list(cans.get("grid")), 1):
        texts |= {can_key(row, column): _text(value) for column, value in enumerate(_list(line), 1)}
    for row, line in enumerate(_list(cans.get("rows")), 1):
        texts |= {can_key(row, column): _text(value) for column, value in enumerate(_list(_get(line, "catch")), 1)}
    for number, point in enumerate(_list(cans.get("points")), 1):
        texts[can_key(0, number)] = _text(_get(point, "catch"))
    texts |= {key: text for key, text in values.items() if is_can_key(key)}
    return texts


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _text(value: Any) -> str:
    if value is None or isinstance(value, float) and value != value:
        return "x"
    return f"{Decimal(repr(value)):f}" if isinstance(value, float) else clip_text(value)[1:-1]


def read_text(text: str) -> float:
    """Read one reading as typed."""
    clean = text.strip()
    if not clean or clean.casefold() in NO_READING:
        return float("nan")
    if not re.fullmatch(r"\d{0,7}(?:[.,]\d*)?", clean) or not re.search(r"\d", clean):
        raise QuantityError(f"received '{clean[:20]}'", "expected a number such as 31 or 30.5, or x for no reading",
                            "correct it; until then it counts as no reading")
    if _AMBIGUOUS.fullmatch(clean):
        try:
            parse_number(clean)
        except QuantityError as error:
            raise QuantityError(error.received, error.expected,
                                f"{error.do}; until then it counts as no reading") from None
    number = float(clean.replace(",", "."))
    return int(number) if clean.isdigit() else number


def put_readings(plain: dict[str, Any], values: dict[str, str]) -> list[Unread]:
    """Put a draft's readings where its layout has cans for them; a typed `nan` is told, as only some know it."""
    cans = plain.get("cans")
    if not isinstance(cans, dict):
        return []
    texts = reading_texts(values)
    unread: list[Unread] = []

    def line(row: int, count: int) -> list[float]:
        return [_reading(can_key(row, column), texts, unread) for column in range(1, count + 1)]

    if isinstance(cans.get("points"), list):
        for number, point in enumerate(cans["points"], 1):
            if isinstance(point, dict):
                point["catch"] = _reading(can_key(0, number), texts, unread)
    elif isinstance(cans.get("rows"), list):
        for number, row in enumerate(cans["rows"], 1):
            if isinstance(_get(row, "x"), list):
                row["catch"] = line(number, len(row["x"]))
    elif _list(cans.get("across")) and _list(cans.get("along")):
        cans["grid"] = [line(row, len(cans["across"])) for row in range(1, len(cans["along"]) + 1)]
    return unread


def _reading(key: str, texts: dict[str, str], unread: list[Unread]) -> float:
    text = texts.get(key, "")
    if text.strip().casefold() == "nan":
        unread.append(Unread(key, f"{key_words(key)}: '{text.strip()}' means no reading, and is taken as that."))
    try:
        return read_text(text)
    except QuantityError as error:
        unread.append(Unread(key, f"{key_words(key)}: {error}."))
        return float("nan")


def put_aside(plain: dict[str, Any], values: dict[str, str]) -> None:
    """Put together which cans are set aside: those of the record, under what was said since."""
    cans = plain.get("cans")
    if not isinstance(cans, dict):
        return
    aside = {}
    for item in _list(cans.get("set_aside")):
        if isinstance(item, dict):
            aside[aside_key(item)] = item.get("why") or "no reason given"
    for key, text in values.items():
        if key.startswith("aside."):
            aside[key.removeprefix("aside.")] = text.strip()
    there = {can.key for can in cans_in(plain)}
    kept = []
    for key, why in aside.items():
        match = _READING.fullmatch(key)
        if why and match and key in there:
            place = {"point": int(match[3])} if match[3] else {"row": int(match[1]), "column": int(match[2])}
            kept.append({**place, "why": why})
    if kept:
        cans["set_aside"] = kept
    else:
        cans.pop("set_aside", None)
