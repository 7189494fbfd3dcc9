"""The command `evenfall`: one parser, and what each of its words runs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

from . import app as app_command
from . import correcting, further, importing
from . import members as members_command
from .records_beside import own_system, record_beside
from .terminal import Plain


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; 0 when done, 2 for input that stops it (one line a fault on stderr, nothing on stdout)."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    with redirect_stdout(Plain(sys.stdout)), redirect_stderr(Plain(sys.stderr)):
        return _run(arguments)


def _run(arguments: Sequence[str] | None) -> int:
    words = _parser().parse_args(arguments)
    try:
        return words.run(words)
    except KeyboardInterrupt:
        print("\nStopped. What was finished before is kept, and the same command goes on.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    from .. import __version__

    parser = argparse.ArgumentParser(
        prog="evenfall",
        description="Reads a catch-can test: how even it is, where it is dry, why, and what would mend it.")
    parser.add_argument("--version", action="version", version=f"evenfall {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    assess = commands.add_parser("assess", help="figures, map, dry spots, causes and fixes of a record")
    assess.add_argument("file", metavar="FILE", help="a record (.toml)")
    assess.add_argument("--json", action="store_true", help="print the result as JSON")
    assess.add_argument("--only", choices=["cans"], help="only what comes from the cans: figures, map, dry spots")
    assess.add_argument("--dry-under", metavar="PERCENT", type=_percent, default=0.75,
                        help="ground under this part of the mean is a dry spot (default 75)")
    assess.add_argument("--units", choices=["metric", "US"], help="units of the text (default: those of the record)")
    assess.set_defaults(run=_assess)

    plan = commands.add_parser("plan", help="before the test: how many lines, where cans stand, how long to run")
    plan.add_argument("file", metavar="FILE", help="a record (.toml); it needs no readings, no cans and no run yet")
    plan.add_argument("--cans", metavar="N", type=int, help="how many cans there are (default: as many as are enough)")
    plan.add_argument("--json", action="store_true", help="print the plan as JSON")
    plan.add_argument("--units", choices=["metric", "US"], help="units of the text (default: those of the record)")
    plan.set_defaults(run=_plan)

    for name, says, make, need in (
            ("sheet", "the field sheet as a PDF: a plan with numbered cans, and boxes to write in", _sheet,
             "it needs no readings yet"),
            ("handover", "the handover as a PDF: figures, map, causes, fixes, watering, baseline, care", _handover,
             "with readings")):
        paper = commands.add_parser(name, help=says)
        paper.add_argument("file", metavar="FILE", help=f"a record (.toml); {need}")
        paper.add_argument("--to", metavar="PDF", help=f"where it is written (default: beside the record, -{name}.pdf)")
        paper.add_argument("--paper", choices=["A4", "Letter"], help="default: A4, or Letter for a record in US units")
        paper.add_argument("--units", choices=["metric", "US"], help="units on paper (default: those of the record)")
        paper.set_defaults(run=make)

    take = commands.add_parser("import", help="readings from a spreadsheet, CSV or text grid into a record")
    importing.add_options(take)

    attempt = commands.add_parser("try", help="what a change would bring: more lines, closer heads, another pressure")
    attempt.add_argument("file", metavar="FILE", help="a record (.toml) with heads on lines")
    attempt.add_argument("--change", metavar="KEY=VALUE", action="append", default=[],
                         help="a change, such as lines=3 or \"head_spacing=0.6 m\"; may be given several times")
    attempt.add_argument("--json", action="store_true", help="print the prediction as JSON")
    attempt.add_argument("--units", choices=["metric", "US"], help="units of the text (default: those of the record)")
    attempt.set_defaults(run=_try)

    further.add(commands)
    correcting.add(commands)
    members_command.add(commands)

    schema = commands.add_parser("schema", help="the layout of a record or of a result's JSON, as JSON Schema")
    schema.add_argument("layout", choices=["record", "result"], help="which of the two")
    schema.set_defaults(run=_schema)

    app = commands.add_parser("app", help="open the dashboard in the browser")
    app.add_argument("--port", type=int, default=8501, help="port on this machine (default 8501)")
    app.add_argument("--share", action="store_true",
                     help="let phones in the same network reach it: everybody there can then read and write")
    app.add_argument("--no-browser", action="store_true", help="do not open a browser")
    app.set_defaults(run=app_command.run)
    return parser


def _percent(text: str) -> float:
    try:
        part = float(text.rstrip("%")) / 100
    except ValueError:
        part = 0.0
    if not 0.05 <= part <= 1:
        raise argparse.ArgumentTypeError(f"received {text!r}, expected 5 to 100, the percent of the mean under which "
                                         "ground is dry")
    return part


def _assess(words: argparse.Namespace) -> int:
    from ..record.file import read_record
    from ..result.assessment import assess

    record = read_record(words.file)
    beside = Path(words.file).resolve().parent
    system = words.units or own_system(record)
    result = assess(record, part_of_mean=words.dry_under, system=system, only=words.only, rivals=True,
                    earlier=lambda name: record_beside(name, beside))
    if words.json:
        from ..result.as_json import to_json

        sys.stdout.write(to_json(result))
    else:
        from ..result.text import report_text

        sys.stdout.write(report_text(record, result, system, words.dry_under))
    return 0


def _plan(words: argparse.Namespace) -> int:
    from ..planning.plan import plan_of
    from ..record.file import read_record
    from ..record.site import site_of

    record = read_record(words.file, planning=True)
    units = words.units or own_system(record)
    site = site_of(record)
    plan = plan_of(site, cans=words.cans, units=units)
    if words.json:
        from ..planning.as_json import plan_json

        sys.stdout.write(plan_json(plan))
    else:
        from ..planning.text import plan_text

        sys.stdout.write(plan_text(site, plan, units))
    return 0


def _sheet(words: argparse.Namespace) -> int:
    from ..paper.field_sheet import make_sheet
    from ..paper.files import free_name, write_paper
    from ..record.file import read_record

    record = read_record(words.file, planning=True)
    system = words.units or own_system(record)
    target = free_name(words.file, "sheet", words.to)
    write_paper(make_sheet(record, system, _paper(words, system)), target)
    return 0


def _handover(words: argparse.Namespace) -> int:
    from ..paper.files import free_name, write_paper
    from ..paper.handover import make_handover
    from ..record.file import read_record
    from ..result.assessment import assess

    record = read_record(words.file)
    system = words.units or own_system(record)
    target = free_name(words.file, "handover", words.to)
    beside = Path(words.file).resolve().parent
    result = assess(record, system=system, earlier=lambda name: record_beside(name, beside), rivals=True)
    write_paper(make_handover(record, result, system, _paper(words, system)), target)
    return 0


def _paper(words: argparse.Namespace, system: str) -> str:
    return words.paper or ("Letter" if system == "US" else "A4")


def _try(words: argparse.Namespace) -> int:
    from ..cans.catch import read_catch
    from ..causes.explained import floor_today
    from ..changes.change import changed_site, read_changes
    from ..changes.fixes.search import try_change
    from ..record.file import read_record
    from ..record.site import site_of

    change = read_changes(words.change)  # a bad change is said before the work begins
    record = read_record(words.file)
    if not record.lines:
        raise ValueError(f"{words.file}:1: lines: received none, expected [[lines]] with the places of their heads, "
                         "add them before a change is tried")
    site = site_of(record)
    changed_site(site, change)
    system = words.units or own_system(record)
    tried = try_change(site, floor_today(site, read_catch(site)), change, system)
    if words.json:
        from ..result.as_json import tried_json

        sys.stdout.write(tried_json(tried))
    else:
        from ..result.text import try_text

        sys.stdout.write(try_text(tried, system))
    return 0


def _schema(words: argparse.Namespace) -> int:
    import json

    from ..result.schema import record_schema, result_schema

    layout = record_schema() if words.layout == "record" else result_schema()
    sys.stdout.write(json.dumps(layout, ensure_ascii=False, indent=1) + "\n")
    return 0
