"""Whom a watering serves, ground short and drowned, litres."""

import numpy as np
import pytest
from evenfall.cans.uniformity import cu
from evenfall.watering.schedule import balance, curve, part_served
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

DEPTHS = st.lists(st.floats(0.1, 40.0), min_size=8, max_size=60).map(np.array)


def test_adequacy_as_published():
    # Pratt et al., Agricultural Water Management: at CU 72 these shares of the area get these parts of the mean at
    # least (normal law, within rounding).
    shares = [95, 90, 85, 80, 75, 70, 65, 60, 50]
    printed = [42, 55, 64, 70, 76, 82, 86, 91, 100]
    spread = 0.28 / np.sqrt(2 / np.pi)
    depth = 1 + spread * norm.ppf((np.arange(20001) + 0.5) / 20001)
    assert cu(depth) == pytest.approx(72, abs=0.1)
    assert [100 * part_served(depth, share / 100) for share in shares] == pytest.approx(printed, abs=1.0)


def test_low_half_of_a_normal_catch():
    # By the normal law DUlh = 0.372 + 0.628 DUlq; 0.4 + 0.6 DUlq, from memory, is its rounded form.
    depth = 10 * (1 + 0.2 * norm.ppf((np.arange(20000) + 0.5) / 20000))
    quarter, half = part_served(depth, "low quarter"), part_served(depth, "low half")
    assert half == pytest.approx(0.372 + 0.628 * quarter, abs=1e-3)
    assert half == pytest.approx(0.4 + 0.6 * quarter, abs=0.02)


def test_by_hand():
    depth = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0])  # mean 4.5, driest quarter 1.5, drier half 2.5
    assert part_served(depth, "mean") == 1.0
    assert part_served(depth, "low quarter") == pytest.approx(1.5 / 4.5)
    assert part_served(depth, "low half") == pytest.approx(2.5 / 4.5)
    found = balance(depth, 4.0, 80.0)
    assert (found.short, found.drowned) == (3 / 8, 2 / 8)  # 1, 2, 3 are short; 7 and 8 are over 6
    assert found.deficit_l == pytest.approx((3 + 2 + 1) / 8 * 80)
    assert found.excess_l == pytest.approx((1 + 2 + 3 + 4) / 8 * 80)
    assert (found.applied_l, found.needed_l) == (pytest.approx(4.5 * 80), 320.0)


@given(DEPTHS, st.floats(0.5, 30.0), st.floats(1.0, 900.0))
def test_litres_close(depth, need, area):
    found = balance(depth, need, area)
    assert found.applied_l + found.deficit_l == pytest.approx(found.needed_l + found.excess_l)


@given(DEPTHS)
def test_who_is_harder_to_serve_gets_more(depth):
    assert 1.0 >= part_served(depth, "low half") - 1e-9 >= part_served(depth, "low quarter") - 2e-9
    assert part_served(depth, 0.9) <= part_served(depth, 0.5) + 1e-12


@pytest.mark.parametrize("serves", ["everybody", 0.0, 1.0, 1.5])
def test_other_words_are_refused(serves):
    with pytest.raises(ValueError, match="expected mean, low half, low quarter or a share"):
        part_served(np.ones(8), serves)


@given(DEPTHS)
def test_a_longer_run_leaves_less_ground_short(depth):
    found = curve(depth / 30, 5.0, 100.0)
    assert found.short[0] == 1.0 and found.minutes[0] == 0.0
    assert found.short == sorted(found.short, reverse=True) and found.drowned == sorted(found.drowned)
    assert found.deficit_l == sorted(found.deficit_l, reverse=True) and found.excess_l == sorted(found.excess_l)


def test_a_batch_is_each_of_its_rows():
    rng = np.random.default_rng(3)
    depth = rng.gamma(9.0, 1.0, (4, 50))
    for serves in ("mean", "low half", "low quarter", 0.8):
        assert part_served(depth, serves) == pytest.approx([float(part_served(row, serves)) for row in depth])


def test_a_cell_of_less_ground_counts_for_less():
    """Cells of one and of three parts are the same as each part for itself."""
    rng = np.random.default_rng(5)
    depth, part = rng.uniform(2.0, 14.0, 80), rng.choice([1.0, 3.0], 80)
    each = np.repeat(depth, part.astype(int))
    for serves in ("mean", "low half", "low quarter"):
        assert part_served(depth, serves, part) == pytest.approx(float(part_served(each, serves)))
    one, two = balance(depth, 8.0, 40.0, part), balance(each, 8.0, 40.0)
    assert vars(one) == pytest.approx(vars(two))
    assert part_served(depth, 0.8, part) == pytest.approx(float(part_served(each, 0.8)), rel=0.02)
    assert curve(depth, 8.0, 40.0, part).minutes[-1] == pytest.approx(curve(each, 8.0, 40.0).minutes[-1], rel=0.05)
