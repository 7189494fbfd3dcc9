"""Sentences a person acts on: parts that add up, no more digits than an estimate carries, faults before changes."""

import pytest
from evenfall.causes.cause import Cause
from evenfall.pattern.floor import Figure
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.result.advice import litres, look_first, whole_parts
from evenfall.result.assessment import assess
from evenfall.result.text import report_text
from evenfall.units.shown import show, show_rough
from hypothesis import given
from hypothesis import strategies as st


def test_parts_that_would_add_up_to_101_by_rounding():
    assert whole_parts({"a": 80.5, "b": 1.6, "c": 16.6, "d": 1.3}) == {"a": 80, "b": 2, "c": 17, "d": 1}


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6).filter(lambda parts: sum(parts) > 0.01))
def test_whole_parts_add_up_and_are_the_nearest_below_or_above(parts):
    shares = {str(place): 100 * part / sum(parts) for place, part in enumerate(parts)}
    whole = whole_parts(shares)
    assert sum(whole.values()) == 100
    assert all(abs(whole[name] - share) < 1 + 1e-9 for name, share in shares.items())


def test_volumes_have_the_digits_that_an_estimate_carries():
    assert show_rough(5.4703, "volume", "metric") == "5\N{NO-BREAK SPACE}500 L"
    assert show_rough(0.0342, "volume", "metric") == "34 L"
    assert show_rough(1.0, "volume", "US") == "260 US gal"  # 264.17
    assert litres(Figure(5471.0, 5068.0, 6013.0), "metric") == (
        "5\N{NO-BREAK SPACE}470 L (5\N{NO-BREAK SPACE}070 to 6\N{NO-BREAK SPACE}010)")


def test_water_in_a_pipe_is_in_feet_a_second():
    assert show(1.5, "stream", "US") == "4.9 ft/s" and show(1.5, "stream", "metric") == "1.5 m/s"


def cause(strength, explains):
    return Cause("a kink", "line left", "", strength, "", explains=explains)


@pytest.mark.parametrize("causes", [[], [cause(0.4, "pressure")], [cause(0.9, "pattern"), cause(0.8, "pressure")]])
def test_a_hint_or_a_fault_of_the_layout_does_not_come_before_the_fixes(causes):
    assert look_first(causes) == ""


def test_a_fault_of_the_pressure_comes_before_the_fixes():
    assert look_first([cause(0.6, "supply")]).startswith("Look first for the strongest cause: a kink (line left).")
    record = parse_record(sample_text("starved-far-end"))
    result = assess(record)
    assert "Look first for the strongest cause: the regulator is starved" in report_text(record, result)
