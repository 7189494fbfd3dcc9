"""A pasted block or the bytes of a text file -> rows of cells."""

from __future__ import annotations

import csv
import io
import re
from typing import Literal

from ...units.quantity import clip_text
from .cells import LENGTHS, MARKS, READS, clean_text, meaning
from .doubts import Doubt
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
    try:
        if wide:
            return _checked(data.decode(wide), name), ["The letters are coded as UTF-16."], []
        return _checked(data.decode("utf-8-sig"), name), [], []
    except UnicodeDecodeError:
        if wide:
            raise _not_text(name) from None
    said = "The letters are not coded as UTF-8; they were read as Western European."
    return _checked(data.decode("cp1252", errors="replace"), name), [], [said]


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
    for mark in "\t;|":
        having = sum(mark in line for line in lines)
        if having * 2 > len(lines) or having and not any(map(_numeric_line, _lines_without(lines, mark))):
            return mark, None
    if any("," in line for line in lines):
        if decimal == ".":
            return ",", None
        return _comma_or_space([line for line in lines if re.search(r"\d", line)] or lines, lines)
    data = [line for line in lines if re.search(r"\d", line)]
    if 2 * sum(len(_TOKEN.findall(line)) > 1 for line in data) > len(data):
        return _spaces(lines), None
    return "\n", None


def _lines_without(lines: list[str], mark: str) -> list[str]:
    return [line for line in lines if mark not in line]


def _numeric_line(line: str) -> bool:
    return bool(re.match(r"\s*[\d.,]*\d", line))


def _reading(text: str) -> bool:
    return meaning(Cell(text), ",").kind in ("number", "measure", "mark")


def _comma_or_space(data: list[str], lines: list[str]) -> tuple[str, str | None]:
    spaced = [re.split(r",\s+", line.strip()) for line in data]
    inner = any(re.search(r"\d,\d", line) for line in data)
    if inner and all(map(_reading, (cell for row in spaced for cell in row))) and len(set(map(len, spaced))) == 1 \
            and len(spaced[0]) > 1:
        return ", ", "Commas stand between the cells and inside the numbers: a comma and a space was taken as the " \
                     "separator, a comma alone as a decimal comma."
    tokens = [_TOKEN.findall(line) for line in data]
    if inner and max(map(len, tokens)) > 1 and all(_reading(cell) for row in tokens for cell in row[1:]):
        certain = _spaces_separate(data)
        if certain is not None:
            return _spaces(lines), None if certain else (
                "Spaces were taken to stand between the cells and commas to be decimal commas: check that no space "
                "stands inside a number.")
    if sum("," in line for line in data) * 2 < len(data) and max(map(len, tokens)) > 1:
        return _spaces(lines), None
    return ",", None


def _spaces_separate(data: list[str]) -> bool | None:
    """Whether spaces surely separate cells: 12,5 13,1 has 5 13 between commas, 0,1 100 may have 1 100; None: no."""
    between = [cell.strip() for line in data if "," in line for cell in line.split(",")]
    between = [cell for cell in between
               if re.search(r"\d\s", cell) or " " in cell and all(map(_reading, cell.split()))]
    if not all(map(_reading, between)):
        return True
    return False if any(re.search(r"\d\s+\d{3}", cell) for cell in between) else None


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
    cut = {"\n": lambda line: [line], " ": _tokens,
           "  ": lambda line: re.split(r"[ \t\u00a0]{2,}", line.strip(" \t")),
           ", ": lambda line: re.split(r",\s+", line.strip())}[separator]
    rows = [cut(line) for line in text.split("\n")]
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
    data = [row for row in rows if any(clean_text(cell) for cell in row)]
    numeric = [row for row in data if all(cell.isdecimal() or _mark(cell) for cell in row[1:])
               and re.match(r"\d|$", row[0])]
    if decimal == "." or len(numeric) < len(data) - 1 or not numeric or max(map(len, numeric)) < 2:
        return rows
    heading = data[0] if data[0] not in numeric else None
    width, doubt = _cells_a_row(numeric, heading, decimal)
    if doubt:
        table.doubts.append(doubt)
    if width is None:
        if decimal is None and not doubt and not heading and max(map(len, numeric)) == 2:
            table.remarks.append("Each line holds one comma, which was taken to stand between two cans; if it is a "
                                 "decimal comma, say so.")
        return rows
    put = {id(row): _unique(row, width) for row in numeric}
    if any(found is None for found in put.values()):
        if decimal:
            raise GridError("received decimal commas that can be put together in several ways",
                            "expected semicolons between the cells, or points in the numbers", "write one of the two")
        table.doubts.append(_decimal_doubt("The lines hold different numbers of commas: each was taken to stand "
                                           "between two cells.", "."))
        return rows
    one = put[id(numeric[0])] or []
    shown = "; ".join(cell.replace(",", ".") for cell in one[:8])
    table.remarks.append("Commas were taken as decimal commas where the columns ask for it: "
                         f"{clip_text(','.join(numeric[0]))} was read as {shown}{'; …' if width > 8 else ''}.")
    return [put.get(id(row)) or row for row in rows]


