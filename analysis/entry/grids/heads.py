"""Which cells of a table are names, numbers, distances and totals, and which are readings."""

from __future__ import annotations

from ...units.quantity import clip_text
from .block import Block, all_are, column_of, filled, is_label, line_of, note_units, one_way, shown
from .cells import BLANK, Meaning, distance_text, is_worked_out, unit_of
from .edges import counts, doubted_edge, headed_column, headed_row, transposed
from .table import GridError, count_of
from .titles import take_between, take_titles

_TAKEN = {"heading": "headings", "number": "numbers of the {}", "total": "worked out from the others",
          "reading": "readings"}


def take_heads(block: Block) -> None:
    """Take titles, names, numbers, distances and totals off a table, so that nothing but readings stays."""
    take_titles(block)
    take_between(block)
    if block.names is not None and len(block.names) == max(map(len, block.rows)) - 1:
        block.names.insert(0, BLANK)
    heading = filled(block.names or [])
    head, sides = _cut_first(block)
    _check_left(block)
    sides = _take_summaries(block, head, sides)
    _check_left(block)
    sides = _cut_last(block, head, sides)
    _check_left(block)
    whole = {unit_of(cell.text) for cell in filled(block.names or [])}
    for cell in heading:
        note_units(block, cell.raw, alone=len(whole) == 1)
    if heading:
        block.notes.append(f"The heading '{_short(heading)}' was taken as names, not as readings.")
    measured = next((cell.unit for cell in [*(head or []), *(sides or [])] if cell.unit), None)
    if head:
        block.across = _distances(block, "first_row", head, measured)
    if sides:
        block.along = _distances(block, "first_column", sides, measured)
    _doubt_blank_columns(block, head)


def _check_left(block: Block) -> None:
    if not any(block.rows):
        raise GridError("received nothing but headings and totals", "expected readings beside them",
                        "correct the table, or what its edges are")


def _cut_first(block: Block) -> tuple[list[Meaning] | None, list[Meaning] | None]:
    """Cut off the first row and the first column where they are no readings."""
    rows, wide = block.rows, max(map(len, block.rows)) > 1
    has_row = _is_head(block, "first_row", headed_row(rows, block.names), rows[0])
    whole = has_row and rows[0][0].kind in ("number", "measure")  # a heading over the first column too
    by_label = headed_column(rows, block.names, has_row) if wide and not whole else ""
    has_column = wide and _is_head(block, "first_column", by_label, column_of(rows, 0))
    body = [row[has_column:] for row in rows[has_row:]]
    columns = transposed(body)
    if not has_column and not whole and len(columns) > 1:
        has_column = _doubt_edge(block, "first_column", columns[0], columns[1:])
        body = [row[has_column:] for row in body]
    if not has_row and len(rows) > 1:
        has_row = _doubt_edge(block, "first_row", body[0], body[1:])
    return _cut(block, has_row, has_column)


def _is_head(block: Block, edge: str, labelled: str, cells: list[Meaning]) -> bool:
    """Whether an edge is no readings, as a person said or by its labels."""
    if edge in block.answers:
        return block.answers[edge] != "reading"
    if labelled == "maybe":
        block.ask(edge, f"The {edge.replace('_', ' ')} ({_short(cells)}) may be distances or readings: it was taken "
                        "as headings.", "heading")
    return bool(labelled)


def _doubt_edge(block: Block, edge: str, line: list[Meaning], others: list[list[Meaning]]) -> bool:
    """Doubt an edge that has no label but numbers unlike readings; whether it is cut off."""
    if edge in block.answers:
        return False
    found = doubted_edge(line, others, last=edge.startswith("last"))
    if not found:
        return False
    role, why = found
    what = _TAKEN[role].format("columns" if edge.endswith("row") else "rows")
    block.ask(edge, f"The {edge.replace('_', ' ')} ({_short(line)}) {why}: it was taken as {what}.", role)
    return role != "reading"


def _cut(block: Block, has_row: bool, has_column: bool) -> tuple[list[Meaning] | None, list[Meaning] | None]:
    rows = block.rows
    for row in (block.names, rows[0] if has_row else None):
        if row and has_column:
            _take_corner(block, row[0])
    head = rows[0][has_column:] if has_row else None
    body = rows[has_row:]
    sides = [row[0] if row else BLANK for row in body] if has_column else None
    block.names = block.names[has_column:] if block.names else None
    block.rows = [row[has_column:] for row in body]
    return head, sides


def _take_corner(block: Block, corner: Meaning) -> None:
    if corner.kind != "blank":
        block.notes.append(f"The first cell, {clip_text(corner.raw)}, was taken as a heading.")
    if corner.kind != "word":
        return
    note_units(block, corner.raw, alone=True)
    if unit_of(corner.text) in ("mm", "cm", "in"):
        block.remarks.append(f"{clip_text(corner.text)} in the corner was taken as the unit of the readings.")


def _cut_last(block: Block, head: list[Meaning] | None, sides: list[Meaning] | None) -> list[Meaning] | None:
    """Cut off the last row and the last column where they are no readings."""
    columns = transposed(block.rows)
    out = {}
    for edge, lines in (("last_row", block.rows), ("last_column", columns)):
        plain = len(lines) > 1 and _doubt_edge(block, edge, lines[-1], lines[:-1])
        out[edge] = plain or block.answers.get(edge, "reading") != "reading"
    if out["last_column"]:
        _leave_out(block, len(columns) - 1, head, "as said or doubted")
    if out["last_row"]:
        row = block.rows.pop()
        side = sides[len(block.rows)] if sides and len(sides) > len(block.rows) else BLANK
        block.remarks.append(f"Line {line_of(row)}, {shown([side, *row])}, was left out: it holds no readings.")
        return sides[:len(block.rows)] if sides else None
    return sides


