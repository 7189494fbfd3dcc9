"""Habits against the outcome: slopes, errors robust to members, and what holds of several."""

import numpy as np
import pytest
import statsmodels.api as sm
from evenfall.compare.habits import effects, left_out
from evenfall.compare.pooling import spread_between
from scipy import linalg, stats


def cooperative(seed, slope=0.0, members=40, each=3, tau=4.0, yes_above=None):
    """Five habits, h0, h2 and h4 the same for all tunnels of a member; half the variance between is the members'."""
    rng = np.random.default_rng(seed)
    member = np.repeat(np.arange(members), each)
    count = len(member)
    habits = {f"h{number}": rng.standard_normal(count) if number % 2 else rng.standard_normal(members)[member]
              for number in range(5)}
    if yes_above is not None:
        habits = {name: (habit > yes_above).astype(float) for name, habit in habits.items()}
    sd = rng.uniform(2, 8, count)
    of_member = tau * np.sqrt(0.5) * rng.standard_normal(members)[member]
    own = tau * np.sqrt(0.5) * rng.standard_normal(count)
    outcome = 60 + slope * (habits["h0"] + habits["h1"]) + of_member + own + sd * rng.standard_normal(count)
    return habits, outcome, sd, member


def dense_cr2(habit, outcome, sd, member):
    """Slope, CR2 error and degrees of freedom by the matrices of Bell and McCaffrey 2002 as they stand."""
    design = np.column_stack([np.ones(len(habit)), habit])
    root = 1 / np.sqrt(sd**2 + spread_between(outcome, sd, design) ** 2)
    x, y = design * root[:, None], outcome * root
    bread = np.linalg.inv(x.T @ x)
    maker = np.eye(len(y)) - x @ bread @ x.T
    left, columns = maker @ y, []
    for one in np.unique(member):
        inside = np.flatnonzero(member == one)
        adjust = linalg.inv(linalg.sqrtm(maker[np.ix_(inside, inside)])).real
        columns.append(maker[:, inside] @ adjust @ x[inside] @ bread[1])
    columns = np.array(columns)
    # (I - H) y = y - fit, and each column holds (I - H)_g' A_g X_g bread: their products with y are the scores.
    inner = columns @ columns.T
    return (bread @ x.T @ y)[1], np.sqrt(np.sum((columns @ left) ** 2)), np.trace(inner) ** 2 / np.sum(inner**2)


@pytest.mark.parametrize("name", ["h0", "h1"])
@pytest.mark.parametrize("tau", [0.0, 6.0])
@pytest.mark.parametrize("members, each", [(6, 4), (25, 3)])
def test_slope_error_and_p_as_by_dense_matrices(name, tau, members, each):
    habits, outcome, sd, member = cooperative(2, 1.0, members, each, tau)
    slope, error, free = dense_cr2(habits[name], outcome, sd, member)
    made, = effects({name: habits[name]}, outcome, sd, member * 7 - 3)
    assert (made.count, made.clusters) == (members * each, members)
    assert made.slope == pytest.approx(slope, rel=1e-7)
    assert made.p == pytest.approx(2 * stats.t.sf(abs(slope) / error, free), rel=1e-6)
    half = stats.t.ppf(0.95, free) * error
    assert (made.low, made.high) == pytest.approx((slope - half, slope + half), rel=1e-6)
    assert 1 < free < members - 1


def test_slope_and_error_as_another_library():
    # With one unit a member CR2 is HC2, which statsmodels has; the weights are ours.
    habits, outcome, sd, member = cooperative(3, 1.0, 30, 1, 5.0)
    design = sm.add_constant(habits["h0"])
    weight = 1 / (sd**2 + spread_between(outcome, sd, design) ** 2)
    theirs = sm.WLS(outcome, design, weights=weight).fit()
    made, = effects({"h0": habits["h0"]}, outcome, sd, member)
    assert made.slope == pytest.approx(theirs.params[1], rel=1e-8)
    _, error, free = dense_cr2(habits["h0"], outcome, sd, member)
    assert error == pytest.approx(theirs.HC2_se[1], rel=1e-8)
    assert (made.high - made.low) / 2 == pytest.approx(stats.t.ppf(0.95, free) * theirs.HC2_se[1], rel=1e-6)


