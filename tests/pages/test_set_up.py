"""The set-up page: places spread evenly, what is missing in the page's words, examples in both systems."""

import json
import re

import pytest

from analysis.dashboard import form
from analysis.dashboard.plain_words import problems
from analysis.draft_record import NEW_TEST, plain_of, record_of
from analysis.drafts import Drafts
from analysis.drafts.changes import Change
from analysis.samples import sample_text
from analysis.units import parse

from ..conftest import GRID
from .visit import begin, field, page, words

DESCRIBED = {"test.title": "Tunnel 9", "run.duration": "30 min", "floor.width": "6 m", "floor.length": "12 m",
             "cans.opening": "84 mm"}


def new_test(values):
    draft = Drafts().start(NEW_TEST)
    Drafts().put(draft, [Change(key, text, number) for number, (key, text) in enumerate(values.items(), 1)], "seed")
    return draft


def said(values, typed=0):
    _, faults, _ = record_of({"base": NEW_TEST, **values})
    return [problem.says for problem in problems(faults, plain_of({"base": NEW_TEST, **values})[0], typed)]


def test_cans_spread_evenly_are_stored_at_once_and_shown_in_the_fields():
    draft = new_test(DESCRIBED)
    app = page("set_up", draft)
    app.selectbox(key="even_columns").set_value(4)
    app.selectbox(key="even_rows").set_value(3)
    app.button(key="even_go").click().run()
    assert not app.exception
    values = plain_of(Drafts().values(draft))[0]["cans"]
    assert values["across"] == ["0.75 m", "2.25 m", "3.75 m", "5.25 m"]
    assert values["along"] == ["2.00 m", "6.00 m", "10.00 m"]
    assert field(app, "Across: each column from the left edge").value == "0.75 m, 2.25 m, 3.75 m, 5.25 m"
    field(app, "Title of this test").set_value("Another title").run()
    assert "12 cans (dots)" in words(app)
    assert plain_of(Drafts().values(draft))[0]["cans"]["across"] == values["across"]


def test_places_that_were_typed_are_named_before_they_are_replaced():
    draft = new_test({**DESCRIBED, "cans.across": "1 m, 5 m", "cans.along": "1 m, 2 m, 3 m"})
    app = page("set_up", draft)
    app.selectbox(key="even_columns").set_value(6)
    app.selectbox(key="even_rows").set_value(8).run()
    assert app.button(key="even_go").label == "Replace the 3 rows of 2 typed below by 8 even rows of 6"
    app.button(key="even_go").click().run()
    assert field(app, "Across: each column from the left edge").value.startswith("0.50 m, ")
    assert "48 cans (dots)" in words(app)


@pytest.mark.parametrize("answer", ["keep", "away", "leave"])
def test_readings_are_asked_about_before_their_places_change(answer):
    draft = begin(GRID)
    app = page("set_up", draft)
    app.selectbox(key="even_columns").set_value(3)
    app.selectbox(key="even_rows").set_value(4)
    before = Drafts().revision(draft)
    app.button(key="even_go").click().run()
    assert "This test has 12 readings in 4 rows of 3." in words(app)
    assert Drafts().revision(draft) == before
    app.button(key=f"even_{answer}").click().run()
    cans = plain_of(Drafts().values(draft))[0]["cans"]
    kept = cans["grid"] == [[10, 20, 30], [20, 30, 40], [30, 40, 50], [40, 50, 60]]
    assert kept == (answer != "away")
    assert (cans["along"][0] == "1 m") == (answer == "leave")


def test_readings_of_places_that_are_gone_do_not_stand_in_the_new_ones():
    draft = begin(GRID)
    app = page("set_up", draft)
    app.selectbox(key="even_columns").set_value(6)
    app.selectbox(key="even_rows").set_value(8)
    app.button(key="even_go").click().run()
    assert "even_keep" not in [button.key for button in app.button]
    app.button(key="even_away").click().run()
    grid = plain_of(Drafts().values(draft))[0]["cans"]["grid"]
    assert len(grid) == 8 and all(value != value for row in grid for value in row)


def test_a_field_shows_what_another_way_has_stored():
    draft = new_test(DESCRIBED)
    app = page("set_up", draft)
    Drafts().put(draft, [Change("floor.width", "7 m", 99)], "phone")
    app.run()
    assert field(app, "Width of the floor").value == "7 m"
    field(app, "Length of the floor").set_value("20 m").run()
    assert Drafts().values(draft)["floor.width"] == "7 m"


def test_a_new_test_names_its_empty_fields_and_no_readings():
    assert said({}) == [
        "'Title of this test' (in 'Needed') is still empty.",
        "'Width of the floor' (in 'Needed') is still empty.",
        "'Length of the floor' (in 'Needed') is still empty.",
        "'Inside diameter of a can's opening' (in 'Needed') is still empty (or give its area).",
        "'Across: each column from the left edge' (in 'Where the cans stand') is still empty.",
        "'Along: each row from the inlet end wall' (in 'Where the cans stand') is still empty.",
        "'How long each line ran' (in 'Needed') is still empty.",
    ]


