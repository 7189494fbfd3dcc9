"""The page of members without a browser."""

import pytest
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.store import OWNER
from evenfall.store.usual import open_usual

from .visit import page, words

NAMES = ("commissioning", "blocked-head", "before-repair", "after-repair", "lines-too-far-apart")


@pytest.fixture
def cooperative():
    store = open_usual()
    for name in NAMES:
        store.save(OWNER, parse_record(sample_text(name)), sample_text(name))
    return store


def test_an_empty_store_says_what_to_do():
    said = words(page("members"))
    assert "No test is saved here yet: save one on its map, or bring records in." in said


def test_from_records_to_who_needs_help(cooperative):
    app = page("members")
    assert "5 tests have no estimate of the whole floor yet, and only that is compared." in words(app)
    app.button(key="estimate").click().run()
    assert not app.exception and cooperative.unfinished(OWNER) == []
    said = words(app)
    assert "no estimate" not in said and "groups apart" in said
    assert "Teasel Yard · Wide" in said and "Likeliest cause: the lines are too far apart" in said
    assert "more than the tests' own noise" in said
    table = app.dataframe[0].value
    assert list(table["tunnel"])[0] == "Teasel Yard · Wide" and table["DUlq"][0].startswith("14 % (")
    assert table["CU"][0].endswith(")") and list(table["group"])[0] == "1"
    app.button(key="members_open_it").click().run()
    assert not app.exception and "Dry strip down the middle" in words(app)


def test_figures_and_units_are_chosen(cooperative):
    app = page("members")
    app.button(key="estimate").click().run()
    app.segmented_control(key="members_figure").set_value("cu").run()
    assert "CU of the whole floor is" in words(app) and not app.exception
    app.segmented_control(key="members_units").set_value("US").run()
    assert not app.exception


def test_an_import_is_taken_back(cooperative, tmp_path):
    from evenfall.store.folders import take_in

    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.toml").write_text(sample_text("starved-far-end"), "utf-8")
    take_in(cooperative, OWNER, tmp_path / "in")
    app = page("members")
    app.button(key="undo").click().run()
    assert "This takes back the import of " in words(app) and cooperative.count(OWNER) == 6, "it is asked first"
    app.button(key="turn_no").click().run()
    assert "This takes back" not in words(app) and cooperative.count(OWNER) == 6
    app.button(key="undo").click().run()
    app.button(key="turn_yes").click().run()
    assert cooperative.count(OWNER) == 5 and "Taken back: the import of " in words(app)
    app.button(key="redo").click().run()
    app.button(key="turn_yes").click().run()
    assert cooperative.count(OWNER) == 6 and "Done again: the import of " in words(app)


def test_what_stood_differently_by_then_is_not_taken_back(cooperative):
    app = page("members")
    app.button(key="undo").click().run()
    cooperative.withdraw(OWNER, cooperative.tests(OWNER)[0].test)
    app.button(key="turn_yes").click().run()
    assert "no longer the last thing done here" in words(app) and cooperative.count(OWNER) == 4


def test_an_archive_is_offered_with_the_date_of_the_last(cooperative):
    from evenfall.store.archive import archive_bytes

    assert "Never archived yet." in words(page("members"))
    archive_bytes(cooperative, {})
    assert "Archived today" in words(page("members"))


def test_a_reminder_of_the_archive(cooperative):
    from evenfall.store.archive import mark_archived

    text = sample_text("starved-far-end").replace('member = "', 'member = "Other ')
    cooperative.save(OWNER, parse_record(text), text)
    mark_archived(cooperative, "2026-01-01T00:00:00.000+00:00")
    for name in ("members", "tests"):
        assert "The last archive of this store is " in words(page(name))
    mark_archived(cooperative, "2999-01-01T00:00:00.000+00:00")
    assert "The last archive of this store is " not in words(page("tests"))


def test_an_invented_cooperative_can_be_looked_at_and_nothing_of_it_is_kept():
    app = page("members")
    app.button(key="members_invented").click().run()
    said = words(app)
    assert not app.exception and "No such farms exist." in said and "groups apart" in said
    assert open_usual().count(OWNER) == 0


def test_only_what_one_did_oneself_is_taken_back(cooperative, tmp_path):
    from evenfall.store import Viewer
    from evenfall.store.folders import take_in
    from evenfall.store.undoing import what_undo

    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.toml").write_text(sample_text("starved-far-end"), "utf-8")
    office = Viewer("office", None, True)
    take_in(cooperative, office, tmp_path / "in")
    assert what_undo(cooperative, Viewer("another", None, True)) is None
    assert [step.test for step in what_undo(cooperative, office).steps] == [cooperative.tests(office)[0].test]
