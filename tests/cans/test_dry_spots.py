"""Dry spots on maps whose dry ground is known."""

import numpy as np
import pytest
from evenfall.cans.dry_spots import find_dry_spots, place_in_words
from evenfall.cans.surface import map_axes
from evenfall.record.ground import Ground

WIDTH, LENGTH = 7.5, 24.0
X, Y = map_axes(WIDTH, LENGTH, 18_000)
ACROSS, ALONG = np.meshgrid(X, Y)
LINES = [("left", 1.9), ("right", 5.6)]


def floor_of(*holes, depth=8.0):
    """A floor of one depth with rectangles (left, right, start, end, depth)."""
    made = np.full(ACROSS.shape, depth)
    for left, right, start, end, value in holes:
        made[(ACROSS > left) & (ACROSS < right) & (ALONG > start) & (ALONG < end)] = value
    return made


def test_a_rectangle_is_found_with_its_size():
    made = floor_of((0, 2, 20, 23, 4.0))
    mean = made.mean()
    (spot,) = find_dry_spots(X, Y, made, mean, lines=LINES)
    assert spot.where == "left edge, 20 to 23 m from the inlet end"
    assert spot.area_m2 == pytest.approx(6, rel=0.03)
    assert spot.depth_mm == pytest.approx(4) and spot.of_mean == pytest.approx(4 / mean)
    assert (spot.x_m, spot.y_m) == pytest.approx((1, 21.5), abs=0.05)
    assert spot.kind == "spot" and not spot.beyond_the_cans


def test_the_threshold_is_a_part_of_the_mean():
    made = floor_of((0, 2, 20, 23, 6.5))
    assert not find_dry_spots(X, Y, made, 8.0)
    assert find_dry_spots(X, Y, made, 8.0, part_of_mean=0.85)


def test_half_a_square_metre_is_the_least():
    assert not find_dry_spots(X, Y, floor_of((3, 3.6, 10, 10.7, 1.0)), 8.0)
    assert find_dry_spots(X, Y, floor_of((3, 3.8, 10, 10.7, 1.0)), 8.0)


def test_driest_first():
    found = find_dry_spots(X, Y, floor_of((0, 2, 2, 4, 5.0), (5, 7, 15, 18, 2.0), (3, 5, 8, 10, 4.0)), 8.0)
    assert [round(spot.depth_mm) for spot in found] == [2, 4, 5]


def test_a_strip_is_named_and_does_not_swallow_the_spots():
    made = floor_of((3.2, 4.3, 0, 24, 4.5), (5, 7.5, 10, 13, 3.0), (3.2, 4.3, 16, 19, 1.0), (4.3, 6.0, 16, 19, 2.0))
    found = find_dry_spots(X, Y, made, 7.0, lines=LINES)
    strips = [spot for spot in found if spot.kind == "strip"]
    assert [strip.where for strip in strips] == ["between the lines, along the whole length"]
    assert strips[0].area_m2 == pytest.approx(1.1 * 24, rel=0.05)
    spots = {spot.where: spot for spot in found if spot.kind == "spot"}
    assert "right edge, 10 to 13 m from the inlet end" in spots
    deep = [spot for where, spot in spots.items() if "16 to 19 m" in where]
    assert deep and sum(spot.area_m2 for spot in deep) == pytest.approx(2.8 * 3, rel=0.06)


def test_a_dry_end_wall_is_a_strip_across():
    (strip,) = find_dry_spots(X, Y, floor_of((0, 8, 22.5, 25, 4.0)), 8.0, lines=LINES)
    assert strip.kind == "strip"
    assert strip.where == "across the whole width, 22.5 to 24.0 m from the inlet end (at the far end wall)"


def test_ground_outside_the_beds_does_not_count():
    made = floor_of((0, 2, 20, 23, 4.0))
    assert not find_dry_spots(X, Y, made, 8.0, ground=Ground(WIDTH, LENGTH, ((2.5, WIDTH, 0.0, LENGTH),)).cells(X, Y))


def test_ground_beyond_the_cans_is_said_to_be():
    (spot,) = find_dry_spots(X, Y, floor_of((0, 2, 20, 23, 4.0)), 8.0, known=ACROSS > 1.2)
    assert spot.beyond_the_cans


def test_a_dry_floor_has_no_spots():
    assert find_dry_spots(X, Y, np.zeros_like(ACROSS), 0.0) == []


def test_the_threshold_has_limits():
    with pytest.raises(ValueError, match="received a dry part of 1.2, expected 0.05 to 1 of the mean, correct it"):
        find_dry_spots(X, Y, floor_of(), 8.0, part_of_mean=1.2)


@pytest.mark.parametrize(("extent", "system", "words"), [
    ((0, 1.2, 20, 24), "metric", "left edge, 20 to 24 m from the inlet end (at the far end wall)"),
    ((6.5, 7.5, 0, 5), "metric", "right edge, 0 to 5 m from the inlet end (at the inlet end wall)"),
    ((1.5, 2.3, 5, 9), "metric", "under line left, 5 to 9 m from the inlet end"),
    ((3.3, 4.2, 5, 9), "metric", "between the lines, 5 to 9 m from the inlet end"),
    ((0, 7.5, 5, 9), "metric", "across the whole width, 5 to 9 m from the inlet end"),
    ((0.7, 1.2, 5, 9), "metric", "left of line left, 5 to 9 m from the inlet end"),
    ((0, 1.2, 6.096, 7.62), "US", "left edge, 20 to 25 ft from the inlet end"),
])
def test_places_in_words(extent, system, words):
    assert place_in_words(extent, (7.5, 24), LINES, system) == words


def test_three_lines_name_the_two():
    lines = [("A", 1.2), ("B", 3.75), ("C", 6.3)]
    assert place_in_words((2.2, 2.8, 5, 9), (7.5, 24), lines).startswith("between lines A and B")


def test_without_lines_the_middle_is_the_middle():
    assert place_in_words((3.3, 4.2, 5, 9), (7.5, 24)).startswith("middle")
