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
    assert list(table["tunnel"])[0] == "Teasel Yard · Wide" and table["DUlq"][0].startswith("15 % (")
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
    app.button(key="members_undo").click().run()
    assert cooperative.count(OWNER) == 5 and "1 test taken back." in words(app)


def test_an_invented_cooperative_can_be_looked_at_and_nothing_of_it_is_kept():
    app = page("members")
    app.button(key="members_invented").click().run()
    said = words(app)
    assert not app.exception and "No such farms exist." in said and "groups apart" in said
    assert open_usual().count(OWNER) == 0


def test_only_the_own_import_is_taken_back(cooperative, tmp_path):
    from evenfall.store import Viewer
    from evenfall.store.folders import take_in
    from evenfall.store.many import last_batch

    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.toml").write_text(sample_text("starved-far-end"), "utf-8")
    office = Viewer("office", None, True)
    take_in(cooperative, office, tmp_path / "in")
    assert last_batch(cooperative, Viewer("another", None, True)) == []
    assert [item.test for item in last_batch(cooperative, office)] == [cooperative.tests(office)[0].test]
