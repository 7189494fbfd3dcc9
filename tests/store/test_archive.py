"""One file holds a whole store: nothing is lost on the way, damage is found, and an old copy stays an old copy."""

import io
import json
import random
import zipfile

import pytest
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.copies import bring, draft_folders, rows_of
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.drafts.file import people_folder, shared_folder
from evenfall.store import OWNER, Store, StoreError, Viewer
from evenfall.store.archive import archive_bytes, archive_to, last_archived, mark_archived, reminder
from evenfall.store.complete import complete
from evenfall.store.folders import take_in
from evenfall.store.restoring import restore, verify
from evenfall.store.tables import ACTIONS, REVISIONS, STANDING
from evenfall.store.undoing import do, what_redo, what_undo
from sqlalchemy import select

from .texts import entry, record_text_of

ANN = Viewer("Änn \u202e", "HB")


def lived_in(store, folder):
    """A store with a history of every kind, drafts, and names and texts that are not plain."""
    take_in(store, OWNER, folder)
    store.save(ANN, *entry("t-a", first=1, notes='"Müller\\nÆ 水 \\u0000 \U0001f331"'))
    for first in (2, 3):
        store.save(ANN, *entry("t-a", first=first))
    store.save(OWNER, *entry("t-a", first=4), seen=1)
    store.stand(ANN, "t-a", 2)
    store.withdraw(OWNER, "t-3")
    store.save(OWNER, *entry("t-1", member="M1", first=77))
    do(store, OWNER, what_undo(store, OWNER))
    complete(store, OWNER, most=2)
    drafts = Drafts()
    draft = drafts.start(record_text_of(), "Draft one")
    drafts.put(draft, [Change("r1c1", "31", 1), Change("r1c1", "32", 2), Change("test.notes", "día\n", 3)], "phone")
    drafts.put(draft, [Change("r1c1", "33", 1)], "laptop")
    drafts.put_away(drafts.start("", "Put away"))
    Drafts(people_folder() / "0123456789abcdef").start("", "Somebody's own")


def everything(store):
    with store.door.reading() as connection:
        return [[tuple(row) for row in connection.execute(select(table).order_by(*table.primary_key.columns))]
                for table in (REVISIONS, STANDING, ACTIONS)]


def parts_of(path):
    with zipfile.ZipFile(path) as archive:
        return json.loads(archive.read("contents.json"))["parts"]


def fresh(request, tmp_path, kind):
    """An empty store of a kind."""
    if kind == "sqlite":
        return Store(tmp_path / f"fresh{random.getrandbits(40)}.sqlite")
    import psycopg

    server, name = request.getfixturevalue("server"), f"fresh{random.getrandbits(40)}"
    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return Store(f"{server}/{name}")


def test_from_one_kind_of_store_to_the_other_and_back_without_loss(request, store, folder, tmp_path, monkeypatch):
    lived_in(store, folder)
    before, drafts = everything(store), {name: list(rows_of(path)) for name, path in draft_folders().items()}
    first = tmp_path / "first.zip"
    assert "13 tests in 20 versions, 9 changes of drafts" in archive_to(store, first, draft_folders()).says()
    found, faults = verify(first)
    assert faults == [] and found.parts == parts_of(first) and set(drafts) == {"", "0123456789abcdef"}
    path = first
    for turn, kind in enumerate(("postgresql", "sqlite", "postgresql")):
        monkeypatch.setenv("EVENFALL_DATA", str(tmp_path / f"data{turn}"))
        other = fresh(request, tmp_path, kind)
        assert restore(other, path).says().startswith("Restored: 13 tests in 20 versions")
        assert everything(other) == before and other.tests(OWNER) != []
        assert {name: list(rows_of(where)) for name, where in draft_folders().items()} == drafts
        assert [item.summary for item in other.tests(OWNER)] == [item.summary for item in store.tests(OWNER)]
        path = tmp_path / f"again{turn}.zip"
        archive_to(other, path, draft_folders())
        assert parts_of(path) == parts_of(first), "every checksum is the same"
    do(other, OWNER, what_redo(other, OWNER))
    assert "[[77," in other.text(OWNER, "t-1"), "what was done before can be done again"
    other.save(ANN, *entry("new"))
    assert other.count(OWNER) == store.count(OWNER) + 1, "new rows get new numbers"


def test_after_a_restore_an_old_copy_is_refused_as_it_was_before(store, folder, tmp_path):
    take_in(store, OWNER, folder)
    newer = tmp_path / "newer"
    newer.mkdir()
    (newer / "test01.toml").write_text(record_text_of("t-1", member="M1", first=77), "utf-8")
    take_in(store, OWNER, newer)
    archive_to(store, tmp_path / "a.zip", {})
    back = Store(tmp_path / "back.sqlite")
    restore(back, tmp_path / "a.zip")
    moved = take_in(back, OWNER, folder)
    assert (moved.done, moved.changed, moved.there, moved.older) == (0, [], 11, 1)
    assert "[[77," in back.text(OWNER, "t-1")


def test_a_store_with_tests_is_never_restored_over(store, folder, tmp_path):
    take_in(store, OWNER, folder)
    archive_to(store, tmp_path / "a.zip", {})
    before = everything(store)
    assert restore(store, tmp_path / "a.zip").there and everything(store) == before
    store.save(OWNER, *entry("more"))
    before = everything(store)
    with pytest.raises(StoreError, match="received a store that has tests already, expected an empty one"):
        restore(store, tmp_path / "a.zip")
    assert everything(store) == before


