"""The map page and its figures: doubts first, one mean on one map, texts only where there is room."""

import pytest
from evenfall.dashboard.plain_words import with_labels
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.drafts import Drafts
from evenfall.figures.depth import depth_map, drawn_mean
from evenfall.figures.look import Look
from evenfall.figures.room import Box, map_pixels, placed
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.result.assessment import assess
from evenfall.result.text import report_text

from ...conftest import GRID
from .visit import begin, page, words


def order(app):
    return [(item.type, str(getattr(item, "value", ""))) for item in app.main]


def test_what_makes_figures_doubtful_stands_above_them():
    draft = begin(sample_text("commissioning"))
    Drafts().put(draft, [Change("r3c3", "970", 999)], "phone")
    found = order(page("map", draft))
    mind = next(place for place, (_, text) in enumerate(found) if text.startswith("Mind, before"))
    first = next(place for place, (kind, _) in enumerate(found) if kind == "metric")
    assert mind < first and "Row 3, can 3: 970 mL" in found[mind + 1][1]
    assert not [text for _, text in found[first:] if text.startswith("Mind")]


def test_cautions_name_fields_by_their_label():
    assert with_labels("not in the record (cans.exposed); check run.duration (30 min).") == (
        "not in the record ('How long water stood in the cans, on average'); check 'How long each line ran' (30 min).")


def test_a_can_far_off_is_asked_about_until_it_is_said_to_be_right():
    draft = begin(sample_text("commissioning"))
    Drafts().put(draft, [Change("r3c3", "970", 999)], "phone")
    app = page("readings", draft)
    assert "Row 3, can 3: 970 mL" in words(app)
    app.button(key="right_r3c3").click().run()
    assert "Row 3, can 3: 970 mL" not in words(app)
    Drafts().put(draft, [Change("r3c3", "980", 1000)], "phone")
    app.run()
    assert "Row 3, can 3: 980 mL" in words(app)


@pytest.fixture(scope="module")
def tunnel():
    record = parse_record(sample_text("commissioning"))
    return record, assess(record)


def test_one_mean_on_one_map(tunnel):
    record, result = tunnel
    heads, cans = Look(layer="heads"), Look(layer="cans")
    assert drawn_mean(result, heads) == result.whole_floor.mean_mm.value
    assert drawn_mean(result, cans) == result.catch.mean_mm
    for look in (heads, cans):
        figure = depth_map(record, result, look)
        shown = {note.text for note in figure.layout.annotations}
        number = next(place for place in range(len(result.cans.x))
                      if f"{100 * result.cans.depth_mm[place] / drawn_mean(result, look):.0f}" in shown)
        assert number >= 0
        drawn = sum(f"{100 * depth / drawn_mean(result, look):.0f}" in shown for depth in result.cans.depth_mm)
        assert drawn > 20


def test_the_caption_says_whose_mean():
    app = page("map", begin(sample_text("commissioning")))
    assert "100 % on this map, for the ground and for the cans, is the mean of the whole floor: " in words(app)
    assert "100 % on this map, for the ground and for the cans, is the mean of the cans: " in words(
        page("map", begin(GRID)))


@pytest.mark.parametrize("narrow", [False, True])
def test_the_bar_lies_below_and_is_no_wider_than_its_map(tunnel, narrow):
    record, result = tunnel
    look = Look(narrow=narrow)
    bar = next(trace.colorbar for trace in depth_map(record, result, look).data if trace.type == "heatmap")
    assert bar.orientation == "h" and bar.len <= max(180, map_pixels(6.6, 20, look)[0])


def test_boxes_that_meet_are_left_out_or_moved():
    a, b, far = Box(0, 0, 20, 10), Box(5, 5, 20, 10), Box(100, 0, 20, 10)
    assert placed([a, b, far], []) == [0.0, None, 0.0]
    assert placed([a], [Box(0, 0, 8, 8)], (0.0, 15.0)) == [15.0]
    assert placed([a], [Box(0, 0, 8, 8), Box(0, 15, 8, 8)], (0.0, 15.0)) == [None]
    assert a.meets(b) and not a.meets(far)


def test_a_map_has_just_the_height_it_needs():
    # hand case: a square floor as wide as a phone's map is as high as it is wide
    assert map_pixels(10, 10, Look(narrow=True)) == (298, 298)
    across, along = map_pixels(5, 100, Look(narrow=True))
    assert along == 640 and across == 32


def test_what_is_handed_out_carries_the_id_that_is_saved():
    from evenfall.record.file import parse_record
    from evenfall.store import OWNER, with_id
    from evenfall.store.usual import open_usual

    from ...conftest import GRID

    draft = begin(GRID)
    app = page("map", draft)
    app.button(key="save").click().run()
    (saved,) = open_usual().tests(OWNER)
    assert saved.test == with_id(parse_record(GRID), draft).test.id


def test_the_agreed_target_is_held_against_both_figures():
    text = sample_text("blocked-head") + "\n[target]\ndu_low_quarter = 60\n"
    shown = words(page("map", begin(text)))
    assert "What was agreed" in shown and "Agreed: DUlq of 60 %; for which figure is not said." in shown
    result = assess(parse_record(text))
    assert f"At the cans it is {result.at_the_cans.du_low_quarter:.0f} %: met." in shown
    assert "Over the whole floor it is " in shown
    assert "Agreed: DUlq of 60 %" in report_text(parse_record(text), result)


def test_more_water_than_the_heads_give_is_said_on_the_page():
    text = sample_text("blocked-head").replace('opening_area = "9 in2"', 'opening_area = "9 cm2"')
    shown = words(page("map", begin(text)))
    assert "times the water that these heads give" in shown
    (closed,) = [line for line in shown.splitlines() if line.startswith("The estimate for all the ground is closed")]
    print(closed)
    assert closed == "The estimate for all the ground is closed; look at cans."
