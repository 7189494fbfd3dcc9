"""`evenfall members`: many tests, kept safely and held against each other."""

from __future__ import annotations

import argparse
import datetime
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
    """Add the command to the parser."""
    members = commands.add_parser("members", help="many tests: who needs help first, what changed, what goes with it",
                                  epilog=EXAMPLES, formatter_class=argparse.RawDescriptionHelpFormatter)
    members.add_argument("where", metavar="WHERE", nargs="?", help="a folder, a store's file, or a server's address")
    members.add_argument("--take-in", metavar="FOLDER", help="take the records of this folder into the store first")
    members.add_argument("--give-out", metavar="FOLDER", help="write every record of the store into this folder")
    members.add_argument("--undo", action="store_true", help="take the last import back; every text stays in the store")
    members.add_argument("--versions", metavar="TEST", help="list the versions of a test, and do nothing else")
    members.add_argument("--let-stand", nargs=2, metavar=("TEST", "VERSION"),
                         help="let an older version of a test stand again, as a new version")
    members.add_argument("--take-off", metavar="TEST", help="take a test off the list; all its versions stay")
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
    if words.without_names:
        _check_table(words.without_names)
    folder = Path(words.where) if words.where and Path(words.where).is_dir() else None
    faults: list[str] = []
    if folder is None:
        return _with(words, _store(words), faults)
    for option in ("take_in", "give_out", "undo", "versions", "let_stand", "take_off"):
        if getattr(words, option):
            raise ValueError(f"received a folder with --{option.replace('_', '-')}, expected a store, name one as "
                             "WHERE or leave it out")
    with tempfile.TemporaryDirectory() as work:
        return _with(words, _of_folder(folder, Path(work), faults), faults)


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


def _store(words: argparse.Namespace):
    from ..store.door import address_of
    from ..store.usual import open_usual, usual_address

    where = words.where
    if where and "://" not in where and not Path(where).suffix:
        raise ValueError(f"received {where!r}, which is no folder, expected a folder of records, a store's file "
                         "(.sqlite) or postgresql://..., check its name")
    address = address_of(where or usual_address())
    named = where or os.environ.get("EVENFALL_STORE", "").strip()
    if named and not words.take_in and address.drivername == "sqlite" and not Path(address.database).exists():
        raise ValueError(f"{address.database}: received a store that does not exist, expected one, check its name, or "
                         "add --take-in FOLDER to make it")
    return open_usual(where or "")


def _of_folder(folder: Path, work: Path, faults: list[str]):
    """A store of what is in the folder now."""
    from ..store import OWNER, Store
    from ..store.complete import processes
    from ..store.folders import take_in

    store = Store(work / "folder.sqlite")
    faults += take_in(store, OWNER, folder, _bar("Reading"), workers=processes()).faults
    return store


def _with(words: argparse.Namespace, store, faults: list[str]) -> int:
    from ..compare.comparison import FIGURES, compare_tests
    from ..compare.text import members_json, members_text
    from ..store import OWNER, StoreError
    from ..store.complete import complete, processes
    from ..store.folders import give_out, take_in
    from ..store.usual import keep_figures, kept_figures

    if words.versions or words.let_stand or words.take_off:
        return _one_test(store, words)
    if words.undo:
        _undo(store)
    if words.take_in:
        moved = take_in(store, OWNER, words.take_in, _bar("Taking in"), workers=processes())
        faults += moved.faults
        _say(moved.taken())
    kept_figures(store, OWNER)
    faults += complete(store, OWNER, whole_floor=not words.cans_only, workers=processes(),
                       progress=_bar("Estimating"))
    try:
        keep_figures(store, OWNER)
    except StoreError as error:
        _say(f"{error}; the figures are not kept for the next time")
    if words.give_out:
        moved = give_out(store, OWNER, words.give_out, _bar("Writing"))
        faults += moved.faults
        _say(f"{moved.done} written, {moved.there} there already, {len(moved.faults)} left alone.")
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
    for line in faults:
        _say(line)
    return 2 if faults else 0


def _undo(store) -> None:
    from ..store import OWNER
    from ..store.many import last_batch

    brought = last_batch(store, OWNER)
    for item in brought:
        store.undo(OWNER, item.test)
    if not brought:
        _say("Nothing that stands came with an import, so nothing is taken back.")
        return
    names = ", ".join(item.test for item in brought[:8]) + (", ..." if len(brought) > 8 else "")
    _say(f"{len(brought)} test{'' if len(brought) == 1 else 's'} of the last import taken back ({names}): each stands "
         "as it was before, and every text stays in the store.")


def _one_test(store, words: argparse.Namespace) -> int:
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
    for item in store.versions(OWNER, test):
        at = datetime.datetime.fromisoformat(item.saved_at).astimezone()
        who = f" by {item.saved_by}" if item.saved_by else ""
        told = [f"version {item.version}", f"saved {at:%Y-%m-%d %H:%M}{who}", item.became,
                "stands now" if item.version == stands and item.kind == "saved" else ""]
        print(", ".join(part for part in told if part))
    return 0


def _without_names(store, name: str) -> list[str]:
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
