"""The table of keys: one entry is all that a key needs, and an entry without a caution is none."""

from dataclasses import replace

import pytest
from evenfall.causes.cautions import BACKFLOW, FRAME, LADDERS, PRESSURE
from evenfall.changes.change import ChangeError, changed_site, read_changes
from evenfall.changes.fixes.parts import WORK
from evenfall.changes.fixes.search import try_change
from evenfall.changes.key import Asked, ChangeKey
from evenfall.changes.reading import size
from evenfall.changes.table import KEYS, cautions_of
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.assessment import assess


@pytest.fixture(scope="module")
def case():
    record = parse_record(sample_text("lines-too-far-apart"))
    return site_of(record), assess(record).floor


def lift_of(**other):
    """A key that nobody has: every line is hung so much higher."""
    def apply(sketch, value, text):
        sketch.of_line["rise"] = None
        sketch.section("heads")["height"] = text

    plain = {"key": "head_height", "read": size("head_height", "length"), "apply": apply,
             "name": lambda judged, text: f"heads at {text}", "says": lambda judged, text, system: f"lift to {text}",
             "parts": lambda job: [("clamp", 2 * len(job.changed.lines))], "cautions": ("Mind the film.", LADDERS),
             "asked": Asked("Height of the heads", "2.7 m", "9 ft")}
    return ChangeKey(**{**plain, **other})


def test_a_new_key_is_one_entry(case, monkeypatch):
    site, floor = case
    with pytest.raises(ChangeError, match="received the change of 'head_height'"):
        read_changes(["head_height=9 ft"])
    monkeypatch.setitem(KEYS, "head_height", lift_of(against=("hose",)))
    change = read_changes(["head_height=9 ft"])
    assert changed_site(site, change).site.lines[0].head_height == pytest.approx(2.7432)
    fix = try_change(site, floor, change, "US").fix
    assert fix.name == "heads at 9 ft" and fix.says.startswith("Lift to 9 ft: DUlq of the whole floor ")
    assert {part.item: part.count for part in fix.parts} == {"clamp": 4}
    assert fix.cautions == [LADDERS, "Mind the film."]
    with pytest.raises(ChangeError, match="received head_height together with hose"):
        read_changes(["hose=1 in", "head_height=9 ft"])
    with pytest.raises(ChangeError, match="more than zero"):
        read_changes(["head_height=0 ft"])


def test_a_new_key_may_ask_for_what_a_test_does_not_say(case, monkeypatch):
    site, floor = case
    monkeypatch.setitem(KEYS, "head_height", lift_of(asks="supply"))
    bare = site.rebuilt({"supply": None})
    with pytest.raises(ChangeError, match="expected a record whose supply is known, add supply"):
        try_change(bare, floor, read_changes(["head_height=9 ft"]))


@pytest.mark.parametrize("cautions", [(), ("",)])
def test_a_key_without_a_caution_is_refused(cautions):
    with pytest.raises(ValueError, match="'head_height' of a change without a caution"):
        lift_of(cautions=cautions)


@pytest.mark.parametrize("missing", ["read", "apply", "name", "says", "parts", "cautions", "asked"])
def test_a_key_cannot_miss_a_part_of_its_entry(missing):
    names = ("key", "read", "apply", "name", "says", "parts", "cautions", "asked")
    given = {name: getattr(KEYS["hose"], name) for name in names}
    del given[missing]
    with pytest.raises(TypeError, match=missing):
        ChangeKey(**given)


def test_what_a_person_is_shown_for_a_key_can_be_read():
    for entry in KEYS.values():
        shown = [text for text in (entry.asked.metric, entry.asked.us, *entry.asked.choices) if text]
        assert entry.asked.label and shown and bool(entry.asked.metric) != bool(entry.asked.choices)
        for text in shown:
            entry.read(text)


def test_a_key_asks_for_something_that_is_known():
    with pytest.raises(ValueError, match="expected one of nothing, pressures, supply"):
        replace(KEYS["hose"], asks="luck")


def test_cautions_come_in_one_order_whatever_the_keys_are():
    assert cautions_of(["hose", "lines"]) == cautions_of(["lines", "hose"]) == [LADDERS, FRAME, PRESSURE, BACKFLOW]


def test_every_part_of_every_key_has_its_work(case):
    site, floor = case
    for item in ("pipe=1.5 in", "fed_from=middle", "hose=1.5 in", "hose_length=90 ft", "run_lines=in turn",
                 "regulator_range=1 to 20 gpm", "lines=3", "flow=0.3 gpm"):
        parts = try_change(site, floor, read_changes([item])).fix.parts
        assert parts and {part.item for part in parts} <= set(WORK)
