"""Today, after a change, table, curve, minutes and litres are told in one time base, however the lines run."""

import re

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.changes.change import read_changes
from evenfall.changes.fixes.search import Fix, try_change
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.planning.plan import plan_of
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.advice import watering_means
from evenfall.watering.schedule import curve_after, plan_watering

TOGETHER = sample_text("lines-too-far-apart")
TURNS = TOGETHER.replace('lines = "together"', 'lines = "in turn"')
OWN_TIMES = TOGETHER.replace('name = "right"', 'name = "right"\nran = "30 min"')
WAYS = {"together": TOGETHER, "in turn": TURNS, "times of their own": OWN_TIMES,
        "in turn, times of their own": OWN_TIMES.replace('lines = "together"', 'lines = "in turn"')}
ELAPSED = {"together": 45, "in turn": 90, "times of their own": 45, "in turn, times of their own": 75}


@pytest.fixture(scope="module", params=WAYS)
def way(request):
    site = site_of(parse_record(WAYS[request.param]))
    return ELAPSED[request.param], site, estimate_floor(site, read_catch(site))


def test_the_rate_of_today_is_the_depth_over_the_time_that_the_run_took(way):
    minutes, site, floor = way
    tried = try_change(site, floor, read_changes(["mend=left:3"]))
    wanted = floor.estimate.mean.value / minutes * 60
    assert site.run_minutes == pytest.approx(minutes)
    assert tried.today.rate_mm_h == pytest.approx(wanted, rel=1e-9)
    assert tried.today.du_low_quarter == floor.estimate.du_low_quarter
    assert tried.fix.rate_mm_h == pytest.approx(wanted, rel=0.01)
    assert plan_watering(site, floor, depth_mm=10.0).rate_mm_h.value == pytest.approx(wanted, rel=1e-9)


def test_minutes_after_a_change_that_changes_nothing_are_those_of_today(way):
    _, site, floor = way
    fix = as_largest(try_change(site, floor, read_changes(["mend=left:3"])).fix)
    plan = plan_watering(site, floor, [fix], depth_mm=10.0)
    assert plan.after_fix.serves == plan.chosen.serves
    assert plan.after_fix.minutes.value == pytest.approx(plan.chosen.minutes.value, rel=0.03)
    assert plan.after_fix.litres.value == pytest.approx(plan.chosen.litres.value, rel=0.03)
    after = curve_after(site, floor, fix, 10.0)
    for share in (0.2, 0.5, 0.8):
        time = share * plan.chosen.minutes.value
        assert np.interp(time, after.minutes, after.short) == pytest.approx(
            np.interp(time, plan.curve.minutes, plan.curve.short), abs=0.03)


def test_litres_are_rate_times_time_times_ground(way):
    _, site, floor = way
    plan = plan_watering(site, floor, depth_mm=10.0)
    for run in (*plan.runs, plan.chosen):
        assert run.litres.value == pytest.approx(
            plan.rate_mm_h.value * run.minutes.value / 60 * site.width * site.length, rel=1e-9)


@pytest.mark.parametrize("serves", ["mean", "low half", "low quarter", 0.6, 0.9, 0.95])
def test_table_curve_and_headline_are_of_one_solver(way, serves):
    _, site, floor = way
    plan = plan_watering(site, floor, serves=serves, depth_mm=10.0)
    for run in {id(run): run for run in (*plan.runs, plan.chosen)}.values():
        short = np.interp(run.minutes.value, plan.curve.minutes, plan.curve.short)
        assert run.minutes.value <= plan.curve.minutes[-1] and short == pytest.approx(run.goes.short, abs=1e-9)
        if not isinstance(run.serves, str) and run.gross_mm.value < 499:  # ground with over 2 % of the mean
            assert run.goes.short == pytest.approx(1 - run.serves, abs=0.002)
    quarter = next(run for run in plan.runs if run.serves == "low quarter")
    assert quarter.gross_mm.value == pytest.approx(1000 / floor.estimate.du_low_quarter.value)
    assert quarter.minutes.value == pytest.approx(60 * quarter.gross_mm.value / plan.rate_mm_h.value)


def test_on_very_uneven_ground_it_is_mended_first(way):
    """DUlq 15: the driest quarter would take six times the mean's run and drown most of the ground."""
    _, site, floor = way
    plan = plan_watering(site, floor, depth_mm=10.0)
    du = floor.estimate.du_low_quarter.value / 100
    assert plan.drowns.goes.drowned > 0.5 and plan.drowns.serves == "low quarter"
    assert plan.chosen.gross_mm.value == pytest.approx(10 / (0.4 + 0.6 * du), rel=0.02)
    assert plan.lacks_mm == pytest.approx(10 - du * plan.chosen.gross_mm.value)
    said = watering_means(plan, "metric")
    assert said[0].startswith("Mend first:") and said[1].startswith("Until then run it ")
    asked = plan_watering(site, floor, serves=0.9, depth_mm=10.0)
    assert asked.drowns is None and asked.chosen.serves == 0.9


def test_the_lines_share_the_run_as_they_ran(way):
    minutes, site, floor = way
    plan = plan_watering(site, floor, depth_mm=10.0)
    for one in plan.lines:
        assert one.minutes == pytest.approx(plan.chosen.minutes.value * site.line(one.line).ran / 60 / minutes)
    if site.in_turn:
        assert sum(one.minutes for one in plan.lines) == pytest.approx(plan.chosen.minutes.value)


@pytest.mark.parametrize("text", [TOGETHER, OWN_TIMES])
def test_lines_in_turn_take_the_sum_of_their_times(text):
    """Without pressures nothing else changes: the same water falls in the sum of the lines' times."""
    site = site_of(parse_record(re.sub(r'(at = "172 kPa"|pipe = "26.6 mm")\n', "", text)))
    floor = estimate_floor(site, read_catch(site))
    tried = try_change(site, floor, read_changes(["run_lines=in turn"]))
    share = site.run_minutes / sum(line.ran / 60 for line in site.lines)
    assert tried.fix.rate_mm_h == pytest.approx(share * tried.today.rate_mm_h, rel=0.01)
    assert tried.fix.du_low_quarter.value == pytest.approx(tried.today.du_low_quarter.value, abs=0.5)


def test_a_plan_for_lines_in_turn_tells_the_rate_of_the_whole_run():
    one, two = (plan_of(site_of(parse_record(re.sub(r"(?s)\[supply\].*", "", text))), cans=24, tunnels=2).run
                for text in (TOGETHER, TURNS))
    assert two.one_after_the_other and two.minutes == one.minutes and two.catch == pytest.approx(one.catch)
    assert two.rate == pytest.approx(one.rate / 2)
    assert two.wettest <= one.wettest


def as_largest(fix):
    return Fix(**(vars(fix) | {"largest_gain": True, "feasible": True}))
