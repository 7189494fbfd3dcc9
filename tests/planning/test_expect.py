"""The expected error before the test, against the full estimate on other tunnels, and its properties."""

import numpy as np
import pytest
from evenfall.pattern import overlap, shapes, simulate
from evenfall.pattern.estimate import estimate
from evenfall.planning.expect import AREA, PlannedFloor, draw_tunnels, expected_error

from .records import equal


def site(width=7.0, length=20.0, lines=2, spacing=1.2, radius=2.2):
    heads, line_of = simulate.lines_of_heads(width, length, lines, spacing)
    return PlannedFloor(heads, line_of, equal(overlap.floor_grid(width, length, 0.4)), radius, 50.0)


TWO = site()


def cans(layout, count):
    return simulate.can_places(7.0, 20.0, count, layout)


@pytest.mark.long
def test_it_agrees_with_the_full_estimate_on_other_tunnels():
    """Tunnels of the older simulator, other seeds; 72 of them gave 2.30 where 96 of ours gave 2.21 to 2.28 points."""
    place, off = cans("dense row", 24), []
    names = list(shapes.KINDS)
    where = simulate.SimulatedSite(7.0, 20.0, TWO.heads, TWO.line_of)
    for number in range(32):
        rng = np.random.default_rng([77, number])
        throw, flow = 2.2 * np.exp(rng.normal(0.0, 0.08)), 50.0 * np.exp(rng.normal(0.0, 0.08))
        tunnel = simulate.tunnel_at(rng, where, place, shape=names[number % 8], throw=throw, flow=flow, weak=[])
        found = estimate(TWO.heads, TWO.line_of, place, tunnel.depth, TWO.ground.places, can_area_cm2=AREA,
                         duration_min=tunnel.minutes, nominal_radius=2.2, nominal_flow_l_h=50.0, draws=80)
        off.append(found.du_low_quarter.value - tunnel.truth.du_low_quarter)
    said, true = expected_error(TWO, place, draw_tunnels(TWO, 96, seed=1)), float(np.sqrt(np.mean(np.square(off))))
    print(f"\nexpected {said.error:.2f} ({said.low:.2f} to {said.high:.2f}), full estimate {true:.2f} points")
    assert said.error == pytest.approx(true, rel=0.25)


def test_other_seeds_give_the_same_error():
    place = cans("staggered", 36)
    one, two = (expected_error(TWO, place, draw_tunnels(TWO, 96, seed)) for seed in (1, 2))
    assert one.error == pytest.approx(two.error, rel=0.25)
    assert one.low < one.error < one.high


def test_more_cans_are_worth_more():
    drawn = draw_tunnels(TWO, 32)
    errors = [expected_error(TWO, cans("staggered", count), drawn).error for count in (12, 30, 90)]
    assert errors[0] > errors[1] > errors[2]


@pytest.mark.parametrize("lines", [2, 4])
def test_staggered_rows_are_at_least_as_good_as_a_grid_where_the_lines_mirror_it(lines):
    here = site(lines=lines)
    drawn = draw_tunnels(here, 24)
    x, y = np.meshgrid((np.arange(4) + 0.5) * 7.0 / 4, (np.arange(6) + 0.5) * 20.0 / 6)
    step = np.where(np.arange(6) % 2, 1.0, -1.0)[:, None] * 0.25 * 7.0 / 4
    grid, staggered = (expected_error(here, np.column_stack([place.ravel(), y.ravel()]), drawn)
                       for place in (x, x + step + 0.2))
    assert staggered.error <= grid.error
    assert grid.at_the_cans > 3 or lines == 4


def test_the_same_seed_says_the_same_and_tells_how_far_it_is():
    parts = []
    place = cans("grid", 24)
    one = expected_error(TWO, place, draw_tunnels(TWO, 4), parts.append)
    np.testing.assert_array_equal(one.errors, expected_error(TWO, place, draw_tunnels(TWO, 4)).errors)
    assert parts == [0.25, 0.5, 0.75, 1.0]


def test_a_floor_of_which_cans_see_nothing_stays_finite():
    ground = equal(overlap.floor_grid(20.0, 20.0, 1.0))
    far = PlannedFloor(np.array([[1.0, 1.0], [1.0, 2.0]]), np.zeros(2, int), ground, 1.0, None)
    assert np.isfinite(expected_error(far, np.array([[15.0, y] for y in range(1, 6)]), draw_tunnels(far, 3)).error)


@pytest.mark.parametrize("count, tunnels", [(3, 8), (24, 1)])
def test_too_little_is_refused(count, tunnels):
    with pytest.raises(ValueError, match="expected at least two tunnels and four cans"):
        expected_error(TWO, np.ones((count, 2)), draw_tunnels(TWO, tunnels))
