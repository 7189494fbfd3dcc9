"""Each cause on evidence made by hand: what it says, and how its strength grows."""

import numpy as np
import pytest
from evenfall.causes.cause import figures, grows, surely, together
from evenfall.causes.departures import find_departures
from evenfall.causes.evidence import DesignFloor
from evenfall.causes.finding import Cause, causes_of, merged
from evenfall.causes.gather import from_entry, gauge_sd
from evenfall.causes.split import shares, split_unevenness
from evenfall.reference.yardsticks import LIMITS, limit

from .hand import departed, evidence, text


@pytest.fixture(scope="module")
def even():
    return evidence(text(), floor=True)


def strengths(found):
    return {cause.kind: cause.strength for cause in reversed(found)}


def supply(more='regulator = { set = "220 kPa" }', kind="mains", static="420 kPa"):
    return f'[supply]\nkind = "{kind}"\nstatic = "{static}"\nheight = "0.5 m"\n{more}\n'


def gauge(at, value, more=""):
    return f'[[pressures]]\nat = "{at}"\nvalue = "{value} kPa"\n{more}\n'


def at_head(line, head, value):
    return gauge("line", value, f'line = "{line}"\nhead = {head}\nheight = "2.1 m"')


# Departures

def first_kind(even, output):
    found = find_departures(departed(even, output, noise=0.03))
    return found[0] if found else None


def test_even_cans_speak_for_no_departure(even):
    assert not [one for one in find_departures(departed(even, np.ones(20), noise=0.03)) if one.gain > 3]


def test_a_weak_head_is_named_with_its_size(even):
    output = np.ones(20)
    output[14] = 0.2
    found = first_kind(even, output)
    assert found.kind == "weak head" and abs(found.member[0] - 14) <= 1
    assert found.size == pytest.approx(0.8, abs=3 * found.sd + 0.15)


def test_a_strong_head(even):
    output = np.ones(20)
    output[5] = 2.0
    found = first_kind(even, output)
    assert found.kind == "strong head" and abs(found.member[0] - 5) <= 1


def test_one_line_low(even):
    output = np.ones(20)
    output[10:] = 0.65
    found = first_kind(even, output)
    assert found.kind == "line low" and found.member == ("right",)


def test_a_step(even):
    output = np.ones(20)
    output[15:] = 0.5
    found = first_kind(even, output)
    assert found.kind == "step" and set(found.member) & {14, 15}


def test_gain_grows_with_the_size(even):
    gains = []
    for part in (0.8, 0.5, 0.2):
        output = np.ones(20)
        output[14] = part
        found = [one for one in find_departures(departed(even, output)) if one.kind == "weak head"]
        gains.append(found[0].gain if found else 0.0)
    assert gains == sorted(gains) and gains[-1] > gains[0] + 2


# Supply, filter, regulator

def water(gauges, **kinds):
    return strengths(causes_of(evidence(text(gauges, supply=supply(**kinds)))))


def test_a_starved_regulator_and_one_that_does_not_hold():
    starved = water(gauge("regulator outlet", 150) + gauge("regulator inlet", 162))
    broken = water(gauge("regulator outlet", 150) + gauge("regulator inlet", 340))
    assert starved["starved regulator"] > 0.8 and starved.get("regulator not holding", 0) < 0.2
    assert broken["regulator not holding"] > 0.8 and broken.get("starved regulator", 0) < 0.2


def test_without_the_inlet_both_are_named_together():
    found = causes_of(evidence(text(gauge("regulator outlet", 150), supply=supply())))
    assert found[0].group and found[0].strength > 0.5


def test_a_sound_regulator_is_no_cause():
    found = water(gauge("regulator outlet", 218) + gauge("regulator inlet", 330))
    assert not {"starved regulator", "regulator not holding"} & {k for k, v in found.items() if v > 0.3}


def test_a_loaded_filter_grows_with_its_loss():
    each = [water(gauge("filter inlet", 300 + over) + gauge("filter outlet", 300),
                  more='filter = { clean_loss = "10 kPa", at = "1 m3/h" }').get("filter loaded", 0.0)
            for over in (8, 30, 45, 70)]
    assert each == sorted(each) and each[0] < 0.2 and each[-1] > 0.8


def test_a_pump_that_swings():
    swings = water("", kind="pump with tank", more='cut_in = "200 kPa"\ncut_out = "400 kPa"\n'
                   'regulator = { set = "220 kPa" }')
    steady = water("", kind="pump with tank", more='cut_in = "350 kPa"\ncut_out = "400 kPa"\n'
                   'regulator = { set = "220 kPa" }')
    assert swings["swing"] > 0.4 and steady.get("swing", 0) < 0.1


