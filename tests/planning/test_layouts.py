"""Layouts of cans: on the ground, on the tape's marks, in the order in which they are entered."""

import numpy as np
import pytest
from evenfall.dashboard.reading_parts import cans_to_draw
from evenfall.planning.layouts import DENSE, GRID, LAYOUTS, STAGGERED, described_layout, layout_of, tape_text, walk
from evenfall.record.file import parse_record, plain_text
from evenfall.record.site import site_of
from evenfall.units.quantity import parse

from .records import BARE, HEADS, read

LINES = [(2.275, np.arange(0.5, 28.6, 0.9)), (6.825, np.arange(0.5, 28.6, 0.9))]
FLOORS = {
    "whole": BARE, "US": BARE.replace('"9.1 m"', '"30 ft"').replace('"29 m"', '"96 ft"'),
    "beds": BARE.replace('length = "29 m"', 'length = "29 m"\nbeds = [{from = "0.5 m", to = "1.9 m", start = "0.9 m", '
                         'end = "28 m"}, {from = "2.4 m", to = "5.2 m"}, {from = "6 m", to = "8.6 m"}]'),
    "small": BARE.replace('"9.1 m"', '"3 m"').replace('"29 m"', '"5 m"'),
}


def system(name):
    return "US" if name == "US" else "metric"


@pytest.mark.parametrize("floor", FLOORS)
@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("count", [8, 24, 37, 120])
def test_every_layout_is_a_sound_record_on_its_ground(floor, name, count):
    site = site_of(read(FLOORS[floor]))
    layout = layout_of(name, site.ground, count, LINES if floor != "small" else [], system(floor))
    assert 0.8 * count <= len(layout.places) <= count
    assert len(np.unique(layout.places.round(4), axis=0)) == len(layout.places)
    assert site.ground.holds(*layout.places.T).all()
    filled = {**layout.cans, "reads": "volume", "unit": "mL", "opening": "84 mm"}
    if "rows" in filled:
        filled["rows"] = [{**row, "catch": [20] * len(row["x"])} for row in filled["rows"]]
    else:
        filled["grid"] = [[20] * len(filled["across"]) for _ in filled["along"]]
    parse_record(FLOORS[floor] + plain_text({"cans": filled}) + '[run]\nduration = "30 min"\n')
    if count >= 24:
        assert layout.covers and not layout.shares_period


def test_a_plain_grid_by_hand():
    floor = site_of(read(BARE.replace('"9.1 m"', '"6 m"').replace('"29 m"', '"12 m"'))).ground
    layout = layout_of(GRID, floor, 24, [], "metric")
    assert layout.cans == {"across": ["0.75 m", "2.25 m", "3.75 m", "5.25 m"],
                           "along": ["1 m", "3 m", "5 m", "7 m", "9 m", "11 m"]}


def test_staggered_rows_stand_at_more_distances_from_the_lines_than_a_grid():
    floor = site_of(read(HEADS)).ground
    for count in (24, 36, 48):
        grid, staggered, dense = (layout_of(name, floor, count, LINES, "metric") for name in LAYOUTS)
        assert staggered.gap < 0.7 * grid.gap and dense.gap < 0.7 * grid.gap


def test_beds_that_make_no_rectangle_get_their_cans_too():
    floor = site_of(read(
        BARE + 'beds = [{from = "0 m", to = "2 m", start = "0 m", end = "3 m"}, {from = "5 m", to = "9 m", '
               'start = "20 m", end = "29 m"}]\n')).ground
    for name in LAYOUTS:
        places = layout_of(name, floor, 24, LINES, "metric").places
        assert 16 <= len(places) <= 24 and floor.holds(*places.T).all()


def test_the_gap_by_hand():
    # One line in the middle of 9.1 m; cans 1 m and 3 m from it: between 1 and 3 m there is none.
    floor = site_of(read(BARE)).ground
    cans = {"points": [{"x": f"{x} m", "y": "1 m"} for x in (5.55, 3.55, 7.55, 1.55)]}
    assert described_layout("own", cans, floor, [(4.55, np.array([1.0]))]).gap == pytest.approx(2.0)


def test_rows_in_step_with_the_heads_are_told():
    floor = site_of(read(BARE)).ground
    cans = {"across": ["1 m", "8 m"], "along": [f"{0.5 + 2.7 * row:.2f} m" for row in range(10)]}
    assert described_layout("own", cans, floor, LINES).shares_period  # 2.7 m is three times 0.9 m
    assert not described_layout("own", cans, floor, [(2.0, np.arange(0.0, 29.0, 1.1))]).shares_period


def test_edges_and_ends_that_are_missed_are_told():
    floor = site_of(read(BARE)).ground
    middle = {"across": ["3 m", "6 m"], "along": ["1 m", "10 m", "19 m", "28 m"]}
    assert not described_layout("own", middle, floor, LINES).covers
    assert described_layout("own", {**middle, "across": ["1 m", "8 m"]}, floor, LINES).covers
    assert not described_layout("own", {"across": ["1 m", "8 m"], "along": ["9 m", "19 m"]}, floor, LINES).covers


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("floor", ["whole", "beds", "US"])
def test_the_walk_is_that_of_the_entry_of_readings(name, floor):
    cans = layout_of(name, site_of(read(FLOORS[floor])).ground, 30, LINES, system(floor)).cans
    stops = walk(cans)
    assert [stop.key for stop in stops] == [can.key for can in cans_to_draw({"cans": cans}, "metric")]
    assert [stop.number for stop in stops] == list(range(1, len(stops) + 1))
    assert stops[0].y == min(stop.y for stop in stops) and stops[-1].y == max(stop.y for stop in stops)
    rows = [[stop.x for stop in stops if stop.y == y] for y in sorted({stop.y for stop in stops})]
    assert all(row == sorted(row, reverse=bool(number % 2)) for number, row in enumerate(rows))


def test_a_dense_row_has_half_the_cans():
    cans = layout_of(DENSE, site_of(read(HEADS)).ground, 40, LINES, "metric").cans
    assert max(len(row["x"]) for row in cans["rows"]) >= 20


def test_no_lines_yet():
    assert layout_of(STAGGERED, site_of(read(BARE)).ground, 24, [], "metric").gap is None


@pytest.mark.parametrize("metres, units, text", [
    (1.85, "metric", "1.85 m"), (2.0, "metric", "2 m"), (0.3048 * 4.25, "US", "4 ft 3 in"), (0.2286, "US", "9 in"),
    (0.3048 * 10, "US", "10 ft")])
def test_the_tape(metres, units, text):
    assert tape_text(metres, units) == text
    assert parse(text, "length").si == pytest.approx(metres)


@pytest.mark.parametrize("name, count, says", [("circle", 24, "received the layout 'circle', expected one of grid"),
                                               (GRID, 7, "received 7 cans, expected 8 to 400")])
def test_what_is_refused(name, count, says):
    with pytest.raises(ValueError, match=says):
        layout_of(name, site_of(read(BARE)).ground, count, LINES, "metric")
