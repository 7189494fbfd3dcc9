"""Before and after: differences with intervals, and what was unlike."""

import json
import re

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.causes.explained import floor_today
from evenfall.changes.recheck import SAME_CANS, held_against, relative
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.as_json import to_json
from evenfall.result.assessment import assess


def sample(name):
    return parse_record(sample_text(name))


def held(before, after):
    earlier, site = (site_of(parse_record(text)) for text in (before, after))
    catch = read_catch(site)
    return held_against(site, catch, floor_today(site, catch), earlier)


@pytest.fixture(scope="module")
def repaired():
    return held(sample_text("before-repair"), sample_text("after-repair"))


def test_a_repair_shows(repaired):
    du, cans = repaired.du_low_quarter, repaired.at_the_cans
    assert du.shown and du.change.value == pytest.approx(du.after - du.before)
    assert du.change.low > 0 and cans.change.value == pytest.approx(cans.after - cans.before)
    assert "more than the tests' own noise" in repaired.says[0]
    assert (repaired.id, repaired.date) == ("mg-r11", "2025-04-06")


def test_a_test_held_against_itself_shows_nothing():
    same = held(sample_text("commissioning"), sample_text("commissioning"))
    assert same.du_low_quarter.change.value == 0 and not same.du_low_quarter.shown and not same.at_the_cans.shown
    assert same.unlike == [] and "no change is shown" in same.says[0]


def test_the_interval_carries_both_tests(repaired):
    one = sample_text("before-repair")
    whole = [assess(parse_record(text), rivals=True).whole_floor.du_low_quarter
             for text in (one, sample_text("after-repair"))]
    low = np.hypot(whole[1].value - whole[1].low, whole[0].high - whole[0].value)
    change = repaired.du_low_quarter.change
    assert change.value - change.low == pytest.approx(SAME_CANS["du_low_quarter"] * low)


def test_unlike_conditions_are_said():
    after = sample_text("after-repair")
    after = re.sub(r'^wind = .*$', 'wind = "2 m/s"', after, flags=re.M)
    after = re.sub(r'^sides = .*$', 'sides = "open"', after, flags=re.M)
    after = re.sub(r'(at = "regulator outlet"\nvalue = )"[^"]*"', r'\1"120 kPa"', after)
    found = held(sample_text("before-repair"), after)
    said = " ".join(found.unlike)
    assert ("The wind was 0.2 m/s before and 2.0 m/s now." in said
            and "The sides were closed before and open now." in said)
    assert "The pressure at regulator outlet was 190 kPa before and 120 kPa now." in said
    assert "Part of the change may come from what was unlike" in found.says[-1]


def test_cans_at_other_places_are_not_held_against_each_other():
    found = held(sample_text("before-repair"), sample_text("commissioning"))
    assert found.at_the_cans is None and "unlike places" in found.unlike[0]


def test_it_is_in_the_result_and_its_json():
    result = assess(sample("after-repair"), earlier=lambda name: sample("before-repair") if name == "mg-r11" else None)
    plain = json.loads(to_json(result))["recheck"]
    assert list(plain) == ["id", "title", "date", "du_low_quarter", "cu", "at_the_cans", "heads", "cans",
                           "unlike", "says"]
    assert (list(plain["cu"]) == ["before", "after", "change"]
            and list(plain["cu"]["change"]) == ["value", "low", "high"])
    assert json.loads(to_json(assess(sample("after-repair"))))["recheck"] is None
    assert relative(result.floor).mean() == pytest.approx(1.0)
