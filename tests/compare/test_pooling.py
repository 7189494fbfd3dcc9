"""Spread between units, shrunk values, groups that cannot be told apart, chances of being low."""

import time
import tracemalloc

import numpy as np
import pytest
from evenfall.compare.pooling import alike_groups, chance_of_low, shrink, spread_between
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.meta_analysis import combine_effects

from ..machine import slowness

# Rubin 1981, J. Educ. Stat. 6, 377: effects of coaching in eight schools and their standard errors.
SCHOOLS = (np.array([28.0, 8, -3, 7, -1, 1, 18, 12]), np.array([15.0, 10, 16, 11, 9, 11, 10, 18]))
# Efron and Morris 1977, Sci. Am. 236, 119, from memory: averages of 18 batters after 45 times at bat.
BATTERS = np.array([.400, .378, .356, .333, .311, .311, .289, .267, .244, .244] + [.222] * 5 + [.200, .178, .156])


def trials():
    """Log risk ratios and errors of 13 trials of BCG vaccine (Colditz et al. 1994, JAMA 271, 698; from memory)."""
    ill, well = np.array([[4, 6, 3, 62, 33, 180, 8, 505, 29, 17, 186, 5, 27],
                          [119, 300, 228, 13536, 5036, 1361, 2537, 87886, 7470, 1699, 50448, 2493, 16886]])
    ill_without, well_without = np.array([[11, 29, 11, 248, 47, 372, 10, 499, 45, 65, 141, 3, 29],
                                          [128, 274, 209, 12619, 5761, 1079, 619, 87892, 7232, 1600, 27197, 2338,
                                           17825]])
    every, every_without = ill + well, ill_without + well_without
    return (np.log(ill / every * every_without / ill_without),
            np.sqrt(1 / ill - 1 / every + 1 / ill_without - 1 / every_without))


def units(seed, count, tau, low=2.0, high=8.0):
    rng = np.random.default_rng(seed)
    sd = rng.uniform(low, high, count)
    truth = 50 + tau * rng.standard_normal(count)
    return truth, truth + sd * rng.standard_normal(count), sd


some = st.integers(1, 30).flatmap(lambda n: st.tuples(
    st.lists(st.floats(-50, 50), min_size=n, max_size=n), st.lists(st.floats(0.1, 20), min_size=n, max_size=n)))


def test_published_spreads():
    assert spread_between(*SCHOOLS) == 0.0
    # The value of this estimator on these trials, 0.318, from memory.
    assert spread_between(*trials()) ** 2 == pytest.approx(0.318, abs=5e-4)


@pytest.mark.parametrize("seed", range(5))
def test_spread_and_mean_as_another_library(seed):
    _, value, sd = units(seed, 25, 6.0)
    theirs = combine_effects(value, sd**2, method_re="iterated", use_t=True, alpha=0.1)
    assert theirs.tau2 > 0
    ours = shrink(value, sd)
    assert ours.tau**2 == pytest.approx(theirs.tau2, rel=1e-6)
    assert ours.mean == pytest.approx(theirs.mean_effect_re, rel=1e-9)
    assert (ours.mean_low, ours.mean_high) == pytest.approx(theirs.conf_int(alpha=0.1)[1], rel=1e-6)


@given(some)
@settings(deadline=None, max_examples=150)
def test_the_spread_solves_its_equation(data):
    value, sd = map(np.array, data)
    weight = 1 / (sd**2 + spread_between(value, sd) ** 2)
    over = np.sum(weight * (value - weight @ value / weight.sum()) ** 2) - (len(value) - 1)
    if np.sum((value - np.average(value, weights=sd**-2)) ** 2 / sd**2) <= len(value) - 1:
        assert spread_between(value, sd) == 0
    else:
        assert over == pytest.approx(0, abs=1e-6)


def test_spread_beside_a_regression():
    x = np.arange(20.0)
    _, value, sd = units(3, 20, 0.0)
    design = np.column_stack([np.ones(20), x])
    assert spread_between(value + 7 * x, sd, design) == pytest.approx(spread_between(value, sd, design), abs=1e-6)
    assert spread_between(value + 7 * x, sd) > 30


