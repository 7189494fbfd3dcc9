"""The site: what a record says of places and hardware, resolved once; the ground cut exactly out of a map."""

import numpy as np
import pytest
from evenfall.record.faults import RecordFaults
from evenfall.record.file import parse_record
from evenfall.record.ground import Ground
from evenfall.record.site import PLACED_WITHIN, site_of
from hypothesis import given
from hypothesis import strategies as st

from ..conftest import GRID
from ..record_texts import FULL

LINES = GRID + """
[heads]
flow = "36 L/h"
at = "200 kPa"
exponent = 0
wetted_diameter = "5 m"
height = "0 m"
[[lines]]
name = "left"
x = "4 m"
first = "1 m"
spacing = "2 m"
count = 3
height = "2 m"
[[lines]]
name = "right"
x = "2 m"
heads_at = ["9 m", "3 m"]
flow = "72 L/h"
exponent = 0.6
ran = "10 min"
"""


def test_heads_stand_line_by_line_with_the_sizes_of_their_own_line():
    site = site_of(parse_record(LINES.replace('duration = "30 min"', 'duration = "30 min"\nlines = "together"')))
    heads = site.heads
    assert heads.x.tolist() == [4, 4, 4, 2, 2] and heads.y.tolist() == [1, 3, 5, 3, 9]
    assert heads.line.tolist() == [0, 0, 0, 1, 1] and heads.number.tolist() == [1, 2, 3, 1, 2]
    assert heads.name == ("left",) * 3 + ("right",) * 2
    assert (heads.flow * 3.6e6).round(6).tolist() == [36] * 3 + [72] * 2
    assert heads.radius.tolist() == [2.5] * 5 and heads.ran.tolist() == [1800] * 3 + [600] * 2
    assert heads.exponent.tolist() == [0] * 3 + [0.6] * 2
    assert heads.holds_flow.tolist() == [True] * 3 + [False] * 2
    assert heads.height.tolist() == [0] * 5  # a height of 0 m is a height
    assert np.isnan(heads.opens_at).all()
    assert site.from_the_left() == [1, 0]
    assert site.common("diameter") == 5 and site.common("flow") is None
    assert site.line("right").along.tolist() == [3, 9]
    with pytest.raises(KeyError):
        site.line("middle")


def test_a_site_without_lines_has_no_heads():
    site = site_of(parse_record(GRID))
    assert len(site.heads) == 0 and site.heads.places.shape == (0, 2) and site.common("flow") is None
    assert site.run_minutes == 30 and site.cans.placed_within == PLACED_WITHIN


@pytest.mark.parametrize(("lines", "minutes"), [("together", 30), ("in turn", 40)])
def test_the_run_is_the_longest_line_or_the_sum_of_all(lines, minutes):
    site = site_of(parse_record(LINES.replace('duration = "30 min"', f'duration = "30 min"\nlines = "{lines}"')))
    assert site.run_minutes == minutes and site.in_turn == (lines == "in turn")


def test_cans_have_their_places_numbers_and_opening():
    site = site_of(parse_record(FULL))
    cans = site.cans
    assert len(cans.x) == len(cans.y) == len(cans.row) == len(cans.readings)
    assert cans.opening == pytest.approx(np.pi / 4 * 8.4**2) and cans.opening_text == "84 mm"


@pytest.mark.parametrize(("says", "area"), [('opening = "84 mm"', np.pi / 4 * 8.4**2), ('opening_area = "55 cm2"', 55),
                                            ('opening = "3 in"', np.pi / 4 * 7.62**2)])
def test_an_opening_is_an_area(says, area):
    site = site_of(parse_record(GRID.replace('opening_area = "100 cm2"', says)))
    assert site.cans.opening == pytest.approx(area)


def test_cans_that_are_read_as_depth_need_no_opening():
    text = GRID.replace('opening_area = "100 cm2"\n', "").replace('"volume"', '"depth"').replace('"mL"', '"mm"')
    assert site_of(parse_record(text)).cans.opening is None


def test_a_site_is_built_anew_from_other_sections_and_checked():
    site = site_of(parse_record(GRID))
    assert site.rebuilt({"floor": {"width": "6 m", "length": "20 m"}}).length == 20
    with pytest.raises(RecordFaults):
        site.rebuilt({"floor": {"width": "6 m", "length": "2 m"}})  # cans stand beyond it


