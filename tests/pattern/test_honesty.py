"""Does the whole-floor interval hold on simulated tunnels, of shapes in and out of the prior?"""

import numpy as np
import pytest

from analysis.pattern import shapes, simulate

from . import score

EACH = 3


@pytest.fixture(scope="module")
def scores():
    found = []
    for k, shape in enumerate([*shapes.KINDS, *shapes.ODD_KINDS] * EACH):
        tunnel = simulate.random_tunnel(np.random.default_rng(640000 + k), shape=shape)
        found.append(score.judge(tunnel, step=0.4, draws=150))
    return found


def test_intervals_hold_and_are_worth_something(scores):
    row = score.table_row(scores)
    assert row["cu_held"] >= 85.0 and row["du_held"] >= 85.0
    assert row["error"] <= 7.0
    assert row["width"] <= 24.0
    assert row["false_alarms"] <= 0.15


def test_error_is_far_under_what_the_cans_give(scores):
    row = score.table_row(scores)
    print(f"\nerror of DUlq {row['error']:.1f} points, at the cans {row['cans_error']:.1f}")
    assert row["error"] <= 0.45 * row["cans_error"]


def test_more_cans_help(scores):
    few = score.table_row([s for s in scores if s.cans < 36])
    many = score.table_row([s for s in scores if s.cans >= 60])
    assert many["error"] <= 3.0
    assert many["width"] <= 0.6 * few["width"]


@pytest.mark.parametrize("shape", [*shapes.KINDS, *shapes.ODD_KINDS])
def test_every_shape_is_positive_inside_and_zero_beyond(shape):
    s = np.linspace(0.0, 1.3, 131)
    make = {**shapes.KINDS, **shapes.ODD_KINDS}[shape]
    for seed in range(5):
        value = make(s, np.random.default_rng(seed))
        assert value.min() >= 0.0 and value.max() > 0.0
        assert not value[s > 1.0].any()
