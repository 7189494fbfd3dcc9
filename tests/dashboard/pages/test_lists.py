"""The list of tests: what is on it, times, saved records, and what a record is called."""

import datetime
import zoneinfo

from evenfall.dashboard.clocks import clock_in
from evenfall.dashboard.list_parts import title_of
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.to_record import NEW_TEST
from evenfall.record.file import parse_record
from evenfall.store import OWNER
from evenfall.store.usual import open_usual

from ...conftest import GRID
from .visit import begin, page, words


def test_a_test_is_listed_once_something_was_entered():
    app = page("tests")
    app.button(key="new_test").click().run()
    (fresh,) = Drafts().listing()
    assert "Untitled test" not in words(page("tests"))
    Drafts().put(fresh.draft, [Change("floor.width", "6 m", 1)], "phone")
    assert "Untitled test" in words(page("tests"))


def test_starting_twice_makes_one_test_and_two_people_two():
    app = page("tests")
    app.button(key="new_test").click().run()
    again = page("tests", state={"fresh draft": app.session_state["fresh draft"]})
    again.button(key="new_test").click().run()
    assert len(Drafts().listing()) == 1
    page("tests").button(key="new_test").click().run()
    assert len(Drafts().listing()) == 2


def test_every_test_has_its_three_pages():
    draft = begin(GRID)
    app = page("tests")
    assert [button.label for button in app.button if str(button.key).endswith(draft)] == [
        "Set up", "Readings", "Map", "Put away"]
    assert "12 cans read, changed today" in words(app)


def test_the_clock_is_the_persons():
    zone = zoneinfo.ZoneInfo("America/Denver")  # seven hours behind UTC in November
    now = datetime.datetime(2026, 11, 26, 1, 0, tzinfo=datetime.UTC)
    assert clock_in("2026-11-25T13:02:59.123+00:00", zone, now) == "today 06:02"
    assert clock_in("2026-11-25T05:30:00.000+00:00", zone, now) == "24 November 2026, 22:30"


def test_a_record_is_called_by_its_title():
    assert title_of(GRID, "t-1.toml") == "A test for the tests"
    assert title_of(NEW_TEST, "t-1.toml") == title_of("nonsense", "t-1.toml") == title_of('test = 3', "t-1.toml")


NAMED = GRID.replace("[test]\n", '[test]\nid = "hb-1"\n')


def kept(text=NAMED):
    return open_usual().save(OWNER, parse_record(text), text)


def test_saved_records_are_listed_and_opened_by_their_title():
    kept()
    app = page("tests")
    assert "A test for the tests\nhb-1, saved today" in words(app)
    app.button(key="saved_hb-1").click().run()
    assert not app.exception
    (opened,) = Drafts().listing()
    assert opened.title == "A test for the tests" and opened.readings == 12


def test_versions_are_looked_at_and_stand_again():
    kept()
    kept(NAMED.replace("[[10,", "[[11,"))
    app = page("tests")
    app.button(key="versions_hb-1").click().run()
    assert "Version 2, saved today" in words(app) and ", changed: cans.grid[1], stands now" in words(app)
    app.button(key="stand_hb-1_1").click().run()
    assert open_usual().text(OWNER, "hb-1") == NAMED and len(open_usual().versions(OWNER, "hb-1")) == 3
    app.button(key="look_hb-1_2").click().run()
    (opened,) = Drafts().listing()
    assert Drafts().values(opened.draft)["r1c1"] == "11"


def test_an_older_version_that_is_saved_does_not_take_the_newer_ones_place():
    kept()
    newer = NAMED.replace("[[10,", "[[11,")
    kept(newer)
    app = page("tests")
    app.button(key="versions_hb-1").click().run()
    app.button(key="look_hb-1_1").click().run()
    (opened,) = Drafts().listing()
    app = page("map", opened.draft)
    assert "This began from version 1 of the test; version 2 stands now." in words(app)
    app.button(key="save").click().run()
    assert open_usual().text(OWNER, "hb-1") == newer
    assert "Somebody saved version 2 after the one that yours began from (1). That one stands" in words(app)
    app.button(key="mine_stands").click().run()
    assert "[10, 20, 30]" in open_usual().text(OWNER, "hb-1") and "This began from" not in words(app)


def test_a_test_is_taken_off_the_list_and_brought_back():
    kept()
    app = page("tests")
    app.button(key="versions_hb-1").click().run()
    app.button(key="withdraw_hb-1").click().run()
    assert "hb-1, saved" not in words(app) and open_usual().count(OWNER) == 0
    app.button(key="undo").click().run()
    assert "taking hb-1 off the list" in words(app)
    app.button(key="turn_yes").click().run()
    assert "hb-1, saved" in words(app) and open_usual().text(OWNER, "hb-1") == NAMED

