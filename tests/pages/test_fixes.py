"""The page of fixes."""

from analysis.samples import sample_text

from .visit import begin, page, words


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
    assert any("head_spacing: received" in error.value for error in app.error)


def test_without_heads_the_page_says_what_to_do():
    app = page("fixes", begin(sample_text("bare")))
    assert "describe the lines" in words(app)
