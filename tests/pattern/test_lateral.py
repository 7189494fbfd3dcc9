"""One lateral against published and hand cases."""

import numpy as np
import pytest
from evenfall.hydraulics.lateral import hazen_williams_loss, solve_lateral


def test_twenty_heads_on_a_line():
    # Case checked by a network solver elsewhere: flow 0.27652 L/s, last head 24.315 m.
    found = solve_lateral(24.607, np.full(20, 0.9), 0.021, 50.0, 24.607)
    assert found.inflow / 3600.0 == pytest.approx(0.27652, abs=2e-5)
    assert found.head[-1] == pytest.approx(24.315, abs=1e-3)


def test_forty_heads_on_a_thin_line():
    found = solve_lateral(24.607, np.full(40, 0.9), 0.0158, 70.0, 24.607)
    assert found.head[-1] == pytest.approx(14.483, abs=0.01)
    assert found.inflow / 3600.0 == pytest.approx(0.64331, abs=2e-4)


def test_friction_per_hundred_metres():
    assert hazen_williams_loss(1800.0, 100.0, 0.021) == pytest.approx(12.95, abs=0.01)
    assert hazen_williams_loss(1800.0, 100.0, 0.021, 150.0) == pytest.approx(11.40, abs=0.01)


def test_a_batch_is_its_members():
    bores, steps = np.array([0.0158, 0.021]), np.full((2, 15), 1.0)
    both = solve_lateral(np.array([20.0, 25.0]), steps, bores, 40.0, 20.0)
    for k in range(2):
        one = solve_lateral([20.0, 25.0][k], steps[k], bores[k], 40.0, 20.0)
        np.testing.assert_allclose(both.flow[k], one.flow, rtol=1e-8)


def test_no_rounds_left():
    with pytest.raises(ValueError, match="had not settled after 2 rounds"):
        solve_lateral(20.0, np.full(10, 1.0), 0.016, 50.0, 20.0, most_rounds=2)
