"""Whole folders of records into a store and out of it: the good ones are taken, each fault is named, and either can be
stopped and begun again."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Row

from ..pattern.threads import one_thread
from ..record.faults import RecordFaults
from ..record.file import parse_record, read_text, save_text
from .actions import new_name
from .complete import helpers
from .errors import StoreError
from .many import add_many, standing, states
from .rows import StoredText, digest_of, entry_of
from .summaries import Summary, readable, summary_of
from .viewer import Viewer
from .writer import Store, check_owner, not_yours_to_use

BATCH = 200  # records in one transaction, of each process: what is done again at most when the machine stops
PAYS_FROM = 3000  # files from which further processes are worth their start
_PART = 50   # records that one process gets at a time
NAMED = 8  # changed files that are named
NOT_YOURS = "?"  # in the place of a test that this person may not see
Progress = Callable[[int, int], None]


@dataclass
class Moved:
    """What became of the files of a folder."""

    done: int = 0  # [1] records that were taken in as new tests, or given out
    # files whose tests were there with another text: it is their newest version now
    changed: list[str] = field(default_factory=list)
    there: int = 0  # [1] those that were there already
    older: int = 0  # [1] texts that are older versions of what stands; they were passed over
    faults: list[str] = field(default_factory=list)  # one line a fault, with the file's name; that file was left alone

    def taken(self) -> str:
        """What was taken in, for a person."""
        names = ", ".join(self.changed[:NAMED]) + (", ..." if len(self.changed) > NAMED else "")
        changed = f"{len(self.changed)} changed" + (f" ({names})" if names else "")
        older = f", {self.older} older than the version that stands and passed over" if self.older else ""
        return (f"{self.done} new test{'' if self.done == 1 else 's'}, {changed}, {self.there} there already{older}, "
                f"{len(self.faults)} fault{'' if len(self.faults) == 1 else 's'}.")


@one_thread
def take_in(store: Store, viewer: Viewer, folder: str | os.PathLike[str], progress: Progress | None = None, *,
            workers: int = 1, label: str = "") -> Moved:
    """Take the records of a folder, and of those in it, into a store."""
    # A file whose text stands is passed over, so an import that was stopped goes on where it was. A record that is in
    # the store with another text becomes a new version of its test, unless its text is an older version of what stands.
    # What was taken back comes in again.
    folder = Path(folder)
    if not folder.is_dir():
        raise StoreError(f"{folder}: received no folder, expected a folder of records (.toml files), check its name")
    moved, batch = Moved(), new_name()
    seen: dict[str, StoredText] = {}
    files = _files_in(folder, moved)
    with helpers(workers if len(files) >= PAYS_FROM else 1) as pool:
        size = BATCH * (workers if pool else 1)
        for start in range(0, len(files), size):
            read = list(_read(files[start:start + size], folder, moved))
            state = states(store, viewer, [digest for _, _, digest in read])
            had = [state.get(digest) for *_, digest in read]
            moved.there += had.count("stands")
            moved.older += had.count("older")
            checked = _checked([(name, text) for name, text, digest in read
                                if state.get(digest) not in ("stands", "older")], viewer, moved, pool)
            now = standing(store, [entry.key for entry, _ in checked])
            fresh = _one_a_test(checked, now, seen, folder, viewer, moved)
            if fresh:
                add_many(store, viewer, fresh, batch, label or str(folder))
                changed = [entry.source for entry, _ in fresh if entry.key in now and now[entry.key].kind == "saved"]
                moved.changed += changed
                moved.done += len(fresh) - len(changed)
            if progress:
                progress(min(start + size, len(files)), len(files))
    return moved


def _files_in(folder: Path, moved: Moved) -> list[Path]:
    """Records of a folder and of those in it; a folder that may not be read is told."""
    def shut(error: OSError) -> None:
        name = os.path.relpath(error.filename, folder)
        moved.faults.append(f"{folder if name == '.' else name}: received a folder that cannot be read "
                            f"({(error.strerror or 'unreadable').lower()}), expected records, check its rights")

    return sorted(Path(place) / name for place, _, names in os.walk(folder, onerror=shut) for name in names
                  if name.casefold().endswith(".toml"))


def _read(files: list[Path], folder: Path, moved: Moved) -> Iterator[tuple[str, str, str]]:
    for path in files:
        name = path.relative_to(folder).as_posix()
        try:
            text = read_text(path)
        except RecordFaults as error:
            moved.faults += [line.replace(os.fspath(path), name, 1) for line in error.lines]
            continue
        yield name, text, digest_of(text)


def _checked(texts: list[tuple[str, str]], viewer: Viewer, moved: Moved,
             pool: ProcessPoolExecutor | None) -> list[tuple[StoredText, Summary]]:
    """The records among the texts, in their order; what is none is told in `moved`."""
    if pool is None or not texts:
        found = check_some(texts, viewer)
    else:
        parts = [texts[start:start + _PART] for start in range(0, len(texts), _PART)]
        found = [item for part in pool.map(check_some, parts, [viewer] * len(parts)) for item in part]
    moved.faults += [line for item in found if isinstance(item, list) for line in item]
    return [item for item in found if isinstance(item, tuple)]


@one_thread
def check_some(texts: list[tuple[str, str]], viewer: Viewer) -> list[tuple[StoredText, Summary] | list[str]]:
    """Check records and sum them up, without their whole floors."""
    return [_check(name, text, viewer) for name, text in texts]


def _check(name: str, text: str, viewer: Viewer) -> tuple[StoredText, Summary] | list[str]:
    try:
        record = parse_record(text, name)
        entry = entry_of(record, text, name)
        check_owner(viewer, entry)
        return entry, summary_of(record, whole_floor=False)
    except RecordFaults as error:
        return list(error.lines)
    except StoreError as error:
        return [f"{name}: {error}"]


def _one_a_test(pairs: list[tuple[StoredText, Summary]], stands: dict[str, Row[Any]], seen: dict[str, StoredText],
                folder: Path, viewer: Viewer, moved: Moved) -> list[tuple[StoredText, Summary]]:
    """Without those that cannot be the newest version of the test that they say they are."""
    kept: list[tuple[StoredText, Summary]] = []
    for entry, summary in pairs:
        twin, now = seen.get(entry.key), stands.get(entry.key)
        if twin is not None and twin.digest == entry.digest:
            moved.there += 1
            continue
        other = twin.source if twin else None
        if now is not None and now.kind == "saved" and other is None:
            other = _another(entry, summary, now, folder, viewer)
        if other == NOT_YOURS:
            moved.faults.append(f"{entry.source}: {not_yours_to_use(entry.key)}")
            continue
        if other is not None:
            has = (f"the id {entry.key!r}" if not entry.key.startswith("~") else
                   "no id, but member, site, zone, tunnel and date")
            moved.faults.append(f"{entry.source}: received a test with {has} of {other}, expected an id of its own, "
                                "write it under [test]")
            continue
        seen[entry.key] = entry
        kept.append((entry, summary))
    return kept


def _another(entry: StoredText, summary: Summary, now: Row[Any], folder: Path, viewer: Viewer) -> str | None:
    """The test that stands under a record's key, where it seems to be another than an older version of the record."""
    if not viewer.sees_all and now.owner != viewer.owner:
        return NOT_YOURS
    known = readable(now.plain) if now.plain else None
    shown = ", ".join(part for part in (known.member, known.tunnel, known.date) if part) if known else ""
    kept = f"another test that is kept ({shown or (known.title if known else 'no title')})"
    if now.source and now.source != entry.source and (entry.key.startswith("~") or (folder / now.source).is_file()):
        return f"{now.source} ({shown})" if (folder / now.source).is_file() else kept
    unlike = known and known.date != summary.date and known.tunnel != summary.tunnel
    return kept if now.owner != entry.owner or unlike else None


