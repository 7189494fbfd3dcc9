"""`evenfall import`: readings from a spreadsheet, CSV or text grid into a record."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ..entry.grids.doubts import ASKED, EDGES, ROLES, TableDoubt

Read = Callable[[dict[str, str]], Any]


def add_options(take: argparse.ArgumentParser) -> None:
    """Add what `evenfall import` takes on the command line."""
    take.add_argument("readings", metavar="READINGS", help="a .csv, .xlsx or text file; - for standard input")
    take.add_argument("--into", metavar="RECORD", help="the record (.toml) that gets the readings")
    take.add_argument("--to", metavar="FILE", help="where the new record is written (must not exist yet)")
    take.add_argument("--sheet", help="which sheet of a workbook (default: the first)")
    take.add_argument("--yes", action="store_true",
                      help="take what was understood without asking; refused while anything is in doubt")
    answers = take.add_argument_group("answers to what may be in doubt")
    answers.add_argument("--unit", help="unit of the readings: mL, L, fl oz, mm, cm, in, g")
    for edge in EDGES:
        answers.add_argument(_option(edge), metavar="WHAT", choices=ROLES,
                             help=f"what the {edge.replace('_', ' ')} is: {', '.join(ROLES)}")
    answers.add_argument("--decimal", metavar="MARK", choices=[".", ","], help="decimal mark of the numbers: . or ,")
    take.set_defaults(run=run)


def _option(asks: str) -> str:
    return f"--{asks.replace('_', '-')}"


def run(words: argparse.Namespace) -> int:
    """Take readings into a record; 2 where the person did not agree."""
    from ..entry.grids.into import check_fit, merge_cans, replaced
    from ..entry.grids.reading import to_cans
    from ..entry.grids.table import GridError
    from ..record.file import plain_text

    raw, kept, source = _record_to_fill(words.into)
    name = "standard input" if words.readings == "-" else words.readings
    read = _reader(words, kept, raw or {})
    answers = {key: value for key in ASKED if (value := getattr(words, key))}
    try:
        understood = read(answers)
        print(understood.says, file=sys.stderr)
        cans = to_cans(understood)
        if raw is not None:
            check_fit(kept, cans)
        if words.yes:
            _refuse_doubts(understood.doubts, name)
        elif words.to and raw is not None and sys.stdin.isatty():
            understood = _asked(read, answers, understood)
            cans = to_cans(understood)
            check_fit(kept, cans)
    except GridError as error:
        raise ValueError(f"{name}: {error}") from None
    if raw is None:
        sys.stdout.write(plain_text({"cans": cans}))
        return 0
    raw["cans"] = merge_cans(kept, cans)
    _check_filled(raw, cans, understood, name, words.into, source)
    said = replaced(kept, cans)
    if said:
        print(said, file=sys.stderr)
    return _write(plain_text(raw), words)


def _write(text: str, words: argparse.Namespace) -> int:
    from ..record.file import save_text

    if words.to is None:
        sys.stdout.write(text)
        return 0
    try:
        if Path(words.to).exists():
            raise ValueError(f"{words.to}: received the name of a file that exists, expected a new name, choose "
                             "another")
        if not words.yes and not _agreed():
            print("Nothing was written.", file=sys.stderr)
            return 2
        save_text(text, words.to)
    except OSError as error:
        why = (error.strerror or "no reason was given").lower()
        raise ValueError(f"{words.to}: received a place that cannot be written to ({why}), expected a folder that is "
                         "there and has room, name another with --to") from None
    print(f"Written: {words.to}", file=sys.stderr)
    return 0


def _record_to_fill(file: str | None) -> tuple[dict[str, Any] | None, dict[str, Any], str]:
    """The record that gets the readings, its cans and its text; None, nothing and nothing without one."""
    from ..record.file import parse_toml, read_text

    if not file:
        return None, {}, ""
    source = read_text(file)
    raw = parse_toml(source, file)
    return raw, raw["cans"] if isinstance(raw.get("cans"), dict) else {}, source


def _reader(words: argparse.Namespace, kept: dict[str, Any], raw: dict[str, Any]) -> Read:
    """What reads the table with answers; the source itself is read once."""
    from ..entry.grids.cells import READS, unit_of
    from ..entry.grids.reading import read_file, read_text
    from ..units.shown import system_of

    unit = kept.get("unit")
    if not isinstance(unit, str) or unit_of(unit) not in READS:
        unit = None  # none, or a fault of the record, which is said with its others
    floor = raw.get("floor")
    feet = isinstance(floor, dict) and system_of(floor.get("width"), floor.get("length")) == "US"
    length = "ft" if feet else "m"
    if words.readings == "-":
        text = sys.stdin.read()
        return lambda answers: read_text(text, answers, default_unit=unit, length_unit=length)
    path = Path(words.readings)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ValueError(f"{path}: received a file that cannot be read ({(error.strerror or '').lower()}), "
                         "expected readings, check its name and place") from None
    return lambda answers: read_file(data, path.name, answers, sheet=words.sheet, default_unit=unit,
                                     length_unit=length)


def _refuse_doubts(doubts: tuple[TableDoubt, ...], name: str) -> None:
    """Refuse to take a table in doubt unseen, one line a doubt."""
    lines = []
    for doubt in doubts:
        others = [choice for choice in doubt.choices if choice != doubt.taken]
        if doubt.asks:
            first = f"{_option(doubt.asks)} {doubt.taken or others.pop(0)}"
            do = f"add {first}, or {', '.join(others[:-1])}{' or ' if others[:-1] else ''}{others[-1]}"
        else:
            do = "correct the table, or leave --yes out and look at it"
        lines.append(f"{name}: received a table in doubt ({doubt.says.rstrip('.')}), expected none with --yes, {do}")
    if lines:
        raise ValueError("\n".join(lines))


def _asked(read: Read, answers: dict[str, str], understood: Any) -> Any:
    """Ask the person at the terminal what is in doubt, until all is said that can be."""
    from ..entry.grids.table import GridError

    while doubt := next((doubt for doubt in understood.doubts if doubt.asks and doubt.asks not in answers), None):
        taken = f" [{doubt.taken}]" if doubt.taken else ""
        print(f"{ASKED[doubt.asks]}: {', '.join(doubt.choices)}?{taken} ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise ValueError("received no answer, expected one of those shown, answer or add it as an option")
        try:
            understood = read({**answers, doubt.asks: line.strip() or doubt.taken})
        except GridError as error:
            print(error, file=sys.stderr)
            continue
        if line.strip() or doubt.taken:
            answers[doubt.asks] = line.strip() or doubt.taken
            print(understood.says, file=sys.stderr)
    return understood


def _check_filled(raw: dict[str, Any], cans: dict[str, Any], understood: Any, name: str, record: str,
                  source: str) -> None:
    """Check a record with new cans; a fault is named where it stands, in the table or in the record."""
    from ..entry.grids.into import fault_place
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
