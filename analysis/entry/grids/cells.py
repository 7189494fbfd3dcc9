"""What one cell of somebody's table says: a number, a measure, a mark, words or nothing."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace

from ...units.quantity import QuantityError, clip_text, find_unit, parse, parse_number
from .table import Cell

# unit of a reading -> what was read
READS = {"mL": "volume", "L": "volume", "fl oz": "volume", "mm": "depth", "cm": "depth", "in": "depth",
         "g": "weight"}
LENGTHS = ("m", "ft", "cm", "mm", "in")
MARKS = frozenset({"-", "--", "–", "—", "x", "n/a", "n.a.", "na", "nan", "missing", "none", "null", "."})
MOST_READING = 1e6
_LONGEST = 1000  # letters of a cell that are looked at
_ERROR = re.compile(r"#[A-Z/0]+[!?]?|#N/A|Err:\d+", re.I)

_SPELT = {"metre": "m", "metres": "m", "meter": "m", "meters": "m", "feet": "ft", "foot": "ft", "inch": "in",
          "inches": "in", "centimetres": "cm", "centimeters": "cm", "millimetres": "mm", "millimeters": "mm",
          "millilitres": "mL", "milliliters": "mL", "cc": "mL", "cm3": "mL", "cm³": "mL", "litres": "L",
          "liters": "L", "litre": "L", "liter": "L", "grams": "g", "gram": "g", '"': "in", "″": "in"}
_SPACES = str.maketrans(dict.fromkeys("\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a"
                                      "\u202f\u205f\u3000\t\n\r", " ")
                        | dict.fromkeys("\u200b\u200c\u200d\u200e\u200f\u2060\ufeff", None)
                        | dict.fromkeys("\u2212\ufe63\uff0d", "-"))
_SPACED = re.compile(r"[+-]?[1-9]\d{0,2}([ '’]\d{3})+([.,]\d*)?")
_DOTS = re.compile(r"[+-]?[1-9]\d{0,2}((?:\.\d{3})+)(,\d+)?")
_COMMAS = re.compile(r"[+-]?[1-9]\d{0,2}((?:,\d{3})+)(\.\d*)?")
_LEADING = re.compile(r"[+-]?[\d.,'’ ]*\d[.,]?")
_MEASURE = re.compile(r"([+-]?[\d.,][\d.,'’ /]*?)\s*([^\W\d_][\w. ³]*|[\"″])")
_PRIMES = re.compile(r"\d+\s*['′](\s*\d[\d./ ]*[\"″])?")
_BRACKETS = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
CATCH_WORDS = frozenset("catch catches caught reading readings volume volumes depth depths weight weights collected "
                        "water".split())
SUMMARY_WORDS = frozenset("mean average avg sum total min max minimum maximum median cu du dulq cv sd stdev "
                          "count".split())
PLACE_WORDS = frozenset("distance distances position positions place places".split())


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a cell says."""

    kind: str  # blank, mark, number, measure (number with unit), word or bad
    value: float = math.nan  # [unit, or none given]
    unit: str | None = None  # of a measure
    text: str = ""  # without odd spaces
    why: str = ""  # what is wrong with it
    grouped: bool = False  # whether thousands were taken together
    unclear: bool = False  # whether its mark may stand before decimals or between thousands
    raw: str = ""  # exactly as received
    line: int = 0  # in the source, from 1
    column: int = 0


BLANK = Meaning("blank")


def clean_text(text: str) -> str:
    """Make odd spaces and minus signs plain and drop marks without width."""
    return text.translate(_SPACES).strip()


def unit_of(text: str) -> str | None:
    """Find a unit of a reading or a distance by its spelling."""
    clean = text.strip().rstrip(".")
    clean = _SPELT.get(clean.casefold(), clean)
    if clean == "M":  # a heading such as L, M, R rather than metres
        return None
    found = (find_unit(clean, dimension) for dimension in ("volume", "mass", "length"))
    return next((unit for unit in found if unit in READS or unit in LENGTHS), None)


def heading_units(text: str) -> list[str]:
    """Find the units that a heading or title names."""
    clean = clean_text(text[:_LONGEST])
    parts = [part for group in _BRACKETS.findall(clean) for part in re.split(r"[,;/]", group)]
    found = [unit for unit in map(unit_of, parts) if unit]
    whole = unit_of(clean)
    if whole:
        return [whole]
    words = re.split(r"[\s_,:]+", _BRACKETS.sub("", clean))
    known = heading_words(clean) & (CATCH_WORDS | PLACE_WORDS | {"x", "y", "across", "along"})
    last = unit_of(" ".join(words[-2:])) or unit_of(words[-1])
    if not found and known and len(words) > 1 and last and (last != "in" or words[-1] in ("inches", "inch")):
        found = [last]
    return found


def heading_words(text: str) -> set[str]:
    """List the words of a heading outside its brackets."""
    return set(re.findall(r"[^\W\d_]+", _BRACKETS.sub(" ", clean_text(text[:_LONGEST])).casefold()))


