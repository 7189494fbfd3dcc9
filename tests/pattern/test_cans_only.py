"""The field over the cans alone."""

import numpy as np
import pytest
from evenfall.pattern import cans_only, overlap, simulate

from . import cans_only_table


def test_it_is_wider_than_with_heads_and_goes_through_the_cans():
    tunnel = simulate.random_tunnel(np.random.default_rng(12), cans=60, weak=[])
    found = cans_only.estimate_cans_only(tunnel.cans, tunnel.depth,
                                         overlap.floor_grid(tunnel.width, tunnel.length, 0.5),
                                         can_area_cm2=tunnel.can_area, draws=100)
    assert found.how == "cans only" and found.profile is None and found.suspects == ()
    assert found.draws.min() >= 0.0
    assert found.du_low_quarter.high - found.du_low_quarter.low > 5.0
    assert found.cu.low <= found.cu.value <= found.cu.high
    assert np.corrcoef(found.fitted, tunnel.depth)[0, 1] > 0.7


def test_the_uncertainty_grows_away_from_the_cans():
    cans = np.column_stack([np.tile([1.0, 2.0, 3.0], 4), np.repeat([1.0, 2.0, 3.0, 4.0], 3)])
    places = np.array([[2.0, 2.0], [2.0, 14.0]])
    depth = 5.0 + np.sin(cans[:, 0] * 3.0)
    found = cans_only.estimate_cans_only(cans, depth, places, can_area_cm2=55.0)
    assert found.depth_sd[1] > 2.0 * found.depth_sd[0]


def test_dry_cans_are_refused():
    with pytest.raises(ValueError, match="one that caught water"):
        cans_only.estimate_cans_only(np.zeros((5, 2)), np.zeros(5), np.zeros((1, 2)), can_area_cm2=55.0)


def test_water_that_is_the_same_everywhere_is_a_flat_floor():
    rng = np.random.default_rng(3)
    places = overlap.floor_grid(6.0, 12.0, 0.5)
    cans = overlap.floor_grid(6.0, 12.0, 1.2)
    depth = 6.0 * (1 + 0.04 * rng.standard_normal(len(cans)))
    found = cans_only.estimate_cans_only(cans, depth, places, can_area_cm2=55.0)
    assert found.du_low_quarter.low > 90.0 and found.cu.value > 95.0


def test_walls_make_ground_without_cans_less_sure_and_drier():
    cans = np.column_stack([np.tile([2.5, 3.0, 3.5], 4), np.repeat([4.0, 5.0, 6.0, 7.0], 3)])
    places, depth = np.array([[3.0, 5.5], [0.1, 5.5]]), np.full(12, 6.0) + 0.1 * np.arange(12)
    plain, walled = (cans_only.estimate_cans_only(cans, depth, places, can_area_cm2=55.0, walls=walls)
                     for walls in (None, (6.0, 11.0)))
    assert walled.depth[1] < plain.depth[1] and walled.depth[0] == pytest.approx(plain.depth[0], rel=0.03)


def test_thin_cover_is_seen():
    places = overlap.floor_grid(6.0, 12.0, 0.2)
    assert cans_only.thinness(overlap.floor_grid(6.0, 12.0, 1.0), places) == 0.0
    assert cans_only.thinness(overlap.floor_grid(6.0, 12.0, 3.0), places) == 1.0


@pytest.mark.long
@pytest.mark.parametrize("cans, widest", [(24, 55.0), (48, 36.0), (100, 24.0)])
def test_intervals_hold_and_grow_narrow_with_the_cans(cans, widest):
    found = [cans_only_table.judged(cans, 700 + seed) for seed in range(30)]
    assert sum(one.held for one in found) >= 24 and sum(one.held_cu for one in found) >= 24
    assert np.mean([one.width for one in found]) < widest
