"""The list of tests: what is on it, times, saved records, and what a record is called."""

import datetime
import zoneinfo

from analysis.dashboard.list_parts import clock_in, title_of
from analysis.draft_record import NEW_TEST
from analysis.drafts import Drafts
from analysis.drafts.changes import Change
from analysis.record_file import parse_record
from analysis.saved import save, with_id

from ..conftest import GRID
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


def test_saved_records_are_listed_and_opened_by_their_title():
    path = save(with_id(parse_record(GRID)))
    app = page("tests")
    assert f"A test for the tests\n{path.name}, saved today" in words(app)
    app.button(key=f"saved_{path.stem}").click().run()
    assert not app.exception
    (opened,) = Drafts().listing()
    assert opened.title == "A test for the tests" and opened.readings == 12


def test_a_saved_file_that_is_no_record_says_so():
    path = save(with_id(parse_record(GRID)))
    path.write_text("not toml at all =", "utf-8")
    app = page("tests")
    app.button(key=f"saved_{path.stem}").click().run()
    assert app.error and Drafts().listing() == []
