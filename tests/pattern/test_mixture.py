"""Floors as rivals have them."""

from dataclasses import replace

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.pattern import mixture
from evenfall.pattern.rivals import rivals_of
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of


@pytest.fixture(scope="module")
def test_and_rivals():
    site = site_of(parse_record(sample_text("commissioning")))
    catch = read_catch(site)
    return site, catch, rivals_of(site, catch)


def test_the_parts_of_the_draws_leave_something_for_what_the_figures_rest_on(test_and_rivals):
    fit = test_and_rivals[2]
    others = mixture.beside(fit, None)
    assert all(part >= mixture.LEAST for _, part in others) and sum(part for _, part in others) < 1
    even = replace(fit, rivals=(replace(fit.rivals[0], evidence=mixture.TRUST),))
    assert [part for _, part in mixture.beside(even, None)] == [pytest.approx(0.5)]
    far = replace(fit, rivals=(replace(fit.rivals[0], evidence=100.0),))
    assert mixture.beside(far, far.rivals[0]) == []


def test_what_competes_shows_in_the_floor(test_and_rivals):
    """Where a rival with a floor of its own stands even, the figures lie between and the interval holds both."""
    site, catch, fit = test_and_rivals
    drift = next(rival for rival in fit.rivals)
    alone, there = estimate_floor(site, catch), estimate_floor(site, catch, base=drift)
    both = estimate_floor(site, catch, beside=[(drift, 0.5)])
    low, high = sorted(each.estimate.mean.value for each in (alone, there))
    assert low - 0.2 < both.estimate.mean.value < high + 0.2
    assert both.estimate.draws.shape == alone.estimate.draws.shape
    assert np.array_equal(both.estimate.output, alone.estimate.output)  # heads are those of what the figures rest on


def test_a_rival_draws_floors_of_the_same_water(test_and_rivals):
    site, catch, fit = test_and_rivals
    floor = estimate_floor(site, catch)
    near = min(fit.rivals, key=lambda rival: abs(rival.evidence))
    maps = mixture.maps(near, floor.cells.places, 40, np.random.default_rng(1))
    own = floor.estimate.draws.mean(axis=0)
    assert maps.shape == (40, len(floor.cells.places)) and maps.min() >= 0.0
    assert maps.mean() == pytest.approx(own.mean() / catch.depth_mm[floor.cans].mean(), rel=0.1)
    assert np.corrcoef(maps.mean(axis=0), own)[0, 1] > 0.8
    again = mixture.maps(near, floor.cells.places, 40, np.random.default_rng(1))
    assert np.array_equal(maps, again)
