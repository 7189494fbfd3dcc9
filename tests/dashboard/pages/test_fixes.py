"""The page of fixes."""

from evenfall.changes.table import KEYS
from evenfall.record.samples import sample_text

from .visit import begin, page, told, words


def test_fixes_are_offered_and_a_change_is_tried():
    draft = begin(sample_text("lines-too-far-apart"))
    app = page("fixes", draft)
    said = words(app)
    assert "the largest gain" in said and "more line" in said
    app.text_input(key="try lines").set_value("3")
    app.button[-1].click().run()
    said = words(app)
    assert "Hang 1 more line" in said
    assert any(metric.label == "DUlq after" for metric in app.metric)


def test_a_bad_change_is_said():
    app = page("fixes", begin(sample_text("lines-too-far-apart")))
    app.text_input(key="try head_spacing").set_value("0.6")
    app.button[-1].click().run()
    assert any("head_spacing: received" in error for error in told(app, "error"))


def test_without_heads_the_page_says_what_to_do():
    app = page("fixes", begin(sample_text("bare")))
    assert "describe the lines" in words(app)


def test_what_to_mind_and_the_other_taps_stand_on_the_page():
    text = sample_text("lines-too-far-apart") + """
[[other_supplies]]
name = "lower field"
static = "45 psi"
flowing = [{pressure = "30 psi", volume = "5 gal", time = "40 s"}]
hose = {length = "100 ft", inside = "0.75 in"}
"""
    said = words(page("fixes", begin(text)))
    assert "Careful. Ladders: a second person holds it" in said and "Lines were looked for anywhere" not in said
    assert "On its other supplies" in said and "On lower field: " in said
    assert "floor.hangs_at" in words(page("fixes", begin(sample_text("blocked-head"))))


def test_every_key_of_a_change_is_asked_for():
    app = page("fixes", begin(sample_text("lines-too-far-apart")))
    asked = {item.key: item for item in [*app.text_input, *app.selectbox]}
    for entry in KEYS.values():
        field = asked[f"try {entry.key}"]
        assert field.label == entry.asked.label
        assert tuple(getattr(field, "options", ())) == entry.asked.choices
    app.text_input(key="try regulator_range").set_value("1 to 20 gpm")
    app.button[-1].click().run()
    assert "Take a regulator that holds over 1 to 20 gpm" in words(app)
