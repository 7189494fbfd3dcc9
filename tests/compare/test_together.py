"""What goes with unevenness over all tunnels, and what water it costs."""

from dataclasses import replace

import numpy as np
import pytest
from evenfall.compare.comparison import compare_tests
from evenfall.compare.rows import rows_of
from evenfall.compare.together import habits_over, water_saved

from .made import kept


def with_pressure(slope, count=40, seed=0, noise=3.0):
    rng, tests = np.random.default_rng(seed), []
    for place in range(count):
        part = rng.uniform(0.5, 1.1)
        tests.append(kept(70 + slope * (part - 0.8) + noise * rng.standard_normal(), noise, name=f"t{place}",
                          member=f"M{place // 3}", tunnel=f"T{place}", cans=int(rng.integers(24, 80)),
                          habits={"last_head_part": part, "heads_days": float(rng.integers(10, 3000))}))
    return tests


def test_what_goes_with_it_stands_and_what_does_not_is_chance():
    found, not_tried = habits_over(rows_of(with_pressure(60.0))[0])
    by_name = {item.name: item for item in found}
    pressure = by_name["last head"]
    assert pressure.stands and pressure.change.low <= 6 <= pressure.change.high and pressure.tunnels == 40
    assert found[0] is pressure and not by_name["age"].stands and not by_name["cans"].stands
    assert not_tried == ["distance of the lines over the wetted diameter",
                         "distance of the heads over the wetted diameter", "time since the filter was cleaned"]


def test_a_habit_known_in_few_tunnels_is_not_tried():
    found, not_tried = habits_over(rows_of(with_pressure(60.0, count=6))[0])
    assert found == [] and len(not_tried) == 6
    assert habits_over([]) == ([], not_tried)


def test_a_habit_in_which_tunnels_hardly_differ_is_not_tried():
    tests = with_pressure(60.0)
    for number, item in enumerate(tests):
        spacing = 0.6 + 0.002 * (number % 2) + 0.4 * (number == 0)  # feet and metres, and one odd tunnel
        tests[number] = replace(item, summary=replace(item.summary, habits=replace(
            item.summary.habits, head_spacing=spacing)))
    found, not_tried = habits_over(rows_of(tests)[0])
    assert "head spacing" not in [item.name for item in found]
    assert "distance of the heads over the wetted diameter" in not_tried


def test_without_an_effect_few_cooperatives_show_one():
    shown = sum(any(item.stands for item in habits_over(rows_of(with_pressure(0.0, seed=seed))[0])[0])
                for seed in range(60))
    print(f"a false habit in {shown} of 60")
    assert shown <= 60 * 0.05 + 2 * np.sqrt(60 * 0.05 * 0.95)


def test_the_water_of_a_tunnel_by_hand():
    tests = [kept(50, 0.5, name="a", tunnel="A"), kept(90, 0.5, name="b", tunnel="B")]
    found = water_saved(rows_of(tests)[0])
    # 167 m2 x 4 mm x 7 days = 4676 L; over 0.5 and over 0.8
    assert found.tunnels == 1 and found.week_l.value == pytest.approx(4676 / 0.5 - 4676 / 0.8)
    assert found.week_l.low < found.week_l.value < found.week_l.high


def test_at_most_ten_of_the_driest_are_counted_and_only_those_that_say_their_use():
    tests = [kept(40 + place, 1.0, name=f"t{place}", tunnel=f"T{place}", daily_use_mm=None if place < 3 else 4.0)
             for place in range(20)]
    found = water_saved(rows_of(tests)[0])
    assert (found.tunnels, found.unknown, found.hopeless) == (7, 3, 0)
    assert water_saved(rows_of([kept(40, daily_use_mm=None)])[0]) is None
    assert water_saved(rows_of([kept(90)])[0]) is None


def test_a_floor_that_is_dry_for_a_quarter_is_not_counted():
    tests = [kept(value, 1.0, name=f"t{value}", tunnel=f"T{value}") for value in (5, 60, 70, 85)]
    found = water_saved(rows_of(tests)[0])
    assert (found.tunnels, found.hopeless) == (2, 1) and found.week_l.value < 7000
    assert compare_tests(tests, "cu").water is None
