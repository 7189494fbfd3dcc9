"""Whole folders in and out: the good ones are taken, faults are named, and what was stopped goes on."""

import os
import stat

import pytest
from evenfall.store import OWNER, Store, StoreError, Viewer
from evenfall.store.folders import give_out, take_in
from evenfall.store.undoing import do, what_redo, what_undo

from .texts import record_text_of


def tree(folder):
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_folder_comes_in_and_goes_out_as_it_was_entered(store, folder, tmp_path):
    seen = []
    moved = take_in(store, OWNER, folder, lambda done, all_of: seen.append((done, all_of)))
    assert (moved.done, moved.there, moved.faults) == (12, 0, []) and seen == [(12, 12)]
    out = tmp_path / "out"
    given = give_out(store, OWNER, out, lambda done, all_of: seen.append((done, all_of)))
    assert (given.done, given.faults) == (12, []) and seen[-1] == (12, 12)
    texts = {path.read_text("utf-8") for path in folder.rglob("*.toml")}
    assert {path.read_text("utf-8") for path in out.iterdir()} == texts
    assert {path.name for path in out.iterdir()} == {f"t-{number}.toml" for number in range(12)}


def test_again_adds_nothing(store, folder, tmp_path):
    take_in(store, OWNER, folder)
    again = take_in(store, OWNER, folder)
    assert (again.done, again.there) == (0, 12) and len(store.versions(OWNER, "t-3")) == 1
    give_out(store, OWNER, tmp_path / "out")
    assert give_out(store, OWNER, tmp_path / "out").there == 12
    back = Store(tmp_path / "other.sqlite")
    assert take_in(back, OWNER, tmp_path / "out").done == 12


def test_a_changed_file_is_a_new_version(store, folder):
    take_in(store, OWNER, folder)
    (folder / "test01.toml").write_text(record_text_of("t-1", member="M1", first=77), "utf-8")
    moved = take_in(store, OWNER, folder)
    assert (moved.done, moved.changed, moved.there) == (0, ["test01.toml"], 11)
    assert moved.taken() == "0 new tests, 1 changed (test01.toml), 11 there already, 0 faults."
    assert len(store.versions(OWNER, "t-1")) == 2 and "[[77," in store.text(OWNER, "t-1")
    assert [(step.test, step.to) for step in what_undo(store, OWNER).steps] == [("t-1", 1)]


def test_what_was_taken_back_comes_in_again_when_it_is_brought_again(store, folder):
    take_in(store, OWNER, folder)
    do(store, OWNER, what_undo(store, OWNER))
    assert store.count(OWNER) == 0 and what_undo(store, OWNER) is None
    again = take_in(store, OWNER, folder)
    assert (again.done, again.there, store.count(OWNER)) == (12, 0, 12)


def test_an_older_copy_does_not_take_the_place_of_a_newer_version(store, folder, tmp_path):
    take_in(store, OWNER, folder)
    newer = tmp_path / "newer"
    newer.mkdir()
    (newer / "test01.toml").write_text(record_text_of("t-1", member="M1", first=77), "utf-8")
    take_in(store, OWNER, newer)
    moved = take_in(store, OWNER, folder)
    assert (moved.done, moved.changed, moved.there, moved.older) == (0, [], 11, 1)
    assert "1 older than the version that stands and passed over" in moved.taken()
    assert "[[77," in store.text(OWNER, "t-1")


def test_imports_are_taken_back_one_after_the_other(store, folder):
    take_in(store, OWNER, folder)
    for name in ("test01", "test02"):
        number = int(name[-1])
        (folder / f"{name}.toml").write_text(record_text_of(f"t-{number}", member=f"M{number}", first=77), "utf-8")
    (folder / "new.toml").write_text(record_text_of("t-99"), "utf-8")
    take_in(store, OWNER, folder)
    turn = what_undo(store, OWNER)
    assert [(step.test, step.to) for step in turn.steps] == [("t-1", 1), ("t-2", 1), ("t-99", 0)]
    do(store, OWNER, turn)
    assert "[[11," in store.text(OWNER, "t-1") and store.count(OWNER) == 12
    assert len(what_undo(store, OWNER).steps) == 12, "then the first import"
    do(store, OWNER, what_undo(store, OWNER))
    assert store.count(OWNER) == 0 and what_undo(store, OWNER) is None
    for count in (12, 13):
        do(store, OWNER, what_redo(store, OWNER))
        assert store.count(OWNER) == count
    assert "[[77," in store.text(OWNER, "t-1") and what_redo(store, OWNER) is None


