"""The page of the handover, and the field sheet where a test is planned."""

from evenfall.record.samples import sample_text

from .visit import begin, page, words


def buttons(app):
    return [button.label for button in app.get("download_button")]


def test_the_handover_says_what_it_holds_and_what_is_missing():
    app = page("handover", begin(sample_text("before-repair")))
    said = words(app)
    assert "4 causes" in said and "the map with dry ground" in said
    assert "Missing for a baseline that holds" in said and "who read it" in said
    assert buttons(app) == ["Handover (.pdf)", "Field sheet (.pdf)"]


def test_a_plan_can_be_taken_along_on_paper():
    app = page("plan", begin(sample_text("commissioning")))
    assert "Field sheet (.pdf)" in buttons(app)


def test_without_readings_the_page_says_what_to_do():
    app = page("handover", begin('record = 1\n[test]\ntitle = "new"\n'))
    assert "no figures yet" in words(app) and not buttons(app)
