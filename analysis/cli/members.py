"""`evenfall members`: many tests, kept safely and held against each other."""

from __future__ import annotations

import argparse
import datetime
import os
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..store import Store

EXAMPLES = """\
WHERE is a folder of records, the file of a store (.sqlite), or the address of a server
(postgresql://USER@HOST/NAME). Left out: the store in EVENFALL_STORE, else the one of the dashboard.
A folder is only read: its figures are kept in your own data folder, so the next time is quick.
"""


# What is asked of a store, in the order in which it is done. What is not in `COMPARED` makes no figures.
STORE_OPTIONS = ("restore", "versions", "let_stand", "take_off", "undo", "redo", "take_in", "give_out", "archive")
COMPARED = ("take_in",)


def add(commands) -> None:
    """Add the command to the parser."""
    members = commands.add_parser("members", help="many tests: who needs help first, what changed, what goes with it",
                                  epilog=EXAMPLES, formatter_class=argparse.RawDescriptionHelpFormatter)
    members.add_argument("where", metavar="WHERE", nargs="?", help="a folder, a store's file, or a server's address")
    members.add_argument("--take-in", metavar="FOLDER", help="take the records of this folder into the store first")
    members.add_argument("--give-out", metavar="FOLDER", help="write every record of the store into this folder")
    members.add_argument("--undo", action="store_true",
                         help="take back what you did last: an import, a save, --let-stand or --take-off; it is said "
                              "and asked first, and every text stays in the store")
    members.add_argument("--redo", action="store_true", help="do again what --undo took back last")
    members.add_argument("--yes", action="store_true", help="answer what --undo and --redo ask with yes")
    members.add_argument("--versions", metavar="TEST", help="list the versions of a test, and do nothing else")
    members.add_argument("--let-stand", nargs=2, metavar=("TEST", "VERSION"),
                         help="let an older version of a test stand again, as a new version")
    members.add_argument("--take-off", metavar="TEST", help="take a test off the list; all its versions stay")
    members.add_argument("--archive", metavar="FILE",
                         help="write the whole store, all versions and drafts, into one new file (.zip)")
    members.add_argument("--verify", metavar="FILE", help="check an archive from end to end, and do nothing else")
    members.add_argument("--restore", metavar="FILE", help="bring an archive back into an empty store")
    members.add_argument("--without-names", metavar="FILE",
                         help="write a table (.csv) for sharing: no names, no places")
    members.add_argument("--figure", choices=["dulq", "cu"], default="dulq", type=str.casefold,
                         help="what is compared (default DUlq)")
    members.add_argument("--cans-only", action="store_true",
                         help="do not estimate whole floors that are not estimated yet (half a second each)")
    members.add_argument("--json", action="store_true", help="print the comparison as JSON")
    members.add_argument("--units", choices=["metric", "US"],
                         help="units of the text (default: those of most records)")
    members.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Hold tests against each other, after what is asked of the store."""
    if words.verify:
        return _verify(words.verify)
    if words.without_names:
        _check_table(words.without_names)
    folder = Path(words.where) if words.where and Path(words.where).is_dir() else None
    faults: list[str] = []
    if folder is None:
        return _kept(words, _store(words), faults)
    for option in STORE_OPTIONS:
        if getattr(words, option):
            raise ValueError(f"received a folder with --{option.replace('_', '-')}, expected a store, name one as "
                             "WHERE or leave it out")
    with tempfile.TemporaryDirectory() as work:
        return _compare(words, _of_folder(folder, Path(work), faults), faults)


def _check_table(name: str) -> None:
    """Say before the work begins that its table could not be written."""
    if os.path.exists(name):
        raise ValueError(f"{name}: received the name of a file that exists, expected a new name, choose another")
    if not name.casefold().endswith(".csv"):
        raise ValueError(f"{name}: received a name that does not end in .csv, expected one: the table is text for a "
                         "spreadsheet, choose another")
    if not Path(name).resolve().parent.is_dir():
        raise ValueError(f"{name}: received a place in a folder that does not exist, expected one that does, make it "
                         "first")


def _store(words: argparse.Namespace) -> Store:
    from ..store.door import address_of
    from ..store.usual import open_usual, usual_address

    where = words.where
    if where and "://" not in where and not Path(where).suffix:
        raise ValueError(f"received {where!r}, which is no folder, expected a folder of records, a store's file "
                         "(.sqlite) or postgresql://..., check its name")
    address = address_of(where or usual_address())
    named = where or os.environ.get("EVENFALL_STORE", "").strip()
    made = words.take_in or words.restore
    if named and not made and address.drivername == "sqlite" and not Path(address.database).exists():
        raise ValueError(f"{address.database}: received a store that does not exist, expected one, check its name, or "
                         "add --take-in FOLDER to make it")
    return open_usual(where or "")


def _of_folder(folder: Path, work: Path, faults: list[str]) -> Store:
    """A store of what is in the folder now."""
    from ..store import OWNER, Store
    from ..store.complete import processes
    from ..store.folders import take_in

    store = Store(work / "folder.sqlite")
    faults += take_in(store, OWNER, folder, _bar("Reading"), workers=processes()).faults
    _list(faults)
    return store


def _kept(words: argparse.Namespace, store: Store, faults: list[str]) -> int:
    """What is asked of a store, and a comparison where nothing else is asked, or one is."""
    from ..store import OWNER
    from ..store.archive import reminder
    from ..store.complete import processes
    from ..store.folders import give_out, take_in

    if words.restore:
        _restore(store, words.restore)
    if words.versions or words.let_stand or words.take_off:
        return _one_test(store, words)
    if (words.undo or words.redo) and not _turn(store, words):
        return 2
    if words.take_in:
        moved = take_in(store, OWNER, words.take_in, _bar("Taking in"), workers=processes())
        _say(moved.taken())
        faults += moved.faults
        _list(moved.faults)
    if words.give_out:
        moved = give_out(store, OWNER, words.give_out, _bar("Writing"))
        _say(f"{moved.done} written, {moved.there} there already, {len(moved.faults)} left alone.")
        faults += moved.faults
        _list(moved.faults)
    if words.archive:
        _archive(store, words.archive)
    _list([says] if (says := reminder(store)) else [])
    asked = {option for option in STORE_OPTIONS if getattr(words, option)}
    if words.json or words.without_names or asked <= set(COMPARED):
        return _compare(words, store, faults)
    _list(store.news())
    return 2 if faults else 0


def _compare(words: argparse.Namespace, store: Store, faults: list[str]) -> int:
    """Make the figures that are missing and hold the tests against each other; faults so far are said already."""
    from ..compare.comparison import FIGURES, compare_tests
    from ..compare.text import members_json, members_text
    from ..store import OWNER

    said = len(faults)
    _make_figures(words, store, faults)
    if words.without_names:
        faults += _without_names(store, words.without_names)
    figure = next(key for key, name in FIGURES.items() if name.casefold() == words.figure)
    found = compare_tests(store.tests(OWNER), figure, words.units)
    if words.json:
        sys.stdout.write(members_json(found, faults))
    elif found.tests:
        sys.stdout.write(members_text(found, left_out=len(faults)))
    elif not faults:
        _say("There is no test yet. Take a folder of records (.toml files) in with --take-in FOLDER.")
    _list(faults[said:])
    _list(store.news())
    return 2 if faults else 0


def _make_figures(words: argparse.Namespace, store: Store, faults: list[str]) -> None:
    from ..store import OWNER, StoreError
    from ..store.complete import complete, processes
    from ..store.usual import keep_figures, kept_figures

    if says := kept_figures(store, OWNER):
        _say(says)
    faults += complete(store, OWNER, whole_floor=not words.cans_only, workers=processes(),
                       progress=_bar("Estimating"))
    try:
        keep_figures(store, OWNER)
    except StoreError as error:
        _say(f"{error}; the figures are not kept for the next time")


def _turn(store: Store, words: argparse.Namespace) -> bool:
    """Take the last action back, or do it again, after it is said and asked; whether that could be done."""
    from ..store import OWNER
    from ..store.undoing import do, what_redo, what_undo

    turn = what_redo(store, OWNER) if words.redo else what_undo(store, OWNER)
    if turn is None:
        _say("Nothing was taken back that can be done again." if words.redo else
             "Nothing was done here that can be taken back.")
        return True
    _say(turn.says())
    if not turn.steps:
        return False
    if not words.yes and not sys.stdin.isatty():
        _say("Nothing was changed: add --yes to do it.")
        return False
    if not words.yes:
        print("Do it? [y/N] ", end="", file=sys.stderr, flush=True)
        if sys.stdin.readline().strip().casefold() not in ("y", "yes"):
            _say("Nothing was changed.")
            return True
    do(store, OWNER, turn)
    _say(turn.told())
    return True


def _archive(store: Store, name: str) -> None:
    from ..entry.drafts.copies import draft_folders
    from ..store.archive import archive_to

    _say(f"{name}: {archive_to(store, name, draft_folders()).says()}.")


def _verify(name: str) -> int:
    from ..store.restoring import verify

    contents, faults = verify(name)
    _list(faults)
    if contents is not None and not faults:
        _say(f"{name}: whole, every checksum is right: {contents.says()}.")
    return 2 if faults else 0


def _restore(store: Store, name: str) -> None:
    from ..store.restoring import restore

    _say(f"{name}: {restore(store, name).says()}")


def _one_test(store: Store, words: argparse.Namespace) -> int:
    """What is asked of one test, and its versions after it."""
    from ..store import OWNER

    test = words.versions or words.take_off
    if words.let_stand:
        test, version = words.let_stand
        texts = [str(item.version) for item in store.versions(OWNER, test) if item.kind != "withdrawn"]
        if version not in texts:
            raise ValueError(f"received version {version!r} of {test}, expected one that has a text, see them with "
                             f"--versions {test}")
        store.stand(OWNER, test, int(version))
    elif words.take_off:
        store.withdraw(OWNER, test)
    stands = store.standing(OWNER, test)
    for item in store.history(OWNER, test):
        at = datetime.datetime.fromisoformat(item.saved_at).astimezone()
        who = f" by {item.saved_by}" if item.saved_by else ""
        source = f"from {item.source}" if item.source else ""
        told = [f"version {item.version}", f"saved {at:%Y-%m-%d %H:%M}{who}", source, item.became, item.changed,
                "stands now" if item.version == stands and item.kind == "saved" else ""]
        print(", ".join(part for part in told if part))
    return 0


def _without_names(store: Store, name: str) -> list[str]:
    """Write the table; why there is none, where a member could be recognised."""
    from ..record.file import save_text
    from ..store import OWNER, StoreError
    from ..store.sharing import without_names

    try:
        table, says = without_names(store, OWNER)
    except StoreError as error:
        return [f"{name}: {error}"]
    save_text(table, name)
    _say(f"Written: {name}. {says}")
    return []


def _say(text: str) -> None:
    print(text, file=sys.stderr)


def _list(lines: list[str]) -> None:
    for line in lines:
        _say(line)


def _bar(what: str):
    """A progress bar on stderr, at a terminal only."""
    if not sys.stderr.isatty():
        return None

    under = getattr(sys.stderr, "under", sys.stderr)  # the stream itself: the bar goes back to the line's beginning

    def show(done: int, total: int) -> None:
        full = 30 * done // max(total, 1)
        print(f"\r{what} {'#' * full}{'.' * (30 - full)} {done} of {total}", end="\n" if done >= total else "",
              file=under, flush=True)

    return show
