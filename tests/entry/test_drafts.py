"""Drafts on disk: merging, clashes, durability and what is refused."""

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from evenfall.entry.drafts import file as draft_file
from evenfall.entry.drafts.changes import can_words, is_draft_id, is_reading_key
from evenfall.entry.drafts.drafts import MOST_KEYS, Change, DraftError, Drafts
from evenfall.entry.drafts.file import data_folder
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def drafts(tmp_path):
    return Drafts(tmp_path / "data")


def rows(drafts):
    with sqlite3.connect(drafts.file) as connection:
        return connection.execute("SELECT count(*) FROM changes").fetchone()[0]


# -- starting and reading -------------------------------------------------


def test_a_draft_starts_with_its_base_and_title(drafts):
    draft = drafts.start(base="record = 1\n", title="Tunnel 4")
    assert is_draft_id(draft)
    assert drafts.exists(draft)
    assert drafts.values(draft) == {"base": "record = 1\n"}
    assert drafts.listing()[0].title == "Tunnel 4"


def test_an_unknown_draft_is_empty_and_cannot_be_written(drafts):
    drafts.start()
    unknown = "0" * 16
    assert not drafts.exists(unknown)
    assert drafts.values(unknown) == {} and drafts.revision(unknown) == 0
    with pytest.raises(DraftError, match="there is no draft 0{16} in .*drafts.sqlite; open one from the list"):
        drafts.put(unknown, [Change("r1c1", "31", 1)], "phone")


@pytest.mark.parametrize("text", ["", "../../etc", "0" * 15, "0" * 17, "G" * 16, "0" * 15 + "\n", None, 7])
def test_a_text_that_is_no_id_is_nowhere(drafts, text):
    assert not is_draft_id(text)
    assert not drafts.exists(text)
    with pytest.raises(DraftError, match="is not the id of a draft"):
        drafts.values(text)


def test_values_are_the_newest_arrival_for_each_key(drafts):
    draft = drafts.start()
    drafts.put(draft, [Change("r1c1", "31", 1), Change("floor.width", "7,6 m", 2)], "phone")
    drafts.put(draft, [Change("r1c2", "x", 1), Change("floor.width", "8 m", 2)], "laptop")
    assert drafts.values(draft) == {"r1c1": "31", "r1c2": "x", "floor.width": "8 m"}


def test_texts_come_back_as_typed(drafts):
    draft = drafts.start()
    typed = {"r1c1": "12a", "r1c2": " 3,5 ", "r1c3": "", "r1c4": "'; DROP TABLE changes; --"}
    typed["test.notes"] = "läuft \u00bd \U0001f331"
    drafts.put(draft, [Change(can, text, i + 1) for i, (can, text) in enumerate(typed.items())], "phone")
    assert drafts.values(draft) == typed


def test_revision_grows_with_every_change_and_only_then(drafts):
    draft, other = drafts.start(), drafts.start()
    before = drafts.revision(draft)
    drafts.put(other, [Change("r1c1", "1", 1)], "phone")
    assert drafts.revision(draft) == before
    drafts.put(draft, [Change("r1c1", "1", 1)], "phone")
    after = drafts.revision(draft)
    assert after > before
    drafts.put(draft, [Change("r1c1", "1", 1)], "phone")
    assert drafts.revision(draft) == after


# -- idempotence ----------------------------------------------------------


def test_the_same_change_twice_is_stored_once(drafts):
    draft = drafts.start()
    change = Change("r1c1", "31", 5)
    assert drafts.put(draft, [change], "phone") == 5
    before = rows(drafts)
    assert drafts.put(draft, [change, change], "phone") == 5
    assert rows(drafts) == before
    assert [entry.text for entry in drafts.history(draft, "r1c1")] == ["31"]


def test_an_overtaken_change_does_not_come_back(drafts):
    draft = drafts.start()
    drafts.put(draft, [Change("r1c1", "31", 6)], "phone")
    assert drafts.put(draft, [Change("r1c1", "3", 5)], "phone") == 6
    assert drafts.values(draft) == {"r1c1": "31"}