PLACED = {**DESCRIBED, "cans.across": "1 m, 3 m", "cans.along": "1 m, 2 m"}
LINE = {"lines.0.name": "left", "lines.0.x": "1 m", "lines.0.first": "1 m", "lines.0.spacing": "1 m",
        "lines.0.count": "5"}


@pytest.mark.parametrize(("values", "wanted"), [
    ({}, []),
    ({**LINE, "lines.1.name": "right", "lines.1.x": "5 m"},
     ["'How the lines ran' (in 'Heads and lines') is not said: together, or in turn (one after the other)."]),
    ({"lines.0.name": "left"},
     ["'How far it runs from the left edge' (in 'Heads and lines', line 1) is still empty."]),
    ({**LINE, "lines.0.heads_at": "1 m, 2 m"},
     ["'or each head, where they are uneven' (in 'Heads and lines', line 1): this line has both a list of its heads "
      "and a first head with distance and number; keep one of the two and empty the other."]),
    ({"cans.opening_area": "55 cm2"},
     ["'or its area' (in 'Needed'): both the diameter and the area of a can's opening are given; empty one of them."]),
    ({"cans.reads": "depth"},
     ["'Unit of the readings' (in 'Needed'): mL is no unit of depth; choose mm or cm or in."]),
    ({"cans.evaporation.start": "50"},
     ["'They held at the end' (in 'How it was run') is still empty.",
      "'Time between the two' (in 'How it was run') is still empty."]),
    ({"test.date": "18.3.2027"},
     ["'Date' (in 'About the test'): '18.3.2027' does not fit, needed is a date such as 2027-03-18: "
      "write year-month-day."]),
])
def test_what_is_wrong_is_said_with_label_and_box(values, wanted):
    assert said({**PLACED, **values}) == wanted


def test_readings_are_spoken_of_once_there_are_some():
    assert said({**PLACED, "r1c1": "10"}, typed=1) == ["1 of the cans can be used so far; figures need at least four."]


def test_the_top_of_the_page_says_what_is_needed_then_the_way_on():
    assert "Still needed before there are figures (7):" in words(page("set_up", Drafts().start(NEW_TEST)))
    assert "The set-up is complete." in words(page("set_up", new_test(PLACED)))


def test_no_file_wording_reaches_the_page():
    values = {**PLACED, "test.title": "", **LINE, "lines.0.heads_at": "1 m", "lines.1.name": "x", "lines.1.x": "99 m",
              "cans.opening_area": "5 cm2", "floor.beds.0.from": "2 m", "pressures.0.value": "1 bar",
              "target.du_low_quarter": "abc", "run.duration": ""}
    shown = "\n".join([*said(values), words(page("set_up", new_test(values)))])
    for word in ("opening_area", "heads_at", "in quotes", "take the key out", "[run]", "the table"):
        assert word not in shown


EXAMPLES = [(one, system) for fields in form.GROUPS.values() for one in fields for system in ("metric", "US")]


@pytest.mark.parametrize(("one", "system"), EXAMPLES, ids=lambda item: getattr(item, "key", item))
def test_examples_are_in_the_chosen_units(one, system):
    units = {"metric": "ft|in|in2|psi|gpm|gal|mph|F", "US": "m|cm|mm|cm2|kPa|L/h|L|m/s|C"}[system]
    assert not re.search(rf"\d ({units})\b", one.example(system)), "of the other system"


@pytest.mark.parametrize(("text", "dimension"), [
    ("3 1/4 in", "length"), ("8.3 in2", "area"), ("0.18 gpm", "flow"), ("30 psi", "pressure"), ("2 ft 6 in", "length"),
    ("3/4 in", "length"), ("1 mph", "speed"), ("61 F", "temperature"), ("270 gal", "volume"), ("28 psi", "pressure")])
def test_examples_can_be_typed_as_they_are(text, dimension):
    assert parse(text, dimension).si > 0
    assert any(text in one.us for fields in form.GROUPS.values() for one in fields)


def test_examples_follow_the_units():
    draft = new_test(DESCRIBED)
    label = "Flow of one head"
    assert field(page("set_up", draft), label).placeholder == "40 L/h"
    assert field(page("set_up", draft, {"units": "US"}), label).placeholder == "0.18 gpm"
    assert field(page("set_up", begin(sample_text("blocked-head"))),
                 "Diameter that one head wets").placeholder == "18 ft"


def test_a_line_taken_out_leaves_the_fields_of_the_other():
    draft = begin(sample_text("blocked-head"))
    app = page("set_up", draft)
    other = field(app, "Name of line 2").value
    app.button(key="line_out_0").click().run()
    assert field(app, "Name of line 1").value == other
    field(app, "Title of this test").set_value("Next").run()
    assert [line["name"] for line in json.loads(Drafts().values(draft)["lines"])] == [other]
    assert plain_of(Drafts().values(draft))[0]["lines"][0]["name"] == other
