"""Cans that hold more water than the heads can give."""

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.cans.water_balance import all_doubts, wetness
from evenfall.pattern import simulate
from evenfall.record.file import parse_record
from evenfall.record.samples import SHOWS, sample_text
from evenfall.record.site import site_of
from evenfall.result.assessment import assess
from evenfall.store.summaries import summary_of

from ..simulated_record import record_of


def sample(name, *changes):
    text = sample_text(name)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return parse_record(text)


WRONG_CANS = ("blocked-head", ('opening_area = "9 in2"', 'opening_area = "9 cm2"'))


def test_one_head_by_hand():
    """120 L/h over 30 min are 60 L; a strip of 2 m by 2 m + 0 for one head: 15 mm."""
    record = parse_record(sample_text("bare") + '\n[heads]\nflow = "120 L/h"\nat = "200 kPa"\nwetted_diameter = "2 m"\n'
                          '[[lines]]\nname = "one"\nx = "2 m"\nheads_at = ["2 m"]\n')
    site = site_of(record)
    catch = read_catch(site)
    given = 120 * record.run.duration.to("min") / 60 / 4
    assert wetness(site, catch) == pytest.approx(np.nanmean(catch.read_mm[catch.counted]) / given)
    assert wetness(site_of(sample("bare")), catch) is None


@pytest.mark.parametrize("name", SHOWS)
def test_the_examples_balance(name):
    site = site_of(sample(name))
    assert not [doubt for doubt in all_doubts(site, read_catch(site)) if doubt.path == ("cans",)]


def test_simulated_tunnels_balance():
    parts = []
    for seed in range(60):
        site = site_of(record_of(simulate.random_tunnel(np.random.default_rng(seed), cans=40)))
        parts.append(wetness(site, read_catch(site)))
    assert max(parts) < 1.6 and min(parts) > 0.1  # 300 gave 0.27 to 1.36


@pytest.mark.parametrize(("old", "new"), [
    ('duration = "50 min"', 'duration = "50 h"'), ('unit = "fl oz"', 'unit = "mL"')])
def test_far_too_little_water_leaves_out_what_needs_it_too(old, new):
    """Hours for minutes, and ounces read as millilitres: 60 and 30 times too little; never 'run it 3,500 minutes'."""
    result = assess(sample("blocked-head", (old, new)))
    assert result.whole_floor is None and not result.fixes and result.watering is None
    assert any("of the water that these heads give in" in says for says in result.cautions)
    assert {"watering", "fixes", "whole_floor"} <= {item.part for item in result.not_done}


def test_readings_that_are_no_readings_leave_out_what_needs_them():
    record = sample("blocked-head")
    shape = np.shape(record.cans.grid)
    numbers = (np.arange(np.prod(shape)) + 1.0).reshape(shape).tolist()
    result = assess(record.model_copy(update={"cans": record.cans.model_copy(update={"grid": numbers})}))
    assert result.whole_floor is None and any("that are the numbers of the cans" in says for says in result.cautions)


def test_too_much_water_leaves_out_what_needs_it():
    result = assess(sample(*WRONG_CANS))
    assert result.whole_floor is None and not result.fixes and result.watering is None
    assert any("times the water that these heads give in" in says for says in result.cautions)
    assert result.at_the_cans.du_low_quarter == pytest.approx(assess(sample("blocked-head")).at_the_cans.du_low_quarter)
    short = summary_of(sample(*WRONG_CANS))
    assert short.floor is None and short.closed == ("cans",) and short.complete
