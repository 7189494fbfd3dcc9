"""The bytes of a workbook (XLSX) -> rows of cells of one sheet, whatever size the sheet claims."""

from __future__ import annotations

import datetime
import re
import warnings
from io import BytesIO
from typing import Any

from ...units.quantity import clip_text
from .cells import unit_of
from .table import MOST_COLUMNS, MOST_LINES, Cell, GridError, Table, check_size
from .workbook import BROKEN, lightened, sheet_cells, unreadable

_LITERAL = re.compile(r'"\s*([^"]+?)\s*"')
_LOST = "is a formula whose result is not kept in the file (open it in a spreadsheet program and save it)"
_DATE = "is a date or time (spreadsheets make one of 3/4 or 1.2)"


def table_of_sheet(data: bytes, name: str, sheet: str | None) -> Table:
    """Read one sheet of a workbook, the first that is shown where none is named."""
    file = clip_text(name)
    light = lightened(data, name)
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(BytesIO(light), read_only=True, data_only=True, keep_links=False)
            chosen, notes = _choose(book, sheet, file)
            raw, cut = sheet_cells(data, chosen._worksheet_path, name)
            cells = _cells(book, chosen, cut)
    except GridError:
        raise
    except BROKEN as error:
        raise unreadable(file, []) from error
    table = _table(cells, file, chosen.title, book.sheetnames)
    table.notes.extend(notes)
    table.merged.extend(match.decode() for match in re.findall(
        rb'<(?:\w+:)?mergeCell\b[^<>]*?\bref="([A-Z]+\d+:[A-Z]+\d+)"', raw))
    if re.search(rb'<(?:\w+:)?(?:row|col)\b[^<>]*?\bhidden="(?:1|true)"', raw):
        table.remarks.append("The sheet has hidden rows or columns: they were read too.")
    return table


def _choose(book: Any, sheet: str | None, file: str) -> tuple[Any, list[str]]:
    """Pick the sheet and say which it is."""
    sheets = list(book.worksheets)
    if not sheets:
        raise GridError(f"received {file} without a sheet of cells", "expected one with the readings",
                        "save the readings as XLSX or CSV")
    if sheet is None:
        first = next((item for item in sheets if item.sheet_state == "visible"), sheets[0])
        several = f"Sheet {clip_text(first.title)} was read, one of {len(sheets)}."
        return first, [several] if len(sheets) > 1 else []
    found = [item for title in (sheet, sheet.strip().casefold()) for item in sheets
             if title in (item.title, item.title.strip().casefold())]
    if found:
        return found[0], [f"Sheet {clip_text(found[0].title)} was read."]
    titles = ", ".join(clip_text(item.title) for item in sheets[:10]) + (", …" if len(sheets) > 10 else "")
    raise GridError(f"received the sheet name {clip_text(sheet)}", f"expected one of {titles}", "choose one of these")


def _cells(book: Any, sheet: Any, source: bytes) -> dict[tuple[int, int], Cell]:
    """Every cell that holds something, by row and column from 1."""
    from openpyxl.cell.read_only import ReadOnlyCell
    from openpyxl.worksheet._reader import FORMULA_TAG, WorkSheetParser

    class Parser(WorkSheetParser):
        """Keeps the formulas whose result is not there."""

        def parse_cell(self, element: Any) -> Any:
            """A cell as the library reads it."""
            cell, formula = super().parse_cell(element), element.find(FORMULA_TAG)
            if cell["value"] is None and formula is not None:
                cell |= {"value": f"={formula.text or ''}", "data_type": "f"}
            return cell

    parser = Parser(BytesIO(source), sheet._shared_strings, data_only=True, epoch=book.epoch,
                    date_formats=book._date_formats, timedelta_formats=book._timedelta_formats)
    found: dict[tuple[int, int], Cell] = {}
    for _, row in parser.parse():
        for cell in row:
            if cell["value"] in (None, ""):
                continue
            line, column = cell["row"], cell["column"]
            check_size(line if line > MOST_LINES else 1, column if column > MOST_COLUMNS else 1, len(found))
            lost = cell["data_type"] == "f"
            found[line, column] = Cell(cell["value"], problem=_LOST) if lost else _cell(ReadOnlyCell(sheet, **cell))
    return found


def _cell(cell: Any) -> Cell:
    value = cell.value
    if isinstance(value, bool):
        return Cell(str(value).upper(), problem="is not a number")
    if isinstance(value, (int, float)):
        shape = cell.number_format or ""
        if "%" in shape:
            return Cell(f"{value * 100:.15g}%", problem="is a percentage")
        units = [text for text in _LITERAL.findall(shape[:500]) if unit_of(text)]
        return Cell(f"{value!r} {units[0]}" if units else repr(value), number=float(value))
    if isinstance(value, (datetime.datetime, datetime.date, datetime.time, datetime.timedelta)):
        text = value.isoformat(" ") if isinstance(value, datetime.datetime) else str(value)
        return Cell(text.removesuffix(" 00:00:00"), problem=_DATE)
    return Cell(str(value))


def _table(cells: dict[tuple[int, int], Cell], file: str, title: str, titles: list[str]) -> Table:
    if not cells:
        more = [item for item in titles if item != title]
        others = f", not {', '.join(clip_text(item) for item in more[:10])}" if more else ""
        raise GridError(f"received {file} whose sheet {clip_text(title)} is empty{others}",
                        "expected a table of readings", "choose the sheet with the readings" if more else "fill it in")
    rows = [row for row, _ in cells]
    width = max(column for _, column in cells)
    lines = list(range(min(rows), max(rows) + 1))
    check_size(len(lines), width, len(cells))
    blank = Cell("")
    return Table([[cells.get((row, column), blank) for column in range(1, width + 1)] for row in lines], lines,
                 sheet=True)