def test_acknowledged_is_per_draft_and_device(drafts):
    draft, other = drafts.start(), drafts.start()
    assert drafts.put(draft, [], "phone") == 0
    drafts.put(draft, [Change("r1c1", "31", 9)], "phone")
    drafts.put(draft, [Change("r1c2", "28", 4)], "laptop")
    assert drafts.acknowledged(draft, "phone") == 9
    assert drafts.acknowledged(draft, "laptop") == 4
    assert drafts.acknowledged(other, "phone") == 0
    assert drafts.snapshot(draft).acknowledged == {"phone": 9, "laptop": 4}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    typed=st.lists(st.tuples(st.sampled_from(["r1c1", "r1c2", "p3"]), st.text("0123.,x ", max_size=5)), max_size=12),
    data=st.data(),
)
def test_any_resending_ends_with_what_was_typed_last(tmp_path_factory, typed, data):
    """Batches repeated and out of order, as a bad connection makes them, lose and revive nothing."""
    drafts = Drafts(tmp_path_factory.mktemp("resent"))
    draft = drafts.start()
    changes = [Change(can, text, i + 1) for i, (can, text) in enumerate(typed)]
    batches = data.draw(st.lists(st.lists(st.sampled_from(changes), max_size=6), max_size=6)) if changes else []
    for batch in data.draw(st.permutations([*batches, changes])):
        drafts.put(draft, batch, "phone")
    assert drafts.values(draft) == dict(typed)
    assert drafts.acknowledged(draft, "phone") == len(changes)


# -- two devices ----------------------------------------------------------


def test_different_cans_merge_without_a_clash(drafts):
    draft = drafts.start()
    drafts.put(draft, [Change("r1c1", "31", 1)], "phone")
    drafts.put(draft, [Change("r1c2", "13", 1)], "laptop")
    assert drafts.values(draft) == {"r1c1": "31", "r1c2": "13"}
    assert drafts.clashes(draft) == []


def clashing(drafts):
    draft = drafts.start()
    drafts.put(draft, [Change("r2c3", "13", 1)], "laptop")
    drafts.put(draft, [Change("r2c3", "31", 1)], "phone")
    return draft


def test_the_same_can_unseen_clashes_and_says_so(drafts):
    draft = clashing(drafts)
    (clash,) = drafts.clashes(draft, "phone")
    assert (clash.can, clash.text, clash.other) == ("r2c3", "31", "13")
    assert (clash.device, clash.other_device) == ("phone", "laptop")
    assert clash.says.startswith("Row 2, can 3: 31 was typed here, 13 on another device; 31 came last and stands")
    assert drafts.clashes(draft, "laptop")[0].says.startswith("Row 2, can 3: 13 was typed here, 31 on another device")
    assert drafts.clashes(draft)[0].says.startswith("Row 2, can 3: 31 was typed on one device, 13 on another;")
    assert [entry.text for entry in drafts.history(draft, "r2c3")] == ["13", "31"]


@pytest.mark.parametrize("device", ["phone", "laptop", "third"])
def test_a_change_that_has_seen_both_settles_it(drafts, device):
    draft = clashing(drafts)
    drafts.put(draft, [Change("r2c3", "13", 7, seen=drafts.revision(draft))], device)
    assert drafts.clashes(draft) == []


def test_typing_on_without_having_seen_does_not_settle_it(drafts):
    draft = clashing(drafts)
    drafts.put(draft, [Change("r2c3", "310", 2, seen=0)], "phone")
    assert [clash.text for clash in drafts.clashes(draft)] == ["310"]


def test_a_clash_of_the_other_side_typing_on(drafts):
    draft = clashing(drafts)
    drafts.put(draft, [Change("r2c3", "135", 2, seen=0)], "laptop")
    assert [(clash.text, clash.other) for clash in drafts.clashes(draft)] == [("135", "31")]


def test_the_same_text_on_both_is_no_clash_whatever_was_typed_on_the_way(drafts):
    draft = drafts.start()
    drafts.put(draft, [Change("r2c3", "1", 1)], "laptop")
    drafts.put(draft, [Change("r2c3", "13", 2)], "laptop")
    drafts.put(draft, [Change("r2c3", "13", 1)], "phone")
    assert drafts.clashes(draft) == []


def test_a_correction_of_what_was_seen_is_no_clash(drafts):
    draft = drafts.start()
    drafts.put(draft, [Change("r2c3", "13", 1)], "laptop")
    drafts.put(draft, [Change("r2c3", "31", 1, seen=drafts.revision(draft))], "phone")
    assert drafts.clashes(draft) == []


