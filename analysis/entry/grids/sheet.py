"""The bytes of a workbook (XLSX) -> rows of cells of one sheet.

A sheet is read as a stream, with its true size rather than the size it claims, and a workbook
is weighed before it is unpacked.
"""

from __future__ import annotations

import datetime
import re
import warnings
import zipfile
import zlib
from io import BytesIO
from xml.etree.ElementTree import ParseError

from ...units.quantity import clip_text
from .cells import unit_of
from .table import MOST_COLUMNS, MOST_LINES, MOST_UNPACKED, MOST_WORKBOOK, Cell, GridError, Table, check_size

_OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_EXPECTED = "expected a CSV or XLSX file"
_BROKEN = (zipfile.BadZipFile, zlib.error, ParseError, KeyError, ValueError, TypeError, AttributeError, IndexError,
           OSError, EOFError, OverflowError, NotImplementedError, RuntimeError, StopIteration, LookupError)
_LITERAL = re.compile(r'"\s*([^"]+?)\s*"')


def is_workbook(data: bytes, name: str) -> bool:
    """Tell whether bytes are a workbook, or claim to be."""
    return data.startswith((b"PK\x03\x04", b"PK\x05\x06", _OLD)) or name.casefold().endswith((".xlsx", ".xlsm"))


def table_of_sheet(data: bytes, name: str, sheet: str | None) -> Table:
    """Read one sheet of a workbook."""
    file = clip_text(name)
    names = _weigh(data, file)
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(BytesIO(data), read_only=True, data_only=True)
            chosen, notes = _choose(book, sheet, file)
            cells = _cells(chosen, formulas=False)
            # openpyxl does not say where a streamed sheet lies; its raw text tells of merged and hidden cells
            xml = zipfile.ZipFile(BytesIO(data)).read(chosen._worksheet_path.lstrip("/"))
            if re.search(rb"<(\w+:)?f[\s>/]", xml):
                _mark_formulas(cells, openpyxl.load_workbook(BytesIO(data), read_only=True)[chosen.title])
    except GridError:
        raise
    except _BROKEN as error:
        raise _unreadable(file, names) from error
    table = _table(cells, file, chosen.title, book.sheetnames)
    table.notes.extend(notes)
    table.merged.extend(match.decode() for match in re.findall(
        rb'<(?:\w+:)?mergeCell\b[^>]*?\bref="([A-Z]+\d+:[A-Z]+\d+)"', xml))
    if re.search(rb'<(?:\w+:)?(?:row|col)\b[^>]*?\bhidden="(?:1|true)"', xml):
        table.doubts.append("The sheet has hidden rows or columns: they were read too.")
    return table


def _unreadable(file: str, names: list[str]) -> GridError:
    if "content.xml" in names:
        return GridError(f"received {file}, which is an OpenDocument file", _EXPECTED, "save it as XLSX or CSV")
    if "xl/workbook.bin" in names:
        return GridError(f"received {file}, which is a binary workbook", _EXPECTED, "save it as XLSX or CSV")
    return GridError(f"received {file}, which cannot be read as a workbook", _EXPECTED,
                     "open it in a spreadsheet program and save it again")


def _weigh(data: bytes, file: str) -> list[str]:
    """Refuse a workbook that should not be unpacked; return the names of its members."""
    if data.startswith(_OLD):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise _protected(file)
        raise GridError(f"received {file}, which is an old workbook (XLS)", _EXPECTED, "save it as XLSX or CSV")
    if len(data) > MOST_WORKBOOK:
        raise GridError(f"received {file} of {len(data) / 1e6:.1f} MB", "expected a workbook of at most 5 MB",
                        "send only the sheet of readings")
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            members = archive.infolist()
            names = [member.filename for member in members]
            if any(member.flag_bits & 1 for member in members):
                raise _protected(file)
            if sum(member.file_size for member in members) > MOST_UNPACKED or len(members) > 2000:
                raise GridError(f"received {file}, which would unpack to "
                                f"{sum(member.file_size for member in members) / 1e6:.0f} MB in {len(members)} parts",
                                "expected at most 30 MB in 2000 parts", "send only the sheet of readings")
            if "xl/workbook.xml" not in names and not any(item.endswith("workbook.xml") for item in names):
                raise _unreadable(file, names)
            for member in members:
                if member.filename.endswith((".xml", ".rels")):
                    part = archive.read(member)
                    if any("<!DOCTYPE".encode(code) in part for code in ("utf-8", "utf-16-le", "utf-16-be")):
                        raise _unreadable(file, names)
    except GridError:
        raise
    except _BROKEN as error:
        raise _unreadable(file, []) from error
    return names


