"""The page of causes."""

from evenfall.record.samples import sample_text

from .visit import begin, page, words


def test_the_blocked_head_comes_first_with_what_to_look_at():
    app = page("causes", begin(sample_text("blocked-head")))
    said = words(app)
    assert "clogged head" in said and "head 7" in said and "Look next" in said
    assert said.index("clogged head") < said.index("Dry ends")
    assert "single heads" in said and "spacing and pattern" in said


def test_without_heads_the_split_says_what_to_do():
    app = page("causes", begin(sample_text("bare")))
    assert "described in the set-up" in words(app)


def test_places_for_further_cans_are_found_when_asked_for():
    app = page("causes", begin(sample_text("blocked-head")))
    assert "from the inlet end wall:" not in words(app)
    next(item for item in app.button if item.label == "Find their places").click().run()
    said = words(app)
    assert "known within" in said and said.count("from the inlet end wall:") == 8
    assert "A bottle under" in said
