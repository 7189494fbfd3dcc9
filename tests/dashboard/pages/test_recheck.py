"""Before and after on a page that was open before the earlier test was saved, changed or taken off."""

from evenfall.record.file import parse_record, plain_text
from evenfall.record.model import to_plain
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.store import OWNER
from evenfall.store.folders import take_in
from evenfall.store.usual import open_usual

from ...changes.test_mended import around
from .visit import begin, page, words

MISSING = "is not among the saved ones"


def test_what_is_saved_of_the_earlier_test_later_is_held_against_this_one(tmp_path):
    app = page("map", begin(sample_text("after-repair")))
    assert MISSING in words(app) and "Held against:" not in words(app)
    text = sample_text("before-repair")
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "before.toml").write_text(text, "utf-8")
    store = open_usual()
    assert take_in(store, OWNER, tmp_path / "in").done == 1
    title = parse_record(text).test.title
    app.run()
    assert MISSING not in words(app) and f"Held against: {title}" in words(app)
    changed = text.replace(title, "The same, written again")
    store.save(OWNER, parse_record(changed), changed, 1)
    app.run()
    assert "Held against: The same, written again" in words(app)
    store.withdraw(OWNER, "mg-r11")
    app.run()
    assert MISSING in words(app) and "Held against:" not in words(app)


def test_a_few_cans_around_a_mended_head_are_answered(tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "before.toml").write_text(sample_text("before-repair"), "utf-8")
    take_in(open_usual(), OWNER, tmp_path / "in")
    heads = site_of(parse_record(sample_text("before-repair"))).heads
    x, y = heads.places[list(zip(heads.name, heads.number.tolist(), strict=True)).index(("left", 14))]
    app = page("map", begin(plain_text(to_plain(around("after-repair", x, y)))))
    assert "Line left head 14: mended, 9" in words(app)
