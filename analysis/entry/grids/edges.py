"""The four edges of a table: headings, numbers, totals or readings."""

from __future__ import annotations

import math
import re
import statistics
from itertools import pairwise, zip_longest

from .block import AXIS_WORDS, all_are, filled, is_label, one_way, rising, values_of
from .cells import CATCH_WORDS, LENGTHS, Meaning, heading_units, heading_words

Rows = list[list[Meaning]]
_COUNTING = frozenset("row rows can cans no nr number id station point column line bed".split())
_SERIALS = (20_000, 80_000)  # days since 1900 of a spreadsheet's dates, 1954 to 2119


def transposed(rows: Rows) -> Rows:
    """Columns of rows, filled up with blanks."""
    return [list(column) for column in zip_longest(*rows, fillvalue=Meaning("blank"))]


# ---- with a label, a unit or a corner that says so ----

def headed_row(rows: Rows, names: list[Meaning] | None) -> str:
    """Whether the first row is a heading: `sure`, `maybe`, or empty."""
    if len(rows) < 2:
        return ""
    first, rest = rows[0], [cell for row in rows[1:] for cell in row]
    if _mostly_measured(first) and are_distances(first, rest):
        return "sure"
    corner, tail, under = first[0], first[1:], [cell for row in rows[1:] for cell in row[1:]]
    if not tail or corner.kind not in ("blank", "mark", "word"):
        return ""
    if are_distances(tail, under) or all(map(is_label, tail)):
        return "sure"
    if names or not all_are(tail, "number"):
        return ""
    side = [row[0] for row in rows[1:] if row]
    by_unit = are_distances(side, under)
    if corner.kind == "word":
        return "sure" if _by_corner(corner, tail, side, by_unit) else ""
    return _by_blank_corner(tail, side, by_unit, under)


def _by_corner(corner: Meaning, tail: list[Meaning], side: list[Meaning], by_unit: bool) -> bool:
    words = heading_words(corner.text)
    if not one_way(tail):
        return False
    if words & AXIS_WORDS or re.search(r"[\\/|]", corner.text) or {"m", "ft"} & set(heading_units(corner.text)):
        return True
    placed = by_unit or all_are(side, "number") and one_way(side)
    if words & _COUNTING and not re.search(r"\d", corner.text):
        return len(tail) > 1 and (placed or all_are(side, "word"))
    return placed


def _by_blank_corner(tail: list[Meaning], side: list[Meaning], by_unit: bool, under: list[Meaning]) -> str:
    if by_unit:
        return "sure" if one_way(tail) else ""
    if not rising(tail):
        return ""
    if all_are(side, "word"):
        return "" if len(tail) < 2 else "sure" if _regular(tail) or _apart(tail, under) else "maybe"
    enough = min(len(tail), len(side)) > 1 or max(len(tail), len(side)) > 2
    if not (all_are(side, "number") and enough and rising(side)):
        return ""
    sure = _regular(tail) or _regular(side) or _apart(tail, under) or _apart(side, under)
    return "sure" if sure else "maybe"


def headed_column(rows: Rows, names: list[Meaning] | None, has_row: bool) -> str:
    """Whether the first column is a heading: `sure`, `maybe`, or empty."""
    side = [row[0] for row in rows[has_row:] if row]
    if has_row or filled(side) and all(map(is_label, filled(side))):
        return "sure"
    rest = [cell for row in rows for cell in row[1:]]
    if _mostly_measured(side) and are_distances(side, rest):
        return "sure"
    if not names:
        return ""
    words = heading_words(names[0].text)
    if words & AXIS_WORDS or {"m", "ft"} & set(heading_units(names[0].text)) or "\\" in names[0].text:
        return "sure" if all_are(side, "number") else ""
    if words & _COUNTING or names[0].text == "#":
        return "" if words & CATCH_WORDS else "sure"
    if names[0].kind == "blank" and all_are(side, "number") and len(side) > 1 and rising(side):
        return "sure" if _regular(side) or _apart(side, rest) else "maybe"
    return ""


def are_distances(cells: list[Meaning], others: list[Meaning]) -> bool:
    """Whether cells are distances by their units."""
    full = filled(cells)
    units = {cell.unit for cell in full if cell.kind == "measure"}
    if not units or not units <= set(LENGTHS) or any(cell.kind not in ("number", "measure") for cell in full):
        return False
    if units & {"m", "ft"}:
        return 2 * len(full) > len(cells)
    return (len(full) == len(cells) > 1 and all(cell.unit for cell in full) and rising(cells)
            and not any(cell.unit for cell in others))


def _mostly_measured(cells: list[Meaning]) -> bool:
    return 2 * sum(cell.kind == "measure" for cell in cells) > len(filled(cells))


def counts(cells: list[Meaning]) -> bool:
    """Whether cells are 1, 2, 3 ..."""
    return all_are(cells, "number") and [cell.value for cell in cells] == list(range(1, len(cells) + 1))


# ---- without: only the numbers can say so, and a person must agree ----