def test_faults_are_named_and_the_good_ones_kept(store, folder):
    (folder / "broken.toml").write_text("record = 1\n[test\n")
    (folder / "bare.toml").write_text(record_text_of("t-90").replace('"6 m"', "6"))
    (folder / "binary.toml").write_bytes(b"\x00\xff\xfe" * 20)
    (folder / "empty.toml").write_text("")
    (folder / "notes.txt").write_text("no record")
    before = tree(folder)
    moved = take_in(store, OWNER, folder)
    assert moved.done == 12 and tree(folder) == before
    said = "\n".join(moved.faults)
    for start in ("broken.toml:2: received text that is not TOML", "bare.toml:", "binary.toml:1: received",
                  "empty.toml:1: received an empty file"):
        assert any(line.startswith(start) for line in moved.faults), (start, said)
    assert len(moved.faults) == 4 and str(folder) not in said


def test_two_files_that_say_they_are_one_test(store, folder):
    day = {"date": "2027-04-01"}
    (folder / "copy.toml").write_text(record_text_of("t-2", member="M2", first=55))
    (folder / "twin1.toml").write_text(record_text_of("", tunnel="T9", first=1, **day))
    (folder / "twin2.toml").write_text(record_text_of("", tunnel="T9", first=2, **day))
    for turn in range(2):  # whichever came first stays, however often it is tried
        moved = take_in(store, OWNER, folder)
        kept = (" (M2, T1)", " (HB, T9, 2027-04-01)") if turn else ("", "")
        assert moved.faults == [
            f"test02.toml: received a test with the id 't-2' of copy.toml{kept[0]}, expected an id of its own, "
            "write it under [test]",
            "twin2.toml: received a test with no id, but member, site, zone, tunnel and date of twin1.toml"
            f"{kept[1]}, expected an id of its own, write it under [test]"]
    assert len(store.versions(OWNER, "t-2")) == 1 and store.count(OWNER) == 13


def alone(tmp_path, name, text):
    made = tmp_path / f"only {name}"
    made.mkdir()
    (made / name).write_text(text, "utf-8")
    return made


def test_another_members_test_with_the_same_id_never_takes_the_place_of_the_first(store, tmp_path):
    take_in(store, OWNER, alone(tmp_path, "a.toml", record_text_of("x", member="M1", date="2027-03-10")))
    moved = take_in(store, OWNER, alone(tmp_path, "b.toml", record_text_of("x", member="M2", tunnel="T5")))
    assert moved.faults == ["b.toml: received a test with the id 'x' of another test that is kept "
                            "(M1, T1, 2027-03-10), expected an id of its own, write it under [test]"]
    other = alone(tmp_path, "c.toml", record_text_of("x", member="M1", tunnel="T7", date="2027-05-05"))
    assert len(take_in(store, OWNER, other).faults) == 1, "another tunnel on another day is another test"
    mended = alone(tmp_path, "d.toml", record_text_of("x", member="M1", date="2027-03-11"))
    assert take_in(store, OWNER, mended).changed == ["d.toml"], "a date that is corrected is not"


def test_without_an_id_a_title_may_be_corrected_and_the_evening_does_not_replace_the_morning(store, tmp_path):
    plain = record_text_of("", date="2027-03-10")
    take_in(store, OWNER, alone(tmp_path, "a.toml", plain))
    evening = take_in(store, OWNER, alone(tmp_path, "evening.toml", plain.replace("[[10,", "[[44,")))
    assert evening.faults == [
        "evening.toml: received a test with no id, but member, site, zone, tunnel and date of another test that is "
        "kept (HB, T1, 2027-03-10), expected an id of its own, write it under [test]"]
    (tmp_path / "only a.toml" / "a.toml").write_text(plain.replace("A test for", "The test for"), "utf-8")
    assert take_in(store, OWNER, tmp_path / "only a.toml").changed == ["a.toml"] and store.count(OWNER) == 1