def _decimal_doubt(says: str, taken: str) -> Doubt:
    return Doubt(says, "decimal", (".", ","), taken)


def _cells_a_row(numeric: list[list[str]], heading: list[str] | None,
                 decimal: str | None) -> tuple[int | None, Doubt | None]:
    """How many cells a row has when decimal commas are put together, None where none are; and what is doubtful."""
    counts = {len(row) for row in numeric}
    if heading:
        return None if counts == {len(heading)} else len(heading), None
    if len(counts) > 1:
        return min(counts), None
    (count,) = counts
    pairs = [pair for row in numeric for pair in zip(row[::2], row[1::2], strict=False)]
    if decimal and count % 2:
        return (count + 1) // 2, None
    if count % 2 or not all(a.isdecimal() and b.isdecimal() for a, b in pairs):
        return None, None
    taken = _like_decimals(pairs)
    if decimal or not taken:
        return count // 2 if decimal else None, None
    shown = clip_text(",".join(numeric[0]))
    said = "decimal commas and separators" if taken == "," else "separators alone"
    return count // 2 if taken == "," else None, _decimal_doubt(
        f"The commas of {shown} may be decimal commas as well as separators: they were taken as {said}.", taken)


def _like_decimals(pairs: list[tuple[str, str]]) -> str:
    """Whether every second cell may be the decimals of the one before: "," likely, "." possible, empty no."""
    firsts, seconds = [a for a, _ in pairs], [b for _, b in pairs]
    sizes = {len(b) for b in seconds}
    if sizes == {1}:
        return "," if len(pairs) > 2 and all(len(a) > 1 for a in firsts) else "."
    if sizes == {2} and any(b[0] == "0" for b in seconds):
        return ","
    spread = [max(map(int, part)) - min(map(int, part)) for part in (firsts, seconds)]
    close = sizes == {2} and len(pairs) > 3 and spread[0] <= 5 and spread[1] >= 30
    return "." if close or sizes == {3} and all(len(a) < 3 for a in firsts) else ""


def _mark(cell: str) -> bool:
    return not clean_text(cell) or clean_text(cell).casefold() in MARKS


def _unique(row: list[str], width: int) -> list[str] | None:
    """Join neighbours with decimal commas so that `width` cells remain; None unless one way does it."""
    # after[w] = (number of ways up to 2, one of them) for the cells from here on to make w cells
    after, later = {0: (1, [])}, {}
    for at in range(len(row) - 1, -1, -1):
        here: dict[int, tuple[int, list[str]]] = {}
        choices = [(row[at], after)]
        if at + 1 < len(row) and row[at].isdigit() and row[at + 1].isdigit():
            choices.append((f"{row[at]},{row[at + 1]}", later))
        for cell, rest in choices:
            for cells, (ways, one) in rest.items():
                if cells < width:
                    here[cells + 1] = (min(2, ways + here.get(cells + 1, (0,))[0]), [cell, *one])
        after, later = here, after
    ways, one = after.get(width, (0, []))
    return one if ways == 1 else None


def _without_rules(rows: list[list[str]], lines: list[int]) -> tuple[list[list[str]], list[int]]:
    """Take off the outer bars and the dashes under a heading."""
    outer = all(row[0].strip() == "" for row in rows if len(row) > 1) \
        and all(row[-1].strip() == "" for row in rows if len(row) > 1)
    kept = [(row[1:-1] if outer and len(row) > 2 else row, line) for row, line in zip(rows, lines, strict=True)
            if not (len(row) > 1 and re.fullmatch(r"[\s:|+]*-{3,}[-\s:|+]*", "|".join(row)))]
    return [row for row, _ in kept], [line for _, line in kept]


def _without_blanks(rows: list[list[str]], lines: list[int], table: Table) -> tuple[list[list[str]], list[int]]:
    filled = [any(clean_text(cell) for cell in row) for row in rows]
    if not any(filled):
        raise GridError("received blank cells only", "expected a table of readings", "send the cells of the readings")
    first, last = filled.index(True), len(rows) - filled[::-1].index(True)
    rows, lines, filled = rows[first:last], lines[first:last], filled[first:last]
    single = max(map(len, rows)) == 1
    doubled = single and len(rows) > 2 and all(full != bool(at % 2) for at, full in enumerate(filled))
    gaps = [at for at, row in enumerate(rows) if not filled[at] and len(row) <= 1]
    if not gaps:
        return rows, lines
    if single and not doubled:
        table.remarks.append(f"{count_of(len(gaps), 'blank line')} inside the column: taken as no reading.")
        return [row or [""] for row in rows], lines
    table.notes.append(f"{count_of(len(gaps), 'blank line')} between the rows: left out.")
    kept = [at for at in range(len(rows)) if at not in set(gaps)]
    return [rows[at] for at in kept], [lines[at] for at in kept]
