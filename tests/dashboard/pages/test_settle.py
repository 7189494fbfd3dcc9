"""What would explain the readings better, settled on the map page: two taps put it right, one says it was measured."""

import numpy as np
import pytest
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.to_record import record_of
from evenfall.record.file import plain_text
from evenfall.record.places import all_readings
from evenfall.record.said import as_read

from ...families.plants import FAMILIES
from .visit import begin, page, words


def planted(name, seed):
    return begin(plain_text(FAMILIES[name](np.random.default_rng([seed, *name.encode()])).record))


def record_in(draft):
    return record_of(Drafts().values(draft))[0]


@pytest.mark.long
def test_a_place_is_put_right_with_a_second_tap_after_before_and_after():
    draft = planted("one line 40 cm off", 2)
    app = page("map", draft)
    assert "Is the record right?" in words(app) and record_in(draft).lines[1].x.text == "4.24 m"
    app.button(key="correct_it").click().run()
    assert "It would be taken that line right hangs 4.6 m" in words(app)
    assert record_in(draft).lines[1].x.text == "4.24 m"
    assert {"before", "after"} <= set(app.table[0].value.columns)
    app.button(key="take_it").click().run()
    assert not app.exception and record_in(draft).lines[1].x.si == pytest.approx(4.64, abs=0.06)
    assert "Is the record right?" not in words(app)


@pytest.mark.long
def test_what_was_measured_is_not_told_again_and_outlives_the_page():
    draft = planted("one line 40 cm off", 2)
    app = page("map", draft)
    app.button(key="found_right").click().run()
    assert not app.exception
    (checked,) = record_in(draft).checked
    assert (checked.what, checked.where, checked.value) == ("line place", "lines.right.x", "4.24 m")
    assert "line right hangs" not in words(page("map", draft)).split("was checked and left out")[0]


@pytest.mark.long
def test_readings_are_put_right_and_what_was_read_is_kept():
    draft = planted("rows reversed", 1)
    was = all_readings(record_in(draft).cans)
    app = page("map", draft)
    app.button(key="correct_it").click().run()
    app.button(key="take_it").click().run()
    assert not app.exception
    after = record_in(draft)
    assert all_readings(after.cans) != was and all_readings(as_read(after).cans) == was


def test_a_draft_keeps_kinds_of_heads_and_what_was_said():
    from evenfall.record.file import parse_record

    from ...record_texts import FULL

    draft = begin(FULL)
    page("set_up", draft)
    kept, whole = record_in(draft), parse_record(FULL)
    assert (kept.other_heads, kept.lines, kept.heads, kept.checked, kept.corrected) == (
        whole.other_heads, whole.lines, whole.heads, whole.checked, whole.corrected)
