"""The indices against independent one-liners, and properties that must hold for any catch."""

import numpy as np
import pandas as pd
import pytest
from evenfall.cans.uniformity import cu, depth_curve, du_low_quarter, du_whole_cans, indices, low_part_mean
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy import stats

catches = hnp.arrays(float, st.integers(1, 60), elements=st.floats(0, 1e3).map(lambda depth: round(depth, 3))).filter(
    lambda depth: depth.sum() > 0.1)


@settings(max_examples=200, deadline=None)
@given(catches)
def test_against_pandas_and_scipy(depth):
    found, series = indices(depth), pd.Series(depth)
    assert found.cu == pytest.approx(100 * (1 - (series - series.mean()).abs().sum() / series.sum()), abs=1e-7)
    assert found.cv == pytest.approx(100 * stats.variation(depth), abs=1e-7)
    assert found.statistical_uniformity == pytest.approx(100 - 100 * series.std(ddof=0) / series.mean(), abs=1e-7)
    if len(depth) % 4 == 0:
        assert found.du_low_quarter == pytest.approx(
            100 * series.nsmallest(len(depth) // 4).mean() / series.mean(), abs=1e-7)
    if len(depth) % 2 == 0:
        assert found.du_low_half == pytest.approx(
            100 * series.nsmallest(len(depth) // 2).mean() / series.mean(), abs=1e-7)
    assert (found.lowest, found.highest) == (series.min(), series.max())


@settings(max_examples=200, deadline=None)
@given(catches, st.floats(0.01, 100), st.randoms(use_true_random=False))
def test_scale_and_order_do_not_matter(depth, factor, random):
    shuffled = list(depth)
    random.shuffle(shuffled)
    for other in (depth * factor, np.array(shuffled)):
        assert indices(other).cu == pytest.approx(indices(depth).cu, abs=1e-6)
        assert indices(other).du_low_quarter == pytest.approx(indices(depth).du_low_quarter, abs=1e-6)


@settings(max_examples=300, deadline=None)
@given(catches)
def test_cu_and_low_quarter_never_exceed_the_low_half(depth):
    found = indices(depth)
    assert found.cu <= found.du_low_half + 1e-7
    assert found.du_low_quarter <= found.du_low_half + 1e-7


@settings(max_examples=200, deadline=None)
@given(catches, st.data())
def test_a_weight_of_two_is_a_doubled_can(depth, data):
    times = np.array(data.draw(st.lists(st.integers(0, 3), min_size=len(depth), max_size=len(depth))))
    if (np.repeat(depth, times)).sum() <= 0.1:
        return
    weighted, repeated = indices(depth, times), indices(np.repeat(depth, times))
    for name in ("mean", "lowest", "highest", "cu", "du_low_quarter", "du_low_half", "cv"):
        assert getattr(weighted, name) == pytest.approx(getattr(repeated, name), abs=1e-6), name


@settings(max_examples=100, deadline=None)
@given(catches, st.floats(0.05, 0.95))
def test_the_low_part_is_continuous_in_the_part(depth, part):
    here, beside = (low_part_mean(depth, value) for value in (part, part + 1e-7))
    assert beside == pytest.approx(here, abs=1e-3 + 1e-4 * depth.max())


def test_the_low_quarter_of_six_cans_takes_the_second_at_half_weight():
    # 1.5 cans of six: (1 + 0.5 * 2) / 1.5, worked by hand.
    assert du_low_quarter([6, 5, 4, 3, 2, 1]) == pytest.approx(100 * (2 / 1.5) / 3.5)


def test_the_next_whole_can_as_a_worksheet_has_it():
    assert du_whole_cans([6, 5, 4, 3, 2, 1]) == pytest.approx(100 * 1.5 / 3.5)
    assert du_whole_cans([4, 3, 2, 1]) == pytest.approx(100 * 1 / 2.5)


def test_the_normal_law_is_not_used_to_convert():
    # A quarter dry, the rest alike: DUlq is 0, while the normal law (100 - 1.593 (100 - CU)) says 20.
    found = indices([0, 0, 9, 9, 9, 9, 9, 9])
    assert found.du_low_quarter == 0
    assert 100 - 1.593 * (100 - found.cu) == pytest.approx(20.35)


def test_a_batch_is_its_tests_one_by_one():
    rng = np.random.default_rng(1)
    depth, weight = rng.gamma(4, 2, (3, 5, 17)), rng.uniform(0, 2, (3, 5, 17))
    depth[1, 2, 3:6] = np.nan
    for weights in (None, weight, weight[0, 0]):
        batch = indices(depth, weights)
        for place in np.ndindex(3, 5):
            own = weights if weights is None or weights.ndim == 1 else weights[place]
            keep = ~np.isnan(depth[place])
            single = indices(depth[place][keep], None if own is None else own[keep])
            for name in ("mean", "lowest", "highest", "cu", "du_low_quarter", "du_low_half", "cv"):
                assert getattr(batch, name)[place] == pytest.approx(getattr(single, name), abs=1e-9), name


def test_missing_cans_are_left_out_and_dry_cans_are_not():
    assert cu([10, 20, np.nan]) == pytest.approx(cu([10, 20]))
    assert cu([10, 20, 0]) < cu([10, 20])


def test_nothing_caught_gives_no_figure():
    assert np.isnan(indices([0, 0, 0, 0]).cu)
    assert np.isnan(indices([np.nan, np.nan]).du_low_quarter)


@pytest.mark.parametrize(("depth", "weight", "says"), [
    ([], None, "received depths of shape (0,), expected (..., n) with n > 0, give an array"),
    ([1, 2], [1, 2, 3], "received weights of shape (3,), expected (2,) or (2,), give one weight for each can"),
    ([1, 2], [1, -1], "received a weight below zero or not finite, expected 0 or more, correct it"),
])
def test_what_cannot_be_taken(depth, weight, says):
    with pytest.raises(ValueError) as error:
        indices(depth, weight)
    assert str(error.value) == says


def test_the_part_must_be_a_part():
    with pytest.raises(ValueError, match=r"received part = 1.5, expected more than 0 and at most 1, correct it"):
        low_part_mean([1, 2], 1.5)


def test_the_depth_curve_holds_all_the_water():
    depth, weight = np.array([3.0, 1, 2, 5]), np.array([1.0, 2, 1, 0])
    share, curve = depth_curve(depth, weight)
    assert list(curve) == [3, 2, 1]
    assert list(share) == pytest.approx([12.5, 37.5, 75])