def is_worked_out(cell: Meaning) -> bool:
    """Whether a cell names what is worked out from readings."""
    return cell.kind == "word" and bool(heading_words(cell.text) & SUMMARY_WORDS)


def decimal_style(texts: Iterable[str]) -> str | None:
    """Tell how the numbers of a table are written."""
    found = set()
    for text in texts:
        match = _LEADING.match(clean_text(text[:200]))
        number = match[0].strip() if match else ""
        dots, commas, spaced = (pattern.fullmatch(number) for pattern in (_DOTS, _COMMAS, _SPACED))
        if re.fullmatch(r"[+-]?\d*,\d+", number) and not commas or dots and dots[2]:
            found.add(",")
        elif re.fullmatch(r"[+-]?\d*\.\d+", number) and not dots or commas and commas[2]:
            found.add(".")
        elif spaced and spaced[2]:
            found.add(spaced[2][0])
    return "both" if len(found) == 2 else next(iter(found), None)


def read_number(text: str, style: str | None) -> tuple[float, bool]:
    """Read a number that may have thousands taken together."""
    if _SPACED.fullmatch(text):
        return parse_number(re.sub("[ '’]", "", text)), True
    commas, dots = _COMMAS.fullmatch(text), _DOTS.fullmatch(text)
    if commas and (commas[2] or len(commas[1]) > 4 or style == "."):
        return parse_number(text.replace(",", "")), True
    if commas and style == ",":
        return parse_number(text.replace(",", ".")), False
    if dots and (dots[2] or len(dots[1]) > 4 or style == ","):
        return parse_number(text.replace(".", "")), True
    if dots and style == "both":
        raise QuantityError(f"received {clip_text(text)}", "which may mean thousands or decimals",
                            f"write {text.replace('.', '')} or {text.replace('.', ',')}")
    return parse_number(text), False


def meaning(cell: Cell, style: str | None, line: int = 0, column: int = 0) -> Meaning:
    """Tell what a cell says; `style` is from `decimal_style`."""
    read = _meaning(cell, style)
    if read.kind in ("number", "measure") and not read.why and not math.isfinite(read.value):
        read = Meaning("bad", text=read.text, why="is not a finite number")
    return replace(read, raw=cell.text, line=line, column=column)


def _meaning(cell: Cell, style: str | None) -> Meaning:
    text = clean_text(cell.text[:_LONGEST])
    if cell.problem:
        return Meaning("bad", text=text, why=cell.problem)
    if cell.number is not None:
        unit = _split(text)[1]
        return Meaning("measure" if unit else "number", cell.number, unit, text)
    if not text:
        return BLANK
    if len(text) > 200:
        return Meaning("word", text=text[:200], why="is not a number")
    if text.casefold() in MARKS:
        return Meaning("mark", text=text)
    if _ERROR.fullmatch(text):
        return Meaning("bad", text=text, why="is a spreadsheet's error")
    text = re.sub(r"^[xyXY]\s*=\s*", "", text)
    if _PRIMES.fullmatch(text):
        text = re.sub(r"\s*[\"″]", " in", re.sub(r"\s*['′]\s*", " ft ", text)).strip()
    read = _numeric(text, style)
    if read is None and re.match(r"\d+\s*ft", text, re.I):
        with suppress(QuantityError):
            read = Meaning("measure", parse(text, "length").to("ft"), "ft", text)
    return read or Meaning("word", text=text, why="is not a number")


def _numeric(text: str, style: str | None) -> Meaning | None:
    for number, unit in ((text, None), _split(text)):
        if not number:
            continue
        read = Meaning("measure" if unit else "number", unit=unit, text=text)
        try:
            value, grouped = read_number(number, style)
        except QuantityError as error:
            if error.expected.startswith("which may mean"):
                return replace(read, why=f"{error.expected[6:]}: {error.do}", unclear=True)
            continue
        dots = _DOTS.fullmatch(number)
        unclear = style is None and dots is not None and not dots[2] and len(dots[1]) == 4
        return replace(read, value=value + 0.0, grouped=grouped, unclear=unclear)
    return None


def _split(text: str) -> tuple[str, str | None]:
    match = _MEASURE.fullmatch(text)
    if match is None or (unit := unit_of(match[2])) is None:
        return "", None
    return match[1].strip(), unit


def distance_text(read: Meaning, unit: str) -> str | None:
    """Write a distance as a quantity with its unit."""
    if read.kind not in ("number", "measure") or math.isnan(read.value):
        return None
    own = read.unit or unit
    plain = f"{read.value:.15g} {own}"
    for text in ([plain] if read.grouped else [read.text if read.unit else f"{read.text} {unit}", plain]):
        try:
            if abs(parse(text, "length").to(own) - read.value) < 1e-9 * max(1.0, abs(read.value)):
                return text
        except QuantityError:
            continue
    return None
