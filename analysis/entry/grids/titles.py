"""What stands above, between and under the rows of a table."""

from __future__ import annotations

from .block import Block, all_are, filled, is_label, line_of, note_units, shown
from .cells import Meaning, is_worked_out, unit_of
from .table import GridError

_NUMERIC = ("number", "measure", "bad")


def take_titles(block: Block) -> None:
    """Take off what stands above the table; the row of words just above it stays as names."""
    counts = [sum(cell.kind in _NUMERIC for cell in row) for row in block.rows]
    _refuse_words(block)
    first = next(at for at, row in enumerate(block.rows) if counts[at] and 2 * counts[at] >= max(counts)
                 or filled(row) and not {"word", "bad"} & {cell.kind for cell in row})
    above, block.rows = block.rows[:first], block.rows[first:]

    def pop() -> list[Meaning] | None:
        return above.pop() if above and 2 * len(filled(above[-1])) >= max(counts) else None

    block.names = pop()
    if block.names and _takes_units(block, block.names):
        block.names = pop()
    for cells in filter(None, map(filled, above)):
        for cell in cells:
            note_units(block, cell.raw, alone=len(cells) == 1)
        if all_are(cells, "word"):
            block.notes.append(f"Line {line_of(cells)}, {shown(cells)}, was taken as a title.")
        else:
            block.remarks.append(f"Line {line_of(cells)} above the table, {shown(cells)}, was left out.")


def _refuse_words(block: Block) -> None:
    cells = [cell for row in block.rows for cell in row]
    if any(cell.kind in ("number", "measure") for cell in cells):
        return
    bad = next((cell for cell in cells if cell.kind == "bad"), None)
    raise GridError(f"received no number that can be read: {shown([bad])} {bad.why}" if bad else
                    "received a table without any number", "expected readings such as 31 or 12.5",
                    "correct the cells" if bad else "copy the cells of the readings")


def _takes_units(block: Block, row: list[Meaning]) -> bool:
    """Take a row that holds nothing but units; whether it does."""
    if len(filled(row)) < 2 or not all(unit_of(cell.text) for cell in filled(row)):
        return False
    for cell in filled(row):
        note_units(block, cell.raw, alone=True)
    block.notes.append(f"Line {line_of(row)}, {shown(row)}, was taken as units.")
    return True


def take_between(block: Block) -> None:
    """Leave out words between and under the rows of readings, and see whether two tables were run into one."""
    if len(block.rows) > 2 and _takes_units(block, block.rows[1]):
        del block.rows[1]
    numbers = [sum(cell.kind in ("number", "measure") for cell in row) for row in block.rows]
    labelled = 2 * sum(bool(row) and row[0].kind == "word" for row in block.rows) >= len(block.rows)
    _refuse_second(block, numbers, labelled)
    _doubt_gaps(block, numbers)
    kept = []
    for at, row in enumerate(block.rows):
        if not at or not _is_remark(block, at, numbers, labelled):
            kept.append(row)
            continue
        block.remarks.append(f"Line {line_of(row)}, {shown(row)}, "
                             "was left out: it does not look like a row of readings.")
        if numbers[at] == 0 and max(numbers[at:]) and not is_worked_out(row[0]):
            block.doubt(f"Line {line_of(row)}, {shown(row)}, stands between rows of readings: if two tables were run "
                        "into one, send one of them, else take the line out.")
    while kept and not filled(kept[-1]):
        kept.pop()
    block.rows = kept


def _is_remark(block: Block, at: int, numbers: list[int], labelled: bool) -> bool:
    row, first = filled(block.rows[at]), block.rows[at][:1]
    if not row or row[0].kind != "word":
        return False
    alone = max(map(len, block.rows)) > 1 and all_are(row, "word") and (len(row) == 1 or at + 1 == len(block.rows))
    label = labelled and len(block.rows[at]) > 1 and all_are(first, "word") and len(first[0].text.split()) < 3
    return alone and not label or not labelled and 2 * numbers[at] < max(numbers)


def _refuse_second(block: Block, numbers: list[int], labelled: bool) -> None:
    """Refuse a second row of headings with readings under it."""
    heads = [[cell.text for cell in row] for row in (block.names, block.rows[0]) if row]
    for at, row in enumerate(block.rows[1:], 1):
        cells = filled(row)
        words = len(cells) > 1 and all(map(is_label, cells)) and not labelled
        again = len(cells) > 1 and [cell.text for cell in row] in heads and all(
            is_label(cell) or cell.unit in ("m", "ft") for cell in cells)
        if (words or again) and max(numbers[at:]):
            raise GridError(f"received two tables: line {line_of(row)}, {shown(row)}, heads a second one",
                            "expected one", "send one of them")


def _doubt_gaps(block: Block, numbers: list[int]) -> None:
    """Doubt blank lines that have two rows of readings or more on both sides."""
    if max(map(len, block.rows)) < 2:
        return
    parts, gaps, before = [0], [], 0
    for row, count in zip(block.rows, numbers, strict=True):
        if before and (not filled(row) or line_of(row) > before + 1):
            gaps.append(before + 1)
            parts.append(0)
        parts[-1] += 2 * count >= max(numbers) and not (row and is_worked_out(row[0]))
        before = line_of(row) or before + 1
    for gap, above, under in zip(gaps, parts, parts[1:], strict=False):
        if above > 1 and under > 1:
            block.doubt(f"Line {gap} is blank between rows of readings: if two tables were run into one, send one of "
                        "them, else take the blank line out.")