def _worked_out_at(cells: list[Meaning] | None) -> set[int]:
    return {at for at, cell in enumerate(cells or []) if is_worked_out(cell)}


def _take_summaries(block: Block, head: list[Meaning] | None, sides: list[Meaning] | None) -> list[Meaning] | None:
    """Leave out rows and columns that are named as worked out, and named columns of words."""
    columns = _worked_out_at(block.names) | _worked_out_at(head)
    if len(columns) < max(map(len, block.rows)) and block.answers.get("last_column") != "reading":
        for at in sorted(columns, reverse=True):
            _leave_out(block, at, head, "it looks worked out from the readings")
    names = [] if head else block.names or []
    for at in range(len(names) - 1, 0, -1):
        if names[at].kind == "word" and all_are(filled(column_of(block.rows, at)), "word"):
            _leave_out(block, at, head, "it holds words")
    rows = _worked_out_at(sides)
    if sides is None or len(rows) == len(block.rows) or block.answers.get("last_row") == "reading":
        return sides  # if all are, they are not worked out from these
    for at in sorted(rows):
        block.remarks.append(f"Line {line_of([sides[at]])}, {shown([sides[at], *block.rows[at]])}, was left out: it "
                             "looks worked out from the readings.")
    block.rows = [row for at, row in enumerate(block.rows) if at not in rows]
    return [side for at, side in enumerate(sides) if at not in rows]


def _leave_out(block: Block, at: int, head: list[Meaning] | None, why: str) -> None:
    """Take a column off, and say so with all that it holds."""
    tables = [row for row in (block.names, head, *block.rows) if row and at < len(row)]
    cells = [row.pop(at) for row in tables]
    column = next((cell.column for cell in cells if cell.column), at + 1)
    block.remarks.append(f"Column {column}, {shown(cells)}, was left out: {why}.")


def _short(cells: list[Meaning]) -> str:
    return clip_text(", ".join(cell.text or cell.raw[:60] for cell in filled(cells)[:40]), 60)[1:-1]


def _distances(block: Block, edge: str, cells: list[Meaning], measured: str | None) -> tuple[str, ...] | None:
    """Distances with their units from a heading row or column, saying what was made of it."""
    first, others, word = (("row", "columns", "across") if edge == "first_row" else ("column", "rows", "along"))
    full, told = filled(cells), _short(cells)
    role = block.answers.get(edge) or next((doubt.taken for doubt in block.doubts if doubt.asks == edge), "")
    if not full:
        return None
    if role in ("number", "total") or all(map(is_label, full)):
        what = _TAKEN[role] if role in ("number", "total") else "names of the {}"
        block.notes.append(f"The first {first} ({told}) was taken as {what.format(others)}, not as readings.")
        return None
    if counts(cells) and not block.length_unit and block.answers.get(edge) != "heading":
        block.remarks.append(f"The first {first} ({told}) was taken as counting the {others}, not as distances; if "
                             "these are distances, add the unit.")
        return None
    return _measured(block, cells, measured, (first, others, word))


def _measured(block: Block, cells: list[Meaning], measured: str | None,
              words: tuple[str, str, str]) -> tuple[str, ...] | None:
    (first, others, word), told = words, _short(cells)
    unit = block.length_unit or measured or block.bare_unit
    texts = [distance_text(cell, unit) for cell in cells]
    wrong = [clip_text(cell.raw) for cell, text in zip(cells, texts, strict=True) if text is None]
    if wrong or len(texts) < (max(map(len, block.rows)) if word == "across" else len(block.rows)):
        what = f"{', '.join(wrong[:10])} cannot be read as a distance" if wrong else f"not all {others} have one"
        block.remarks.append(f"The first {first} ({told}) looks like distances {word}, but {what}: none was taken.")
        return None
    own = {cell.unit or unit for cell in cells}
    block.notes.append(f"The first {first} was taken as distances {word}, in {' and '.join(sorted(own))}: {told}.")
    bare = [cell.kind for cell in cells].count("number")
    if bare and not block.length_unit:
        block.remarks.append(f"{count_of(bare, 'distance')} {word} without a unit: {unit} was assumed"
                             f"{', as for the others' if measured else ''}.")
    if own & {"mm", "cm", "in"} and bare < len(cells):
        block.remarks.append(f"The first {first} was taken as distances {word}: check that it does not hold readings.")
    if not one_way(cells):
        block.remarks.append(f"The distances {word} ({told}) neither rise nor fall steadily: check them.")
    return tuple(filter(None, texts))


def _doubt_blank_columns(block: Block, head: list[Meaning] | None) -> None:
    """Doubt a column without heading and readings that parts two tables side by side."""
    columns = transposed(block.rows)
    empty = [at for at, column in enumerate(columns) if not filled(column)]
    for at in empty:
        named = any(row and at < len(row) and row[at].kind != "blank" for row in (block.names, head))
        if not named and len(block.rows) > 1 and min(at, len(columns) - at - 1) > 1:
            block.doubt(f"Column {at + 1} of the readings is blank: if two tables stand side by side, send one of "
                        "them, else write x for no reading.")