def test_shrunk_as_published():
    mean = BATTERS.mean()
    made = shrink(BATTERS, np.full(18, np.sqrt(mean * (1 - mean) / 45)))
    # Efron and Morris 1977, from memory: drawn to .212 of their distance; the best from .400 to .294, the last to .242.
    assert (made.value - mean) / (BATTERS - mean) == pytest.approx(0.212, abs=1e-3)
    assert made.value[[0, -1]] == pytest.approx([0.294, 0.242], abs=6e-4)


def test_errors_of_shrunk_values_where_all_errors_are_alike():
    # Morris 1983 for equal errors V: s^2 = V (1 - (k-1)/k B) + 2 B^2 / (k-3) (y - mean)^2, B = (k-3) V / S.
    _, value, _ = units(4, 12, 5.0)
    off = value - value.mean()
    b = 9 * 16 / np.sum(off**2)
    assert shrink(value, np.full(12, 4.0)).sd ** 2 == pytest.approx(16 * (1 - 11 / 12 * b) + 2 * b**2 / 9 * off**2)


def test_the_less_is_known_the_more_it_is_drawn():
    made = shrink(*SCHOOLS)
    # The pooled mean of the eight schools is 7.7 (Gelman et al., Bayesian Data Analysis, from memory).
    assert made.mean == pytest.approx(7.7, abs=0.05)
    _, value, sd = units(5, 30, 6.0)
    made = shrink(value, sd)
    stays = (made.value - made.mean) / (value - made.mean)
    assert np.all(np.diff(stays[np.argsort(sd)]) <= 1e-12) and 0 < stays.min() < stays.max() < 1


def test_one_and_two_values():
    one = shrink([70.0], [5.0])
    assert (one.mean, one.tau, one.value[0], one.sd[0]) == (70.0, 0.0, 70.0, 5.0)
    assert one.mean_high - 70 == pytest.approx(1.645 * 5, abs=0.01)
    two = shrink([60.0, 80.0], [5.0, 5.0])
    assert list(two.value) == [60, 80] and list(two.sd) == [5, 5]
    assert two.tau == pytest.approx(np.sqrt(200 - 25))  # the variance of two values less that of their errors
    assert two.mean_low < 60 < 80 < two.mean_high
    for data in (([70.0], [5.0]), ([60.0, 61.0], [5.0, 5.0])):
        assert alike_groups(*data).tolist() == [0] * len(data[0])
        assert chance_of_low(*data).sum() == pytest.approx(1)


@pytest.mark.parametrize("count", [8, 30])
def test_intervals_hold_the_truth(count):
    inside, mean = [], []
    for seed in range(400):
        truth, value, sd = units(1000 + seed, count, 5.0)
        made = shrink(value, sd)
        inside.append(np.mean(np.abs(truth - made.value) <= 1.645 * made.sd))
        mean.append(made.mean_low <= 50 <= made.mean_high)
    assert 0.88 <= np.mean(inside) <= 0.95
    assert 0.85 <= np.mean(mean) <= 0.95


def test_units_that_are_alike_are_seldom_split():
    split = 0
    for seed in range(200):
        _, value, sd = units(seed, 30, 0.0)
        split += alike_groups(value, sd, seed=seed).max() > 0
    # A tenth, with the error of 200 sets; never splitting would also be wrong.
    assert stats.binom.ppf(0.005, 200, 0.1) <= split <= stats.binom.ppf(0.995, 200, 0.1)


