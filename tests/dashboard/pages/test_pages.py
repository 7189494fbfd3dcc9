"""Every page, run without a browser: what each of the three people sees and does."""

import json
from pathlib import Path

import pytest
from evenfall.dashboard import frame
from evenfall.dashboard.guide_parts import PARTS, guide_text, on_a_page
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.to_record import record_of
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.store import OWNER
from evenfall.store.usual import open_usual
from streamlit.testing.v1 import AppTest

from ...conftest import GRID, ROOT
from .visit import DOOR, begin, field, page, told, words


def test_the_first_page_offers_a_new_test_and_an_invented_example():
    app = page("tests")
    assert [button.label for button in app.button][:2] == ["Start a new test", "Open the invented example"]
    assert "no such farm exists" in words(app)


def test_my_tests_are_listed_and_can_be_put_away():
    draft = begin(GRID)
    app = page("tests")
    assert "a draft" in words(app)
    app.button(key=f"away_{draft}").click().run()
    assert not [button for button in app.button if button.key == f"map_{draft}"]
    assert "put away today" in words(app) and Drafts().exists(draft)
    app.button(key=f"out_{draft}").click().run()
    assert [button.label for button in app.button if str(button.key).endswith(draft)] == [
        "Set up", "Readings", "Map", "Put away"]


@pytest.mark.parametrize("name", ["set_up", "readings", "map"])
def test_without_a_test_there_is_a_way_back(name):
    assert "No test is open yet." in words(page(name))


@pytest.mark.parametrize("asked", ["0123456789abcdef", "../../etc", "<script>"])
def test_an_address_of_another_machine_is_said_to_be_one(asked):
    app = AppTest.from_file(str(DOOR), default_timeout=60)
    app.switch_page("rooms/map.py")
    app.query_params["draft"] = asked
    app.run()
    assert "is not kept where Evenfall runs" in words(app)


def test_a_new_test_is_described_field_by_field():
    draft = Drafts().start("")
    app = page("set_up", draft)
    for label, text in (("Title of this test", "Tunnel 9"), ("How long each line ran", "30 min"),
                        ("Width of the floor", "20 ft"), ("Length of the floor", "15 m"),
                        ("Inside diameter of a can's opening", "84 mm"),
                        ("Across: each column from the left edge", "1 m, 3 m, 5 m"),
                        ("Along: each row from the inlet end wall", "2, 6, 10 m")):
        field(app, label).set_value(text).run()
        assert not app.exception
    values = Drafts().values(draft)
    assert values["floor.width"] == "20 ft" and values["run.duration"] == "30 min"
    record, faults, _ = record_of(values)
    assert record is None and [fault.key for fault in faults] == ["cans.grid"]  # only the readings are missing
    assert "9 cans (dots)" in words(page("set_up", draft))


def test_a_wrong_size_is_said_under_its_field_and_kept():
    draft = begin(GRID)
    app = page("set_up", draft)
    field(app, "Width of the floor").set_value("6 L").run()
    assert told(app, "error") == [
        "'6 L', which is a volume does not fit, needed is a length in m, cm, mm, ft or in: use one of these units."]
    assert Drafts().values(draft)["floor.width"] == "6 L"


def test_lines_are_added_like_the_last_and_taken_out():
    draft = begin(sample_text("blocked-head"))
    app = page("set_up", draft)
    app.button(key="line_add").click().run()
    lines = json.loads(Drafts().values(draft)["lines"])
    assert [line["name"] for line in lines] == ["left", "right", "middle"] and lines[2]["count"] == 13
    app = page("set_up", draft)
    app.button(key="line_out_0").click().run()
    assert [line["name"] for line in json.loads(Drafts().values(draft)["lines"])] == ["right", "middle"]


def test_readings_wait_for_a_layout():
    app = page("readings", Drafts().start(""))
    assert "Where the cans stand is not known yet." in words(app)


def test_a_can_is_set_aside_with_its_reason_and_put_back():
    draft = begin(GRID)
    app = page("readings", draft)
    app.button(key="aside_go").click().run()
    assert "Say why" in words(app)
    app.text_input(key="aside_why").set_value("kicked over")
    app.selectbox(key="aside_can").set_value("r1c2")
    app.button(key="aside_go").click().run()
    assert record_of(Drafts().values(draft))[0].cans.set_aside[0].why == "kicked over"
    app = page("readings", draft)
    assert "row 1, can 2: kicked over" in words(app)
    app.button(key="back_r1c2").click().run()
    assert record_of(Drafts().values(draft))[0].cans.set_aside is None


def test_figures_on_the_page_are_those_of_the_library():
    from evenfall.result.assessment import assess

    app = page("map", begin(sample_text("commissioning")))
    result = assess(parse_record(sample_text("commissioning")))
    shown = {metric.label: metric.value for metric in app.metric}
    assert shown["Coefficient of uniformity, CU"] == f"{result.at_the_cans.cu:.0f} %"
    assert shown["Low-quarter uniformity, DUlq"] == f"{result.at_the_cans.du_low_quarter:.0f} %"
    assert shown["Mean depth"] == "15.1 mm" and shown["Application rate"] == "20.1 mm/h"
    assert "from memory" in words(app) and "Evaporation: 0.1 mm was added" in words(app)


def test_units_are_the_persons():
    draft = begin(sample_text("blocked-head"))
    assert {metric.label: metric.value for metric in page("map", draft).metric}["Mean depth"] == "0.24 in"
    app = page("map", draft, {"units": "metric"})
    assert {metric.label: metric.value for metric in app.metric}["Mean depth"] == "6.2 mm"
    assert "m from the inlet end" in words(app)


