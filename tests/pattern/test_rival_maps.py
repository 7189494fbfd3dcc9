"""Floors as rivals have them."""

from dataclasses import replace

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.pattern.rival_maps import LEAST, rival_maps, tempered
from evenfall.pattern.rivals import rivals_of
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of


@pytest.fixture(scope="module")
def test_and_rivals():
    site = site_of(parse_record(sample_text("commissioning")))
    catch = read_catch(site)
    return site, catch, rivals_of(site, catch).rivals


def test_weights_are_tempered_and_sum_to_one(test_and_rivals):
    one, other, *_ = test_and_rivals[2]
    alike, far = replace(one, evidence=0.0), replace(other, evidence=-50.0)
    record, others = tempered((alike, far))
    assert record == pytest.approx(0.5) and others == [(alike, pytest.approx(0.5))]
    record, others = tempered((replace(one, evidence=4.0),))
    assert record == pytest.approx(1 / (1 + np.exp(2.0))) and record > LEAST
    assert tempered((replace(one, evidence=100.0),))[0] < LEAST


def test_a_rival_draws_floors_of_the_same_water(test_and_rivals):
    site, catch, rivals = test_and_rivals
    floor = estimate_floor(site, catch)
    near = min(rivals, key=lambda rival: abs(rival.evidence))
    maps = rival_maps(near, floor.cells.places, 40, np.random.default_rng(1))
    own = floor.estimate.draws.mean(axis=0)
    assert maps.shape == (40, len(floor.cells.places)) and maps.min() >= 0.0
    assert maps.mean() == pytest.approx(own.mean() / catch.depth_mm[floor.cans].mean(), rel=0.1)
    assert np.corrcoef(maps.mean(axis=0), own)[0, 1] > 0.8
    again = rival_maps(near, floor.cells.places, 40, np.random.default_rng(1))
    assert np.array_equal(maps, again)
