"""Readings that no test can give, and sound tests that must not be taken for them."""

import numpy as np
import pytest
from evenfall.cans.slips import find_slips

from ..families.plants import FAMILIES, SOUND
from ..families.tunnels import read, sound

ROW, COLUMN = (v.ravel() + 1 for v in np.mgrid[0:8, 0:6])


def even(seed=0, mean=60.0):
    rng = np.random.default_rng(seed)
    return np.round(mean * (1 + 0.12 * rng.standard_normal(48)))


def kinds(readings, row=ROW, column=COLUMN):
    return [(slip.kind, slip.where) for slip in find_slips(np.asarray(readings, float), row, column)]


def test_a_plain_table_has_no_slips():
    assert kinds(even()) == []


@pytest.mark.parametrize(("readings", "kind"), [
    (np.full(48, 61.0), "every can alike"), (np.full(48, 6.1), "every can alike"),
    (np.arange(1, 49), "can numbers"), (np.arange(48) * 2.0 + 5, "can numbers"), (ROW, "can numbers"),
    (COLUMN, "can numbers")])
def test_a_table_that_was_not_read_from_cans(readings, kind):
    assert kinds(readings) == [(kind, "")]


def test_coarse_readings_of_an_even_test_may_all_be_alike():
    assert kinds(np.full(48, 5.0)) == []  # 5 mm read to the millimetre


@pytest.mark.parametrize(("word", "own", "number"), [("row", ROW, 3), ("row", ROW, 1), ("column", COLUMN, 6)])
def test_a_strip_times_ten_is_named(word, own, number):
    readings = even()
    readings[own == number] *= 10
    assert kinds(readings) == [("times ten", f"{word} {number}")]


def test_a_strip_of_zeros_between_wet_cans_is_named_and_a_dry_edge_is_not():
    readings = even()
    readings[COLUMN == 3] = 0
    assert kinds(readings) == [("missing as 0", "column 3")]
    readings = even()
    readings[COLUMN == 1] = 0
    assert kinds(readings) == []


def test_free_points_and_few_cans_are_left_alone():
    assert kinds(np.where(COLUMN == 3, 0, even()), row=np.zeros(48, int)) == []
    assert kinds([60, 60, 60, 60], row=np.arange(1, 5), column=np.ones(4, int)) == []


def test_cans_without_a_reading_do_not_hide_a_slip():
    readings = even()
    readings[[0, 7, 13]] = np.nan
    readings[ROW == 4] *= 10
    assert kinds(readings) == [("times ten", "row 4")]


def test_no_sound_tunnel_is_taken_for_a_slip():
    """300 sound tests of other physics, half with cans in a plain grid; a tenth of them with a dry edge."""
    for seed in range(300):
        rng = np.random.default_rng(seed)
        tunnel = sound(rng, layout_kind=str(rng.choice(["grid", "staggered"])))
        row, column = (v.ravel() + 1 for v in np.indices(tunnel.shape))
        assert kinds(read(tunnel, rng), row, column) == [], seed
    assert set(SOUND) <= set(FAMILIES)
