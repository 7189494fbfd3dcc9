"""One row a tunnel: newest tests, what is pooled, order by need, groups."""

import numpy as np
import pytest
from evenfall.compare.comparison import compare_tests
from evenfall.compare.rows import rows_of, sd_of
from evenfall.pattern.floor import Figure

from .made import cooperative, kept


def names(rows):
    return [row.name for row in rows]


def test_each_tunnel_stands_by_its_newest_test():
    tests = [kept(50, name="a", date="2026-05-01"), kept(80, name="b", date="2027-05-01"),
             kept(70, name="c", date="2025-05-01"), kept(60, name="d", tunnel="T2", date=None)]
    rows, _ = rows_of(tests)
    assert {row.kept.test for row in rows} == {"b", "d"}


def test_the_same_tunnel_name_of_two_members_is_two_tunnels_and_spelling_does_not_matter():
    tests = [kept(50, name="a", member="HB"), kept(51, name="b", member="MG"), kept(52, name="c", member=" hb ")]
    assert len(rows_of(tests)[0]) == 2


def test_those_in_need_come_first_and_are_told_apart():
    found = compare_tests(cooperative(rest=78.0))
    assert names(found.rows)[:3] == ["M0 · T1", "M0 · T2", "M0 · T3"]
    groups = [row.group for row in found.rows]
    assert groups == [0] * 3 + [1] * 9
    assert all(row.among_lowest > 0.95 for row in found.rows[:3])
    assert all(row.among_lowest < 0.05 for row in found.rows[3:])


def test_a_test_with_few_cans_is_drawn_in_more():
    tests = [kept(value, 2.0, name=f"t{value}", tunnel=f"T{value}") for value in (60, 66, 70, 74, 78)]
    tests += [kept(50, 2.0, name="sure", tunnel="sure"), kept(50, 9.0, name="few", tunnel="few")]
    rows = {row.kept.test: row for row in rows_of(tests)[0]}
    assert rows["few"].figure.value == rows["sure"].figure.value == 50
    assert rows["few"].shrunk.value > rows["sure"].shrunk.value + 3
    assert rows["sure"].shrunk.value == pytest.approx(50, abs=1.5)


@pytest.mark.parametrize(("odd", "says"), [
    ({"sides": "open"}, "The sides were open, in most tests closed."),
    ({"lines": "in turn"}, "The lines ran in turn, in most tests together."),
    ({"wind": 2.0}, "The wind was 2.0 m/s."),
    ({"habits": {"outlet_part": 0.5}}, "It ran at 50 % of its heads' nominal pressure, the median is 100 %."),
])
def test_a_test_under_other_conditions_is_shown_and_not_pooled(odd, says):
    usual = {"habits": {"outlet_part": 1.0}}
    tests = [kept(70 + number, name=f"t{number}", tunnel=f"T{number}", **usual) for number in range(5)]
    tests.append(kept(20, name="odd", tunnel="odd", **{**usual, **odd}))
    found = compare_tests(tests)
    row = next(row for row in found.rows if row.kept.test == "odd")
    assert row.unlike == (says,) and row.group is None and row.shrunk is None and row.among_lowest is None
    assert found.mean.value == pytest.approx(72, abs=0.1), "it must not move the mean"


def test_what_was_not_noted_does_not_keep_a_test_out():
    tests = [kept(70 + number, name=f"t{number}", tunnel=f"T{number}") for number in range(4)]
    tests.append(kept(71, name="bare", tunnel="bare", sides=None, lines=None, wind=None))
    assert all(row.unlike == () for row in rows_of(tests)[0])


def test_without_an_estimate_a_tunnel_comes_last():
    tests = [kept(70, name="a", tunnel="A"), kept(10, name="b", tunnel="B", floor=False)]
    found = compare_tests(tests)
    assert names(found.rows)[-1] == "HB · B" and found.rows[-1].figure is None and found.waiting == 1
    assert compare_tests([tests[1]]).mean is None and compare_tests([]).rows == []


def test_cu_is_compared_likewise():
    found = compare_tests(cooperative(), "cu")
    assert found.rows[0].figure.value > compare_tests(cooperative()).rows[0].figure.value
    with pytest.raises(ValueError, match="received the figure 'mean', expected du_low_quarter or cu"):
        compare_tests([], "mean")


def test_the_error_behind_an_interval():
    assert sd_of(Figure(50.0, 50 - 1.645 * 4, 50 + 1.645 * 4)) == pytest.approx(4)
    assert sd_of(Figure(50.0, 50.0, 50.0)) == 0.5


def test_alike_tunnels_rarely_yield_a_false_worst():
    """A null cooperative: at most 10 of 100 show a group of their own at the bottom (target; 400 sets, 2 errors)."""
    rng, false = np.random.default_rng(3), 0
    for _ in range(400):
        sds = rng.uniform(1.5, 6.0, 24)
        tests = [kept(70 + sd * rng.standard_normal(), sd, name=f"t{place}", member=f"M{place // 3}",
                      tunnel=f"T{place}")
                 for place, sd in enumerate(sds)]
        false += max(row.group for row in rows_of(tests)[0]) > 0
    print(f"false worst in {false / 4:.1f} of 100 null cooperatives")
    assert false / 400 <= 0.10 + 2 * np.sqrt(0.1 * 0.9 / 400)
