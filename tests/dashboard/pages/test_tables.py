"""Readings from a table: asked before anything is touched, nothing old among the new, and a way back."""

import pytest
from evenfall.entry.cans import reading_texts
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.to_record import plain_of, record_of

from ...conftest import GRID
from .visit import begin, page, told, words

OTHER = "1;2\n3;4\n5;6"
EMPTY = "\n".join(line for line in GRID.splitlines() if not line.startswith("grid")) + "\n"


def paste(app, text):
    next(area for area in app.text_area if area.label == "Paste a table").set_value(text).run()
    assert not app.exception


def keys(app):
    return [button.key for button in app.button]


def filled(draft):
    return {key: text for key, text in reading_texts(Drafts().values(draft)).items() if text.strip()}


def test_a_table_that_fits_an_empty_test_is_shown_and_taken():
    draft = begin(EMPTY)
    app = page("readings", draft)
    paste(app, "11;12,5;13\n21;22;\n31;32;33\n41;42;43")
    assert "Semicolons" in words(app)
    assert filled(draft) == {}
    app.button(key="take_grid").click().run()
    record = record_of(Drafts().values(draft))[0]
    assert record.cans.grid[0] == [11, 12.5, 13] and record.cans.grid[1][2] != record.cans.grid[1][2]
    assert [place.text for place in record.cans.across] == ["1 m", "3 m", "5 m"]


def test_a_pasted_table_that_is_none_says_so():
    app = page("readings", begin(GRID))
    paste(app, "no numbers here")
    assert told(app, "error")


def test_a_table_of_another_shape_touches_nothing_before_the_answer():
    draft = begin(GRID)
    before = Drafts().values(draft)
    app = page("readings", draft)
    paste(app, OTHER)
    assert "The table has 3 rows of 2, this test has 4 rows of 3 with 12 readings." in words(app)
    assert [key for key in keys(app) if str(key).startswith("take_")] == ["take_replace", "take_other", "take_leave"]
    app.button(key="take_leave").click().run()
    assert Drafts().values(draft) == before
    assert "The table has" not in words(app)


def test_a_table_of_the_same_shape_asks_too_where_there_are_readings():
    app = page("readings", begin(GRID))
    paste(app, "1;2;3\n4;5;6\n7;8;9\n1;2;3")
    assert "The table has 4 rows of 3, this test has 4 rows of 3 with 12 readings." in words(app)
    assert app.button(key="take_replace").label == "Replace this test's readings"


def test_no_old_reading_stays_among_the_new_ones():
    draft = begin(GRID)
    app = page("readings", draft)
    paste(app, OTHER)
    app.button(key="take_replace").click().run()
    assert filled(draft) == {"r1c1": "1", "r1c2": "2", "r2c1": "3", "r2c2": "4", "r3c1": "5", "r3c2": "6"}
    assert "The readings of 3 rows of 2 are kept, but where these cans stand is not known yet." in words(app)
    app = page("set_up", draft)
    assert [app.selectbox(key=key).value for key in ("even_columns", "even_rows")] == [2, 3]
    app.button(key="even_go").click().run()
    assert plain_of(Drafts().values(draft))[0]["cans"]["grid"] == [[1, 2], [3, 4], [5, 6]]


def test_the_earlier_readings_can_be_put_back_and_back_again():
    draft = begin(GRID)
    Drafts().put(draft, [Change("aside.r2c1", "kicked", 50), Change("r4c3", "61", 51)], "phone")
    before = plain_of(Drafts().values(draft))[0]
    app = page("readings", draft)
    paste(app, ";1 m;2 m\n1 m;1;2\n2 m;3;4\n3 m;5;6")
    app.button(key="take_replace").click().run()
    assert "These cans replaced 4 rows of 3 with 12 readings." in words(app)
    assert plain_of(Drafts().values(draft))[0]["cans"]["grid"] == [[1, 2], [3, 4], [5, 6]]
    app = page("readings", draft)  # also after a reload
    app.button(key="put_back").click().run()
    assert plain_of(Drafts().values(draft))[0] == before
    assert "These cans replaced 3 rows of 2 with 6 readings." in words(app)
    app.button(key="put_back").click().run()
    assert plain_of(Drafts().values(draft))[0]["cans"]["grid"] == [[1, 2], [3, 4], [5, 6]]


def test_a_table_can_go_into_a_test_of_its_own():
    draft = begin(GRID)
    before = Drafts().values(draft)
    app = page("readings", draft)
    paste(app, OTHER)
    app.button(key="take_other").click().run()
    assert not app.exception
    assert Drafts().values(draft) == before
    (other,) = [item for item in Drafts().listing() if item.draft != draft]
    assert other.title == "A test for the tests, from a table"
    plain = plain_of(Drafts().values(other.draft))[0]
    assert plain["floor"] == {"width": "6 m", "length": "12 m"} and "across" not in plain["cans"]
    assert filled(other.draft)["r3c2"] == "6" and len(filled(other.draft)) == 6


@pytest.mark.parametrize("text", [OTHER, "1;2;3;4"])
def test_a_table_into_a_new_test_without_places_is_just_taken(text):
    draft = Drafts().start("")
    app = page("readings", draft)
    paste(app, text)
    app.button(key="take_grid").click().run()
    assert not app.exception and "put_back" not in keys(app)
    assert len(filled(draft)) == len(text.replace(";", "\n").split("\n"))


def test_what_is_in_doubt_is_asked_by_taps_before_anything_is_taken():
    draft = begin(EMPTY)
    app = page("readings", draft)
    paste(app, "1,11,12,13\n2,21,24,20\n3,31,30,29\n4,41,40,44")
    assert "Doubt: The first column (1, 2, 3, 4) counts in steps of one" in words(app)
    assert "take_grid" not in keys(app)
    (choice,) = app.radio
    assert (choice.label, choice.value) == ("First column", None)
    choice.set_value("number").run()
    assert "Doubt" not in words(app) and app.radio[0].value == "number"
    app.button(key="take_grid").click().run()
    assert record_of(Drafts().values(draft))[0].cans.grid == [[11, 12, 13], [21, 24, 20], [31, 30, 29], [41, 40, 44]]


def test_an_answer_can_be_taken_back():
    app = page("readings", begin(EMPTY))
    paste(app, "1,11,12\n2,21,24\n3,31,30\n4,41,40")
    app.radio[0].set_value("reading").run()
    assert "4 rows of 3 cans" in words(app)
    app.radio[0].set_value("number").run()
    assert "4 rows of 2 cans" in words(app)


def test_what_no_answer_settles_is_taken_only_after_a_look():
    draft = begin(EMPTY)
    app = page("readings", draft)
    paste(app, "11;2O;13\n21;22;20\n31;32;39\n41;40;43")
    assert "Doubt: Row 1, column 2: '2O' is not a number" in words(app) and "take_grid" not in keys(app)
    app.checkbox[-1].check().run()
    app.button(key="take_grid").click().run()
    assert record_of(Drafts().values(draft))[0].cans.grid[3] == [41, 40, 43]


def test_distances_without_a_unit_are_in_that_of_the_floor():
    draft = begin(EMPTY.replace('"6 m"', '"20 ft"').replace('"12 m"', '"40 ft"'))
    app = page("readings", draft)
    paste(app, ";2;6;10\n3;11;12;13\n12;21;24;20\n21;31;30;29")
    app.button(key="take_replace").click().run()
    assert plain_of(Drafts().values(draft))[0]["cans"]["across"] == ["2 ft", "6 ft", "10 ft"]