def give_out(store: Store, viewer: Viewer, folder: str | os.PathLike[str], progress: Progress | None = None) -> Moved:
    """Write the records that stand into a folder, each as it was entered."""
    folder, moved = Path(folder), Moved()
    taken: dict[str, str] = {}
    total, number = store.count(viewer), 0
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for test, digest, text in store.texts(viewer):
            number += 1
            _write(folder, file_name(test, digest, taken), text, moved)
            if progress and (number % 50 == 0 or number == total):
                progress(number, max(total, number))
    except OSError as error:
        raise StoreError(f"{folder}: records cannot be written there ({(error.strerror or str(error)).lower()}); "
                         f"{moved.done} were written, and doing it again goes on") from error
    return moved


def file_name(test: str, digest: str, taken: dict[str, str]) -> str:
    """Name the file of a test so that it differs from all others in more than capitals."""
    stem = test.lstrip("~") if test.startswith("~") else test
    if taken.setdefault(stem.casefold(), test) != test:
        stem = f"{stem}-{digest[:8]}"
    return f"{stem}.toml"


def _write(folder: Path, name: str, text: str, moved: Moved) -> None:
    path = folder / name
    if path.exists():
        if path.is_file() and path.read_bytes() == text.encode("utf-8"):
            moved.there += 1
        else:
            moved.faults.append(f"{name}: received a file with another text in that folder, expected a free name, it "
                                "was left as it is; choose another folder")
        return
    save_text(text, path)
    moved.done += 1
