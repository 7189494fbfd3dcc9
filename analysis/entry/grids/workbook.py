"""The parts of a workbook (XLSX), weighed before any of them is parsed.

A few kilobytes can declare hundreds of thousands of styles, which a parser makes one by one. Only what names the
sheets, formats and words goes to the library; of the sheet that is read, only its cells do.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterator
from io import BytesIO
from xml.etree.ElementTree import ParseError

from ...units.quantity import clip_text
from .table import GridError

MOST_WORKBOOK = 5_000_000  # [bytes]
MOST_UNPACKED = 30_000_000  # [bytes]
MOST_PARTS = 2000
# root of a part -> what it holds, and how many tags of it may be parsed
_PARSED = {"Types": ("list of parts", 20_000), "Relationships": ("list of links", 20_000),
           "workbook": ("list of sheets and names", 20_000), "styleSheet": ("styles", 40_000),
           "sst": ("list of texts", 200_000), "sheetData": ("sheet", 300_000)}
_EMPTY = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData/></worksheet>'
_ROOT = re.compile(rb"(?:\xef\xbb\xbf)?(?:\s|<\?[^>]*\?>|<!--.*?-->)*<(?:\w+:)?(\w+)", re.S)
_OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_EXPECTED = "expected a CSV or XLSX file"
BROKEN = (zipfile.BadZipFile, zlib.error, ParseError, KeyError, ValueError, TypeError, AttributeError, IndexError,
          OSError, EOFError, OverflowError, NotImplementedError, RuntimeError, StopIteration, LookupError)


def is_workbook(data: bytes, name: str) -> bool:
    """Tell whether bytes are a workbook, or claim to be."""
    return data.startswith((b"PK\x03\x04", b"PK\x05\x06", _OLD)) or name.casefold().endswith((".xlsx", ".xlsm"))


def unreadable(file: str, names: list[str]) -> GridError:
    """What is said of a workbook that is none; `names` are those of its parts."""
    for part, kind in (("content.xml", "an OpenDocument file"), ("xl/workbook.bin", "a binary workbook")):
        if part in names:
            return GridError(f"received {file}, which is {kind}", _EXPECTED, "save it as XLSX or CSV")
    return GridError(f"received {file}, which cannot be read as a workbook", _EXPECTED,
                     "open it in a spreadsheet program and save it again")


def _protected(file: str) -> GridError:
    return GridError(f"received {file}, which is protected by a password", "expected a workbook that opens without one",
                     "save a copy without the password, or save it as CSV")


def lightened(data: bytes, name: str) -> bytes:
    """The workbook with nothing in its sheets and only what reading cells needs beside them."""
    file = clip_text(name)
    if data.startswith(_OLD):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise _protected(file)
        raise GridError(f"received {file}, which is an old workbook (XLS)", _EXPECTED, "save it as XLSX or CSV")
    if len(data) > MOST_WORKBOOK:
        raise GridError(f"received {file} of {len(data) / 1e6:.1f} MB", "expected a workbook of at most 5 MB",
                        "send only the sheet of readings")
    out = BytesIO()
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive, zipfile.ZipFile(out, "w") as light:
            _check_parts(archive, file)
            for part, content in _needed(archive, file):
                light.writestr(part, content)
    except GridError:
        raise
    except BROKEN as error:
        raise unreadable(file, []) from error
    return out.getvalue()


def _check_parts(archive: zipfile.ZipFile, file: str) -> None:
    members = archive.infolist()
    names = [member.filename for member in members]
    size = sum(member.file_size for member in members)
    if any(member.flag_bits & 1 for member in members):
        raise _protected(file)
    if size > MOST_UNPACKED or len(members) > MOST_PARTS:
        raise GridError(f"received {file}, which would unpack to {size / 1e6:.0f} MB in {len(members)} parts",
                        "expected at most 30 MB in 2000 parts", "send only the sheet of readings")
    if not any(name.endswith("workbook.xml") for name in names):
        raise unreadable(file, names)


def _needed(archive: zipfile.ZipFile, file: str) -> Iterator[tuple[str, bytes]]:
    """The parts to parse, each kind within its limit."""
    tags = dict.fromkeys(_PARSED, 0)
    for member in archive.infolist():
        with archive.open(member) as part:
            start = _plain(part.read(4096))
            match = _ROOT.match(start)
            root = match[1].decode() if match else ""
            if root == "worksheet":
                yield member.filename, _EMPTY
            elif root in _PARSED or b"<!DOCTYPE" in start:
                part.seek(0)
                content = _plain(part.read())
                tags[root] = tags.get(root, 0) + content.count(b"<")
                _check_tags(root, tags[root], file)
                if b"<!DOCTYPE" in content:
                    raise unreadable(file, archive.namelist())
                yield member.filename, content


def _plain(content: bytes) -> bytes:
    """A part in UTF-8, whatever it is coded in."""
    if not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content
    return re.sub(r"^\s*<\?[^>]*\?>", "", content.decode("utf-16", "replace")).encode()


def _check_tags(root: str, tags: int, file: str) -> None:
    what, most = _PARSED.get(root, ("", tags))
    if tags > most:
        raise GridError(f"received {file}, whose {what} has {tags:,} parts", f"expected at most {most:,}",
                        "copy the readings alone into a new workbook")


def sheet_cells(data: bytes, path: str, name: str) -> tuple[bytes, bytes]:
    """The raw text of a sheet, and a sheet with nothing but its cells."""
    with zipfile.ZipFile(BytesIO(data)) as archive:
        raw = _plain(archive.read(path.lstrip("/")))
    head = re.search(rb"<(\w+:)?worksheet\b[^<>]*>", raw)
    begin = re.search(rb"<(?:\w+:)?sheetData\b[^<>]*>", raw)
    if head is None or begin is None or b"<!DOCTYPE" in raw:
        raise unreadable(clip_text(name), [])
    cells = begin[0]
    if not begin[0].endswith(b"/>"):
        end = re.compile(rb"</(?:\w+:)?sheetData\s*>").search(raw, begin.end())
        if end is None:
            raise unreadable(clip_text(name), [])
        cells = raw[begin.start():end.end()]
    _check_tags("sheetData", cells.count(b"<"), clip_text(name))
    return raw, head[0] + cells + b"</" + (head[1] or b"") + b"worksheet>"
