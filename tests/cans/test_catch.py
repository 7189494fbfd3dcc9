"""Readings to depths, evaporation, states and weights."""

import numpy as np
import pytest
from evenfall.cans.catch import (
    add_loss,
    depth_from_volume,
    evaporation_loss,
    nearest_areas,
    rate_from_depth,
    read_catch,
)
from evenfall.record.file import parse_record
from evenfall.record.site import site_of
from scipy.spatial import cKDTree

from ..conftest import GRID


def site(text):
    return site_of(parse_record(text))


def test_the_us_worksheet_form():
    # Auditors' worksheet: 3.66 V [mL] / (minutes x in2) in/h; the exact factor is 3.6614.
    volume, minutes, square_inches = 40.0, 20.0, 12.0
    depth = depth_from_volume(volume, square_inches * 2.54**2)
    inches = 3.6614 * volume / (minutes * square_inches)
    assert rate_from_depth(depth, minutes) / 25.4 == pytest.approx(inches, rel=1e-5)


def test_ten_millilitres_on_a_hundred_square_centimetres_are_one_millimetre(record):
    assert list(read_catch(site_of(record)).depth_mm[:3]) == pytest.approx([1, 2, 3])


@pytest.mark.parametrize(("cans", "depth"), [
    ('reads = "depth"\nunit = "in"', 25.4 * 10),
    ('reads = "depth"\nunit = "cm"', 100),
    ('reads = "volume"\nunit = "fl oz"\nopening = "100 mm"', 10 * 10 * 29.5735295625 / (np.pi * 25)),
    ('reads = "volume"\nunit = "L"\nopening_area = "1 m2"', 10),
    ('reads = "weight"\nunit = "g"\ntare = "4 g"\nopening_area = "60 cm2"', 1),
])
def test_every_way_to_read(cans, depth):
    text = GRID.replace('reads = "volume"\nunit = "mL"\nopening_area = "100 cm2"', cans)
    assert read_catch(site(text)).depth_mm[0] == pytest.approx(depth)


def test_a_can_a_little_lighter_than_the_tare_is_dry():
    text = GRID.replace('reads = "volume"\nunit = "mL"', 'reads = "weight"\nunit = "g"\ntare = "10.5 g"')
    assert read_catch(site(text)).depth_mm[0] == 0


def test_evaporation_by_hand():
    # 50 g -> 49.1 g on average in 45 min is 0.02 an hour-minute; 55 min of exposure: 1.1.
    assert evaporation_loss(50.0, np.array([49.0, 49.2, 49.1]), 45, 55) == pytest.approx(0.9 / 45 * 55)


def test_the_loss_is_added_to_wet_cans_only():
    assert list(add_loss([0, 1, 2], 0.5)) == [0, 1.5, 2.5]


def test_exposure_defaults_to_the_run():
    control = '[cans.evaporation]\nstart = 50\nend = [49, 47]\ntime = "60 min"\n'
    short = parse_record(GRID + control)
    long = parse_record(GRID.replace("[run]", 'exposed = "60 min"\n[run]') + control)
    assert read_catch(site_of(short)).evaporation_mm == pytest.approx(0.1)
    assert read_catch(site_of(long)).evaporation_mm == pytest.approx(0.2)
    assert read_catch(site_of(long)).depth_mm[0] == pytest.approx(1.2)
    assert read_catch(site_of(long)).read_mm[0] == pytest.approx(1.0)


def test_states():
    text = GRID.replace("[[10,", "[[nan,").replace(
        "[run]", 'set_aside = [{ row = 1, column = 2, why = "tipped" }]\n[run]').replace(
        'length = "12 m"', 'length = "12 m"\nbeds = [{ from = "2 m", to = "6 m" }]')
    catch = read_catch(site(text))
    assert list(catch.state[:3]) == ["no reading", "set aside", "counted"]
    assert catch.state[3] == "outside the beds" and catch.usable[3] and not catch.counted[3]
    assert catch.why[1] == "tipped"
    assert catch.name(4) == "row 2, can 2"


def test_stagger_moves_odd_rows_left():
    catch = read_catch(site(GRID.replace("[run]", 'stagger = "0.3 m"\n[run]')))
    assert list(catch.x[:3]) == pytest.approx([0.7, 2.7, 4.7])
    assert list(catch.x[3:6]) == pytest.approx([1.3, 3.3, 5.3])


def test_rows_and_points():
    head = GRID[: GRID.index("across")]
    tail = GRID[GRID.index("[run]"):]
    rows = ('[[cans.rows]]\ny = "1 m"\nx = ["1 m", "2 m", "3 m"]\ncatch = [1, 2, 3]\n'
            '[[cans.rows]]\ny = "2 m"\nx = ["1 m"]\ncatch = [nan]\n'
            '[[cans.rows]]\ny = "5 m"\nx = ["4 m"]\ncatch = [9]\n')
    catch = read_catch(site(head + rows + tail))
    assert list(catch.y) == [1, 1, 1, 2, 5] and list(catch.row) == [1, 1, 1, 2, 3]
    points = "points = [" + ", ".join(f'{{ x = "{n} m", y = "1 m", catch = {n} }}' for n in range(1, 6)) + "]\n"
    catch = read_catch(site(head + points + tail))
    assert list(catch.x) == [1, 2, 3, 4, 5] and catch.name(2) == "can 3"


def test_number_weights_in_the_shape_of_the_grid():
    catch = read_catch(site(GRID.replace(
        "[run]", "weights = [[1, 2, 3], [1, 1, 1], [1, 1, 1], [0, 0, 0]]\n[run]")))
    assert list(catch.weight[:3]) == [1, 2, 3] and catch.weight[-1] == 0


def test_nearest_areas_against_a_fine_raster():
    rng = np.random.default_rng(4)
    x, y = rng.uniform(0, 7, 40), rng.uniform(0, 20, 40)
    beds = [(0.5, 2.0, 1.0, 19.0), (3.0, 6.5, 0.0, 20.0)]
    area = nearest_areas(x, y, beds)
    fine = np.stack(np.meshgrid((np.arange(1400) + 0.5) / 200, (np.arange(4000) + 0.5) / 200), -1).reshape(-1, 2)
    near = cKDTree(np.column_stack([x, y])).query(fine)[1]
    on = np.zeros(len(fine), bool)
    for left, right, start, end in beds:
        on |= (fine[:, 0] > left) & (fine[:, 0] < right) & (fine[:, 1] > start) & (fine[:, 1] < end)
    assert area.sum() == pytest.approx(1.5 * 18 + 3.5 * 20)
    assert area == pytest.approx(np.bincount(near[on], minlength=40) / 200**2, abs=0.02)


def test_nearest_areas_in_one_row_and_at_one_place():
    assert nearest_areas(np.array([1.0, 3.0]), np.array([2.0, 2.0]), [(0, 4, 0, 5)]) == pytest.approx([10, 10])
    assert nearest_areas(np.array([1.0, 1.0]), np.array([2.0, 2.0]), [(0, 4, 0, 5)]) == pytest.approx([10, 10])
