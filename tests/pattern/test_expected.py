"""What a can layout is worth before the test, and the upsets of the simulator."""

import numpy as np
import pytest
from evenfall.pattern import expected, overlap, simulate


def site():
    return simulate.SimulatedSite(7.0, 20.0, *simulate.lines_of_heads(7.0, 20.0, 2, 1.2))


def worth(layout, count=24, tunnels=8):
    return expected.expected(site(), simulate.can_places(7.0, 20.0, count, layout), nominal_radius=2.2,
                             nominal_flow_l_h=50.0, tunnels=tunnels)


@pytest.mark.long
def test_a_dense_row_and_staggered_rows_tell_more_than_a_plain_grid():
    grid, staggered, dense = (worth(layout) for layout in simulate.CAN_LAYOUTS)
    print(f"\n24 cans, error of DUlq: grid {grid.error:.1f}, staggered {staggered.error:.1f}, "
          f"dense row {dense.error:.1f} points; at the cans {grid.at_the_cans:.0f}, {staggered.at_the_cans:.0f}, "
          f"{dense.at_the_cans:.0f}")
    assert staggered.error < 0.6 * grid.error
    assert dense.error < 0.6 * grid.error
    assert grid.error < 0.6 * grid.at_the_cans
    assert dense.width < grid.width


def test_its_interval_holds_its_error_and_the_same_seed_draws_the_same():
    one = worth("staggered", tunnels=4)
    assert one.error_low <= one.error <= one.error_high and one.tunnels == 4
    assert worth("staggered", tunnels=4) == one


def test_lines_of_different_length():
    heads = np.array([[2.0, y] for y in np.arange(1.0, 19.0, 1.5)] + [[5.0, y] for y in np.arange(1.0, 10.0, 1.5)])
    uneven = simulate.SimulatedSite(7.0, 20.0, heads, (heads[:, 0] > 3.0).astype(int))
    parts = []
    found = expected.expected(uneven, simulate.can_places(7.0, 20.0, 30, "staggered"), tunnels=2,
                              progress=parts.append)
    assert np.isfinite(found.error) and parts == [0.5, 1.0]


@pytest.mark.parametrize("cans, tunnels", [(3, 8), (24, 1)])
def test_too_little_is_refused(cans, tunnels):
    with pytest.raises(ValueError, match="expected at least two tunnels and four cans"):
        expected.expected(site(), np.zeros((cans, 2)), tunnels=tunnels)


def tunnel(**upsets):
    return simulate.tunnel_at(np.random.default_rng(3), site(), simulate.can_places(7.0, 20.0, 40, "staggered"),
                              shape="parabola", throw=2.2, flow=50.0, weak=[], upsets=simulate.Upsets(**upsets))


def test_upsets():
    calm = tunnel()
    np.testing.assert_array_equal(calm.blown, calm.heads)
    blown = tunnel(drift=0.3)
    np.testing.assert_allclose(np.hypot(*(blown.blown - blown.heads).T), 0.3)
    rates = overlap.rates_at(blown.cans, blown.blown, blown.output, blown.radius, blown.rate)
    assert np.corrcoef(rates, blown.depth)[0, 1] > 0.98
    kicked = tunnel(kicked=2)
    assert (kicked.depth < 0.75 * calm.depth).sum() == 2
    apart = tunnel(uneven_lines=0.2)
    level = [apart.share[apart.line_of == line].mean() for line in (0, 1)]
    assert abs(level[0] / level[1] - 1) > 0.1
