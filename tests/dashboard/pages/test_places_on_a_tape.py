"""Where a can stands, as the keypad says it."""

import pytest
from evenfall.dashboard.reading_parts import cans_to_draw
from evenfall.planning.layouts import tape_text


@pytest.mark.parametrize(("units", "across", "along", "label"), [
    ("US", "22 ft 9 in", "16 ft 9 in", "Row 1, can 1 - 22 ft 9 in across, 16 ft 9 in along"),
    ("US", "4 in", "42 ft 3 in", "Row 1, can 1 - 4 in across, 42 ft 3 in along"),
    ("US", "1 m", "3.05 m", "Row 1, can 1 - 3 ft 3 in across, 10 ft along"),  # to the nearest inch
    ("metric", "2.15 m", "0.8 m", "Row 1, can 1 - 2.15 m across, 0.80 m along"),
])
def test_a_can_is_found_with_a_tape(units, across, along, label):
    cans = cans_to_draw({"cans": {"across": [across], "along": [along]}}, units)
    assert [can.label for can in cans] == [label]


def test_the_keypad_says_a_place_as_the_plan_does():
    cans = cans_to_draw({"cans": {"across": ["22 ft 9 in"], "along": ["42 ft 3 in"]}}, "US")
    assert f"{tape_text(22.75 * 0.3048, 'US')} across, {tape_text(42.25 * 0.3048, 'US')} along" in cans[0].label
