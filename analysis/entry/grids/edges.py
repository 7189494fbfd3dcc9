"""The four edges of a table: headings, numbers, totals or readings."""

from __future__ import annotations

import math
import re
import statistics
from itertools import chain, pairwise, zip_longest

from .block import AXIS_WORDS, all_are, filled, is_label, one_way, rising, values_of
from .cells import BLANK, CATCH_WORDS, LENGTHS, Meaning, heading_units, heading_words

Rows = list[list[Meaning]]
_COUNTING = frozenset("row rows can cans no nr number id station point column line bed".split())
_SERIALS = (20_000, 80_000)  # days since 1900 of a spreadsheet's dates, 1954 to 2119


def transposed(rows: Rows) -> Rows:
    """Columns of rows, filled up with blanks."""
    return [list(column) for column in zip_longest(*rows, fillvalue=BLANK)]


# ---- with a label, a unit or a corner that says so ----

def headed_row(rows: Rows, names: list[Meaning] | None) -> str:
    """Whether the first row is a heading: `sure`, `maybe`, or empty."""
    corner, tail, under = rows[0][0], rows[0][1:], list(chain(*(row[1:] for row in rows[1:])))
    side = [row[0] for row in rows[1:] if row]
    if side and _are_measured(rows[0], [*side, *under]):
        return "sure"
    if not side or not tail or corner.kind not in ("blank", "mark", "word"):
        return ""
    if are_distances(tail, under) or all(map(is_label, tail)):
        return "sure"
    if names or not all_are(tail, "number"):
        return ""
    if corner.kind == "word":
        return "sure" if _by_corner(corner, tail, side, are_distances(side, under)) else ""
    return _by_blank_corner(tail, side, under)


def _of_axis(heading: Meaning) -> bool:
    """Whether a heading speaks of distances."""
    return bool(heading_words(heading.text) & AXIS_WORDS or {"m", "ft"} & set(heading_units(heading.text)))


def _by_corner(corner: Meaning, tail: list[Meaning], side: list[Meaning], by_unit: bool) -> bool:
    if not one_way(tail) or _of_axis(corner) or re.search(r"[\\/|]", corner.text):
        return one_way(tail)
    placed = by_unit or all_are(side, "number") and one_way(side)
    if heading_words(corner.text) & _COUNTING and not re.search(r"\d", corner.text):
        return len(tail) > 1 and (placed or all_are(side, "word"))
    return placed


def _by_blank_corner(tail: list[Meaning], side: list[Meaning], under: list[Meaning]) -> str:
    if are_distances(side, under):
        return "sure" if one_way(tail) else ""
    named = all_are(side, "word") and len(tail) > 1
    placed = all_are(side, "number") and rising(side) and len(tail) * len(side) > 2
    if not rising(tail) or not (named or placed):
        return ""
    return _surely([tail, *([side] if placed else [])], under)


def _surely(lines: Rows, readings: list[Meaning]) -> str:
    """`sure` where one of some lines is even or lies apart from the readings, else `maybe`."""
    sure = any(len(line) > 2 and _step(line) or _apart(line, readings) for line in lines)
    return "sure" if sure else "maybe"


def headed_column(rows: Rows, names: list[Meaning] | None, has_row: bool) -> str:
    """Whether the first column is a heading: `sure`, `maybe`, or empty."""
    side, rest = [row[0] for row in rows[has_row:] if row], [cell for row in rows for cell in row[1:]]
    labels = filled(side) and all(map(is_label, filled(side)))
    if has_row or labels or _are_measured(side, rest):
        return "sure"
    return _by_name(names[0], side, rest) if names else ""


def _by_name(name: Meaning, side: list[Meaning], rest: list[Meaning]) -> str:
    numbers, words = all_are(side, "number"), heading_words(name.text)
    if _of_axis(name) or "\\" in name.text:
        return "sure" if numbers else ""
    if words & _COUNTING or name.text == "#":
        return "" if words & CATCH_WORDS else "sure"
    return _surely([side], rest) if name.kind == "blank" and numbers and len(side) > 1 and rising(side) else ""


def are_distances(cells: list[Meaning], others: list[Meaning]) -> bool:
    """Whether cells are distances by their units."""
    full = filled(cells)
    units = {cell.unit for cell in full if cell.unit}
    if not units or not units <= set(LENGTHS) or any(cell.kind not in ("number", "measure") for cell in full):
        return False
    if units & {"m", "ft"}:
        return 2 * len(full) > len(cells)
    return (len(cells) > 1 and all(cell.unit for cell in cells) and rising(cells)
            and not any(cell.unit for cell in others))


