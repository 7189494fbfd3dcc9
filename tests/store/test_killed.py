"""A process that is killed in a save, an import, an archive or a restore: nothing is lost, doubled or half there."""

import itertools
import os
import random
import signal
import time

import pytest
from evenfall.entry.drafts.copies import draft_folders
from evenfall.entry.drafts.drafts import Drafts
from evenfall.store import OWNER, Store, archive, restoring
from evenfall.store.archive import archive_to
from evenfall.store.folders import take_in
from evenfall.store.restoring import restore, verify
from evenfall.store.rows import digest_of
from evenfall.store.tables import REVISIONS, STANDING, SUMMARIES
from sqlalchemy import func, select

from .texts import entry, record_text_of

pytestmark = pytest.mark.long

KILLS = 50  # each of saves and imports, on each kind of store


def child(work):
    """Run `work(tell)` in a process of its own; what it tells arrives as lines."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        try:
            work(lambda line: os.write(writing, f"{line}\n".encode()))
        finally:
            os._exit(0)
    os.close(writing)
    return pid, reading


def killed_after(work, lines, seconds):
    """Kill `work` once it has told so many lines, and a moment later; what it told."""
    pid, reading = child(work)
    told = b""
    with os.fdopen(reading, "rb", buffering=0) as pipe:
        while told.count(b"\n") < lines and (more := pipe.read(4096)):
            told += more
        time.sleep(seconds)
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        while more := pipe.read(4096):
            told += more
    return told.decode().split()


def killed_in(work):
    """Kill `work` at the place of which it tells, and at which it waits for that."""
    pid, reading = child(work)
    with os.fdopen(reading, "rb", buffering=0) as pipe:
        told = pipe.read(1)
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
    assert told, "it never came to that place"


def waits(tell, *_):
    """What a process does at the place where it is to be killed."""
    tell("there")
    signal.pause()


def stopping(real, number, tell):
    """A function that gives what `real` gives, and waits once so many of all its items were taken."""
    count = itertools.count(1)

    def given(*asked):
        for item in real(*asked):
            yield item
            if next(count) == number:
                waits(tell)

    return given


def sound(address):
    """Every row is whole, no text is there twice in one test, and what stands is there."""
    store = Store(address)
    with store.door.reading() as connection:
        rows = connection.execute(select(REVISIONS)).all()
        stands = connection.execute(select(STANDING)).all()
        digests = set(connection.execute(select(SUMMARIES.c.digest)).scalars())
        newest = {test: version for test, version in connection.execute(
            select(REVISIONS.c.test, func.max(REVISIONS.c.version)).group_by(REVISIONS.c.test))}
    store.door.close()
    assert all(digest_of(row.text) == row.digest for row in rows)
    assert len({(row.test, row.digest) for row in rows}) == len(rows)
    assert {row.test: row.version for row in stands} == newest
    assert {row.digest for row in rows} <= digests
    for test, last in newest.items():
        assert sorted(row.version for row in rows if row.test == test) == list(range(1, last + 1))
    return {row.text for row in rows}


def test_a_save_that_was_told_of_is_there(address):
    Store(address).door.close()
    rng = random.Random(1)
    told, number = [], 0
    for _ in range(KILLS):
        begin = number

        def save(tell, begin=begin):
            store = Store(address)
            for turn in range(begin, begin + 1000):
                store.save(OWNER, *entry(f"t-{turn % 3}", first=turn))
                tell(turn)

        done = [int(line) for line in killed_after(save, rng.randrange(4), rng.uniform(0.0, 0.03))]
        told += done
        number = max([number, *(turn + 2 for turn in done)])
    assert len(told) >= KILLS / 2
    there = sound(address)
    assert {record_text_of(f"t-{turn % 3}", first=turn) for turn in told} <= there
    assert len(there) <= len(told) + KILLS, "at most one that was not told of for each kill"


def test_an_import_goes_on_where_it_was_killed(address, tmp_path, monkeypatch):
    monkeypatch.setattr("evenfall.store.folders.BATCH", 5)
    folder = tmp_path / "many"
    folder.mkdir()
    wanted = {record_text_of(f"i-{number}", member=f"M{number % 7}", first=number) for number in range(600)}
    for number, typed in enumerate(sorted(wanted)):
        (folder / f"{number:04d}.toml").write_text(typed, "utf-8")
    Store(address).door.close()
    rng, grown = random.Random(2), []
    for _ in range(KILLS):
        def bring(tell):
            take_in(Store(address), OWNER, folder, lambda done, total: tell(done))

        there = grown[-1] // 5 if grown else 0  # batches that are only passed over now
        killed_after(bring, there + rng.randrange(3), rng.uniform(0.0, 0.004))
        grown.append(len(sound(address)))
    assert len(set(grown)) > KILLS / 3, "the kills fell into the import"
    store = Store(address)
    moved = take_in(store, OWNER, folder)
    assert moved.faults == [] and moved.done + moved.there == 600
    assert sound(address) == wanted and store.count(OWNER) == 600


def filled(address, count=400):
    store = Store(address)
    for number in range(count):
        store.save(OWNER, *entry(f"k-{number % 300}", first=number))
    drafts = Drafts()
    for number in range(40):
        drafts.start(record_text_of(first=number), f"Draft {number}")
    return store


def test_an_archive_that_was_killed_is_whole_or_not_there(address, tmp_path):
    store, place = filled(address), tmp_path / "archives"
    place.mkdir()
    start = time.perf_counter()
    archive_to(store, place / "whole.zip", draft_folders())
    took = time.perf_counter() - start
    wanted, rng, made = verify(place / "whole.zip")[0].parts, random.Random(3), 0

    for turn in range(KILLS):
        def write(tell, turn=turn):
            mine = Store(address)
            tell("begun")
            archive_to(mine, place / f"{turn}.zip", draft_folders())

        killed_after(write, 1, rng.uniform(0.0, 1.5 * took))
        if (place / f"{turn}.zip").exists():
            found, faults = verify(place / f"{turn}.zip")
            assert faults == [] and found.parts == wanted
            made += 1
    print(f"\n{made} of {KILLS} archives were done before they were killed")
    assert 0 < made < KILLS, "the kills fell into the archive"
    sound(address)


def test_a_restore_goes_on_where_it_was_killed(address, tmp_path, monkeypatch):
    filled(f"{tmp_path}/from.sqlite")
    path, rng, halves = tmp_path / "a.zip", random.Random(4), 0
    archive_to(Store(tmp_path / "from.sqlite"), path, draft_folders())
    wanted = sound(tmp_path / "from.sqlite")
    monkeypatch.setenv("EVENFALL_DATA", str(tmp_path / "measured"))
    start = time.perf_counter()
    restore(Store(tmp_path / "measured.sqlite"), path)
    took = time.perf_counter() - start
    monkeypatch.setenv("EVENFALL_DATA", str(tmp_path / "elsewhere"))
    Store(address).door.close()

    for _ in range(KILLS):
        def bring(tell):
            mine = Store(address)
            tell("begun")
            restore(mine, path)

        killed_after(bring, 1, rng.uniform(0.0, took))
        there = sound(address)
        assert there in (set(), wanted), "all or nothing"
        halves += not there
        if there:
            break
    print(f"\nkilled {halves} times before it was done")
    restore(Store(address), path)
    assert sound(address) == wanted
    assert len(Drafts().listing()) == 40 and halves


def test_an_archive_killed_surely_in_its_midst(address, tmp_path):
    """After the first row, within tables, in the drafts, before the file gets its name, before that is noted."""
    store, place = filled(address, 60), tmp_path / "archives"
    place.mkdir()
    archive_to(store, place / "whole.zip", draft_folders())
    wanted = verify(place / "whole.zip")[0].parts
    rows = sum(part["rows"] for part in wanted.values())
    for number in [1, *(rows * part // 8 for part in range(1, 9))]:
        def write(tell, number=number):
            archive.lines_of = stopping(archive.lines_of, number, tell)
            archive_to(Store(address), place / "half.zip", draft_folders())

        killed_in(write)
        assert not (place / "half.zip").exists()

    def name(tell):
        archive.os.replace = lambda *asked: waits(tell)
        archive_to(Store(address), place / "half.zip", draft_folders())

    def mark(tell):
        archive.mark_archived = lambda *asked: waits(tell)
        archive_to(Store(address), place / "noted.zip", draft_folders())

    killed_in(name)
    killed_in(mark)
    assert not (place / "half.zip").exists()
    archive_to(Store(address), place / "after.zip", draft_folders())
    for name in ("noted.zip", "after.zip"):
        found, faults = verify(place / name)
        assert faults == [] and found.parts == wanted
    assert len(sound(address)) == 60


def test_a_restore_killed_surely_in_its_midst(address, tmp_path, monkeypatch):
    """After each batch of rows, all of them in one transaction, and after it, before that is noted."""
    filled(f"{tmp_path}/from.sqlite", 60)
    path = tmp_path / "a.zip"
    made = archive_to(Store(tmp_path / "from.sqlite"), path, draft_folders())
    batches = sum(-(-made.parts[part]["rows"] // 20) for part in archive.PARTS)
    wanted = sound(tmp_path / "from.sqlite")
    monkeypatch.setenv("EVENFALL_DATA", str(tmp_path / "elsewhere"))
    Store(address).door.close()
    for number in range(1, batches + 1):
        def bring(tell, number=number):
            restoring.MANY = 20
            restoring._some = stopping(restoring._some, number, tell)
            restore(Store(address), path)

        killed_in(bring)
        assert sound(address) == set(), "all or nothing"
        assert len(Drafts().listing()) == 40, "drafts come first, each where it is not yet"

    def mark(tell):
        restoring.mark_archived = lambda *asked: waits(tell)
        restore(Store(address), path)

    killed_in(mark)
    assert sound(address) == wanted
    assert restore(Store(address), path).there and sound(address) == wanted
    assert len(Drafts().listing()) == 40
