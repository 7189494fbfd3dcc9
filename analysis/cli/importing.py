"""`evenfall import`: readings from a spreadsheet, CSV or text grid into a record."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path


def run(words: argparse.Namespace) -> int:
    """Take readings into a record."""
    from ..entry.grids.reading import GridError, check_fit, merge_cans, replaced, to_cans
    from ..record.file import plain_text, save_text

    raw, kept, source = _record_to_fill(words.into)
    name = "standard input" if words.readings == "-" else words.readings
    unit = words.unit or (kept.get("unit") if isinstance(kept.get("unit"), str) else None)
    try:
        understood = _understand(words, unit)
        cans = to_cans(understood)
        print(understood.says, file=sys.stderr)
        if raw is None:
            sys.stdout.write(plain_text({"cans": cans}))
            return 0
        check_fit(kept, cans)
    except GridError as error:
        raise ValueError(f"{name}: {error}") from None
    raw["cans"] = merge_cans(kept, cans)
    _check_filled(raw, cans, understood, name, words.into, source)
    said = replaced(kept, cans)
    if said:
        print(said, file=sys.stderr)
    text = plain_text(raw)
    if words.to is None:
        sys.stdout.write(text)
        return 0
    if Path(words.to).exists():
        raise ValueError(f"{words.to}: received the name of a file that exists, expected a new name, choose another")
    if not words.yes and not _agreed():
        print("Nothing was written.", file=sys.stderr)
        return 2
    save_text(text, words.to)
    print(f"Written: {words.to}", file=sys.stderr)
    return 0


def _record_to_fill(file: str | None) -> tuple[dict | None, dict, str]:
    """The record that gets the readings, its cans and its text; None, nothing and nothing without one."""
    from ..record.file import parse_toml, read_text

    if not file:
        return None, {}, ""
    source = read_text(file)
    raw = parse_toml(source, file)
    return raw, raw["cans"] if isinstance(raw.get("cans"), dict) else {}, source


def _understand(words: argparse.Namespace, unit: str | None):
    from ..entry.grids.cells import READS, unit_of
    from ..entry.grids.reading import read_file, read_text

    if unit and not words.unit and unit_of(unit) not in READS:
        unit = None  # a fault of the record, which is said with its others
    if words.readings == "-":
        return read_text(sys.stdin.read(), default_unit=unit)
    path = Path(words.readings)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ValueError(f"{path}: received a file that cannot be read ({(error.strerror or '').lower()}), "
                         "expected readings, check its name and place") from None
    return read_file(data, path.name, sheet=words.sheet, default_unit=unit)


def _check_filled(raw: dict, cans: dict, understood, name: str, record: str, source: str) -> None:
    """Check a record with new cans; a fault is named where it stands, in the table or in the record."""
    from ..entry.grids.reading import fault_place
    from ..record.checks import build
    from ..record.faults import RecordFaults
    from ..record.toml_lines import key_lines, line_of

    try:
        build(raw)
    except RecordFaults as error:
        known = key_lines(source)
        lines = []
        for fault in error.faults:
            place = fault_place(fault.path, cans, understood.where)
            at = f"{name}: {place}" if place else f"{record}:{line_of(known, fault.path)}: {fault.key}"
            lines.append(f"{at}: {fault.says}")
        raise RecordFaults(list(error.faults), lines) from None


def _agreed() -> bool:
    if not sys.stdin.isatty():
        raise ValueError("received no answer, expected y or n at a terminal, look at what was understood, then add "
                         "--yes")
    print("Take these readings? (y/n) ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().casefold() in ("y", "yes")