def test_capitals_in_the_ending_do_not_matter(store, tmp_path):
    assert take_in(store, OWNER, alone(tmp_path, "A.TOML", record_text_of())).done == 1


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_folder_that_may_not_be_read_is_said(store, folder):
    (folder / "older").chmod(0)
    moved = take_in(store, OWNER, folder)
    assert moved.done == 8 and moved.faults == [
        "older: received a folder that cannot be read (permission denied), expected records, check its rights"]


def test_an_exact_copy_is_the_same_test(store, folder):
    (folder / "copy.toml").write_bytes((folder / "test02.toml").read_bytes())
    moved = take_in(store, OWNER, folder)
    assert moved.faults == [] and store.count(OWNER) == 12 and moved.there == 1


def test_a_member_brings_and_takes_only_their_own(store, folder, tmp_path):
    take_in(store, OWNER, folder)
    ann = Viewer("ann", "M1")
    moved = take_in(Store(tmp_path / "hers.sqlite"), ann, folder)
    assert moved.done == 3 and len(moved.faults) == 9
    assert all('expected a test of your own, write member = "M1"' in line for line in moved.faults)
    given = give_out(store, ann, tmp_path / "out")
    assert given.done == 3 and all('member = "M1"' in path.read_text() for path in (tmp_path / "out").iterdir())
    theirs = tmp_path / "grab"
    theirs.mkdir()
    (theirs / "a.toml").write_text(record_text_of("t-2", member="M1"))
    assert take_in(store, ann, theirs).faults == [
        "a.toml: received the id 't-2', expected one that is yours to use, write another under [test], best one that "
        "begins with your member's name"]


def test_a_file_in_the_way_is_left_alone(store, folder, tmp_path):
    take_in(store, OWNER, folder)
    out = tmp_path / "out"
    out.mkdir()
    (out / "t-5.toml").write_text("mine")
    given = give_out(store, OWNER, out)
    assert given.done == 11 and (out / "t-5.toml").read_text() == "mine"
    assert given.faults == ["t-5.toml: received a file with another text in that folder, expected a free name, it was "
                            "left as it is; choose another folder"]


def test_ids_that_differ_in_capitals_only_get_files_of_their_own(store, folder, tmp_path):
    (folder / "capital.toml").write_text(record_text_of("T-2", member="M2", first=55))
    take_in(store, OWNER, folder)
    give_out(store, OWNER, tmp_path / "out")
    names = [path.name.casefold() for path in (tmp_path / "out").iterdir()]
    assert len(names) == len(set(names)) == 13


def test_a_missing_folder_is_said(store, tmp_path):
    with pytest.raises(StoreError, match="received no folder, expected a folder of records"):
        take_in(store, OWNER, tmp_path / "none")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_without_leave_is_said(store, folder, tmp_path):
    take_in(store, OWNER, folder)
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    with pytest.raises(StoreError, match="records cannot be written there"):
        give_out(store, OWNER, tmp_path / "out")


def test_a_full_disk_is_said_and_going_on_works(store, folder, tmp_path, monkeypatch):
    from evenfall.store import folders

    take_in(store, OWNER, folder)
    save, left = folders.save_text, [3]

    def full(text, path):
        left[0] -= 1
        if left[0] < 0:
            raise OSError(28, "No space left on device")
        save(text, path)

    monkeypatch.setattr(folders, "save_text", full)
    with pytest.raises(StoreError, match="no space left on device.*3 were written, and doing it again goes on"):
        give_out(store, OWNER, tmp_path / "out")
    monkeypatch.setattr(folders, "save_text", save)
    moved = give_out(store, OWNER, tmp_path / "out")
    assert (moved.done, moved.there) == (9, 3)
