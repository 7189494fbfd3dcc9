"""`evenfall members`: many tests, kept safely and held against each other."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

EXAMPLES = """\
WHERE is a folder of records, the file of a store (.sqlite), or the address of a server
(postgresql://USER@HOST/NAME). Left out: the store in EVENFALL_STORE, else the one of the dashboard.
A folder is only read: its figures are kept in your own data folder, so the next time is quick.
"""


def add(commands) -> None:
    """Add the command to the parser.

    Parameters
    ----------
    commands : argparse subparsers
        Of `evenfall`.
    """
    members = commands.add_parser("members", help="many tests: who needs help first, what changed, what goes with it",
                                  epilog=EXAMPLES, formatter_class=argparse.RawDescriptionHelpFormatter)
    members.add_argument("where", metavar="WHERE", nargs="?", help="a folder, a store's file, or a server's address")
    members.add_argument("--take-in", metavar="FOLDER", help="take the records of this folder into the store first")
    members.add_argument("--give-out", metavar="FOLDER", help="write every record of the store into this folder")
    members.add_argument("--undo", action="store_true", help="take the last import back; every text stays in the store")
    members.add_argument("--without-names", metavar="FILE",
                         help="write a table (.csv) for sharing: no names, no places")
    members.add_argument("--figure", choices=["DUlq", "CU"], default="DUlq", help="what is compared (default DUlq)")
    members.add_argument("--cans-only", action="store_true",
                         help="do not estimate whole floors that are not estimated yet (half a second each)")
    members.add_argument("--json", action="store_true", help="print the comparison as JSON")
    members.add_argument("--units", choices=["metric", "US"], default="metric",
                         help="units of the text (default metric)")
    members.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Hold tests against each other, after what is asked of the store.

    Parameters
    ----------
    words : argparse.Namespace
        Of the command line.

    Returns
    -------
    int
        0, or 2 where files of the folder had faults (the good ones are taken and compared all the same).

    Raises
    ------
    ValueError
        For a store, folder or file that cannot be used.
    """
    from ..store import OWNER

    faults: list[str] = []
    folder = Path(words.where) if words.where and Path(words.where).is_dir() else None
    if folder is None:
        store = _store(words.where)
        return _with(words, store, OWNER, faults, None)
    for option in ("take_in", "give_out", "undo"):
        if getattr(words, option):
            raise ValueError(f"received a folder with --{option.replace('_', '-')}, expected a store, name one as WHERE "
                             "or leave it out")
    with tempfile.TemporaryDirectory() as work:
        return _with(words, _of_folder(folder, Path(work), faults), OWNER, faults, folder)


def _store(where: str | None):
    from ..store import Store
    from ..store.usual import usual_address

    if where and "://" not in where and not Path(where).suffix:
        raise ValueError(f"received {where!r}, which is no folder, expected a folder of records, a store's file "
                         "(.sqlite) or postgresql://..., check its name")
    return Store(where or usual_address())


def _of_folder(folder: Path, work: Path, faults: list[str]):
    """A store of what is in the folder now, with the figures that are kept from earlier."""
    from ..store import OWNER, Store
    from ..store.complete import processes
    from ..store.folders import take_in

    store = Store(work / "folder.sqlite")
    moved = take_in(store, OWNER, folder, _bar("Reading"), workers=processes())
    faults += moved.faults
    return store


def _with(words: argparse.Namespace, store, viewer, faults: list[str], folder: Path | None) -> int:
    from ..compare import FIGURES, compare_tests
    from ..compare.text import members_json, members_text
    from ..store.complete import complete, processes
    from ..store.folders import give_out, take_in
    from ..store.usual import kept_figures, keep_figures

    if words.undo:
        _undo(store, viewer)
    if words.take_in:
        moved = take_in(store, viewer, words.take_in, _bar("Taking in"), workers=processes())
        faults += moved.faults
        _say(f"{moved.done} taken in, {moved.there} there already, {len(moved.faults)} with faults.")
    if folder is not None:
        kept_figures(store, viewer)
    faults += complete(store, viewer, whole_floor=not words.cans_only, workers=processes(),
                       progress=_bar("Estimating"))
    if folder is not None:
        keep_figures(store, viewer)
    if words.give_out:
        moved = give_out(store, viewer, words.give_out, _bar("Writing"))
        faults += moved.faults
        _say(f"{moved.done} written, {moved.there} there already, {len(moved.faults)} left alone.")
    if words.without_names:
        _without_names(store, viewer, words.without_names)
    figure = next(key for key, name in FIGURES.items() if name == words.figure)
    found = compare_tests(store.tests(viewer), figure, words.units)
    if not found.tests and not faults and not words.json:
        _say("There is no test yet. Take a folder of records in with --take-in FOLDER.")
        return 0
    sys.stdout.write(members_json(found) if words.json else members_text(found, words.units))
    for line in faults:
        _say(line)
    return 2 if faults else 0


def _undo(store, viewer) -> None:
    from ..store.many import last_batch

    brought = last_batch(store, viewer)
    for item in brought:
        store.undo(viewer, item.test)
    count = f"{len(brought)} test{'' if len(brought) == 1 else 's'}"
    _say(f"{count} of the last import taken back; every text stays in the store." if brought else
         "There is no import to take back.")


def _without_names(store, viewer, name: str) -> None:
    from ..record_file import save_text
    from ..store.sharing import without_names

    if os.path.exists(name):
        raise ValueError(f"{name}: received the name of a file that exists, expected a new name, choose another")
    table, says = without_names(store, viewer)
    save_text(table, name)
    _say(f"Written: {name}. {says}")


def _say(text: str) -> None:
    print(text, file=sys.stderr)


def _bar(what: str):
    """A progress bar on stderr, at a terminal only."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, total: int) -> None:
        full = 30 * done // max(total, 1)
        print(f"\r{what} {'#' * full}{'.' * (30 - full)} {done} of {total}", end="\n" if done >= total else "",
              file=sys.stderr, flush=True)

    return show
