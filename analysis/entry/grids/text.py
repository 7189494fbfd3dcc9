"""A pasted block or the bytes of a text file -> rows of cells."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from itertools import chain
from typing import Literal

from ...units.quantity import clip_text
from .cells import LENGTHS, MARKS, READS, clean_text, meaning
from .doubts import TableDoubt
from .table import MOST_CANS, MOST_TEXT, Cell, GridError, Table, check_size, count_of

_NAMES = {"\t": "Tabs", ";": "Semicolons", "|": "Upright bars", ",": "Commas", ", ": "A comma and a space",
          " ": "Spaces", "  ": "Several spaces"}
_UNIT = "|".join(re.escape(unit) for unit in sorted({*READS, *LENGTHS, "metres", "feet"}, key=len, reverse=True))
_TOKEN = re.compile(
    r"\d+\s{,20}ft\s{1,20}\d[\d.,/]*\s{,20}in\b"
    rf"|[+-]?[\d.,]*\d[.,]?(?:\s{{1,20}}\d+/\d+|/\d+)?\s{{1,20}}(?:{_UNIT})(?![^\s])"
    r"|\d+\s{1,20}\d+/\d+(?!\S)"
    r"|(?:row|can|column|col|line|bed|tray)\s{1,20}\d+(?!\S)|\S+", re.I)
_BINARY = re.compile("[\x00-\x08\x0e-\x1a\x1c-\x1f]")


def text_of(data: bytes, name: str) -> tuple[str, list[str], list[str]]:
    """Turn the bytes of a text file into text."""
    if len(data) > MOST_TEXT:
        raise GridError(f"received {clip_text(name)} of {len(data) / 1e6:.1f} MB", "expected at most 2 MB of text",
                        "send only the table of readings")
    zeros = [data[start:2000:2].count(0) for start in (0, 1)]
    wide = None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        wide = "utf-16"
    elif len(data) >= 4 and len(data) % 2 == 0 and max(zeros) > 0.6 * (min(len(data), 2000) // 2) and min(zeros) == 0:
        wide = "utf-16-le" if zeros[1] else "utf-16-be"
    notes, remarks = ["The letters are coded as UTF-16."] if wide else [], []
    try:
        text = data.decode(wide or "utf-8-sig")
    except UnicodeDecodeError:
        if wide:
            raise _not_text(name) from None
        text = data.decode("cp1252", errors="replace")
        remarks = ["The letters are not coded as UTF-8; they were read as Western European."]
    return _checked(text, name), notes, remarks


def _checked(text: str, name: str) -> str:
    if _BINARY.search(text):
        raise _not_text(name)
    return text


def _not_text(name: str) -> GridError:
    return GridError(f"received {clip_text(name)}, which is not text", "expected a CSV or XLSX file or a pasted table",
                     "save the table as CSV or XLSX")


def table_of(text: str, decimal: str | None = None) -> Table:
    """Cut text into rows of cells; wholly blank lines are left out, except in a single column."""
    if len(text) > MOST_TEXT:
        raise GridError(f"received {len(text):,} letters", "expected at most 2,000,000 (2 MB)",
                        "paste only the table of readings")
    text, first = _without_edges(_checked_text(text))
    check_size(text.count("\n") + 1 if text.count("\n") > 100_000 else 1, 1, len(re.findall(r"[^\s,;|]+", text)))
    check_size(sum(bool(clean_text(line)) for line in text.split("\n")), 1, 0)
    table = Table([], [])
    told = re.match(r"sep=(.)\n", text)
    if told:
        text, first = text[told.end():], first + 1
    separator, said = (told[1], None) if told else _separator(text, decimal)
    if said:
        table.remarks.append(said)
    rows, lines = _split(text, separator, first, table.remarks)
    if separator == "," and sum(map(len, rows)) <= 2 * MOST_CANS:
        rows = _joined(rows, decimal, table)
    rows, lines = _without_rules(rows, lines) if separator == "|" else (rows, lines)
    rows, table.lines = _without_blanks(rows, lines, table)
    if max(map(len, rows)) > 1:
        table.notes.insert(0, f"{_NAMES.get(separator, clip_text(separator))} between the cells.")
    check_size(len(rows), max(map(len, rows)), 0)
    table.rows = [[Cell(text) for text in row] for row in rows]
    return table


def _checked_text(text: str) -> str:
    """Refuse what is no table of text; make all line ends alike."""
    _checked(text, "the pasted block")
    text = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if not clean_text(text):
        raise GridError("received an empty text", "expected a table of readings",
                        "copy the cells of the readings and paste them again")
    if re.match(r"\s*<(!doctype|html|table|\?xml)\b", text, re.I):
        raise GridError("received a web page or XML", "expected a CSV or XLSX file or a pasted table",
                        "save the table as CSV or XLSX")
    return text


def _without_edges(text: str) -> tuple[str, int]:
    """Take off the blank lines above and below; return the number of the first line that is left."""
    lines = text.split("\n")
    while not lines[-1].strip(' \t,;|"\u00a0') and len(lines) > 1:
        lines.pop()
    first = next((at for at, line in enumerate(lines) if line.strip(' \t,;|"\u00a0')), 0)
    return "\n".join(lines[first:]), first + 1


def _separator(text: str, decimal: str | None) -> tuple[str, str | None]:
    """Choose the separator, and say what is doubtful about it."""
    lines = [re.sub(r'(^|(?<=[\t;|,]))\s*"[^"\n]*"', '""', line) for line in text.split("\n") if clean_text(line)]
    mark = next((mark for mark in "\t;|" if _parts(lines, mark)), None)
    if mark:
        return mark, None
    data = [line for line in lines if re.search(r"\d", line)]
    if any("," in line for line in lines):
        return (",", None) if decimal == "." else _comma_or_space(data or lines, lines)
    several = sum(len(_TOKEN.findall(line)) > 1 for line in data)
    return _spaces(lines) if 2 * several > len(data) else "\n", None


def _parts(lines: list[str], mark: str) -> bool:
    """Whether a mark stands in most lines, or in all that begin with a number."""
    without = [line for line in lines if mark not in line]
    titles = len(without) < len(lines) and not any(re.match(r"\s*[\d.,]*\d", line) for line in without)
    return titles or 2 * len(without) < len(lines)


def _reading(text: str) -> bool:
    return meaning(Cell(text), ",").kind in ("number", "measure", "mark")


def _comma_or_space(data: list[str], lines: list[str]) -> tuple[str, str | None]:
    spaced = [re.split(r",\s+", line.strip()) for line in data]
    tokens = [_TOKEN.findall(line) for line in data]
    if any(re.search(r"\d,\d", line) for line in data):
        if len(spaced[0]) > 1 and len(set(map(len, spaced))) == 1 and all(map(_reading, chain(*spaced))):
            return ", ", ("Commas stand between the cells and inside the numbers: a comma and a space was taken as the "
                          "separator, a comma alone as a decimal comma.")
        separate = _spaces_separate(data, tokens)
        if separate:
            return _spaces(lines), None if separate == "surely" else (
                "Spaces were taken to stand between the cells and commas to be decimal commas: check that no space "
                "stands inside a number.")
    few = 2 * sum("," in line for line in data) < len(data)
    return (_spaces(lines) if few and max(map(len, tokens)) > 1 else ","), None


def _spaces_separate(data: list[str], tokens: list[list[str]]) -> str:
    """Whether spaces separate cells: 12,5 13,1 has 5 13 between commas, surely; 0,1 100 may have 1 100, perhaps."""
    if max(map(len, tokens)) < 2 or not all(_reading(cell) for row in tokens for cell in row[1:]):
        return ""
    between = [cell.strip() for line in data if "," in line for cell in line.split(",")]
    between = [cell for cell in between
               if re.search(r"\d\s", cell) or " " in cell and all(map(_reading, cell.split()))]
    if not all(map(_reading, between)):
        return "surely"
    return "perhaps" if any(re.search(r"\d\s+\d{3}", cell) for cell in between) else ""


def _spaces(lines: list[str]) -> str:
    """One space or several? Whichever gives every line as many cells."""
    wide = [re.split(r"\s{2,}", line.strip()) for line in lines]
    close = [_TOKEN.findall(line) for line in lines]
    if len(set(map(len, close))) > 1 and len(set(map(len, wide))) == 1 and len(wide[0]) > 1:
        return "  "
    return " "


def _split(text: str, separator: str, first: int, remarks: list[str]) -> tuple[list[list[str]], list[int]]:
    if separator not in (" ", "  ", ", ", "\n"):
        return _quoted(text, separator, first, remarks)
    if separator != ", " and re.search(r"\d\u00a0\d", text) and not re.search(r"\S \S", text):
        text = text.replace("\u00a0", " ")
    ways: dict[str, Callable[[str], list[str]]] = {
        "\n": lambda line: [line], " ": _tokens, "  ": lambda line: re.split(r"[ \t\u00a0]{2,}", line.strip(" \t")),
        ", ": lambda line: re.split(r",\s+", line.strip())}
    rows = list(map(ways[separator], text.split("\n")))
    if separator == " " and len(rows) > 1 and len(rows[0]) == len(rows[1]) - 1 and text[:1].isspace():
        rows[0].insert(0, "")  # a heading over columns, nothing over the row's own heading
    return rows, list(range(first, first + len(rows)))


def _quoted(text: str, separator: str, first: int, remarks: list[str]) -> tuple[list[list[str]], list[int]]:
    """Cut at a mark that may stand inside quotation marks."""
    quoting: Literal[0, 3] = csv.QUOTE_MINIMAL
    if text.count('"') % 2 or separator == "\t" and not re.search(r'(^|[\t\n])"', text):
        quoting = csv.QUOTE_NONE
        if text.count('"') % 2 and re.search(rf'(^|[{re.escape(separator)}\n])"', text):
            remarks.append("A quotation mark is opened and not closed: quotation marks were left as they are.")
    rows, lines, at = [], [], first
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, quoting=quoting,
                        skipinitialspace=separator != "\t")
    try:
        for row in reader:
            rows.append(row)
            lines.append(at)
            at = first + reader.line_num
    except csv.Error:
        raise GridError("received a cell of more than 100,000 letters", "expected a table of readings",
                        "paste only the cells of the readings") from None
    return rows, lines


def _tokens(line: str) -> list[str]:
    line = re.sub("[\u00a0\u2009\u202f\u2007](?=\\d{3}(?!\\d))", "\u202f", line)
    kept = re.sub(r"(?<=\d)\u202f(?=\d{3})", "\ue000", line)
    return [cell.replace("\ue000", "\u202f") for cell in _TOKEN.findall(kept)]


def _joined(rows: list[list[str]], decimal: str | None, table: Table) -> list[list[str]]:
    """Where commas are both separators and decimals, put the numbers together again."""
    data = [row for row in rows if any(map(clean_text, row))]
    numeric = list(filter(_digits, data))
    if decimal == "." or len(numeric) < len(data) - 1 or max(map(len, numeric), default=0) < 2:
        return rows
    counts = set(map(len, numeric))
    if not _digits(data[0]):
        width = len(data[0])  # of the heading
    else:
        width = _cells_a_row(numeric, decimal, table) if len(counts) == 1 else min(counts)
    if counts == {width}:
        return rows
    if counts <= {width, 2 * width}:
        return _put_together(rows, width, table)
    if decimal:
        raise GridError("received decimal commas that can be put together in several ways",
                        "expected semicolons between the cells, or points in the numbers", "write one of the two")
    table.doubts.append(TableDoubt("The lines hold different numbers of commas: each was taken to stand between two "
                                   "cells.", "decimal", (".", ","), "."))
    return rows


def _put_together(rows: list[list[str]], width: int, table: Table) -> list[list[str]]:
    put = [[f"{a},{b}" for a, b in zip(row[::2], row[1::2], strict=True)] if _digits(row) and len(row) > width else row
           for row in rows]
    was, now = next((row, new) for row, new in zip(rows, put, strict=True) if row is not new)
    table.remarks.append("Commas were taken as decimal commas where the columns ask for it: "
                         f"{clip_text(','.join(was))} was read as {'; '.join(now[:8]).replace(',', '.')}"
                         f"{'; …' if width > 8 else ''}.")
    return put


def _digits(row: list[str]) -> bool:
    """Whether a row may be readings cut at each comma."""
    return bool(row) and bool(re.match(r"\d|$", row[0])) and all(
        cell.isdecimal() or clean_text(cell).casefold() in {"", *MARKS} for cell in row[1:])


def _cells_a_row(numeric: list[list[str]], decimal: str | None, table: Table) -> int:
    """How many cells a row of rows alike has, if its commas may be decimal commas too."""
    count = len(numeric[0])
    pairs = [pair for row in numeric for pair in zip(row[::2], row[1::2], strict=False)]
    if count % 2 or not all(a.isdecimal() and b.isdecimal() for a, b in pairs):
        return count // 2 if decimal else count
    taken = decimal or _like_decimals(pairs)
    if taken and not decimal:
        said = "decimal commas and separators" if taken == "," else "separators alone"
        table.doubts.append(TableDoubt(f"The commas of {clip_text(','.join(numeric[0]))} may be decimal commas as well "
                                       f"as separators: they were taken as {said}.", "decimal", (".", ","), taken))
    elif count == 2 and not taken:
        table.remarks.append("Each line holds one comma, which was taken to stand between two cans; if it is a "
                             "decimal comma, say so.")
    return count // 2 if taken == "," else count


def _like_decimals(pairs: list[tuple[str, str]]) -> str:
    """Whether every second cell may be the decimals of the one before: "," likely, "." possible, empty no."""
    firsts, seconds = zip(*pairs, strict=True)
    sizes, longest, least = set(map(len, seconds)), max(map(len, firsts)), min(map(len, firsts))
    if sizes == {1}:
        return "," if len(pairs) > 2 and least > 1 else "."
    if sizes == {2} and any(second[0] == "0" for second in seconds):
        return ","
    spread = [max(map(int, part)) - min(map(int, part)) for part in (firsts, seconds)]
    close = sizes == {2} and len(pairs) > 3 and spread[0] <= 5 and spread[1] >= 30
    return "." if close or sizes == {3} and longest < 3 else ""


def _without_rules(rows: list[list[str]], lines: list[int]) -> tuple[list[list[str]], list[int]]:
    """Take off the outer bars and the dashes under a heading."""
    outer = all(not row[0].strip() and not row[-1].strip() for row in rows if len(row) > 1)
    kept = [(row[1:-1] if outer and len(row) > 2 else row, line) for row, line in zip(rows, lines, strict=True)
            if len(row) == 1 or not re.fullmatch(r"[\s:|+]*-{3,}[-\s:|+]*", "|".join(row))]
    return [row for row, _ in kept], [line for _, line in kept]


def _without_blanks(rows: list[list[str]], lines: list[int], table: Table) -> tuple[list[list[str]], list[int]]:
    """Leave out blank lines between the rows; in a single column they are cans without reading."""
    filled = [at for at, row in enumerate(rows) if any(map(clean_text, row))]
    if not filled:
        raise GridError("received blank cells only", "expected a table of readings", "send the cells of the readings")
    within = range(filled[0], filled[-1] + 1)
    gaps = [at for at in sorted({*within} - {*filled}) if len(rows[at]) <= 1]
    doubled = len(within) > 2 and filled == list(within[::2])
    if gaps and not doubled and max(map(len, rows)) == 1:
        table.remarks.append(f"{count_of(len(gaps), 'blank line')} inside the column: taken as no reading.")
        return [rows[at] or [""] for at in within], [lines[at] for at in within]
    if gaps:
        table.notes.append(f"{count_of(len(gaps), 'blank line')} between the rows: left out.")
    kept = sorted({*within} - {*gaps})
    return [rows[at] for at in kept], [lines[at] for at in kept]