@pytest.mark.parametrize("share, groups", [(0.95, 1), (1.05, 2)])
def test_the_law_of_the_largest_sum_of_squares_as_published(share, groups):
    # Scott and Knott 1974: pi / (2 (pi - 2)) B / sigma^2 is nearly chi-square with k / (pi - 2) degrees of freedom.
    count = 60
    score = stats.norm.ppf((np.arange(count) + 0.5) / count)
    between = max(left * score[:left].mean() ** 2 + (count - left) * score[left:].mean() ** 2
                  for left in range(1, count))
    critical = 2 * (np.pi - 2) / np.pi * stats.chi2.ppf(0.9, count / (np.pi - 2))
    made = alike_groups(score * np.sqrt(share * critical / between), np.ones(count))
    assert min(made.max() + 1, 2) == groups


def chance_of_so_large_a_sum(value, sd, draws, by_raw_value=False):
    """Draw by draw, and cut by cut, as Scott and Knott describe it."""
    made, rng, weight = shrink(value, sd), np.random.default_rng(99), sd**-2.0
    keeps = (made.value - made.mean) / (value - made.mean)

    def largest(one, keeps):
        order = np.argsort(keeps * (one - made.mean))
        each = weight * (one - np.average(one, weights=weight))
        return max(sum(each[part].sum() ** 2 / weight[part].sum() for part in (order[:cut], order[cut:]))
                   for cut in range(1, len(one)))

    seen, common = largest(value, keeps), np.average(value, weights=weight)
    rule = np.ones_like(sd) if by_raw_value else keeps
    return np.mean([largest(common + sd * rng.standard_normal(len(sd)), rule) >= seen for _ in range(draws)])


def test_the_first_cut_as_draw_by_draw():
    decided = {True: 0, False: 0}
    for seed in range(30):
        rng = np.random.default_rng(seed)
        sd = 4 * np.exp(rng.normal(0, 1, 8))
        value = 3 * rng.standard_normal(8) + sd * rng.standard_normal(8)
        chance = chance_of_so_large_a_sum(value, sd, 200)
        if not 0.05 < chance < 0.16:  # nearer to 0.1 the two simulations may differ
            decided[bool(chance < 0.1)] += 1
            assert (alike_groups(value, sd).max() > 0) == (chance < 0.1), seed
    assert min(decided.values()) >= 5


def test_simulated_sets_are_sorted_by_the_same_rule():
    # Errors so unequal that sorting the simulated sets by their raw values would give another answer.
    rng = np.random.default_rng(456)
    sd = 4 * np.exp(rng.normal(0, 1, 60))
    value = 1.5 * rng.standard_normal(60) + sd * rng.standard_normal(60)
    by_shrunk, by_raw = (chance_of_so_large_a_sum(value, sd, 600, by_raw_value=raw) for raw in (False, True))
    assert by_shrunk < 0.085 < by_raw
    assert alike_groups(value, sd, draws=4000, alpha=0.085).max() > 0


def test_two_clusters_are_told_apart():
    right = []
    for seed in range(50):
        truth = np.repeat([70.0, 85.0], 15)
        made = alike_groups(truth + 4 * np.random.default_rng(seed).standard_normal(30), np.full(30, 4.0))
        assert made.max() >= 1
        right.append(np.mean((made > 0) == (truth > 80)))
    assert np.mean(right) >= 0.93


def test_far_units_each_have_their_group_and_errors_decide():
    value = np.array([3.0, 1.0, 2.0, 5.0, 4.0])
    assert alike_groups(value * 100, np.ones(5)).tolist() == [2, 0, 1, 4, 3]
    assert alike_groups(value * 100, np.full(5, 500.0)).tolist() == [0] * 5


def test_one_value_known_exactly_among_others():
    sd = np.array([1e-12, 1, 1, 1, 1, 1, 1])
    alike = np.array([0.3, 1, -1, 0.5, -0.5, 1.5, -1.2])
    assert alike_groups(alike, sd).tolist() == [0] * 7
    assert alike_groups(alike + np.array([0, 0, 0, 0, 0, 9, 0]), sd).tolist() == [0, 0, 0, 0, 0, 1, 0]