def test_a_bed_narrower_than_a_cell_counts_by_its_own_area():
    # 16 cm x 20 m = 3.2 m2 by hand, on a floor of 6.6 m x 20 m whose cells are 33 cm wide.
    ground = Ground(6.6, 20.0, ((3.0, 3.16, 0.0, 20.0),))
    cells = ground.cells((np.arange(20) + 0.5) * 0.33, (np.arange(60) + 0.5) / 3)
    assert (cells.part * cells.area).sum() == pytest.approx(3.2) and ground.area == pytest.approx(3.2)
    assert np.all((cells.places[:, 0] > 3.0) & (cells.places[:, 0] < 3.16))
    assert cells.inside.sum() == len(cells.part) and cells.weight is not None


def test_a_whole_floor_has_whole_cells_in_the_order_of_the_map():
    ground = Ground(3.0, 2.0, ((0.0, 3.0, 0.0, 2.0),))
    cells = ground.cells(np.array([0.5, 1.5, 2.5]), np.array([0.5, 1.5]))
    assert cells.weight is None and cells.area == 1.0
    assert cells.places.tolist() == [[0.5, 0.5], [1.5, 0.5], [2.5, 0.5], [0.5, 1.5], [1.5, 1.5], [2.5, 1.5]]


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=4),
       st.integers(2, 40), st.integers(2, 40))
def test_cells_hold_all_the_ground_and_nothing_else(beds, columns, rows):
    """Beds side by side in strips of their own; area and first moments as by hand, whatever the map."""
    width, length, edges = 8.0, 30.0, []
    strip = width / len(beds)
    for number, (a, b, c) in enumerate(beds):
        left, right = sorted((number * strip + a * strip, number * strip + b * strip))
        if right - left > 1e-3:
            edges.append((left, right, c * 10, 12.0 + c * 18))
    if not edges:
        return
    ground = Ground(width, length, tuple(edges))
    cells = ground.cells((np.arange(columns) + 0.5) * width / columns, (np.arange(rows) + 0.5) * length / rows)
    area = cells.part * cells.area
    by_hand = np.array([(right - left) * (end - start) for left, right, start, end in edges])
    middles = np.array([((left + right) / 2, (start + end) / 2) for left, right, start, end in edges])
    assert area.sum() == pytest.approx(by_hand.sum(), rel=1e-6)
    assert area @ cells.places == pytest.approx(by_hand @ middles, rel=1e-6)
    assert np.all(cells.part <= 1.0) and np.all(cells.part > 0)
    assert np.all(ground.holds(middles[:, 0], middles[:, 1]))


def test_the_edge_of_a_bed_belongs_to_it():
    ground = Ground(6.0, 10.0, ((1.0, 2.0, 3.0, 4.0),))
    assert ground.holds(np.array([1.0, 2.0, 2.1]), np.array([3.0, 4.0, 3.5])).tolist() == [True, True, False]
    assert Ground(6.0, 10.0, ((0.0, 6.0, 0.0, 10.0),)).holds(7.0, 1.0)  # everywhere where all of the floor counts


@pytest.mark.parametrize("said, opening", [("", None), ('[cans]\nopening = "20 mm"\n', np.pi)])
def test_a_site_whose_test_is_still_to_come_has_no_cans_and_no_run(said, opening):
    text = '[test]\ntitle = "t"\n[floor]\nwidth = "9 m"\nlength = "29 m"\n' + said
    site = site_of(parse_record("record = 1\n" + text, planning=True))
    assert len(site.cans.x) == len(site.cans.readings) == len(site.cans.row) == len(site.cans.column) == 0
    assert site.cans.opening == pytest.approx(opening) and site.cans.set_aside == {}
    assert site.metered is site.water_temperature is None and not site.in_turn and np.isnan(site.duration)


def test_what_is_hard_to_believe_is_left_out_and_a_plain_record_stays_itself():
    site = site_of(parse_record(GRID))
    assert site.believed(list(site.doubts)) is site
    said = LINES.replace('duration = "30 min"', 'duration = "30 min"\nlines = "together"')
    odd = site_of(parse_record(said.replace('name = "left"', 'name = "left"\npipe = "2 m"')))
    assert odd.lines[0].bore == 2 and odd.doubts
    assert odd.believed(list(odd.doubts)).lines[0].bore is None and odd.lines[0].bore == 2
