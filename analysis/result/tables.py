"""Figures and readings as CSV and XLSX, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

from ..cans.catch import MISSING
from ..cans.index_table import INDICES
from ..record.model import Record
from ..record.places import all_readings
from ..units.shown import shown_unit, shown_value
from .model import AtTheCans, Result

# What no table may hold: control characters other than tab and line breaks.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
# What a spreadsheet takes for a formula, wide forms included.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def defuse(cell: Any) -> Any:
    """Keep a spreadsheet from running a text as a formula.

    Parameters
    ----------
    cell : object
        A cell's value; only texts are touched.

    Returns
    -------
    object
        Texts that begin with = + - @, a tab or a line break get an apostrophe in front.
    """
    if isinstance(cell, str) and (cell.startswith(_FORMULA) or cell.lstrip().startswith(_FORMULA)):
        return "'" + cell
    return cell


def _clean(cell: Any) -> Any:
    return defuse(_CONTROL.sub("", cell)) if isinstance(cell, str) else cell


def figures_rows(record: Record, result: Result, system: str = "metric") -> list[list[Any]]:
    """List the figures of a test, a row each.

    Parameters
    ----------
    record : Record
        What was tested.
    result : Result
        From `assess.assess`.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    list of [name, value, unit]
        The first row names the columns; values as numbers.
    """
    heading, catch, cans = result.record, result.catch, result.at_the_cans
    depth, rate = shown_unit("depth", system), shown_unit("rate", system)

    def depth_of(value: float | None) -> float | None:
        return None if value is None else round(float(shown_value(value, "depth", system, unit="mm")), 3)

    rows: list[list[Any]] = [["figure", "value", "unit"]]
    rows += [[key, getattr(heading, key), ""] for key in ("id", "title", "date", "site", "zone", "tunnel", "member")]
    rows += [
        ["cans", catch.cans, ""], ["cans in the figures", catch.used, ""], ["cans set aside", catch.set_aside, ""],
        ["cans without a reading", catch.missing, ""],
        ["mean depth", depth_of(catch.mean_mm), depth], ["driest can", depth_of(catch.lowest_mm), depth],
        ["wettest can", depth_of(catch.highest_mm), depth],
        ["application rate", round(float(shown_value(catch.rate_mm_h, "rate", system, unit="mm/h")), 3), rate],
        ["evaporation added", depth_of(catch.evaporation_mm), depth],
        *_index_rows(cans),
    ]
    if cans.uncorrected:
        before = cans.uncorrected
        rows += [["CU as read, before the evaporation correction", round(before.cu, 1), "%"],
                 ["DUlq as read, before the evaporation correction", round(before.du_low_quarter, 1), "%"],
                 ["mean depth as read", depth_of(before.mean_mm), depth]]
    if result.whole_floor:
        for name, item in (("CU", result.whole_floor.cu), ("DUlq", result.whole_floor.du_low_quarter)):
            rows += [[f"{name} of the whole floor, {what}", round(value, 1), "%"] for what, value in (
                ("estimate", item.value), ("90 % interval, low", item.low), ("90 % interval, high", item.high))]
    for number, spot in enumerate(result.dry_spots, 1):
        rows += [[f"dry {number}: {spot.where}", depth_of(spot.depth_mm), depth],
                 [f"dry {number}: part of the mean", round(100 * spot.of_mean), "%"],
                 [f"dry {number}: area", round(float(shown_value(spot.area_m2, "area", system)), 1),
                  shown_unit("area", system)]]
    return rows


def _index_rows(cans: AtTheCans) -> list[list[Any]]:
    """Every index, one digit finer than a person reads it."""
    rows: list[list[Any]] = []
    for key, index in INDICES.items():
        value = cans.values[key]
        rows.append([index.column, None if value is None else round(value, index.digits + 1), index.unit])
    return rows


def cans_rows(record: Record, result: Result, system: str = "metric") -> list[list[Any]]:
    """List the cans of a test, a row each.

    Parameters
    ----------
    record : Record
        What was tested.
    result : Result
        From `assess.assess`.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    list of rows
        The first row names the columns with their units; the reading stands as it was entered, in its own unit.
    """
    cans, entered = result.cans, all_readings(record.cans)
    place, depth = shown_unit("place", system), shown_unit("depth", system)
    rows: list[list[Any]] = [["can", f"across [{place}]", f"along [{place}]", f"entered [{record.cans.unit}]",
                              f"as read [{depth}]", f"in the figures [{depth}]", "state", "why set aside"]]
    for number in range(len(cans.x)):
        missing = cans.state[number] == MISSING or cans.read_mm[number] != cans.read_mm[number]
        read, used = (None if missing else round(float(shown_value(value[number], "depth", system, unit="mm")), 3)
                      for value in (cans.read_mm, cans.depth_mm))
        rows.append([cans.name(number), *(round(float(shown_value(value[number], "place", system)), 2)
                                          for value in (cans.x, cans.y)), None if missing else entered[number],
                     read, used, cans.state[number], cans.why[number]])
    return rows


def to_csv(rows: list[list[Any]]) -> bytes:
    """Write rows as CSV.

    Parameters
    ----------
    rows : list of rows
        From `figures_rows` or `cans_rows`.

    Returns
    -------
    bytes
        UTF-8 with a byte-order mark, so that spreadsheets read it.
    """
    text = io.StringIO(newline="")
    csv.writer(text).writerows([["" if cell is None else _clean(cell) for cell in row] for row in rows])
    return text.getvalue().encode("utf-8-sig")


def to_xlsx(sheets: dict[str, list[list[Any]]]) -> bytes:
    """Write sheets as a workbook.

    Parameters
    ----------
    sheets : dict of str to rows
        Name of the sheet -> rows.

    Returns
    -------
    bytes
        An XLSX file without formulas.
    """
    from openpyxl import Workbook

    book = Workbook()
    if book.active is not None:
        book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([_clean(cell) for cell in row])
        sheet.freeze_panes = "A2"
        for column in sheet.columns:
            widest = max((len(str(cell.value)) for cell in column if cell.value is not None), default=8)
            sheet.column_dimensions[column[0].column_letter].width = min(60, widest + 2)
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()
