"""The set-up page: places spread evenly, what is missing in the page's words, examples in both systems."""

import json
import re

import pytest
from evenfall.dashboard import form
from evenfall.dashboard.plain_words import problems, with_labels
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.to_record import NEW_TEST, plain_of, record_of
from evenfall.record.doubts import doubts
from evenfall.record.kinds import about
from evenfall.record.samples import sample_text
from evenfall.record.told import TOLD, without_keys
from evenfall.units.quantity import parse

from ...conftest import GRID
from .visit import begin, field, page, told, words

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


def test_a_percent_sign_is_taken_and_a_word_is_told_a_fitting_number():
    for text in ("75%", "75 %", "75 percent", "75"):
        record, faults, _ = record_of({"base": GRID, "target.du_low_quarter": text})
        assert not faults and record.target.du_low_quarter == 75, text
    assert record_of({"base": GRID, "target.du_low_quarter": "72,5 %"})[0].target.du_low_quarter == 72.5
    assert said({**PLACED, "target.du_low_quarter": "three quarters"}) == [
        "'Agreed DUlq in %' (in 'About the test'): 'three quarters' does not fit, needed is a number in percent: "
        "write a number such as 75."]
    assert said({**PLACED, "target.du_low_quarter": "75 %"}) == []


def plain_words(text):
    return set(re.findall(r"[a-z]+", text.lower())) - {
        "the", "a", "an", "is", "was", "it", "its", "of", "from", "in", "to", "what", "or", "s", "were", "this", "that"}


@pytest.mark.parametrize("key", ["cans.reads", "cans.unit", "run.duration", "run.metered", "run.water", "run.wind",
                                 "run.sides", "supply.kind", "supply.hose.length", "pressures.0.at", "lines.0.fed_from",
                                 "cans.stagger", "cans.across", "cans.exposed", "heads.flow", "test.purpose"])
def test_a_help_says_more_than_its_label(key):
    box, part = next(place for place, fields in form.GROUPS.items()
                     if any(one.key == key.replace("0", "#") for one in fields))
    one = next(one for one in form.group(box, part) if one.key == key)
    more = plain_words(about(key.split("."))) - plain_words(one.label)
    assert len(more) >= 5, more


def test_no_help_speaks_of_quotes():
    assert not [one.key for fields in form.GROUPS.values() for one in fields
                if re.search("in quotes|without quotes", about(one.key.replace("#", "0").split(".")))]


def test_every_key_that_is_told_of_has_a_field():
    fields = {one.key.replace(".#", "") for group in form.GROUPS.values() for one in group}
    assert set(TOLD) <= fields


def test_the_section_of_the_supply_says_what_it_is_for():
    app = page("set_up", new_test(PLACED))
    assert "Pressures and supply" in [box.label for box in app.expander]
    assert "Causes, fixes and the plan use what stands here at once." in words(app)


# --- names of lines ---------------------------------------------------------------------------------


def hang(app, number, place):
    app.text_input(key=next(item.key for item in app.text_input if f" lines.{number}.x " in item.key)).set_value(place)
    return app.run()


def lines_of(draft):
    return [(line["name"], line.get("x")) for line in plain_of(Drafts().values(draft))[0].get("lines", [])]


def three_lines(places):
    draft = new_test({**PLACED, "floor.width": "24 ft"})
    app = page("set_up", draft)
    for number, place in enumerate(places):
        app.button(key="line_add").click().run()
        hang(app, number, place)
    assert not app.exception
    return draft, app


@pytest.mark.parametrize(("places", "names"), [
    (["4 ft", "20 ft"], ["left", "right"]), (["20 ft", "4 ft"], ["right", "left"]),
    (["4 ft", "12 ft", "20 ft"], ["left", "middle", "right"]),
    (["12 ft", "20 ft", "4 ft"], ["middle", "right", "left"]),
    (["4 ft", "20 ft", "12 ft", "8 ft"], ["line 1", "line 4", "line 3", "line 2"]),
    (["4 ft", "4 ft"], ["left", "right"]),
])
def test_lines_that_nobody_named_are_called_by_where_they_hang(places, names):
    draft, app = three_lines(places)
    assert [name for name, _ in lines_of(draft)] == names
    assert [field(app, f"Name of line {number}").value for number in range(1, len(names) + 1)] == names
    assert "hangs" not in "\n".join(told(app, "warning"))


def test_readings_follow_the_line_they_were_made_on():
    draft, app = three_lines(["4 ft", "12 ft"])
    Drafts().put(draft, [Change("pressures", json.dumps([
        {"at": "line", "line": "right", "value": "2 bar"}, {"at": "supply", "value": "3 bar"},
        {"at": "line", "line": "left", "value": "1 bar"}]), 900),
        Change("head_flows.0.line", "right", 901)], "seed")
    app.run().button(key="line_add").click().run()
    hang(app, 2, "20 ft")
    assert [name for name, _ in lines_of(draft)] == ["left", "middle", "right"]
    plain = plain_of(Drafts().values(draft))[0]
    assert [item.get("line") for item in plain["pressures"]] == ["middle", None, "left"]
    assert [item["value"] for item in plain["pressures"]] == ["2 bar", "3 bar", "1 bar"]
    assert plain["head_flows"] == [{"line": "middle"}]
    assert Drafts().clashes(draft) == []


