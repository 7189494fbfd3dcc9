"""A bare number in the set-up is taken in the unit that its field shows, and the field says so."""

import pytest
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.to_record import record_of

from ...conftest import GRID
from .visit import begin, field, page, words

FEET = GRID.replace("6 m", "20 ft").replace("12 m", "40 ft").replace('"1 m"', '"3 ft"')


@pytest.mark.parametrize("text, label, typed, taken", [
    (GRID, "Width of the floor", "7.6", "7.6 m"),
    (GRID, "Width of the floor", "7,6", "7,6 m"),
    (FEET, "Width of the floor", "25", "25 ft"),
    (GRID, "How long each line ran", "45", "45 min"),
    (GRID, "Stagger: odd rows this far to the left, even rows to the right", "0", "0 m"),
    (GRID, "Across: each column from the left edge", "0.6, 1.9, 3.2", "0.6 m, 1.9 m, 3.2 m"),
])
def test_a_bare_number_takes_the_unit_of_its_field(text, label, typed, taken):
    draft = begin(text)
    app = page("set_up", draft)
    field(app, label).set_value(typed).run()
    assert not app.exception
    assert f"{typed} → {taken}" in words(app)
    assert taken in Drafts().values(draft).values()
    again = page("set_up", draft)  # after a reload
    assert field(again, label).value == taken and "→" not in words(again)


def test_what_is_no_bare_number_stays_as_it_was_typed():
    draft = begin(GRID)
    app = page("set_up", draft)
    for typed in ("7.6 ft", "wide", "1,200"):
        field(app, "Width of the floor").set_value(typed).run()
        assert Drafts().values(draft)["floor.width"] == typed and "→" not in words(app)
    field(app, "Width of the floor").set_value("8").run()
    assert record_of(Drafts().values(draft))[0].floor.width.text == "8 m"


def test_a_bare_number_in_a_record_stays_an_error():
    record, faults, _ = record_of({"base": GRID.replace('"6 m"', '"6"')})
    assert record is None and faults[0].received == "received '6' without a unit"
