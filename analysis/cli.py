"""The command: `evenfall assess`, `evenfall import`, `evenfall app`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after the command's name; those of the process if left out.

    Returns
    -------
    int
        0 when done, 2 for input that stops it (one line a fault on stderr, nothing on stdout).
    """
    words = _parser().parse_args(arguments)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        return words.run(words)
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    from . import __version__

    parser = argparse.ArgumentParser(
        prog="evenfall", description="Reads a catch-can test: how even it is, where it is dry, and why.")
    parser.add_argument("--version", action="version", version=f"evenfall {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    assess = commands.add_parser("assess", help="figures, map and dry spots of a record")
    assess.add_argument("file", metavar="FILE", help="a record (.toml)")
    assess.add_argument("--json", action="store_true", help="print the result as JSON")
    assess.add_argument("--only", choices=["cans"], help="only what comes from the cans: figures, map, dry spots")
    assess.add_argument("--dry-under", metavar="PERCENT", type=_percent, default=0.75,
                        help="ground under this part of the mean is a dry spot (default 75)")
    assess.add_argument("--units", choices=["metric", "US"], help="units of the text (default: those of the record)")
    assess.set_defaults(run=_assess)

    take = commands.add_parser("import", help="readings from a spreadsheet, CSV or text grid into a record")
    take.add_argument("readings", metavar="READINGS", help="a .csv, .xlsx or text file; - for standard input")
    take.add_argument("--into", metavar="RECORD", help="the record (.toml) that gets the readings")
    take.add_argument("--to", metavar="FILE", help="where the new record is written (must not exist yet)")
    take.add_argument("--unit", help="unit of the readings where the file does not say: mL, L, fl oz, mm, cm, in, g")
    take.add_argument("--sheet", help="which sheet of a workbook (default: the first)")
    take.add_argument("--yes", action="store_true", help="take what was understood without asking")
    take.set_defaults(run=_import)

    app = commands.add_parser("app", help="open the dashboard in the browser")
    app.add_argument("--port", type=int, default=8501, help="port on this machine (default 8501)")
    app.add_argument("--share", action="store_true",
                     help="let phones in the same network reach it: everybody there can then read and write")
    app.add_argument("--no-browser", action="store_true", help="do not open a browser")
    app.set_defaults(run=_app)
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
    from .assess import assess
    from .record_file import read_record

    record = read_record(words.file)
    beside = Path(words.file).resolve().parent
    system = words.units or own_system(record)
    result = assess(record, part_of_mean=words.dry_under, system=system, only=words.only,
                    known_tests=lambda name: _is_beside(name, beside))
    if words.json:
        from .results import to_json

        sys.stdout.write(to_json(result))
    else:
        from .report_text import report_text

        sys.stdout.write(report_text(record, result, system, words.dry_under))
    return 0


def own_system(record) -> str:
    """Tell in which units a record was written.

    Parameters
    ----------
    record : Record
        Checked.

    Returns
    -------
    str
        ``US`` where the floor's width is in feet or inches, else ``metric``.
    """
    text = record.floor.width.text.casefold()
    return "US" if "ft" in text or "in" in text else "metric"


def _is_beside(name: str, folder: Path) -> bool:
    """Whether a record with this id lies in the same folder."""
    import tomllib

    for path in sorted(folder.glob("*.toml"))[:500]:
        try:
            if path.stat().st_size < 1_000_000:
                test = tomllib.loads(path.read_text("utf-8")).get("test")
                if isinstance(test, dict) and test.get("id") == name:
                    return True
        except (OSError, ValueError):
            continue
    return False


def _import(words: argparse.Namespace) -> int:
    from .grids_in import read_file, read_text, to_cans
    from .record_file import parse_record, parse_toml, plain_text, save_text
    from .record_file import read_text as read_record_text

    if words.readings == "-":
        understood = read_text(sys.stdin.read(), default_unit=words.unit)
    else:
        path = Path(words.readings)
        try:
            data = path.read_bytes()
        except OSError as error:
            raise ValueError(f"{path}: received a file that cannot be read ({(error.strerror or '').lower()}), "
                             "expected readings, check its name and place") from None
        understood = read_file(data, path.name, sheet=words.sheet, default_unit=words.unit)
    print(understood.says, file=sys.stderr)
    cans = to_cans(understood)
    if not words.into:
        sys.stdout.write(plain_text({"cans": cans}))
        return 0
    raw = parse_toml(read_record_text(words.into), words.into)
    kept = raw.get("cans", {}) if isinstance(raw.get("cans"), dict) else {}
    raw["cans"] = merge_cans(kept, cans)
    text = plain_text(raw)
    parse_record(text, words.to or "the new record")
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


def merge_cans(kept: dict, new: dict) -> dict:
    """Put new readings in the place of old ones.

    Parameters
    ----------
    kept : dict
        The `[cans]` of a record, plain.
    new : dict
        From `grids_in.to_cans`: a grid, rows or points, and what else was understood.

    Returns
    -------
    dict
        Old readings and what belonged to them (set-aside cans, weights) are gone; places stay where the new
        readings bring none.
    """
    gone = {"grid", "rows", "points", "set_aside"}
    if "grid" not in new:
        gone |= {"across", "along"}
    if isinstance(kept.get("weights"), list):
        gone.add("weights")
    return {**{key: value for key, value in kept.items() if key not in gone}, **new}


def _agreed() -> bool:
    if not sys.stdin.isatty():
        raise ValueError("received no answer, expected y or n at a terminal, look at what was understood, then add "
                         "--yes")
    print("Take these readings? (y/n) ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().casefold() in ("y", "yes")


def settings_of(port: int, share: bool, browser: bool) -> dict[str, object]:
    """Settings of the dashboard's server, so that they hold from any folder.

    Parameters
    ----------
    port : int
        Port on this machine.
    share : bool
        Whether other machines in the network may reach it.
    browser : bool
        Whether a browser is opened.

    Returns
    -------
    dict of str to object
        Streamlit's own setting names.
    """
    return {
        "server.address": "0.0.0.0" if share else "127.0.0.1",
        "server.port": port,
        "server.maxUploadSize": 5,
        "server.disconnectedSessionTTL": 3600,
        "server.headless": "false" if browser else "true",
        "browser.gatherUsageStats": "false",
        "browser.serverAddress": "localhost",
        "client.toolbarMode": "minimal",
        # One colour for each, so that the page still follows the machine's light or dark.
        "theme.light.primaryColor": "#1b6e8a",
        "theme.dark.primaryColor": "#5fb3cc",
    }


def _app(words: argparse.Namespace) -> int:
    import os

    if not 1 <= words.port <= 65535:
        raise ValueError(f"received port {words.port}, expected 1 to 65535, choose another")
    page = Path(__file__).parent / "dashboard" / "app.py"
    command = [sys.executable, "-m", "streamlit", "run", str(page)]
    for key, value in settings_of(words.port, words.share, not words.no_browser).items():
        command += [f"--{key}", str(value)]
    if words.share:
        print("Everybody in this network can now read and write what is entered. Stop with Ctrl+C.", file=sys.stderr)
    # Streamlit asks a newcomer for an e-mail address on the terminal; standard input that is closed skips it.
    sys.stdout.flush()
    with open(os.devnull) as nothing:
        os.dup2(nothing.fileno(), 0)
    if os.name == "nt":
        import subprocess

        return subprocess.run(command).returncode
    os.execv(sys.executable, command)  # one process: stopping the command stops the server


if __name__ == "__main__":
    sys.exit(main())
