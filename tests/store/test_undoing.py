"""Undo is what a person means: the last thing they did, as a whole, said first, and it can be done again."""

import re

import pytest
from evenfall.store import OWNER, NotFound, StoreError, Viewer
from evenfall.store.folders import take_in
from evenfall.store.undoing import do, what_redo, what_undo

from .texts import entry, record_text_of

ANN, OFFICE = Viewer("ann", "HB"), Viewer("office", None, sees_all=True)


def undo(store, viewer=OWNER):
    do(store, viewer, what_undo(store, viewer))


def redo(store, viewer=OWNER):
    do(store, viewer, what_redo(store, viewer))


def first_can(store, test="t-1"):
    try:
        return int(store.text(OWNER, test).split("grid = [[")[1].split(",")[0])
    except NotFound:
        return None


def test_an_older_import_is_never_taken_back_because_of_what_was_done_since(store, folder):
    take_in(store, OWNER, folder)
    store.save(OWNER, *entry("t-1", member="M1", first=50))
    assert [step.test for step in what_undo(store, OWNER).steps] == ["t-1"]
    undo(store)
    assert store.count(OWNER) == 12 and first_can(store) == 11
    undo(store)
    assert store.count(OWNER) == 0
    redo(store)
    assert store.count(OWNER) == 12 and first_can(store) == 11
    redo(store)
    assert first_can(store) == 50