def _protected(file: str) -> GridError:
    return GridError(f"received {file}, which is protected by a password", "expected a workbook that opens without one",
                     "save a copy without the password, or save it as CSV")


def _choose(book, sheet: str | None, file: str):
    """Pick the sheet and say which it is."""
    sheets = list(book.worksheets)
    if not sheets:
        raise GridError(f"received {file} without a sheet of cells", "expected one with the readings",
                        "save the readings as XLSX or CSV")
    if sheet is None:
        shown = [item for item in sheets if item.sheet_state == "visible"] or sheets
        if len(sheets) == 1:
            return shown[0], []
        return shown[0], [f"Sheet {clip_text(shown[0].title)} was read, one of {len(sheets)}."]
    for same in (str.__eq__, lambda a, b: a.strip().casefold() == b.strip().casefold()):
        for item in sheets:
            if same(item.title, sheet):
                return item, [f"Sheet {clip_text(item.title)} was read."]
    titles = ", ".join(clip_text(item.title) for item in sheets[:10]) + (", …" if len(sheets) > 10 else "")
    raise GridError(f"received the sheet name {clip_text(sheet)}", f"expected one of {titles}", "choose one of these")


def _cells(sheet, *, formulas: bool) -> dict[tuple[int, int], Cell]:
    """Every cell that holds something, by row and column from 1."""
    sheet.reset_dimensions()
    found: dict[tuple[int, int], Cell] = {}
    for number, row in enumerate(sheet.iter_rows(), start=1):
        if number > 1_048_576:
            raise IndexError(number)
        for cell in row:
            if cell.value is None or cell.value == "":
                continue
            if formulas and cell.data_type != "f":
                continue
            check_size(number if number > MOST_LINES else 1, cell.column if cell.column > MOST_COLUMNS else 1,
                       len(found))
            found[number, cell.column] = _cell(cell)
    return found


def _cell(cell) -> Cell:
    value = cell.value
    if isinstance(value, bool):
        return Cell(str(value).upper(), problem="is not a number")
    if isinstance(value, (int, float)):
        shape = cell.number_format or ""
        if "%" in shape:
            return Cell(f"{value * 100:.15g}%", problem="is a percentage")
        units = [text for text in _LITERAL.findall(shape) if unit_of(text)]
        return Cell(f"{value!r} {units[0]}" if units else repr(value), number=float(value))
    if isinstance(value, (datetime.datetime, datetime.date, datetime.time, datetime.timedelta)):
        text = value.isoformat(" ") if isinstance(value, datetime.datetime) else str(value)
        return Cell(text.removesuffix(" 00:00:00"), problem="is a date or time (spreadsheets make one of 3/4 or 1.2)")
    return Cell(str(value))


def _mark_formulas(cells: dict[tuple[int, int], Cell], sheet) -> None:
    """Add the formulas whose result the file does not keep."""
    for place, cell in _cells(sheet, formulas=True).items():
        if place not in cells:
            cells[place] = Cell(cell.text, problem="is a formula whose result is not kept in the file "
                                                   "(open it in a spreadsheet program and save it)")


def _table(cells: dict[tuple[int, int], Cell], file: str, title: str, titles: list[str]) -> Table:
    if not cells:
        more = [item for item in titles if item != title]
        others = f", not {', '.join(clip_text(item) for item in more[:10])}" if more else ""
        raise GridError(f"received {file} whose sheet {clip_text(title)} is empty{others}",
                        "expected a table of readings", "choose the sheet with the readings" if more else "fill it in")
    rows = [row for row, _ in cells]
    width = max(column for _, column in cells)
    lines = list(range(min(rows), max(rows) + 1))
    blank = Cell("")
    return Table([[cells.get((row, column), blank) for column in range(1, width + 1)] for row in lines], lines,
                 sheet=True)
