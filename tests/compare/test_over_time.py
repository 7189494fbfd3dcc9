"""Before and after, trends, the year before."""

import numpy as np
import pytest
from evenfall.changes.recheck import OTHER_CANS, SAME_CANS
from evenfall.compare.over_time import pairs_of, slope_of, trends_of, year_before
from scipy import stats

from .made import kept


def test_a_recheck_is_held_against_the_test_that_it_names():
    tests = [kept(50, 2.0, name="old", date="2026-03-01"), kept(60, name="between", date="2026-09-01"),
             kept(75, 2.0, name="new", date="2027-03-01", rechecks="old")]
    (pair,) = pairs_of(tests)
    assert (pair.before.test, pair.after.test) == ("old", "new")
    assert pair.figure.change.value == 25 and pair.figure.shown and pair.at_the_cans == 25
    change = pair.figure.change
    assert change.value - change.low == pytest.approx(SAME_CANS["du_low_quarter"] * np.hypot(2, 2) * 1.645)


def test_a_recheck_that_names_none_follows_the_test_before_it():
    tests = [kept(50, name="a", date="2025-03-01"), kept(52, name="b", date="2026-03-01"),
             kept(60, name="c", date="2027-03-01", purpose="recheck")]
    assert [(pair.before.test, pair.after.test) for pair in pairs_of(tests)] == [("b", "c")]
    assert pairs_of(tests[2:]) == [] and pairs_of(tests[:2]) == []


def test_at_the_cans_only_where_they_stood_at_the_same_places():
    tests = [kept(50, 2.0, name="a", date="2026-03-01"),
             kept(60, 2.0, name="b", date="2027-03-01", rechecks="a", can_places="q", sides="open")]
    (pair,) = pairs_of(tests)
    assert pair.at_the_cans is None and pair.unlike == ("The sides were closed before and open now.",)
    change = pair.figure.change
    assert change.value - change.low == pytest.approx(OTHER_CANS["du_low_quarter"] * np.hypot(2, 2) * 1.645)


def test_the_slope_is_the_weighted_one():
    """numpy's own weighted fit as the judge."""
    rng = np.random.default_rng(0)
    for _ in range(20):
        x, sd = np.sort(rng.uniform(2020, 2027, 6)), rng.uniform(1, 6, 6)
        value = 60 - 3 * (x - 2020) + sd * rng.standard_normal(6)
        (slope, _), cover = np.polyfit(x - x.mean(), value, 1, w=1 / sd, cov="unscaled")
        found = slope_of(x, value, sd)
        assert found.value == pytest.approx(slope)
        assert found.high - found.value >= 1.6449 * np.sqrt(cover[0, 0]) * 0.9999


def test_points_off_the_line_widen_the_slope():
    x, sd = np.arange(5.0), np.full(5, 1.0)
    near, far = slope_of(x, np.array([0, 1, 2, 3, 4.0]), sd), slope_of(x, np.array([0, 9, 2, 11, 4.0]), sd)
    assert near.high - near.value == pytest.approx(1.645 / np.sqrt(10))
    left = np.array([0, 9, 2, 11, 4.0]) - np.polyval(np.polyfit(x, [0, 9, 2, 11, 4.0], 1), x)
    assert far.high - far.value == pytest.approx(stats.t.ppf(0.95, 3) * np.sqrt(left @ left / 3 / 10), rel=1e-3)


def test_slopes_hold_nine_times_in_ten():
    rng, held = np.random.default_rng(4), 0
    for _ in range(600):
        x, sd = np.arange(4.0), rng.uniform(2, 5, 4)
        found = slope_of(x, 70 - 2 * x + sd * rng.standard_normal(4), sd)
        held += found.low <= -2 <= found.high
    assert 0.88 <= held / 600 <= 0.97


def years(values, **more):
    return [kept(value, 2.0, name=f"y{year}", date=f"{year}-04-01", **more) for year, value in values.items()]


def test_a_falling_tunnel_shows():
    (trend,) = trends_of(years({2024: 80, 2025: 74, 2026: 69, 2027: 62}))
    assert trend.a_year.high < 0 and trend.a_year.value == pytest.approx(-5.9, abs=0.2) and trend.left_out == 0


def test_a_trend_needs_three_tests_run_alike_over_most_of_a_year():
    assert trends_of(years({2026: 80, 2027: 70})) == []
    odd = years({2024: 80, 2025: 74}) + [kept(60, name="o", date="2026-04-01", sides="open")]
    assert trends_of(odd) == []
    (trend,) = trends_of(odd + years({2023: 85, 2027: 60}))
    assert trend.left_out == 1 and len(trend.tests) == 4
    close = [kept(70, name=f"c{month}", date=f"2026-0{month}-01") for month in (1, 2, 3)]
    assert trends_of(close) == []


def two_years(changes, member="HB", **later):
    tests = []
    for place, change in enumerate(changes):
        tests.append(kept(60, 2.0, name=f"a{place}", member=member, tunnel=f"T{place}", date="2026-04-01"))
        tests.append(kept(60 + change, 2.0, name=f"b{place}", member=member, tunnel=f"T{place}", date="2027-04-01",
                          **later))
    return tests


def test_all_tunnels_against_the_year_before():
    found = year_before(two_years([5, 7, 6, 4, 8]))
    assert (found.year, found.before, found.tunnels, found.left_out) == (2027, 2026, 5, 0)
    assert found.change.value == pytest.approx(6) and found.change.low > 0
    assert year_before(two_years([5, 7])) is None
    early = [kept(60, name="early", tunnel="T1", date="2031-05-01")]  # a year of too few: the one before it counts
    assert year_before(two_years([5, 7, 6, 4, 8]) + early) == year_before(two_years([5, 7, 6, 4, 8]))
    assert year_before(two_years([5, 7, 6, 4, 8])[::2]) is None
    assert year_before(two_years([5, 7, 6, 4, 8], sides="open")) is None
    mixed = year_before(two_years([5, 7, 6]) + [
        kept(60, name="x", tunnel="X", date="2026-05-01"), kept(60, name="z", tunnel="X", date="2027-05-01", wind=5.0)])
    assert (mixed.tunnels, mixed.left_out) == (3, 1)


def test_tunnels_that_change_in_different_ways_widen_the_mean():
    alike, mixed = year_before(two_years([6, 6, 6, 6])), year_before(two_years([-14, 26, -9, 21]))
    assert mixed.change.value == pytest.approx(alike.change.value)
    assert mixed.change.high - mixed.change.low > 3 * (alike.change.high - alike.change.low)
