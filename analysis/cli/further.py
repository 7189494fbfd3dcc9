"""`evenfall more` and `evenfall mended`: what to read next, and whether a mended head gives its share again."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from .records_beside import own_system, record_beside


def add(commands) -> None:
    """Add both commands."""
    more = commands.add_parser("more", help="where the next cans tell most, and the heads for a bottle")
    more.add_argument("file", metavar="FILE", help="a record (.toml) with readings")
    more.add_argument("--cans", metavar="N", type=int, default=8, help="how many further cans there are (default 8)")
    more.add_argument("--json", action="store_true", help="print the places as JSON")
    more.add_argument("--units", choices=["metric", "US"], help="units of the text (default: those of the record)")
    more.set_defaults(run=_more)

    mended = commands.add_parser("mended", help="a few cans around a mended head: does it give its share again?")
    mended.add_argument("file", metavar="FILE", help="a record (.toml) of the cans of today")
    mended.add_argument("--before", metavar="EARLIER", help="the record of the earlier test (default: the one that "
                        "FILE says it rechecks, in the same folder)")
    mended.add_argument("--head", metavar="LINE:NUMBER", action="append", help="a head, such as left:7; may be given "
                        "several times (default: the weak heads of the earlier test within reach of the cans)")
    mended.add_argument("--json", action="store_true", help="print the answers as JSON")
    mended.set_defaults(run=_mended)


def _more(words: argparse.Namespace) -> int:
    from ..planning.more import more_cans
    from ..record.file import read_record
    from ..record.site import site_of

    record = read_record(words.file)
    units = words.units or own_system(record)
    site = site_of(record)
    found = more_cans(site, count=words.cans, system=units)
    if words.json:
        from ..planning.as_json import more_json

        sys.stdout.write(more_json(found))
    else:
        from ..planning.text import more_text

        sys.stdout.write(more_text(site, found, units))
    return 0


def _mended(words: argparse.Namespace) -> int:
    from ..changes.mended import heads_named, mended_heads
    from ..record.file import read_record
    from ..record.site import site_of

    asked = heads_named(words.head) if words.head else None
    record = read_record(words.file)
    named = record.test.rechecks
    earlier = read_record(words.before) if words.before else (
        record_beside(named, Path(words.file).resolve().parent) if named else None)
    if earlier is None:
        raise ValueError(f"{words.file}: received no earlier test"
                         f"{f' ({named} is not in the same folder)' if named else ''}, expected the one before the "
                         "head was mended, name it with --before")
    found = mended_heads(site_of(record), site_of(earlier), asked)
    if words.json:
        from ..result.as_json import mended_json

        sys.stdout.write(mended_json(found))
    else:
        from ..result.mended_text import mended_text

        sys.stdout.write(mended_text(found))
    return 0