def test_drafts_that_went_on_stay_and_those_that_are_missing_come_back(tmp_path):
    drafts = Drafts()
    one, two, three = (drafts.start("", f"Draft {number}") for number in range(3))
    drafts.put(one, [Change("r1c1", "31", 1)], "phone")
    rows = list(rows_of(shared_folder()))
    other = tmp_path / "other"
    kept = Drafts(other)
    mine = kept.start("", "Mine")
    assert bring(other, rows) == (3, [])
    kept.put(two, [Change("r1c1", "99", 1)], "laptop")
    drafts.put(one, [Change("r1c2", "44", 2)], "phone")
    drafts.put(two, [Change("r1c1", "55", 1)], "phone")
    assert bring(other, list(rows_of(shared_folder()))) == (2, [two])
    assert kept.values(one) == {"r1c1": "31", "r1c2": "44"} and kept.values(two) == {"r1c1": "99"}
    assert {item.draft for item in kept.listing()} == {one, two, three, mine}
    count = len(list(rows_of(other)))
    bring(other, list(rows_of(shared_folder())))
    assert len(list(rows_of(other))) == count, "again adds nothing"


def test_an_archive_is_written_whole_or_not_at_all(store, folder, tmp_path, monkeypatch):
    take_in(store, OWNER, folder)
    (tmp_path / "there.zip").write_text("mine")
    with pytest.raises(StoreError, match="there.zip: received the name of a file that exists, expected a new name"):
        archive_to(store, tmp_path / "there.zip", {})
    assert (tmp_path / "there.zip").read_text() == "mine"
    with pytest.raises(StoreError, match="the archive cannot be written .no such file or directory."):
        archive_to(store, tmp_path / "none" / "a.zip", {})

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("evenfall.store.archive.os.fsync", full)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(StoreError, match="a.zip: the archive cannot be written .no space left on device."):
        archive_to(store, tmp_path / "a.zip", {})
    assert sorted(tmp_path.iterdir()) == before and last_archived(store) == ""


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """Bytes of an archive."""
    place = tmp_path_factory.mktemp("sound")
    store = Store(place / "s.sqlite")
    for number in range(30):
        store.save(OWNER, *entry(f"t-{number % 10}", first=number))
    Drafts(place / "drafts").start(record_text_of(), "A draft")
    return archive_bytes(store, {"": place / "drafts"})


def test_every_damaged_byte_is_found_or_does_no_harm(sound, tmp_path):
    """Where a byte is another, the archive is refused in one sentence, or all that is in it is as it was."""
    path, rng, refused = tmp_path / "a.zip", random.Random(5), 0
    path.write_bytes(sound)
    whole = verify(path)
    assert whole[1] == []
    for _ in range(300):
        data = bytearray(sound)
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        path.write_bytes(data)
        found, faults = verify(path)
        assert faults or found == whole[0]
        refused += bool(faults)
        assert all(len(line.splitlines()) == 1 and line.startswith(f"{path}: received ") for line in faults)
    assert refused > 250
    path.write_bytes(sound[:len(sound) // 2])
    assert "damaged or no archive of a store" in verify(path)[1][0]
    with pytest.raises(StoreError, match="damaged or no archive"):
        restore(Store(tmp_path / "new.sqlite"), path)
    assert Store(tmp_path / "new.sqlite").tests(OWNER) == [] and not shared_folder().joinpath("drafts.sqlite").exists()


def changed(sound, path, part, change):
    """An archive in which one part was changed by somebody who knows how."""
    with zipfile.ZipFile(io.BytesIO(sound)) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            new.writestr(name, change(data) if name == part else data)


@pytest.mark.parametrize(("part", "change", "says"), [
    ("revisions.jsonl", lambda data: data.replace(b"[[5,", b"[[6,"), "a text that does not have its checksum"),
    ("revisions.jsonl", lambda data: data.split(b"\n", 1)[1], "revisions.jsonl with other rows than when it was made"),
    ("revisions.jsonl", lambda data: data[:-1], "revisions.jsonl damaged at line 30"),
    ("standing.jsonl", lambda data: data.replace(b'"version":3', b'"version":2', 1), "with other rows"),
    ("standing.jsonl", lambda data: data.replace(b'"version":3', b'"version":"3"', 1), "damaged at line 1"),
    ("drafts.jsonl", lambda data: data.replace(b"A draft", b"B draft"), "drafts.jsonl with other rows"),
    ("contents.json", lambda data: data.replace(b'archive": 1', b'archive": 2'), "made by a newer version"),
    ("contents.json", lambda data: data.replace(b"drafts.jsonl", b"drafts/../../x.jsonl"), "no archive of a store"),
    ("contents.json", lambda data: b"[" * 100_000, "no archive of a store"),
])
def test_what_was_changed_in_an_archive_is_named(sound, tmp_path, part, change, says):
    changed(sound, tmp_path / "a.zip", part, change)
    found, faults = verify(tmp_path / "a.zip")
    assert len(faults) == 1 and says in faults[0]


def test_the_reminder_comes_after_thirty_days_and_for_several_members_only(store):
    old = "2026-01-01T00:00:00.000+00:00"
    store.save(OWNER, *entry("one", member="HB"))
    mark_archived(store, old)
    assert reminder(store) == "", "one member looks after their own"
    store.save(OWNER, *entry("two", member="MG"))
    assert "days old, and 2 members rely on it: make one" in reminder(store)
    archive_bytes(store, {})
    assert reminder(store) == "" and last_archived(store) > old
