"""`evenfall correct`: what explains the readings better, taken into the record or found not to be so."""

from __future__ import annotations

import argparse
import datetime
import sys
import textwrap
from pathlib import Path


def add(commands) -> None:
    """Add the command."""
    correct = commands.add_parser("correct", help="put a record right where something else explains its readings, or "
                                  "say that it was checked")
    correct.add_argument("file", metavar="FILE", help="a record (.toml) with heads and readings")
    which = correct.add_mutually_exclusive_group()
    which.add_argument("--rival", metavar="N", type=int, help="take this explanation into the record (default: list "
                       "them)")
    which.add_argument("--checked", metavar="N", type=int, help="it was looked at again, and the record is right")
    correct.add_argument("--yes", action="store_true", help="write without asking")
    correct.add_argument("--to", metavar="TOML", help="where it is written (default: a new file beside the record)")
    correct.add_argument("--in-place", action="store_true", help="write over FILE")
    correct.set_defaults(run=_correct)


def _correct(words: argparse.Namespace) -> int:
    from ..record.file import read_record, save_record
    from ..result.assessment import assess
    from ..result.correcting import before_after, found_right, put_right
    from .records_beside import own_system

    if words.to and words.in_place:
        raise ValueError("received --to and --in-place, expected one of them, take one out")
    record = read_record(words.file)
    system, today = own_system(record), datetime.date.today()
    if words.rival is None and words.checked is None:
        return _list(assess(record, system=system, rivals=True))
    settle = put_right if words.checked is None else found_right
    settling = settle(record, words.checked or words.rival or 0, today)
    target = Path(words.file) if words.in_place else Path(words.to) if words.to else _free(Path(words.file))
    if not words.in_place and target.exists():
        raise ValueError(f"received --to {target}, which is there already, expected a new name, choose another one or "
                         "use --in-place")
    say(f"Your readings fit far better if {settling.says}." if words.checked is None else "Checked:")
    for line in settling.lines:
        say(f"  {line}")
    if words.checked is None:
        before, after = (assess(one, system=system, rivals=True) for one in (record, settling.record))
        say(f"  {'':28}{'before':>22}{'after':>22}")
        for what, one, other in before_after(before, after):
            say(f"  {what:28}{one:>22}{other:>22}")
    if not words.yes and not _wanted(target):
        say("Nothing was written.")
        return 0
    save_record(settling.record, target)
    sys.stdout.write(f"Written: {target}\n")
    return 0


def _list(result) -> int:
    """The explanations by their numbers."""
    if result.fit is None or not result.fit.rivals:
        say("Nothing explains the readings better than the record." if result.fit else
            "Other explanations were not weighed: heads, or cans, are missing.")
        return 0
    for number, rival in enumerate(result.fit.rivals, 1):
        say(f"{number}. {rival.kind} (of the {rival.of}, {rival.evidence:.0f}): {rival.says}. {rival.check_next}")
    say("Take one into the record with --rival N, or say with --checked N that the record is right.")
    return 0


def _free(file: Path) -> Path:
    """A name beside the record that is not taken."""
    names = (file.with_name(f"{file.stem}-corrected{number}{file.suffix}") for number in ("", *range(2, 1000)))
    return next(name for name in names if not name.exists())


def _wanted(target: Path) -> bool:
    """Ask at a terminal; elsewhere nothing is written without --yes."""
    if not sys.stdin.isatty():
        return False
    sys.stdout.write(f"Write {target}? (y/n) ")
    sys.stdout.flush()
    return sys.stdin.readline().strip().casefold() in ("y", "yes")


def say(text: str) -> None:
    """Write a line, broken at 80 signs."""
    indent = " " * (len(text) - len(text.lstrip()) + 2)
    broken = textwrap.wrap(text, 80, subsequent_indent=indent, break_on_hyphens=False,
                           break_long_words=False) if len(text) > 80 else [text]
    sys.stdout.write("\n".join(broken) + "\n")