def _are_measured(cells: list[Meaning], others: list[Meaning]) -> bool:
    """Whether cells are distances, most of them with their unit."""
    return 2 * sum(cell.kind == "measure" for cell in cells) > len(filled(cells)) and are_distances(cells, others)


def counts(cells: list[Meaning]) -> bool:
    """Whether cells are 1, 2, 3 ..."""
    return all_are(cells, "number") and [cell.value for cell in cells] == list(range(1, len(cells) + 1))


# ---- without: only the numbers can say so, and a person must agree ----

def doubted_edge(line: list[Meaning], others: Rows, *, last: bool) -> tuple[str, str] | None:
    """What an edge without a label may be instead of readings: the likelier role and why, or None."""
    full, rest = filled(line), [cell for other in others for cell in other]
    if full and values_of(rest) and all("error" in cell.why for cell in full):
        return "total", "holds nothing but a spreadsheet's errors"
    if not values_of(line) or not values_of(rest):
        return None
    found = None
    if 1 < len(full) >= len(line) - 1 and all_are(full, "number"):
        if all(is_serial(cell.value, values_of(rest)) for cell in full):
            return "number", "may be dates that a spreadsheet wrote as day numbers"
        found = _numbering(full, others, rest, last=last)
        found = found or (None if last else _like_distances(full, others, rest))
    return found or _worked_out(line, others, last=last)


def is_serial(value: float, others: list[float]) -> bool:
    """Whether a number may be a date that a spreadsheet wrote as a day number."""
    return (value.is_integer() and _SERIALS[0] <= value <= _SERIALS[1] and bool(others)
            and 20 * statistics.median(others) < value)


def _step(cells: list[Meaning]) -> float:
    """The even step from number to number; 0 where there is none."""
    values = [cell.value for cell in cells]
    if len(values) < 2 or any(map(math.isnan, values)):
        return 0.0
    step = (values[-1] - values[0]) / (len(values) - 1)
    even = all(abs(b - a - step) <= 1e-6 * abs(step) for a, b in pairwise(values))
    return step if even else 0.0


def _apart(cells: list[Meaning], rest: list[Meaning], times: float = 1.0) -> bool:
    """Whether numbers are all below or all above those of the readings that are not dry."""
    values, readings = values_of(cells), [value for value in values_of(rest) if value]
    return bool(readings) and (times * max(values) < min(readings) or min(values) > times * max(readings))


def _numbering(line: list[Meaning], others: Rows, rest: list[Meaning], *, last: bool) -> tuple[str, str] | None:
    step, first, count = _step(line), line[0].value, len(line)
    if abs(step) != 1 or not first.is_integer() or all(_step(other) == step for other in others):
        return None
    from_one, apart = bool({first, line[-1].value} & {0.0, 1.0}), _apart(line, rest, 2)
    sure = count > 2 if from_one else not last and count == 3 and apart
    if sure or first == 1 and not last and _apart(line, rest):
        return "number", "counts in steps of one"
    if last or count < 4:
        return None
    return "number" if apart else "reading", "counts in steps of one"


def _like_distances(line: list[Meaning], others: Rows, rest: list[Meaning]) -> tuple[str, str] | None:
    step = _step(line)
    even = len(line) > 2 and step and not _run_alike(step, others)
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


def _worked_out(line: list[Meaning], others: Rows, *, last: bool) -> tuple[str, str] | None:
    """Whether an edge holds the sums or the means of the others, where that can hardly be chance."""
    pairs = [(cell, values_of(column)) for cell, column in zip(line, transposed(others), strict=False)
             if not math.isnan(cell.value)]
    if min((len(values) for _, values in pairs), default=0) < 2:
        return None
    few = len(others) == 2
    sums, worst = (max(_off(cell, work(values)) for cell, values in pairs) for work in (math.fsum, statistics.fmean))
    if sums < 2 and sum(any(values) for _, values in pairs) > few:
        return "total", "holds the sums of the others"
    finer = max(map(_decimals, line)) > max(map(_decimals, chain(*others)))
    need = 1 + few if finer else 2 + worst + 2 * few
    telling = sum(len(set(values)) > 1 for _, values in pairs)
    return ("total", "holds the means of the others") if worst < 2 and telling >= need and (last or finer) else None


def _off(cell: Meaning, value: float) -> int:
    """How well a cell agrees with a value: 0 exactly, 1 within its rounding, 2 not."""
    off = abs(value - cell.value)
    if off <= 1e-9 * max(1.0, abs(cell.value)):
        return 0
    return 1 if off <= 0.5 * 10.0 ** -_decimals(cell) * (1 + 1e-9) else 2
