"""Which cells of a table are titles, names and distances, and which are readings."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from ...units.quantity import clip_text
from .cells import (
    CATCH_WORDS,
    LENGTHS,
    PLACE_WORDS,
    READS,
    Meaning,
    distance_text,
    heading_units,
    heading_words,
    unit_of,
)
from .table import GridError, count_of

_SUMMARY = frozenset("mean average avg sum total min max minimum maximum median cu du dulq cv sd stdev count".split())
_COUNTING = frozenset("row rows can cans no nr number id station point column line bed".split())
_AXIS = frozenset({"x", "y", "across", "along"}) | PLACE_WORDS


@dataclass
class Block:
    """A table on its way to being readings.

    Attributes
    ----------
    rows : list of list of Meaning
        What is left of the table.
    lines, columns : list of int
        Numbers of its rows and columns in the source, from 1.
    across, along : tuple of str or None
        Distances with their units.
    units : list of str
        Units of the readings that headings and titles name.
    length_unit : str or None
        Unit of the distances that headings and titles name.
    notes, doubts : list of str
        What was understood, and what to look at.
    names, head, sides : list of Meaning or None
        Words over the columns, the heading row and the heading column.
    """

    rows: list[list[Meaning]]
    lines: list[int]
    columns: list[int] = field(default_factory=list)
    across: tuple[str, ...] | None = None
    along: tuple[str, ...] | None = None
    units: list[str] = field(default_factory=list)
    length_unit: str | None = None
    notes: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    names: list[Meaning] | None = None
    head: list[Meaning] | None = None
    sides: list[Meaning] | None = None


def trim(block: Block) -> None:
    """Cut off the blank rows and columns around a table."""
    filled = [[at for at, cell in enumerate(row) if cell.kind != "blank"] for row in block.rows]
    kept = [at for at, cells in enumerate(filled) if cells]
    if not kept:
        raise GridError("received blank cells only", "expected a table of readings", "send the cells of the readings")
    left, right = min(cells[0] for cells in filled if cells), max(cells[-1] for cells in filled if cells) + 1
    block.rows = [row[left:right] for row in block.rows[kept[0]: kept[-1] + 1]]
    block.lines = block.lines[kept[0]: kept[-1] + 1]
    columns = block.columns or list(range(1, right + 1))
    block.columns = columns[left:right]


def take_heads(block: Block) -> None:
    """Take titles, names, distances and worked-out figures off a table."""
    names = _take_titles(block)
    _take_footers(block)
    for corner in _cut(block, names):
        _take_corner(block, corner)
    _take_summaries(block)
    if names:
        _say_names(block, names)
    measured = next((cell.unit for cell in [*(block.head or []), *(block.sides or [])] if cell.unit), None)
    if block.head:
        block.across = _distances(block, block.head, "across", measured)
    if block.sides:
        block.along = _distances(block, block.sides, "along", measured)


def _take_titles(block: Block) -> list[Meaning] | None:
    """Take off what stands above the table; return the row of words just above it."""
    counts = [sum(cell.kind in ("number", "measure", "bad") for cell in row) for row in block.rows]
    if not any(cell.kind in ("number", "measure") for row in block.rows for cell in row):
        if any(cell.kind == "bad" for row in block.rows for cell in row):
            why = next(cell for row in block.rows for cell in row if cell.kind == "bad")
            raise GridError(f"received no number that can be read: {clip_text(why.raw)} {why.why}",
                            "expected readings such as 31 or 12.5", "correct the cells")
        raise GridError("received a table without any number", "expected readings such as 31 or 12.5",
                        "copy the cells of the readings")
    first = next(at for at, row in enumerate(block.rows) if counts[at] and 2 * counts[at] >= max(counts) or not any(
        cell.kind in ("word", "bad") for cell in row) and any(cell.kind != "blank" for cell in row))
    above, block.rows = block.rows[:first], block.rows[first:]
    lines, block.lines = block.lines[:first], block.lines[first:]
    names = None
    if above and 2 * _filled(above[-1]) >= max(counts):
        names = above.pop()
    skipped = [(line, [cell for cell in row if cell.kind != "blank"]) for line, row in
               zip(lines[: len(above)], above, strict=True) if _filled(row)]
    for line, cells in skipped:
        for cell in cells:
            _note_units(block, cell.raw, alone=len(cells) == 1)
        shown = _shown(cells)
        if any(cell.kind != "word" for cell in cells):
            block.doubts.append(f"Line {line} above the table, {shown}, was left out.")
        else:
            block.notes.append(f"Line {line}, {shown}, was taken as a title.")
    return names


def _shown(cells: list[Meaning]) -> str:
    return clip_text(" ".join(cell.raw for cell in cells if cell.kind != "blank"), 200)


def _filled(row: list[Meaning]) -> int:
    return sum(cell.kind != "blank" for cell in row)


def _take_footers(block: Block) -> None:
    """Leave out words between and under the rows of readings."""
    words = sum(bool(row) and row[0].kind == "word" for row in block.rows)
    numbers = [sum(cell.kind in ("number", "measure") for cell in row) for row in block.rows]
    labelled = 2 * words >= len(block.rows)
    kept = []
    for at, row in enumerate(block.rows):
        filled = [cell for cell in row if cell.kind != "blank"]
        told = bool(filled) and filled[0].kind == "word"
        alone = told and all(cell.kind == "word" for cell in filled) and (len(filled) == 1 or at + 1 == len(
            block.rows)) and len(block.columns) > 1
        thin = told and not labelled and 2 * numbers[at] < max(numbers) and at > 0
        label = labelled and len(row) > 1 and row[0].kind == "word" and len(row[0].text.split()) < 3
        if at and (alone and not label or thin):
            block.doubts.append(f"Line {block.lines[at]}, {_shown(filled)}, "
                                "was left out: it does not look like a row of readings.")
        else:
            kept.append(at)
    while kept and not _filled(block.rows[kept[-1]]):
        kept.pop()
    block.rows, block.lines = [block.rows[at] for at in kept], [block.lines[at] for at in kept]


def _note_units(block: Block, text: str, *, alone: bool = False) -> None:
    words = heading_words(text)
    for unit in heading_units(text):
        place = bool(words & _AXIS) or "\\" in text
        if unit in ("m", "ft") or unit not in READS or place and unit in LENGTHS and not words & CATCH_WORDS:
            block.length_unit = block.length_unit or unit
        elif alone or unit_of(text) is None or len(unit) > 1:
            block.units.append(unit)


def _cut(block: Block, names: list[Meaning] | None) -> list[Meaning]:
    """Separate the heading row and the heading column from the readings; return the corners."""
    rows = block.rows
    width = max(map(len, rows))
    if names is not None and len(names) == width - 1:
        names = [Meaning("blank"), *names]
    has_row = len(rows) > 1 and _row_is_head(rows, names, width)
    whole = has_row and rows[0][0].kind in ("number", "measure")  # a heading over the first column too
    has_column = width > 1 and not whole and _column_is_head(rows, names, has_row)
    corners = [row[0] for row in (names, rows[0] if has_row else None) if row and has_column]
    block.head = rows[0][has_column:] if has_row else None
    body = rows[has_row:]
    block.sides = [row[0] if row else Meaning("blank") for row in body] if has_column else None
    block.names = names[has_column:] if names else None
    block.rows = [row[has_column:] for row in body]
    block.lines = block.lines[has_row:]
    block.columns = block.columns[has_column:]
    return corners


def _are_distances(cells: list[Meaning], others: list[Meaning]) -> bool:
    """Whether cells are distances by their units."""
    filled = [cell for cell in cells if cell.kind != "blank"]
    units = {cell.unit for cell in filled if cell.kind == "measure"}
    if not units or not units <= set(LENGTHS) or any(cell.kind not in ("number", "measure") for cell in filled):
        return False
    if units & {"m", "ft"}:
        return 2 * len(filled) > len(cells)
    return (len(filled) == len(cells) > 1 and all(cell.unit for cell in filled) and _rising(cells)
            and not any(cell.unit for cell in others))


def _mostly_measured(cells: list[Meaning]) -> bool:
    return 2 * sum(cell.kind == "measure" for cell in cells) > _filled(cells)


def _rising(cells: list[Meaning]) -> bool:
    values = [cell.value for cell in cells]
    return all(a < b for a, b in zip(values, values[1:], strict=False))


def _one_way(cells: list[Meaning]) -> bool:
    return _rising(cells) or _rising(cells[::-1])


def _all(cells: list[Meaning], kind: str) -> bool:
    return bool(cells) and all(cell.kind == kind for cell in cells)


def _counts(cells: list[Meaning] | None) -> bool:
    return bool(cells) and _all(cells, "number") and [cell.value for cell in cells] == list(range(1, len(cells) + 1))


def _row_is_head(rows: list[list[Meaning]], names: list[Meaning] | None, width: int) -> bool:
    first, under = rows[0], [cell for row in rows[1:] for cell in row[1:]]
    if _mostly_measured(first) and _are_distances(first, [cell for row in rows[1:] for cell in row]):
        return True
    corner, tail, side = first[0], first[1:], [row[0] for row in rows[1:] if row]
    if not tail or corner.kind not in ("blank", "mark", "word"):
        return False
    if _are_distances(tail, under):
        return True
    if names or not _all(tail, "number"):
        return False
    by_unit = _are_distances(side, under)
    numbers = _all(side, "number")
    if corner.kind == "word":
        words = heading_words(corner.text)
        if words & _AXIS or re.search(r"[\\/|]", corner.text) or {"m", "ft"} & set(heading_units(corner.text)):
            return _one_way(tail)
        if words & _COUNTING and not re.search(r"\d", corner.text):
            return _one_way(tail) and len(tail) > 1 and (by_unit or _all(side, "word") or numbers and _one_way(side))
        return _one_way(tail) and (by_unit or numbers and _one_way(side))
    if by_unit:
        return _one_way(tail)
    if _all(side, "word"):
        return len(tail) > 1 and _rising(tail)
    enough = min(len(tail), len(side)) > 1 or max(len(tail), len(side)) > 2
    return numbers and enough and _rising(tail) and _rising(side)


def _column_is_head(rows: list[list[Meaning]], names: list[Meaning] | None, has_row: bool) -> bool:
    side = [row[0] for row in rows[has_row:] if row]
    filled = [cell for cell in side if cell.kind != "blank"]
    if has_row or _all(filled, "word"):
        return True
    if _mostly_measured(side) and _are_distances(side, [cell for row in rows for cell in row[1:]]):
        return True
    if not names:
        return False
    words = heading_words(names[0].text)
    if words & _AXIS or {"m", "ft"} & set(heading_units(names[0].text)) or "\\" in names[0].text:
        return _all(side, "number")
    if words & _COUNTING or names[0].text == "#":
        return not words & CATCH_WORDS
    return names[0].kind == "blank" and _all(side, "number") and len(side) > 1 and _rising(side)


def _take_corner(block: Block, corner: Meaning) -> None:
    if corner.kind != "blank":
        block.notes.append(f"The first cell, {clip_text(corner.text)}, was taken as a heading.")
    if corner.kind != "word":
        return
    _note_units(block, corner.raw, alone=True)
    if unit_of(corner.text) in ("mm", "cm", "in"):
        block.doubts.append(f"{clip_text(corner.text)} in the corner was taken as the unit of the readings.")


def _take_summaries(block: Block) -> None:
    """Leave out rows and columns of worked-out figures."""
    def worked_out(cell: Meaning) -> bool:
        return cell.kind == "word" and bool(heading_words(cell.text) & _SUMMARY)

    rows = {at for at, cell in enumerate(block.sides or []) if worked_out(cell)}
    if len(rows) == len(block.rows):  # then they are not worked out from these
        rows = set()
    for at in sorted(rows):
        block.doubts.append(f"Line {block.lines[at]}, {_shown([block.sides[at], *block.rows[at]])}, was left out: it "
                            "looks worked out from the readings.")
    for name in ("rows", "lines", "sides"):
        items = getattr(block, name)
        setattr(block, name, items and [item for at, item in enumerate(items) if at not in rows])
    out = {at for heads in (block.names, block.head) for at, cell in enumerate(heads or []) if worked_out(cell)}
    if len(out) >= max(map(len, block.rows)):
        out = set()
    for at in sorted(out, reverse=True):
        cells = [row[at] for row in (block.names or [], block.head or [], *block.rows) if at < len(row)]
        block.doubts.append(f"Column {block.columns[at] if at < len(block.columns) else at + 1}, "
                            f"{_shown(cells)}, was left out: "
                            "it looks worked out from the readings.")
        _drop(block, at)
    _take_remarks(block)


def _take_remarks(block: Block) -> None:
    """Leave out named columns of words."""
    for at in range(len(block.names or []) - 1, 0, -1):
        cells = [row[at] for row in block.rows if at < len(row) and row[at].kind != "blank"]
        if block.names[at].kind == "word" and cells and all(cell.kind == "word" for cell in cells) and not block.head:
            said = "; ".join(clip_text(cell.raw) for cell in cells)
            block.doubts.append(f"Column {block.columns[at]}, {clip_text(block.names[at].text)}, was left out: it "
                                f"holds words ({said}).")
            _drop(block, at)


def _drop(block: Block, at: int) -> None:
    for cells in (block.names, block.head, block.columns, *block.rows):
        if cells and at < len(cells):
            del cells[at]


def _say_names(block: Block, names: list[Meaning]) -> None:
    filled = [cell for cell in names if cell.kind != "blank"]
    if not filled:
        return
    whole = {unit_of(cell.text) for cell in (block.names or []) if cell.kind != "blank"}
    for cell in filled:
        _note_units(block, cell.raw, alone=len(whole) == 1)
    shown = clip_text(", ".join(cell.text for cell in filled), 60)
    block.notes.append(f"The heading {shown} was taken as names, not as readings.")


def _distances(block: Block, cells: list[Meaning], word: str, measured: str | None) -> tuple[str, ...] | None:
    """Distances with their units from a heading row or column, saying what was made of it."""
    first, others = ("row", "columns") if word == "across" else ("column", "rows")
    filled = [cell for cell in cells if cell.kind != "blank"]
    if not filled:
        return None
    shown = clip_text(", ".join(cell.text for cell in filled), 60)[1:-1]
    if all(cell.kind == "word" for cell in filled):
        block.notes.append(f"The first {first} ({shown}) was taken as names of the {others}, not as readings.")
        return None
    if _counts(cells) and not block.length_unit:
        block.doubts.append(f"The first {first} ({shown}) was taken as counting the {others}, not as distances; if "
                            "these are distances, add the unit.")
        return None
    unit = block.length_unit or measured or "m"
    texts = tuple(distance_text(cell, unit) for cell in cells)
    missing = len(texts) < max(map(len, block.rows)) if word == "across" else len(texts) < len(block.rows)
    if None in texts or missing:
        wrong = [clip_text(cell.raw) for cell, text in zip(cells, texts, strict=True) if text is None]
        what = f"{', '.join(wrong[:10])} cannot be read as a distance" if wrong else f"not all {others} have one"
        block.doubts.append(f"The first {first} ({shown}) looks like distances {word}, but {what}: none was taken.")
        return None
    own = {cell.unit for cell in filled if cell.unit} or {unit}
    block.notes.append(f"The first {first} was taken as distances {word}, in {' and '.join(sorted(own))}: {shown}.")
    bare = sum(cell.kind == "number" for cell in filled)
    if bare and not block.length_unit:
        block.doubts.append(f"{count_of(bare, 'distance')} {word} without a unit: {unit} was assumed"
                            + (", as for the others." if measured else "."))
    if own & {"mm", "cm", "in"} and bare < len(filled):
        block.doubts.append(f"The first {first} was taken as distances {word}: check that it does not hold readings.")
    if not _one_way(filled):
        block.doubts.append(f"The distances {word} ({shown}) neither rise nor fall steadily: check them.")
    return texts
