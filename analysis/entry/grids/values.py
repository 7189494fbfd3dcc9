"""The unit of the readings, and the reading in each cell."""

from __future__ import annotations

import math
import re
from collections import Counter

from ...units.quantity import clip_text, from_si, to_si
from .block import Block, values_of
from .cells import MOST_READING, READS, Meaning
from .doubts import TableDoubt
from .edges import is_serial
from .say import where
from .table import MOST_CANS, MOST_COLUMNS, MOST_ROWS, GridError, count_of

_SINGLY = 20  # cells that get a sentence of their own
_DIMENSIONS = {"volume": "volume", "depth": "length", "weight": "mass"}


def refuse(block: Block, sheet: bool) -> None:
    """Refuse readings that cannot be: over 500 rows, 500 columns or 2000 cans, or below zero."""
    rows, columns = len(block.rows), max(map(len, block.rows))
    if rows > MOST_ROWS and not block.places or columns > MOST_COLUMNS:
        raise GridError(f"received {count_of(rows, 'row')} and {count_of(columns, 'column')} of readings",
                        f"expected at most {MOST_ROWS} rows and {MOST_COLUMNS} columns", "send one zone's readings")
    cans = sum(map(len, block.rows))
    if cans > MOST_CANS:
        raise GridError(f"received {count_of(cans, 'can')}", f"expected at most {MOST_CANS}",
                        "send one zone's readings")
    below = [f"{clip_text(cell.raw)} at {where(cell, at, number, sheet)}" for at, row in enumerate(block.rows)
             for number, cell in enumerate(row) if cell.value < 0]
    if below:
        more = f" and {len(below) - 10} more" if len(below) > 10 else ""
        raise GridError(f"received {'; '.join(below[:10])}{more}", "expected readings of 0 or more",
                        "correct them, or leave a cell blank where there is no reading")


def settle_unit(block: Block, answer: str | None, default: str | None) -> str | None:
    """Find the unit of the readings, say where it comes from, and ask where the table does not say or contradicts."""
    named = list(dict.fromkeys(block.units)) or _beside(block, answer, default)
    unit = answer or next(iter(named), None) or default
    if unit is None:
        _ask_unit(block, "No unit of the readings was found.", "")
    elif not named:
        block.notes.append(f"No unit of the readings was found: {unit} was taken, as set.")
    elif answer and answer not in named:
        block.doubt(f"The table says {' and '.join(named)}, not {unit}: correct the table, or what was said.")
    else:
        if not answer and len(named) > 1:
            _ask_unit(block, f"The headings name several units ({', '.join(named)}): {unit} was taken.", unit)
        elif not answer and default and default != unit:
            _ask_unit(block, f"The table says {unit}, not {default}: {unit} was taken.", unit)
        block.notes.append(f"The readings are in {unit} ({READS[unit]}).")
    return unit


def _beside(block: Block, answer: str | None, default: str | None) -> list[str]:
    """The unit that stands beside most readings, where nothing else says that of those without any."""
    cells = [cell for row in block.rows for cell in row]
    units = Counter(cell.unit for cell in cells if cell.unit in READS)
    bare = sum(cell.kind == "number" for cell in cells)
    if not units or bare and (answer or default):
        return []
    named = [unit for unit, _ in units.most_common(1) if unit]
    if bare:
        _ask_unit(block, f"{count_of(bare, 'reading')} without a unit: {named[0]} was taken, as for the others.",
                  named[0])
    return named


def _ask_unit(block: Block, says: str, taken: str) -> None:
    block.doubts.append(TableDoubt(says, "unit", tuple(READS), taken))


def take_values(block: Block, unit: str | None, sheet: bool) -> list[list[float]]:
    """Take every cell as a reading [unit], nan where it is none; what is odd about one is said or doubted."""
    said: list[tuple[str, str]] = []
    all_values = values_of([cell for row in block.rows for cell in row])
    table = []
    for at, row in enumerate(block.rows):
        taken = []
        for number, cell in enumerate(row):
            value, why = _value(cell, unit, all_values)
            taken.append(value)
            if not why:
                continue
            place, asks = where(cell, at, number, sheet), "decimal" if cell.unclear else ""
            says = f"{place[0].upper()}{place[1:]}: {clip_text(cell.raw)} {why}"
            says += "; it was taken as no reading." if math.isnan(value) else "."
            said.append((says, asks if asks or re.search(r"\d|#", cell.raw) or cell.kind == "bad" else "no"))
        table.append(taken)
    _say(block, said)
    asked = {doubt.asks for doubt in block.doubts} - {"", "unit"}  # whose answers may bring some
    if not asked and all(math.isnan(value) for row in table for value in row):
        told = [*(doubt.says for doubt in block.doubts if not doubt.asks), *block.remarks]
        raise GridError(f"received no cell that can be taken as a reading{f' ({told[0][:-1]})' if told else ''}",
                        "expected readings such as 31 or 12.5", "correct the cells")
    return table


def _value(cell: Meaning, unit: str | None, others: list[float]) -> tuple[float, str]:
    """A cell's reading [unit], and what is odd about it."""
    if cell.kind in ("blank", "mark"):
        return math.nan, ""
    if cell.why:
        return math.nan, cell.why
    if cell.kind not in ("number", "measure"):
        return math.nan, "is not a number"
    value, why = cell.value, ""
    if cell.unit and cell.unit != unit:
        kinds = (READS.get(cell.unit), READS.get(unit or ""))
        if kinds[0] is None or kinds[0] != kinds[1]:
            return math.nan, f"is in {cell.unit}, not in {unit}"
        dimension = _DIMENSIONS[kinds[0]]
        value = float(f"{from_si(to_si(value, cell.unit, dimension), unit or '', dimension):.12g}")
        why = f"is in {cell.unit}, not in {unit}: it was taken as {value:.6g} {unit}"
    if value > MOST_READING:
        return math.nan, "is over 1,000,000"
    if is_serial(value, others):
        return math.nan, "may be a date that a spreadsheet wrote as a day number"
    return value, why


def _say(block: Block, said: list[tuple[str, str]]) -> None:
    """Name every odd cell; from the 21st on, one sentence for all."""
    if len(said) > _SINGLY:
        rest = "; ".join(text.partition("; it was")[0] for text, _ in said[_SINGLY:])
        more = f"{count_of(len(said) - _SINGLY, 'more cell')} taken as no reading: {rest}."
        odd = "" if any(asks != "no" for _, asks in said[_SINGLY:]) else "no"
        said = [*said[:_SINGLY], (more, odd)]
    for says, asks in said:
        if asks == "no":
            block.remarks.append(says)
        elif asks:
            block.doubts.append(TableDoubt(says, asks, (".", ",")))
        else:
            block.doubt(says)


def doubt_decimals(block: Block) -> None:
    """Ask about numbers such as 1.234, unless the others tell that it is no thousand."""
    cells = [cell for row in block.rows for cell in row]
    unclear = [cell for cell in cells if cell.unclear and cell.value > 0]
    plain = sorted(value for value in values_of([cell for cell in cells if not cell.unclear]) if value)
    middle = plain[len(plain) // 2] if plain else 0.0
    if unclear and not all(middle / 5 < cell.value < 5 * middle for cell in unclear):
        thousand = unclear[0].text.replace(".", "")
        block.doubts.append(TableDoubt(f"{clip_text(unclear[0].text)} may have a decimal point or be {thousand}: it "
                                       f"was taken as {unclear[0].value:.10g}.", "decimal", (".", ","), "."))
