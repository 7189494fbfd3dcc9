"""Readings that are hard to believe: a sentence each, and silence for ordinary tests."""

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.cans.outliers import odd_cans, stand_out
from evenfall.causes.cautions import cautions_of
from evenfall.pattern.simulate import random_tunnel
from evenfall.record.file import parse_record
from evenfall.record.samples import SHOWS, sample_text
from evenfall.record.site import site_of
from evenfall.result.assessment import assess

from ..record_texts import text_of

EVEN = """[cans]
reads = "volume"
unit = "mL"
opening_area = "100 cm2"
across = ["1 m", "2 m", "3 m", "4 m", "5 m"]
along = ["1 m", "3 m", "5 m", "7 m", "9 m"]
grid = [[20, 21, 19, 20, 22], [18, 20, 22, 19, 20], [21, 20, 20, 18, 22], [20, 19, 21, 20, 20], [22, 20, 18, 21, 20]]
"""


def even(old, new, **more):
    assert old in EVEN
    site = site_of(parse_record(text_of(cans=EVEN.replace(old, new, 1), **more)))
    return site, read_catch(site)


def both(record):
    """A record's site and catch."""
    site = site_of(record)
    return site, read_catch(site)


# --- one can that is mistyped ----------------------------------------------------------------------


def test_a_can_of_ten_times_its_neighbours_is_named_with_them():
    site, catch = even("[18, 20, 22,", "[18, 20, 420,")
    [odd] = odd_cans(site, catch)
    assert (odd.number, odd.name) == (7, "row 2, can 3")
    assert odd.says == "Row 2, can 3: 420 mL, its neighbours have 18 to 21: read it again."
    assert odd.says in assess(site.record, only="cans").cautions


def test_a_can_that_lost_a_digit_is_named_too():
    site, catch = even("[21, 20, 20,", "[21, 20, 2,")
    assert [odd.says for odd in odd_cans(site, catch)] == [
        "Row 3, can 3: 2 mL, its neighbours have 18 to 22: read it again."]


def test_a_can_set_aside_or_without_reading_is_no_question_and_no_neighbour():
    site, catch = even("[18, 20, 22,", "[18, 20, 420,", more="")
    aside = text_of(cans=EVEN.replace("[18, 20, 22,", "[18, 20, 420,")
                    + 'set_aside = [{ row = 2, column = 3, why = "typed wrong" }]\n')
    assert odd_cans(*both(parse_record(aside))) == []
    gap = even("[18, 20, 22,", "[18, nan, 420,")
    assert [odd.name for odd in odd_cans(*gap)] == ["row 2, can 3"]


def test_free_cans_are_named_by_their_number():
    points = ", ".join(f'{{ x = "{1 + n % 5} m", y = "{1 + n // 5} m", catch = {420 if n == 13 else 18 + n % 5} }}'
                       for n in range(25))
    record = parse_record(text_of(cans=EVEN.split("across")[0] + f"points = [{points}]\n"))
    assert [odd.says for odd in odd_cans(*both(record))] == [
        "Can 14: 420 mL, its neighbours have 20 to 22: read it again."]


@pytest.mark.parametrize("name", SHOWS)
def test_no_sample_has_one(name):
    record = parse_record(sample_text(name))
    assert odd_cans(*both(record)) == []


def tunnels(count):
    for seed in range(count):
        yield random_tunnel(np.random.default_rng(seed))


def test_hardly_any_simulated_tunnel_has_one():
    doubted = [seed for seed, tunnel in enumerate(tunnels(100)) if stand_out(*tunnel.cans.T, tunnel.depth)]
    assert len(doubted) <= 2, doubted


def test_most_readings_ten_times_too_large_are_found():
    rng, found = np.random.default_rng(5), 0
    for tunnel in tunnels(100):
        depth, wrong = tunnel.depth.copy(), int(rng.integers(len(tunnel.depth)))
        depth[wrong] *= 10
        found += wrong in [number for number, _ in stand_out(*tunnel.cans.T, depth)]
    assert found >= 80


def test_a_dry_floor_a_strip_and_few_or_doubled_cans_are_no_trouble():
    x, y = (axis.ravel() for axis in np.meshgrid(np.arange(6.0), np.arange(6.0)))
    assert stand_out(x, y, np.zeros(36)) == []
    assert stand_out(x, y, np.where(x == 3, 0.0, 20.0)) == []
    assert stand_out(x[:4], y[:4], np.array([1.0, 1, 1, 90])) == []
    assert stand_out(np.zeros(12), np.zeros(12), np.full(12, 3.0)) == []


# --- amounts that cannot be ------------------------------------------------------------------------


def amounts(**parts):
    record = parse_record(text_of(**parts))
    return [says for says in cautions_of(*both(record)) if says.startswith("Received a mean")]


def test_an_ordinary_amount_is_not_asked_about():
    assert amounts() == []
    for name in SHOWS:
        record = parse_record(sample_text(name))
        assert not [says for says in cautions_of(*both(record)) if says.startswith("Received a mean")]


def test_seconds_for_minutes():
    assert amounts(run='[run]\nduration = "30 s"\n') == [
        "Received a mean rate of 420.0 mm/h, usual is at most 150.0 mm/h (from memory): check run.duration (30 s), the "
        "cans' opening (100 cm2) and the unit of the readings (mL)."]


def test_fluid_ounces_for_millilitres():
    [says] = amounts(cans=EVEN.replace('"mL"', '"fl oz"').replace("100 cm2", "50 cm2"))
    assert says.startswith("Received a mean rate of 238.") and "and a mean catch of 119." in says
    assert "usual is at most 100.0 mm (from memory)" in says and "the unit of the readings (fl oz)" in says


def test_hardly_any_water_and_in_feet():
    cans = EVEN.replace('"volume"', '"depth"').replace('"mL"', '"mm"').replace('opening_area = "100 cm2"\n', "")
    for number in (18, 19, 20, 21, 22):
        cans = cans.replace(f"{number}", f"0.0{number}")
    record = parse_record(text_of(cans=cans))
    [says] = [says for says in cautions_of(*both(record), "US") if says.startswith("Received a mean")]
    assert says == ("Received a mean catch of 0.00 in, usual is at least 0.04 in (from memory): check run.duration "
                    "(30 min) and the unit of the readings (mm).")