def test_an_emptied_can_and_no_reading_are_named_in_words(drafts):
    draft = drafts.start()
    drafts.put(draft, [Change("p7", "x", 1)], "laptop")
    drafts.put(draft, [Change("p7", "", 1)], "phone")
    assert drafts.clashes(draft, "phone")[0].says.startswith("Can 7: nothing was typed here, 'no reading' on another")


def test_keys_in_words():
    assert can_words("r12c3") == "Row 12, can 3"
    assert can_words("p7") == "Can 7"
    assert can_words("floor.width") == "floor.width"
    assert is_reading_key("r1c1") and is_reading_key("p1")
    for key in ("r0c1", "r1c", "p0", "base", "r1c1\n", "", None):
        assert not is_reading_key(key)


# -- the list -------------------------------------------------------------


def test_the_list_counts_readings_and_shows_the_last_changed_first(drafts):
    first = drafts.start(title="first")
    second = drafts.start(title="second")
    texts = {"r1c1": "31", "r1c2": "x", "r1c3": "", "floor.width": "7 m"}
    drafts.put(first, [Change(can, text, i + 1) for i, (can, text) in enumerate(texts.items())], "phone")
    listed = [(line.draft, line.title, line.readings) for line in drafts.listing()]
    assert listed == [(first, "first", 2), (second, "second", 0)]
    drafts.put(second, [Change("test.title", "Tunnel 9", 1)], "phone")
    assert [line.title for line in drafts.listing()] == ["Tunnel 9", "first"]
    assert all(line.started <= line.changed for line in drafts.listing())


def test_putting_away_adds_a_row_and_a_late_change_brings_it_back(drafts):
    draft = drafts.start(title="T")
    drafts.put(draft, [Change("r1c1", "31", 1)], "phone")
    before = rows(drafts)
    drafts.put_away(draft)
    assert rows(drafts) == before + 1
    assert drafts.listing() == [] and drafts.exists(draft) and drafts.values(draft) == {"r1c1": "31"}
    drafts.put(draft, [Change("r1c2", "28", 2)], "phone")
    assert [line.draft for line in drafts.listing()] == [draft]
    drafts.put_away(draft)
    assert drafts.listing() == []


@pytest.mark.parametrize("statement", ["DELETE FROM changes", "UPDATE changes SET text = ''"])
def test_the_file_itself_refuses_to_forget(drafts, statement):
    drafts.start()
    with sqlite3.connect(drafts.file) as connection, pytest.raises(sqlite3.IntegrityError, match="only ever added"):
        connection.execute(statement)


# -- what is refused ------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (Change("", "1", 1), "a key such as r2c3, p7 or floor.width was expected"),
        (Change("!away", "1", 1), "a key such as"),
        (Change("a" * 81, "1", 1), "a key such as"),
        (Change("r1c1", "1" * 401, 1), "401 characters were received, at most 400"),
        (Change("base", "1" * 200_001, 1), "200001 characters were received, at most 200000"),
        (Change("r1c1", None, 1), "a text was expected"),
        (Change("r1c1", "\ud800", 1), "a text was expected"),
        (Change("r1c1", "1", 0), "number 0 and seen 0 were received"),
        (Change("r1c1", "1", 1.5), "number 1.5 and"),
        (Change("r1c1", "1", True), "number True and"),
        (Change("r1c1", "1", 2**63), "whole numbers from 1"),
        (Change("r1c1", "1", 1, -1), "seen -1 were received"),
    ],
)
def test_a_bad_change_is_refused_and_nothing_of_its_batch_is_stored(drafts, change, says):
    draft = drafts.start()
    with pytest.raises(DraftError, match=says):
        drafts.put(draft, [Change("r9c9", "1", 1), change], "phone")
    assert drafts.values(draft) == {}


def test_the_longest_texts_are_kept(drafts):
    draft = drafts.start(base="#" * 200_000)
    drafts.put(draft, [Change("r1c1", "1" * 400, 1)], "phone")
    assert {key: len(text) for key, text in drafts.values(draft).items()} == {"base": 200_000, "r1c1": 400}


@pytest.mark.parametrize("device", ["", "a b", "x" * 65, "draft-itself", None, "a\n"])
def test_a_bad_device_is_refused(drafts, device):
    with pytest.raises(DraftError, match="1 to 64 letters, digits or hyphens were expected"):
        drafts.put(drafts.start(), [], device)