def test_not_far_from_the_plain_cluster_error_where_members_are_many():
    habits, outcome, sd, member = cooperative(4, 1.0, 300, 3, 5.0)
    design = sm.add_constant(habits["h2"])
    weight = 1 / (sd**2 + spread_between(outcome, sd, design) ** 2)
    fit = sm.WLS(outcome, design, weights=weight).fit(cov_type="cluster", cov_kwds={"groups": member})
    made, = effects({"h2": habits["h2"]}, outcome, sd, member)
    assert (made.high - made.low) / 2 == pytest.approx(1.645 * fit.bse[1], rel=0.03)


def test_degrees_of_freedom_as_published():
    # Imbens and Kolesar 2016, Rev. Econ. Stat. 98, 701, from memory: 3 units against 27 have 2.5 degrees of freedom.
    habit = np.repeat([1.0, 0.0], [3, 27])
    outcome, sd = np.random.default_rng(5).normal(60, 9, 30), np.full(30, 4.0)
    error = sm.OLS(outcome, sm.add_constant(habit)).fit().HC2_se[1]
    made, = effects({"few": habit}, outcome, sd, np.arange(30))
    at = [stats.t.ppf(0.95, free) * error for free in (2.55, 2.45)]
    assert at[0] < (made.high - made.low) / 2 < at[1]


def test_members_are_not_taken_as_independent():
    # The same cooperative, every tunnel written ten times: nothing new is known, and nothing becomes surer.
    habits, outcome, sd, member = cooperative(6, 0.0, 12, 2, 6.0)
    once, = effects({"h0": habits["h0"]}, outcome, sd, member)
    often, = effects({"h0": np.repeat(habits["h0"], 10)}, np.repeat(outcome, 10), np.repeat(sd, 10),
                     np.repeat(member, 10))
    assert often.high - often.low == pytest.approx(once.high - once.low, rel=0.1)
    alone, = effects({"h0": np.repeat(habits["h0"], 10)}, np.repeat(outcome, 10), np.repeat(sd, 10), np.arange(240))
    assert alone.high - alone.low < 0.5 * (once.high - once.low)


def test_no_effect_is_seldom_held():
    held = sum(any(effect.held for effect in effects(*cooperative(seed))) for seed in range(100))
    assert held <= 10
    p = [effect.p for seed in range(100) for effect in effects(*cooperative(seed))]
    assert 0.03 <= np.mean(np.array(p) < 0.05) <= 0.08  # 500 of them: 0.05 with two errors each way


@pytest.mark.parametrize("name", ["h0", "h1"])
@pytest.mark.parametrize("members, each, yes_above", [(40, 3, None), (40, 3, 0.5), (12, 4, None)])
def test_intervals_hold_the_true_slope(name, members, each, yes_above):
    inside = []
    for seed in range(200):
        made = effects(*cooperative(seed, 1.0, members, each, yes_above=yes_above))
        inside += [effect.low <= 1 <= effect.high for effect in made if effect.name == name]
    assert len(inside) > 190
    assert 0.85 <= np.mean(inside) <= 0.95


def test_a_strong_habit_is_found_first_and_held():
    habits, outcome, sd, member = cooperative(7)
    made = effects(habits, outcome + 6 * habits["h3"], sd, member)
    assert made[0].name == "h3" and made[0].held and made[0].low < 6 < made[0].high
    assert [effect.p for effect in made] == sorted(effect.p for effect in made)


def test_holm_by_hand():
    # Holm 1979: with m habits the smallest p must be under 0.05 / m, the next under 0.05 / (m - 1), until one is not.
    seen = set()
    for seed in range(60):
        habits, outcome, sd, member = cooperative(seed, 1.1)
        made = effects(habits, outcome, sd, member)
        count = 0
        while count < 5 and made[count].p <= 0.05 / (5 - count):
            count += 1
        assert [effect.held for effect in made] == [True] * count + [False] * (5 - count)
        seen.add(count)
    assert {0, 1, 2} <= seen


