"""The same cans before and after: which heads changed."""

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.changes.same_cans import changes_between
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of

from . import same_cans_table


def site(name):
    return site_of(parse_record(sample_text(name)))


@pytest.fixture(scope="module")
def before():
    earlier = site("before-repair")
    return earlier, read_catch(earlier), estimate_floor(earlier, read_catch(earlier))


def between(before, new, later):
    earlier, old, floor = before
    every = np.arange(len(old.x))
    return changes_between(old, new, (every, every), floor, earlier, later)


def test_the_mended_heads_are_named(before):
    later = site("after-repair")
    found = between(before, read_catch(later), later)
    assert {(head.line, head.number) for head in found.heads} == {("left", 14), ("right", 10), ("right", 11)}
    for head in found.heads:
        assert head.chance > 0.5 and head.change.low > 0.2 and head.after == pytest.approx(1.0, abs=0.2)
    assert found.cans == [] and len(found.says) == 3 and "gives more than before by" in found.says[0]


def test_the_same_readings_show_no_change(before):
    earlier, old, _ = before
    found = between(before, old, earlier)
    assert (found.heads, found.cans, found.says) == ([], [], [])


def test_a_can_that_was_kicked_is_a_can(before):
    from dataclasses import replace

    earlier, old, _ = before
    which = int(np.argmax(old.depth_mm))
    depth = old.depth_mm.copy()
    depth[which] *= 0.3
    found = between(before, replace(old, depth_mm=depth), earlier)
    assert [can.can for can in found.cans] == [old.name(which)] and found.heads == []
    assert found.cans[0].ratio == pytest.approx(0.3, abs=0.1)


def test_more_water_everywhere_is_no_change_of_heads(before):
    from dataclasses import replace

    earlier, old, _ = before
    found = between(before, replace(old, depth_mm=1.3 * old.depth_mm), earlier)
    assert found.heads == [] and found.cans == []


def test_heads_elsewhere_are_not_held_against_each_other(before):
    earlier, old, _ = before
    assert between(before, old, earlier.with_along([line.along + 0.5 for line in earlier.lines])) is None


@pytest.mark.long
def test_named_heads_did_change():
    every = [same_cans_table.held(300 + seed) for seed in range(30)]
    named = [(one, head) for one in every for head in one.found.heads]
    large = [(one, head) for one in every for head in one.large]
    right = sum(abs(one.near(head.line, head.number)) > same_cans_table.REAL for one, head in named)
    found = sum(any(told.line == head[0] and abs(told.number - head[1]) <= 1 for told in one.found.heads)
                for one, head in large)
    assert len(named) >= 5 and right >= 0.85 * len(named) and found >= 0.5 * len(large)