def test_the_dry_part_is_adjustable():
    draft = begin(sample_text("commissioning"))
    few, many = (words(page("map", draft, {"dry part": part})).count("% of the mean of the ") for part in (0.6, 0.95))
    assert few < many


def test_a_patch_is_typed_and_answered():
    draft = begin(sample_text("starved-far-end"))
    app = page("map", draft)
    for key, text in (("patch_0", "0 m"), ("patch_1", "3 m"), ("patch_2", "5 m"), ("patch_3", "99 m")):
        app.text_input(key=key).set_value(text)
    app.text_input(key="patch_note").set_value("yellow")
    app.button(key="patch_add").click().run()
    assert not app.exception
    assert "patch 2, yellow" in words(page("map", draft))
    record = record_of(Drafts().values(draft))[0]
    assert record.patches[1].y[1].text == "28 m"  # cut at the end of the floor
    app = page("map", draft)
    app.button(key="patch_out_1").click().run()
    assert len(record_of(Drafts().values(draft))[0].patches) == 1


def test_a_patch_the_wrong_way_round_gets_a_sentence():
    app = page("map", begin(GRID))
    for key, text in (("patch_0", "3 m"), ("patch_1", "1 m"), ("patch_2", "5 m"), ("patch_3", "6 m")):
        app.text_input(key=key).set_value(text)
    app.button(key="patch_add").click().run()
    assert "expected from < to" in words(app)


def test_saving_makes_a_record_with_an_id():
    draft = begin(GRID)
    app = page("map", draft)
    app.button(key="save").click().run()
    (saved,) = open_usual().tests(OWNER)
    assert f"Saved as {saved.test}, version 1." in words(app)
    assert Drafts().values(draft)["test.id"] == saved.test and Drafts().values(draft)["kept"] == "1"
    assert parse_record(open_usual().text(OWNER, saved.test)).cans.grid[0] == [10, 20, 30]


def test_the_second_to_save_is_told_and_nothing_is_lost():
    draft = begin(GRID)
    page("map", draft).button(key="save").click().run()
    (saved,) = open_usual().tests(OWNER)
    theirs = open_usual().text(OWNER, saved.test).replace("[10, 20, 30]", "[99, 20, 30]")
    open_usual().save(OWNER, parse_record(theirs), theirs)
    Drafts().put(draft, [Change("r1c1", "55", 200)], "phone")
    app = page("map", draft)
    app.button(key="save").click().run()
    assert "That one stands; yours is kept beside it as version 3, and nothing is lost." in words(app)
    assert open_usual().text(OWNER, saved.test) == theirs
    app.button(key="mine_stands").click().run()
    assert parse_record(open_usual().text(OWNER, saved.test)).cans.grid[0] == [55, 20, 30]
    assert "Saved as" in words(app) and Drafts().values(draft)["kept"] == "4"


def test_what_stops_the_map_is_listed():
    app = page("map", begin(GRID.replace('"30 min"', '"0 min"')))
    assert "'How long each line ran' (in 'Needed'): '0 min' does not fit, needed is 10 s to 72 h" in words(app)
    assert not app.metric


def test_unreadable_readings_are_shown_and_count_as_none():
    draft = begin(GRID)
    Drafts().put(draft, [Change("r1c1", "1o", 99)], "phone")
    app = page("map", draft)
    assert "row 1, can 1: received '1o'" in words(app)


def test_two_people_on_one_can_are_told():
    draft = begin(GRID)
    Drafts().put(draft, [Change("r1c1", "31", 1)], "phone-one")
    Drafts().put(draft, [Change("r1c1", "13", 1)], "phone-two")
    assert "Two people changed the same thing." in words(page("map", draft))


def test_names_are_text_and_never_markup():
    odd = "<img src=x onerror=alert(1)> **bold** ![](http://x) \U0001f4a7"
    draft = begin(GRID.replace("A test for the tests", odd))
    app = page("map", draft)
    assert odd in [item.value for item in app.text]
    assert odd not in "".join(item.value for item in app.markdown)


def test_safety_defers_to_codes_and_licensed_practice():
    assert "Local codes and licensed practice come before anything this tool says." in words(page("safety"))


def test_the_guide_comes_with_the_package_and_every_part_is_shown():
    assert {f"{part}.md" for part in PARTS} == {path.name for path in (ROOT / "analysis" / "guide").glob("*.md")}
    for part in PARTS:
        shown = [item.value for item in page("guide", state={"guide_part": part}).markdown]
        assert on_a_page(guide_text(part)).strip() in [text.strip() for text in shown], part


def test_a_text_on_a_page_has_its_titles_one_level_lower():
    assert on_a_page("# One\n\n## Two #3\n#4\n```\n# a remark\n```\n\n    # another\n# Five\n") == (
        "## One\n\n### Two #3\n#4\n```\n# a remark\n```\n\n    # another\n## Five\n")


@pytest.mark.parametrize("name", [path.stem for path in map(Path, frame.PAGES)])
def test_a_page_has_one_title(name):
    app = page(name, begin(GRID))
    for part in PARTS if name == "guide" else [None]:
        if part:
            app.segmented_control(key="guide_part").set_value(part).run()
        written = [line for item in app.markdown for line in str(item.value).splitlines() if line.startswith("# ")]
        assert (len(app.title), written) == (1, []), part