def test_too_many_keys_are_refused_all_at_once(drafts):
    draft = drafts.start()
    many = [Change(f"p{i + 1}", "1", i + 1) for i in range(MOST_KEYS)]
    with pytest.raises(DraftError, match="at most 20000 can be kept in one draft; start another"):
        drafts.put(draft, [*many, Change("r1c1", "1", MOST_KEYS + 1)], "phone")
    assert drafts.values(draft) == {}


# -- files and disks ------------------------------------------------------


@pytest.mark.parametrize("content", [b"this is not a database" * 40, b"SQLite format 3\x00" + b"\xff" * 4096])
def test_a_damaged_file_is_named_and_left_alone(tmp_path, content):
    (tmp_path / "drafts.sqlite").write_bytes(content)
    drafts = Drafts(tmp_path)
    for call in (drafts.start, drafts.listing, lambda: drafts.values("0" * 16)):
        with pytest.raises(DraftError, match=r"drafts\.sqlite (is damaged|cannot be used).*left as it is; move it"):
            call()
    assert (tmp_path / "drafts.sqlite").read_bytes() == content
    assert issubclass(DraftError, ValueError)


def test_a_file_damaged_in_the_middle_is_named(drafts):
    draft = drafts.start()
    for i in range(40):
        drafts.put(draft, [Change(f"r{i + 1}c{j + 1}", "31", 10 * i + j + 1) for j in range(10)], "phone")
    content = bytearray(drafts.file.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    drafts.file.write_bytes(content)
    with pytest.raises(DraftError, match=r"drafts\.sqlite is damaged"):
        drafts.values(draft)
    assert drafts.file.read_bytes() == bytes(content)


def test_a_file_of_another_program_is_named(tmp_path):
    with sqlite3.connect(tmp_path / "drafts.sqlite") as connection:
        connection.execute("CREATE TABLE changes (something TEXT)")
    with pytest.raises(DraftError, match=r"drafts\.sqlite cannot be used for drafts"):
        Drafts(tmp_path).start()


def test_a_full_disk_is_told_and_what_was_stored_stays(drafts, monkeypatch):
    draft = drafts.start()
    drafts.put(draft, [Change("r1c1", "31", 1)], "phone")
    connect = draft_file.DraftFile._connect

    def short_of_room(self):
        connection = connect(self)
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        return connection

    monkeypatch.setattr(draft_file.DraftFile, "_connect", short_of_room)
    with pytest.raises(DraftError, match="The disk with .*drafts.sqlite is full, so this was not stored"):
        drafts.put(draft, [Change("base", "#" * 100_000, 2)], "phone")
    monkeypatch.undo()
    assert drafts.values(draft) == {"r1c1": "31"}
    assert drafts.put(draft, [Change("base", "#" * 100_000, 2)], "phone") == 2


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(DraftError, match="cannot be used for drafts .*name another one in EVENFALL_DATA"):
        Drafts(tmp_path / "file" / "data").start()


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_read_only_folder_is_told(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(DraftError, match="cannot be written"):
            Drafts(tmp_path).start()
    finally:
        tmp_path.chmod(0o700)


def test_a_folder_in_the_place_of_the_file_is_told(tmp_path):
    (tmp_path / "drafts.sqlite").mkdir()
    with pytest.raises(DraftError, match=r"drafts\.sqlite cannot be written"):
        Drafts(tmp_path).start()


def test_a_file_held_by_another_program_is_told(drafts, monkeypatch):
    draft = drafts.start()
    monkeypatch.setattr("evenfall.disk.sqlite.WAIT_S", 0.2)
    other = sqlite3.connect(drafts.file, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        with pytest.raises(DraftError, match="has been in use by another program"):
            drafts.put(draft, [Change("r1c1", "31", 1)], "phone")
    finally:
        other.close()


def test_the_data_folder_is_the_environments_or_the_platforms(monkeypatch, tmp_path):
    monkeypatch.setenv("EVENFALL_DATA", str(tmp_path / "mine"))
    assert data_folder() == tmp_path / "mine"
    assert Drafts().file == tmp_path / "mine" / "drafts.sqlite"
    monkeypatch.setenv("EVENFALL_DATA", " ")
    assert data_folder().name == "evenfall"


def test_nothing_of_the_screen_is_imported():
    code = ("import sys, evenfall.entry.drafts.drafts; "
            "print([m for m in ('streamlit', 'plotly', 'pandas') if m in sys.modules])")
    found = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
