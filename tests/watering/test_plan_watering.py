"""Watering plans of records."""

import re

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.pattern.floor import Figure
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.advice import litres, serves_means, watering_means
from evenfall.result.assessment import assess
from evenfall.watering.schedule import need_of, plan_watering


def planned(text, **more):
    record = parse_record(text)
    return plan_watering(site_of(record), estimate_floor(site_of(record), read_catch(site_of(record))), **more)


@pytest.fixture(scope="module")
def floor():
    record = parse_record(sample_text("commissioning"))
    return record, estimate_floor(site_of(record), read_catch(site_of(record)))


def test_need_from_use_soil_and_roots(floor):
    record, _ = floor
    need = need_of(site_of(record))
    # Loam holds 1.5 to 2.3 in/ft for plants (UC Davis), 31.2 to 47.9 mm in 250 mm. 'leafy greens' are not in the table
    # of crops: 0.30 + 0.04 (5 - 4) of it may be used, 10.6 to 16.3 mm, which lasts 3 days at 4 mm.
    assert need.holds_mm == pytest.approx((0.34 * 31.25, 0.34 * 47.917), abs=1e-3)
    assert (need.days, need.depth_mm, need.may_use.known) == (3, 12.0, False)


@pytest.mark.parametrize("change, part, days", [
    ('kind = "cucumber"', 0.54, 5), ('kind = "spinach"', 0.24, 2), ('kind = "spinach"\nmay_use = 0.6', 0.6, 5)])
def test_each_crop_may_use_its_own_part(change, part, days):
    text = sample_text("commissioning").replace('kind = "leafy greens"', change)
    need = need_of(site_of(parse_record(text)))
    assert need.may_use.part == pytest.approx(part) and need.days == days and need.may_use.known


def test_without_soil_it_is_watered_each_day():
    text = sample_text("commissioning").replace('soil = "loam"\n', "")
    need = need_of(site_of(parse_record(text)))
    assert (need.days, need.depth_mm, need.holds_mm) == (1, 4.0, None)


def test_run_time_is_depth_over_the_rate_of_the_ground_served(floor):
    record, found = floor
    plan = plan_watering(site_of(record), found, depth_mm=10.0)
    du, mean = found.estimate.du_low_quarter, found.estimate.mean.value
    minutes = record.run.duration.to("min")
    assert plan.chosen.minutes.value == pytest.approx(10 / (mean * du.value / 100) * minutes, rel=0.01)
    assert plan.chosen.gross_mm.low == pytest.approx(1000 / du.high, rel=0.03)
    assert plan.chosen.gross_mm.high == pytest.approx(1000 / du.low, rel=0.03)
    assert plan.runs[0].gross_mm.value == pytest.approx(10.0)
    assert plan.extra_l == pytest.approx(plan.chosen.litres.value - plan.runs[0].litres.value)


def test_litres_are_depth_times_ground():
    record = parse_record(sample_text("blocked-head"))
    plan = plan_watering(site_of(record), estimate_floor(site_of(record), read_catch(site_of(record))), depth_mm=10.0)
    area = record.floor.width.si * record.floor.length.si
    assert plan.chosen.litres.value == pytest.approx(plan.chosen.gross_mm.value * area)
    assert plan.runs[0].litres.value == pytest.approx(10 * area)


def test_the_run_that_serves_a_share_does(floor):
    record, found = floor
    for share in (0.6, 0.8, 0.95):
        plan = plan_watering(site_of(record), found, serves=share, depth_mm=12.0)
        assert plan.chosen.goes.short == pytest.approx(1 - share, abs=0.03)


def test_a_deeper_watering_runs_longer_in_proportion(floor):
    record, found = floor
    one, two = (plan_watering(site_of(record), found, depth_mm=depth).chosen.minutes.value for depth in (5.0, 10.0))
    assert two == pytest.approx(2 * one)


def test_a_less_even_floor_costs_more():
    even, wide = (planned(sample_text("commissioning"), depth_mm=10.0),
                  planned(sample_text("lines-too-far-apart"), depth_mm=10.0))
    part = [plan.extra_l / plan.runs[0].litres.value for plan in (even, wide)]
    assert part[1] > 2 * part[0]


