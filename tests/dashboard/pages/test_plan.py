"""The page of the plan: before there are readings, and without losing any that are there."""

from functools import partial

import pytest
from evenfall.entry.cans import cans_in
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.to_record import plain_of, record_of
from evenfall.planning.layouts import LAYOUTS, layout_of
from evenfall.planning.plan import plan_of as plan_of_site
from evenfall.record.file import plain_text
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of

from ...planning.records import TWO, read
from .visit import begin, page, words


@pytest.fixture(autouse=True)
def few_tunnels(monkeypatch):
    monkeypatch.setattr("evenfall.dashboard.plan_parts.plan_of", partial(plan_of_site, tunnels=6))


def test_a_new_test_is_told_what_a_plan_needs():
    said = words(page("plan", Drafts().start("")))
    assert "The plan still needs:" in said and "Width of the floor" in said


def test_a_floor_is_enough():
    draft = Drafts().start("")
    Drafts().put(draft, [Change("floor.width", "9.1 m", 1), Change("floor.length", "29 m", 2)], "test-device")
    app = page("plan", draft)
    said = words(app)
    assert "the test is planned for" in said and "from memory" in said and "Proposed:" in said
    assert app.subheader[0].value == "How many lines"  # nothing hangs yet: the lines come first


def test_one_click_makes_the_layout_the_cans_whose_readings_are_entered():
    draft = begin(TWO)
    app = page("plan", draft)
    assert app.subheader[0].value == "Where the cans stand"
    app.selectbox(key="plan_cans").set_value(24).run()
    app.button(key="plan_take").click().run()
    assert "Read the cans" in words(app)
    plain, _ = plain_of(Drafts().values(draft))
    assert len(cans_in(plain)) == 24 and plain["cans"]["unit"] == "mL"
    again = page("plan", draft, {"plan_cans": 24})  # taken before: there is nothing to take
    assert not any(button.key == "plan_take" for button in again.button)


def test_readings_are_asked_about_and_can_be_put_back():
    draft = begin(sample_text("bare"))
    before = record_of(Drafts().values(draft))[0]
    app = page("plan", draft)
    app.button(key="plan_take").click().run()
    assert "This test has 24 readings in 6 rows of 4." in words(app)
    assert record_of(Drafts().values(draft))[0] == before
    app.button(key="plan_leave").click().run()
    assert "This test has 24 readings" not in words(app) and record_of(Drafts().values(draft))[0] == before
    app.button(key="plan_take").click().run()
    app.button(key="plan_away").click().run()
    said = words(app)
    assert "Read the cans" in said and "These cans replaced 6 rows of 4 with 24 readings." in said
    app = page("readings", draft)
    app.button(key="put_back").click().run()
    assert record_of(Drafts().values(draft))[0] == before


@pytest.mark.parametrize("name", LAYOUTS)
def test_entry_and_map_take_every_layout(name):
    cans = {"reads": "volume", "unit": "mL", "opening": "84 mm", **layout_of(
        name, site_of(read(TWO)).ground, 24, [(2.275, [1.0, 2.0]), (6.825, [1.0, 2.0])], "metric").cans}
    draft = begin(TWO + plain_text({"cans": cans, "run": {"duration": "30 min", "lines": "together"}}))
    places = cans_in(plain_of(Drafts().values(draft))[0])
    assert len(places) == 24
    changes = [Change(can.key, str(20 + number % 7), number) for number, can in enumerate(places, 1)]
    Drafts().put(draft, changes, "test-device")
    record, faults, _ = record_of(Drafts().values(draft))
    assert not faults
    readings = page("readings", draft)
    assert "24 of 24 cans are in the figures" in words(readings)
    assert any(metric.label == "Low-quarter uniformity, DUlq" for metric in page("map", draft).metric)
