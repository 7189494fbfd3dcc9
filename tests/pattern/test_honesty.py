"""Does the whole-floor interval hold on simulated tunnels, of shapes in and out of the prior?"""

import numpy as np
import pytest
from evenfall.pattern import shapes
from evenfall.pattern.whole_floor import MOST, driest_window

from . import score, table

SEED = 640_000


@pytest.fixture(scope="module")
def scores():
    """Every shape three times: calm, with upsets, and without a data sheet."""
    return [table.judged(number, SEED, step=0.4, draws=150) for number in range(3 * len(table.SHAPES))]


@pytest.fixture(scope="module")
def calm(scores):
    each = len(table.SHAPES)
    return scores[:each] + scores[2 * each:]


@pytest.mark.long
def test_intervals_hold_and_are_worth_something(calm):
    print("\n" + score.table(calm))
    row = score.table_row(calm)
    assert row["cu_held"] >= 85.0 and row["du_held"] >= 85.0
    assert row["error"] <= 7.0
    assert row["width"] <= 24.0
    assert row["false_alarms"] <= 0.15


@pytest.mark.long
def test_they_hold_in_a_draft_with_a_kicked_can_and_uneven_lines(scores):
    each = len(table.SHAPES)
    upset = scores[each:2 * each]
    row = score.table_row(upset)
    usual = float(np.median([abs(one.du_value - one.du_truth) for one in upset]))
    print(f"\ndraft of 0.25 m, a kicked can, uneven lines: DUlq held {row['du_held']:.0f}, CU {row['cu_held']:.0f} "
          f"of 100, half of the errors under {usual:.1f} points, root mean square {row['error']:.1f}")
    assert row["du_held"] >= 75.0 and row["cu_held"] >= 75.0
    assert usual <= 5.0


@pytest.mark.long
def test_error_is_far_under_what_the_cans_give(calm):
    row = score.table_row(calm)
    print(f"\nerror of DUlq {row['error']:.1f} points, at the cans {row['cans_error']:.1f}")
    assert row["error"] <= 0.4 * row["cans_error"]


@pytest.mark.long
def test_more_cans_help(calm):
    few = score.table_row([s for s in calm if s.cans < 36])
    many = score.table_row([s for s in calm if s.cans >= 60])
    assert many["error"] <= 3.0
    assert many["width"] <= 0.6 * few["width"]


@pytest.mark.long
def test_outputs_and_scheduling_coefficient_hold(scores):
    row = score.table_row(scores)
    assert row["outputs_held"] >= 80.0
    assert row["scheduling_held"] >= 80.0


def test_the_driest_window():
    ground = np.ones((20, 20), bool)
    level = np.full((2, 20, 20), 4.0)
    level[0, :5, :5] = 2.0  # a window of 5 % is four or five cells wide
    level[1, :10, :10] = 0.0
    found = driest_window(level, ground)
    assert found[0] == pytest.approx(level[0].mean() / 2.0)
    assert found[1] == MOST


@pytest.mark.parametrize("shape", [*shapes.KINDS, *shapes.ODD_KINDS])
def test_every_shape_is_positive_inside_and_zero_beyond(shape):
    s = np.linspace(0.0, 1.3, 131)
    make = {**shapes.KINDS, **shapes.ODD_KINDS}[shape]
    for seed in range(5):
        value = make(s, np.random.default_rng(seed))
        assert value.min() >= 0.0 and value.max() > 0.0
        assert not value[s > 1.0].any()