def test_the_rate_is_over_the_intake_of_loam(floor):
    record, found = floor
    plan = plan_watering(site_of(record), found)
    assert plan.soil == "loam" and plan.highest_mm_h > plan.rate_mm_h.high > 10
    assert plan.soak.runs > 1 and plan.soak.runs * plan.soak.on_min == pytest.approx(plan.chosen.minutes.value)


def test_lines_in_turn_share_the_time_and_rain_harder():
    together = sample_text("blocked-head")
    turns = re.sub(r'lines = "together"', 'lines = "in turn"', together)
    assert turns != together
    one, two = planned(together, depth_mm=8.0), planned(turns, depth_mm=8.0)
    assert one.lines == [] and len(two.lines) == 2
    assert sum(line.minutes for line in two.lines) == pytest.approx(two.chosen.minutes.value)
    # Each line ran as long as both together did, so the same water took twice the time.
    assert two.chosen.minutes.value == pytest.approx(2 * one.chosen.minutes.value, rel=0.01)
    assert two.highest_mm_h <= one.highest_mm_h * 1.01


def test_beds_are_the_ground_that_counts():
    text = sample_text("blocked-head").replace(
        "[floor]\n", '[floor]\nbeds = [{ from = "1 m", to = "3 m", start = "2 m", end = "12 m" }]\n', 1)
    plan = planned(text, depth_mm=10.0)
    assert plan.runs[0].litres.value == pytest.approx(10 * 2 * 10)


@pytest.mark.parametrize("depth", [0.0, -3.0, 1000.0])
def test_a_depth_out_of_reach_is_refused(floor, depth):
    with pytest.raises(ValueError, match="expected more than 0 and less than 1000 mm"):
        plan_watering(site_of(floor[0]), floor[1], depth_mm=depth)


def test_without_crop_there_is_no_plan_and_the_result_says_what_opens_it():
    result = assess(parse_record(sample_text("blocked-head")))
    assert result.watering is None
    assert [item.needs for item in result.not_done if item.part == "watering"] == [["crop.daily_use"]]


def test_a_use_that_is_hard_to_believe_closes_it():
    result = assess(parse_record(sample_text("commissioning").replace('daily_use = "4 mm"', 'daily_use = "4 m"')))
    assert result.watering is None
    assert [item.needs for item in result.not_done if item.part == "watering"] == [["crop.daily_use"]]


def test_cans_only_has_a_wider_interval():
    wide, narrow = planned(sample_text("bare"), depth_mm=8.0), planned(sample_text("staggered-rows"), depth_mm=8.0)
    spans = [(plan.chosen.minutes.high - plan.chosen.minutes.low) / plan.chosen.minutes.value
             for plan in (wide, narrow)]
    assert wide.how == "cans only" and spans[0] > spans[1]


def test_the_best_fix_stands_beside_it():
    result = assess(parse_record(sample_text("commissioning")))
    best = next(fix for fix in result.fixes if fix.largest_gain)
    after = result.watering.after_fix
    assert after.name == best.name
    gross = result.watering.depth_mm * 100 / best.du_low_quarter.value
    assert after.minutes.value == pytest.approx(60 * gross / best.rate_mm_h)
    assert after.minutes.low < after.minutes.value < after.minutes.high


def test_words(floor):
    record, found = floor
    said = " ".join(watering_means(plan_watering(site_of(record), found), "metric"))
    assert "every 3 days" in said and "the driest quarter 12.0 mm" in said and "runs of" in said
    assert "may use 34 % (from memory)" in said and "give the part that it may use" in said
    said = " ".join(watering_means(plan_watering(site_of(record), found, serves=0.8, depth_mm=12.0), "US"))
    assert "80 % of the ground at least 0.47 in" in said and "In a week" not in said
    assert serves_means("mean") == "the mean of the ground"
    written = litres(Figure(2887.0, 2798.0, 2983.0), "metric")
    assert written.replace("\N{NO-BREAK SPACE}", " ") == "2 890 L (2 800 to 2 980)"


def test_the_curve_crosses_the_chosen_run(floor):
    record, found = floor
    plan = plan_watering(site_of(record), found)
    short = np.interp(plan.chosen.minutes.value, plan.curve.minutes, plan.curve.short)
    assert short == pytest.approx(plan.chosen.goes.short, abs=0.05)
