"""The field over the cans alone."""

import numpy as np
import pytest
from evenfall.pattern import cans_only, overlap, simulate


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