def test_after_the_first_that_does_not_hold_none_does():
    # One habit under two names: at p between 0.025 and 0.05 the first does not hold, so neither may the second.
    between = []
    for seed in range(60):
        habits, outcome, sd, member = cooperative(seed, 0.5)
        made = effects({"one": habits["h0"], "two": habits["h0"]}, outcome, sd, member)
        if 0.025 < made[0].p < 0.05:
            between += [effect.held for effect in made]
    assert between and not any(between)


def test_the_unit_of_a_habit_changes_only_its_slope():
    habits, outcome, sd, member = cooperative(8, 1.0)
    plain, = effects({"h0": habits["h0"]}, outcome, sd, member)
    other, = effects({"h0": 1e6 + habits["h0"] * 1e-3}, outcome, sd, member)
    assert other.slope == pytest.approx(plain.slope * 1e3, rel=1e-4)
    assert other.p == pytest.approx(plain.p, rel=1e-3)


def test_unknown_values_are_left_aside():
    habits, outcome, sd, member = cooperative(9, 1.0)
    holes = habits["h1"].copy()
    holes[::4] = np.nan
    known = ~np.isnan(holes)
    made, = effects({"h1": holes}, outcome, sd, member)
    alone, = effects({"h1": holes[known]}, outcome[known], sd[known], member[known])
    assert made == alone and made.count == 90


def test_an_outcome_that_never_differs_shows_nothing():
    habits, _, sd, member = cooperative(10)
    made = effects(habits, np.full(len(sd), 70.1), sd, member)
    assert not any(effect.held for effect in made)
    assert min(effect.p for effect in made) > 0.5


def test_which_habits_are_left_out():
    member = np.repeat(np.arange(6), 2)
    x = np.arange(12.0)

    def only(*places):
        return np.where(np.isin(x, places), x, np.nan)

    habits = {"whole": x, "seven known": only(0, 2, 4, 6, 8, 10, 11), "eight known": only(0, 2, 4, 6, 8, 10, 11, 9),
              "four members": only(*range(8)), "five members": only(*range(10)), "no spread": np.full(12, 0.1 + 0.2),
              "all unknown": np.full(12, np.nan), "one member": np.where(member == 2, 1.0, 0.0),
              "two members": np.where(member >= 4, 1.0, 0.0), "all but one": np.where(member == 0, 0.0, 1.0)}
    out = ["seven known", "four members", "no spread", "all unknown", "one member", "all but one"]
    assert left_out(habits, member) == out
    made = effects(habits, np.random.default_rng(0).normal(60, 5, 12), np.full(12, 3.0), member)
    assert {effect.name for effect in made} == set(habits) - set(out)
    assert all(np.isfinite([effect.slope, effect.low, effect.high, effect.p]).all() for effect in made)


def test_nothing_to_try():
    assert effects({}, np.array([1.0]), np.array([1.0]), np.array([0])) == []
    assert effects({"a": np.array([1.0])}, np.array([1.0]), np.array([1.0]), np.array([0])) == []


@pytest.mark.parametrize("change, word", [
    ({"habits": {"a": np.ones(11)}}, "habit 'a'"), ({"habits": {"a": np.full(12, np.inf)}}, "habit 'a'"),
    ({"outcome": np.full(12, np.nan)}, "not finite"), ({"sd": np.zeros(12)}, "not above zero"),
    ({"cluster": np.arange(11)}, "members"), ({"cluster": np.arange(12.0)}, "whole numbers")])
def test_what_cannot_be_tried(change, word):
    given = {"habits": {"a": np.arange(12.0)}, "outcome": np.arange(12.0), "sd": np.ones(12), "cluster": np.arange(12)}
    with pytest.raises(ValueError, match=f"received .*{word}.*, expected|received .*, expected .*{word}"):
        effects(**given | change)