def test_a_name_that_was_typed_stays_and_a_contradiction_is_said():
    draft, app = three_lines(["4 ft", "12 ft"])
    field(app, "Name of line 1").set_value("right").run()
    field(app, "Name of line 2").set_value("left").run()
    assert lines_of(draft) == [("right", "4 ft"), ("left", "12 ft")]
    said_so = told(app, "warning")
    assert said_so == ["The line named right hangs left of the line named left: correct the name or the distance from "
                       "the left edge.",
                       "The line named left hangs right of the line named right: correct the name or the distance from "
                       "the left edge."]
    app.button(key="line_add").click().run()
    hang(app, 2, "20 ft")
    assert [name for name, _ in lines_of(draft)][:2] == ["right", "left"]


def test_lines_of_a_record_keep_their_names():
    draft = begin(sample_text("blocked-head"))
    before = [name for name, _ in lines_of(draft)]
    app = page("set_up", draft)
    hang(app, 0, "20 ft")
    assert [name for name, _ in lines_of(draft)] == before
    app.button(key="line_add").click().run()
    hang(app, len(before), "1 ft")
    assert [name for name, _ in lines_of(draft)][:len(before)] == before


def test_a_line_that_is_gone_leaves_its_name_to_its_readings():
    draft, app = three_lines(["4 ft", "12 ft", "20 ft"])
    Drafts().put(draft, [Change("pressures.0.line", "right", 900)], "seed")
    app.run().button(key="line_out_2").click().run()
    assert lines_of(draft) == [("left", "4 ft"), ("middle", "12 ft")]  # 'right' would take the reading of another line
    Drafts().put(draft, [Change("pressures.0.line", "", 901)], "seed")
    app.run()
    assert lines_of(draft) == [("left", "4 ft"), ("right", "12 ft")]


# --- the name of a pipe size ------------------------------------------------------------------------


def test_a_pipe_size_is_asked_about_beside_its_field_and_once_on_the_map():
    text = GRID + "".join(
        f'[[lines]]\nname = "{name}"\nx = "{x} m"\nfirst = "1 m"\nspacing = "1 m"\ncount = 3\npipe = "3/4 in"\n'
        for name, x in (("left", 1), ("middle", 2), ("right", 3))) + '[run]\nduration = "30 min"\nlines = "together"\n'
    text = re.sub(r"\[run\]\n(?:(?!\[).*\n)*", "", text, count=1)
    app = page("set_up", begin(text))
    beside = [text for text in told(app, "warning") if "pipe size" in text]
    assert len(beside) == 3 and beside[0].startswith(
        "Inside diameter of the tube: 3/4 in is the name of a pipe size, and the real bore is often another (about ")
    [one] = [item.says for item in doubts(record_of({"base": text})[0])]
    assert one.startswith("The tube of lines left, middle and right: 3/4 in is the name of a pipe size, ")
    shown = words(page("map", begin(text)))
    assert shown.count("is the name of a pipe size") == 1 and "lines left, middle and right" in shown


def test_a_bore_raises_no_question():
    assert told(page("set_up", new_test({**PLACED, **LINE, "lines.0.pipe": "20.9 mm"})), "warning") == []


@pytest.mark.parametrize(("text", "wanted"), [
    ("lines[2].pipe: received 2 m.", "The inside diameter of the tube (line right): received 2 m."),
    ("lines[1]: received no places of heads.", "Line left: received no places of heads."),
    ("supply.hose.length: received 0 m.", "The length of the hose of the supply: received 0 m."),
    ("pressures[2].value: received 99 bar.", "The gauge reading (gauge 2): received 99 bar."),
    ("How long water stood is not in the record (cans.exposed); the run was taken.",
     "How long water stood is not in the record; the run was taken."),
    ("The tube of lines left and right: 3/4 in is a name.", "The tube of lines left and right: 3/4 in is a name."),
])
def test_a_reader_without_the_file_sees_no_keys(text, wanted):
    assert without_keys(text, record_of({"base": sample_text("blocked-head")})[0]) == wanted


def test_a_caution_on_the_page_says_which_line_it_is_about():
    assert with_labels("lines[2].pipe: received 2 m") == "'Inside diameter of the tube' (line 2): received 2 m"
    assert with_labels("lines[2].name: received") == "'Name of line 2': received"
    assert with_labels("heads.flow: received 0 L/h") == "'Flow of one head': received 0 L/h"