def test_an_import_whose_tests_were_all_changed_since_is_not_passed_over(store, tmp_path):
    for name, first in (("one", 10), ("two", 20)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.toml").write_text(record_text_of("t-1", first=first), "utf-8")
        take_in(store, OWNER, tmp_path / name)
    store.save(OFFICE, *entry("t-1", first=30))
    turn = what_undo(store, OWNER)
    assert turn.steps == () and turn.left == ("t-1",)
    assert turn.says().startswith(f"What you did last, the import of {tmp_path}/two (")
    assert "is not taken back: what it changed was changed again since (t-1)" in turn.says()
    with pytest.raises(StoreError, match="changed again since"):
        do(store, OWNER, turn)
    assert first_can(store) == 30


def test_every_kind_of_action_is_taken_back_and_done_again(store):
    store.save(OWNER, *entry(first=10))
    store.save(OWNER, *entry(first=11))
    store.stand(OWNER, "t-1", 1)
    store.withdraw(OWNER, "t-1")
    said = []
    for wanted in (10, 11, 10, None):
        said.append(what_undo(store, OWNER).says())
        undo(store)
        assert first_can(store) == wanted
    for start, says in zip(("taking t-1 off the list", "letting version 1 of t-1 stand", "saving t-1", "saving t-1"),
                           said, strict=True):
        assert says.startswith(f"This takes back {start} (") and says.endswith("Every text stays in the store.")
    assert "1 test on the list again (t-1)" in said[0]
    assert "1 test back to what it was before (t-1 to version 2)" in said[1]
    assert "1 test off the list (t-1)" in said[3]
    assert what_undo(store, OWNER) is None
    for wanted in (10, 11, 10, None):
        redo(store)
        assert first_can(store) == wanted
    assert what_redo(store, OWNER) is None
    assert len(store.versions(OWNER, "t-1")) == 12, "nothing is removed"
    undo(store)
    assert first_can(store) == 10, "what was done again is taken back again"


def test_something_new_ends_what_could_be_done_again(store):
    store.save(OWNER, *entry(first=10))
    store.save(OWNER, *entry(first=11))
    undo(store)
    store.save(OWNER, *entry(first=12))
    assert what_redo(store, OWNER) is None
    undo(store)
    assert first_can(store) == 10


def test_what_another_changed_stays_and_is_said(store, tmp_path):
    (tmp_path / "in").mkdir()
    for number in range(3):
        (tmp_path / "in" / f"{number}.toml").write_text(record_text_of(f"t-{number}"), "utf-8")
    take_in(store, OFFICE, tmp_path / "in", label="three files")
    store.save(ANN, *entry("t-1", first=40))
    turn = what_undo(store, OFFICE)
    assert re.sub(r"\(\d{4}-.*?\)", "(WHEN)", turn.says()) == (
        "This takes back the import of three files (WHEN): 2 tests off the list (t-0, t-2), 1 test changed since and "
        "left (t-1). Every text stays in the store.")
    do(store, OFFICE, turn)
    assert first_can(store) == 40 and store.count(OFFICE) == 1


def test_another_persons_undo_does_not_stand_in_the_way(store):
    store.save(OFFICE, *entry(first=10))
    store.save(OFFICE, *entry(first=20))
    store.save(ANN, *entry(first=30))
    undo(store, ANN)
    undo(store, OFFICE)
    assert first_can(store) == 10


def test_a_member_takes_back_only_what_is_theirs_to_see(store):
    store.save(ANN, *entry("mine"))
    store.save(OFFICE, *entry("mine", member="MG"))
    turn = what_undo(store, ANN)
    assert turn.steps == () and turn.left == ("mine",)
    with pytest.raises(StoreError):
        do(store, ANN, turn)


def test_what_was_said_is_done_or_nothing(store):
    store.save(OWNER, *entry(first=10))
    turn = what_undo(store, OWNER)
    store.save(OWNER, *entry(first=20))
    with pytest.raises(StoreError, match="no longer the last thing done here"):
        do(store, OWNER, turn)
    assert first_can(store) == 20


def test_a_save_that_was_kept_beside_is_no_action(store):
    store.save(OWNER, *entry(first=10))
    store.save(OFFICE, *entry(first=20), seen=1)
    assert not store.save(OWNER, *entry(first=30), seen=1).stands
    assert what_undo(store, OWNER).left == ("t-1",)


def test_versions_say_where_they_came_from_and_what_changed(store, tmp_path):
    (tmp_path / "in").mkdir()
    file = tmp_path / "in" / "north.toml"
    for text in (record_text_of(first=10), record_text_of(first=11).replace('"30 min"', '"40 min"'),
                 record_text_of(first=11, notes='"windy"').replace('"30 min"', '"40 min"') + "# more\n"):
        file.write_text(text, "utf-8")
        take_in(store, OWNER, tmp_path / "in")
    store.save(OWNER, *entry(first=12), seen=1)
    store.stand(OWNER, "t-1", 1)
    store.withdraw(OWNER, "t-1")
    assert [(item.source, item.became, item.changed) for item in store.history(OWNER, "t-1")] == [
        ("north.toml", "", ""), ("north.toml", "", "changed: cans.grid[1], run.duration"),
        ("north.toml", "", "changed: test.notes"),
        ("", "kept beside another's", "changed: test.notes, cans.grid[1], run.duration"),
        ("north.toml", "", "the text of version 1 again"), ("", "taken off the list", "")]


def test_a_long_import_is_taken_back_in_one_go(store, tmp_path, monkeypatch):
    monkeypatch.setattr("evenfall.store.undoing.MANY", 20)
    (tmp_path / "in").mkdir()
    for number in range(50):  # more than one list of a query holds
        (tmp_path / "in" / f"{number}.toml").write_text(record_text_of(f"t-{number}"), "utf-8")
    take_in(store, OWNER, tmp_path / "in")
    undo(store)
    assert store.count(OWNER) == 0
    redo(store)
    assert store.count(OWNER) == 50


def test_two_people_of_one_name_in_one_member_each_take_back_their_own(store):
    one, other = Viewer("Olga", "HB", key="a" * 16), Viewer("Olga", "HB", key="b" * 16)
    store.save(one, *entry("t-1", first=10))
    store.save(other, *entry("t-2", first=20))
    assert [step.test for step in what_undo(store, one).steps] == ["t-1"]
    undo(store, one)
    assert what_undo(store, one) is None and what_redo(store, other) is None
    assert [step.test for step in what_undo(store, other).steps] == ["t-2"]
    assert first_can(store) is None and first_can(store, "t-2") == 20
    married = Viewer("Olga of the hill", "HB", key="a" * 16)
    redo(store, married)
    assert first_can(store) == 10