# Findings

def test_a_regulator_set_above_the_static_pressure():
    assert water("", static="180 kPa")["set above static"] > 0.9


@pytest.mark.parametrize("value, low, high", [(210, 0.0, 0.3), (300, 0.8, 1.0)])
def test_an_outlet_above_its_inlet_knows_the_gauges_error(value, low, high):
    found = water(gauge("regulator inlet", 200) + gauge("regulator outlet", value))
    assert low <= found.get("regulator outlet above regulator inlet", 0.0) <= high


def test_a_far_end_above_the_near_end(even):
    more = at_head("left", 1, 150) + at_head("left", 10, 240)
    found = strengths(causes_of(evidence(text(more), floor=True)))
    assert found["far end above near end"] > 0.8


def test_heads_that_never_open():
    opens = evidence(text(at_head("left", 1, 120), heads='opens_at = "160 kPa"\ncloses_at = "90 kPa"'), floor=True)
    assert strengths(causes_of(opens))["never open"] > 0.7


# Small parts

def test_strength_grows_smoothly():
    values = [grows(value, 2.0) for value in (-1, 0, 1, 2, 4, 1e6)]
    assert values[:2] == [0, 0] and values[3] == pytest.approx(0.5) and values == sorted(values)
    assert surely(0, 1) == pytest.approx(0.5) and surely(3, 1) > 0.99


def test_words():
    assert together("a") == "a" and together("a", "b", "c") == "a, b or c"
    assert figures(np.arange(8.0)) == "0, 1, 2, 3, 4, 5 ..."


def test_along_from_where_the_water_enters():
    y = np.array([1.0, 5.0, 9.0])
    assert from_entry(y, "near", 10).tolist() == [0, 0.5, 1] and from_entry(y, "far", 10).tolist() == [1, 0.5, 0]
    assert from_entry(y, "middle", 10).tolist() == [1, 0, 1]


def test_a_gauge_is_taken_for_the_smallest_that_fits():
    # 3 % of full scale (from memory), two standard deviations: 200 kPa fits a gauge of 400 kPa.
    assert gauge_sd(200) == pytest.approx(6.0)


def test_what_a_piece_of_ground_lacks():
    depth = np.array([0.0, 1.0, 1.0, 2.0])
    floor = DesignFloor(np.zeros((4, 2)), None, depth, 0.0)
    assert floor.missing(depth < 1) == pytest.approx(0.5) and floor.average(depth > 0) == pytest.approx(4 / 3)
    cut = DesignFloor(np.zeros((4, 2)), np.array([0.25, 1.0, 1.0, 0.5]), depth, 0.0)
    assert cut.missing(depth < 1) == pytest.approx(np.sqrt(0.25 / 2.75))
    assert cut.average(depth > 0) == pytest.approx(3 / 2.5)


def test_like_causes_become_one():
    one = Cause("a", "line left, here", "By the cans.", 0.6, "look", kind="step")
    two = Cause("a", "line left, here", "By the gauges.", 0.5, "look", kind="step")
    found = merged([two, one])
    assert len(found) == 1 and found[0].says == "By the cans. By the gauges." and found[0].strength > 0.6


def test_every_limit_says_where_it_comes_from():
    assert all(each.source and each.says and each.unit for each in LIMITS.values())
    assert limit("flow spread") == 0.10


# The split

def test_shares_add_up_and_go_to_their_part():
    rng = np.random.default_rng(1)
    spacing = 1 + 0.3 * rng.standard_normal(500)
    found = shares(np.stack([spacing, np.zeros(500), np.zeros(500)]), np.zeros(40))
    assert found.spacing == pytest.approx(100)
    mixed = shares(np.stack([spacing, 0.2 * rng.standard_normal(500), 0.1 * rng.standard_normal(500)]),
                   0.05 * rng.standard_normal(40))
    assert mixed.spacing + mixed.pressure + mixed.heads + mixed.readings == pytest.approx(100)
    assert mixed.spacing > mixed.pressure > mixed.heads > 0


def test_the_split_of_a_floor(even):
    found = split_unevenness(even.site, even.catch, even.floor)
    assert found.spacing + found.pressure + found.heads + found.readings == pytest.approx(100)
    assert split_unevenness(even.site, even.catch, None) is None


def test_every_cause_of_a_door_says_what_to_do(even):
    for cause in causes_of(even):
        assert cause.where and cause.says.endswith(".") and cause.check_next and 0 < cause.strength <= 1