@given(some)
@settings(deadline=None, max_examples=100)
def test_groups_never_contradict_the_shrunk_order(data):
    value, sd = map(np.array, data)
    group, drawn = alike_groups(value, sd, draws=99), shrink(value, sd).value
    assert sorted(set(group.tolist())) == list(range(group.max() + 1))
    assert np.all(np.diff(group[np.lexsort((group, drawn))]) >= 0)
    for same in np.unique(drawn):
        assert np.ptp(group[drawn == same]) == 0


def test_groups_do_not_depend_on_order_or_unit():
    _, value, sd = units(8, 40, 8.0)
    group = alike_groups(value, sd)
    assert group.max() >= 2
    shuffled = np.random.default_rng(0).permutation(40)
    assert alike_groups(value[shuffled], sd[shuffled]).tolist() == group[shuffled].tolist()
    assert alike_groups(value * 25.4 - 300, sd * 25.4).tolist() == group.tolist()


@pytest.mark.benchmark
@pytest.mark.parametrize("tau", [0.0, 1.0, 5.0, 40.0])
def test_thousands_of_units_are_quick_and_small(tau):
    _, value, sd = units(9, 4000, tau)
    begin = time.perf_counter()
    first = alike_groups(value, sd)
    took = time.perf_counter() - begin
    assert took < 2 * slowness()
    tracemalloc.start()
    again = alike_groups(value, sd)
    chance_of_low(value, sd)
    assert tracemalloc.get_traced_memory()[1] < 200e6
    tracemalloc.stop()
    assert first.tolist() == again.tolist()


def test_chances_mean_what_they_say():
    said, came = [], []
    for seed in range(150):
        truth, value, sd = units(2000 + seed, 40, 5.0)
        said.append(chance_of_low(value, sd, draws=400))
        came.append(truth.argsort().argsort() < 10)
    said, came = np.ravel(said), np.ravel(came)
    for low in (0.0, 0.2, 0.4, 0.6, 0.8):
        inside = (said >= low) & (said < low + 0.2 + (low == 0.8))
        assert inside.sum() > 150
        assert came[inside].mean() == pytest.approx(said[inside].mean(), abs=0.05)


@pytest.mark.parametrize("part, of, count", [(0.25, 40, 10), (0.07, 100, 7), (0.26, 40, 11), (1.0, 40, 40)])
def test_chances_add_up(part, of, count):
    _, value, sd = units(6, of, 5.0)
    chance = chance_of_low(value, sd, part)
    assert chance.sum() == pytest.approx(count) and chance.min() >= 0 and chance.max() <= 1
    assert chance.tolist() == chance_of_low(value, sd, part).tolist()


def test_chances_of_units_that_are_far_apart():
    assert chance_of_low(np.arange(8) * 100.0, np.ones(8)).tolist() == [1, 1, 0, 0, 0, 0, 0, 0]
    # Four units of which nothing is known to differ: each a quarter.
    assert chance_of_low(np.zeros(4), np.ones(4)) == pytest.approx(0.25, abs=0.04)


@pytest.mark.parametrize("value, sd", [([], []), ([1.0, 2.0], [1.0]), ([1.0], [0.0]), ([np.nan], [1.0]),
                                       ([1.0], [np.inf]), ([[1.0]], [[1.0]]), ([1.0], [-1.0])])
def test_what_cannot_be_pooled(value, sd):
    for function in (spread_between, shrink, alike_groups, chance_of_low):
        with pytest.raises(ValueError, match=r"received .*, expected .*, (give|leave) "):
            function(np.array(value), np.array(sd))


@pytest.mark.parametrize("wrong", [{"alpha": 0.0}, {"alpha": 1.0}, {"draws": 5}])
def test_groups_that_cannot_be_judged(wrong):
    with pytest.raises(ValueError, match="received alpha .* expected .* choose others"):
        alike_groups(*SCHOOLS, **wrong)


@pytest.mark.parametrize("wrong", [{"part": 0.0}, {"part": 1.1}, {"draws": 0}])
def test_chances_that_cannot_be_drawn(wrong):
    with pytest.raises(ValueError, match="received the part .* expected .* choose others"):
        chance_of_low(*SCHOOLS, **wrong)