def doubted_edge(line: list[Meaning], others: Rows, *, last: bool) -> tuple[str, str] | None:
    """What an edge without a label may be instead of readings: the likelier role and why, or None."""
    rest = [cell for other in others for cell in other]
    if filled(line) and values_of(rest) and all("error" in cell.why for cell in filled(line)):
        return "total", "holds nothing but a spreadsheet's errors"
    if not values_of(line) or not values_of(rest):
        return None
    if len(values_of(line)) > 1 and all_are(filled(line), "number") and len(filled(line)) + 1 >= len(line):
        found = _dates(filled(line), rest) or _numbering(filled(line), others, last=last)
        if found or not last and (found := _like_distances(filled(line), others)):
            return found
    worked_out = _worked_out(line, others, last=last)
    return ("total", f"holds the {worked_out} of the others") if worked_out else None


def is_serial(value: float, others: list[float]) -> bool:
    """Whether a number may be a date that a spreadsheet wrote as a day number."""
    return (value.is_integer() and _SERIALS[0] <= value <= _SERIALS[1] and bool(others)
            and 20 * statistics.median(others) < value)


def _dates(line: list[Meaning], rest: list[Meaning]) -> tuple[str, str] | None:
    if all(is_serial(cell.value, values_of(rest)) for cell in line):
        return "number", "may be dates that a spreadsheet wrote as day numbers"
    return None


def _step(cells: list[Meaning]) -> float:
    """The even step from number to number; 0 where there is none."""
    values = [cell.value for cell in cells]
    if len(values) < 2 or any(map(math.isnan, values)):
        return 0.0
    step = (values[-1] - values[0]) / (len(values) - 1)
    even = all(abs(b - a - step) <= 1e-6 * abs(step) for a, b in pairwise(values))
    return step if even else 0.0


def _regular(cells: list[Meaning]) -> bool:
    return len(cells) > 2 and _step(cells) != 0


def _apart(cells: list[Meaning], rest: list[Meaning], times: float = 1.0) -> bool:
    """Whether numbers are all below or all above those of the readings that are not dry."""
    values, readings = values_of(cells), [value for value in values_of(rest) if value]
    return bool(readings) and (times * max(values) < min(readings) or min(values) > times * max(readings))


def _numbering(line: list[Meaning], others: Rows, *, last: bool) -> tuple[str, str] | None:
    step, rest = _step(line), [cell for other in others for cell in other]
    if abs(step) != 1 or not line[0].value.is_integer() or all(_step(other) == step for other in others):
        return None
    from_one = bool({line[0].value, line[-1].value} & {0.0, 1.0})
    if from_one and (len(line) > 2 or line[0].value == 1 and not last and _apart(line, rest)):
        return "number", "counts in steps of one"
    if not last and (len(line) > 3 or len(line) == 3 and _apart(line, rest, 2)):
        return "number" if _apart(line, rest, 2) else "reading", "counts in steps of one"
    return None


def _like_distances(line: list[Meaning], others: Rows) -> tuple[str, str] | None:
    step, rest = _step(line), [cell for other in others for cell in other]
    even = step and len(line) > 2 and not _run_alike(step, others)
    far = _apart(line, rest, 5) and (len(line) > 2 or any(not cell.value.is_integer() for cell in line))
    if even and (len(line) > 3 or _apart(line, rest, 2)) or one_way(line) and far:
        return "heading" if _apart(line, rest) else "reading", "goes up or down as distances do"
    return None


def _run_alike(step: float, others: Rows) -> bool:
    """Whether readings beside an edge rise or fall as it does, so that it is likely one of them."""
    runs = [(other[-1].value - other[0].value) / (len(other) - 1) for other in others if len(other) > 1]
    return 2 * sum(abs(run - step) <= 0.25 * abs(step) for run in runs) >= len(runs)


def _decimals(cell: Meaning) -> int:
    match = re.search(r"\d[.,](\d+)", cell.text)
    return len(match[1]) if match else 0


def _worked_out(line: list[Meaning], others: Rows, *, last: bool) -> str:
    """Whether an edge holds the sums or the means of the others, where that can hardly be chance."""
    finer = max(map(_decimals, line)) > max(_decimals(cell) for other in others for cell in other)
    columns = [(cell, values_of([other[at] for other in others if at < len(other)]))
               for at, cell in enumerate(line) if not math.isnan(cell.value)]
    if not columns or min(len(values) for _, values in columns) < 2:
        return ""
    few = max(len(values) for _, values in columns) == 2
    sums = [_off(cell, math.fsum(values)) for cell, values in columns]
    if max(sums) < 2 and sum(any(values) for _, values in columns) > few:
        return "sums"
    means = [_off(cell, statistics.fmean(values)) for cell, values in columns]
    telling = sum(max(values) > min(values) for _, values in columns)
    need = 1 + few if finer else (2 if max(means) == 0 else 3) + 2 * few
    return "means" if max(means) < 2 and telling >= need and (last or finer) else ""


def _off(cell: Meaning, value: float) -> int:
    """How well a cell agrees with a value: 0 exactly, 1 within its rounding, 2 not."""
    off = abs(value - cell.value)
    if off <= 1e-9 * max(1.0, abs(cell.value)):
        return 0
    return 1 if off <= 0.5 * 10.0 ** -_decimals(cell) * (1 + 1e-9) else 2
