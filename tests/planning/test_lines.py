"""How many lines a width takes, against hand geometry and against the hydraulics alone."""

import math

import numpy as np
import pytest
from evenfall.hydraulics.system import system_of, working_point
from evenfall.pattern import overlap, shapes
from evenfall.planning.families import family_range, profiles, wetted_share
from evenfall.planning.ground import evenly_spaced
from evenfall.planning.lines import line_plan, lines_for_evenness, lines_that_wet
from evenfall.record.file import parse_record
from evenfall.record.site import site_of

from .records import BARE, HEADS, SUPPLY, TWO, equal, line, read, site


def test_lines_that_wet_every_place_by_hand():
    # Circles of radius 2.5 m, 3 m apart: two neighbours meet at sqrt(2.5^2 - 1.5^2) = 2 m beside the line, so that a
    # line wets a strip of 4 m: 8 m take two lines, a hand more takes three.
    assert lines_that_wet(8.0, 5.0, 3.0) == 2
    assert lines_that_wet(8.01, 5.0, 3.0) == 3
    # Heads close together: the trade's rule, width / wetted diameter rounded up (9.1 m house, 4.9 m heads: two).
    assert lines_that_wet(9.1, 4.9, 0.9) == math.ceil(9.1 / 4.9) == 2
    assert lines_that_wet(6.0, 5.0, 5.0) is None  # circles that only touch leave ground dry


@pytest.mark.parametrize("width", [5.3, 8.0, 11.9])
@pytest.mark.parametrize("diameter, spacing", [(5.0, 3.0), (4.6, 0.9), (3.1, 2.9)])
def test_that_many_lines_wet_the_ground_and_one_less_does_not(width, diameter, spacing):
    count = lines_that_wet(width, diameter, spacing)
    place = overlap.floor_grid(width, 2 * spacing, 0.03)  # between the heads of long lines
    place = place[(place[:, 1] > 0.5 * spacing)]
    along = np.arange(-3, 8) * spacing

    def share(lines):
        x = (np.arange(lines) + 0.5) * width / lines
        heads = np.column_stack([np.repeat(x, len(along)), np.tile(along, lines)])
        return wetted_share(heads, diameter / 2, equal(place))

    assert share(count) == 1.0
    assert count == 1 or share(count - 1) < 1.0


def test_lines_for_evenness():
    # 0.6 of 4.9 m is 2.94 m: 9.1 m take four lines; 8.82 m just three.
    assert lines_for_evenness(9.1, 4.9) == 4
    assert lines_for_evenness(8.82, 4.9) == 3


def test_two_lines_in_a_wide_house_are_said_with_their_figure():
    plan = line_plan(site(HEADS))
    assert (plan.wetting, plan.even) == (2, 4)
    options = {len(option.x): option for option in plan.options}
    assert options[2].marks == ("wets every place",) and options[4].marks == ("evenness",)
    assert options[2].du_low_quarter.value < options[3].du_low_quarter.value - 10
    assert any("common practice" in text for text in plan.heads.assumed)


def test_the_range_over_families_is_that_of_their_members():
    heads = np.column_stack([np.repeat([2.0, 5.0], 12), np.tile(evenly_spaced(12.0, 1.0), 2)])
    ground = overlap.floor_grid(7.0, 12.0, 0.4)
    found = family_range(heads, np.ones(24), 2.4, equal(ground))
    assert set(found.by_family) == set(shapes.KINDS) == set(profiles())
    assert found.low == min(found.by_family.values()) <= found.value <= max(found.by_family.values()) == found.high
    table = np.linspace(0, 2.4, 161)
    cone = [overlap.low_quarter(overlap.rates_at(ground, heads, np.ones(24), table, member))
            for member in profiles()["cone"]]
    assert found.by_family["cone"] == pytest.approx(np.median(cone))


def test_cones_close_together_come_to_the_closed_form(monkeypatch):
    # A cone summed along a line, in units of its peak and reach: a - y^2 asinh(a / y), a = sqrt(1 - y^2).
    def along(y):
        y = np.clip(np.abs(y), 1e-9, 1.0)
        a = np.sqrt(1.0 - y ** 2)
        return a - y ** 2 * np.arcsinh(a / y)

    x = (np.arange(400) + 0.5) * 9.1 / 400
    strip = along((x - 2.275) / 2.45) + along((x - 6.825) / 2.45)
    place = np.arange(-60, 61) * 0.1
    heads = np.column_stack([np.repeat([2.275, 6.825], len(place)), np.tile(place, 2)])
    monkeypatch.setattr("evenfall.planning.families.profiles", lambda: {"cone": np.array([1 - np.linspace(0, 1, 161)])})
    found = family_range(heads, np.ones(len(heads)), 2.45, equal(np.column_stack([x, np.full(400, 0.03)])))
    assert found.value == pytest.approx(overlap.low_quarter(strip), abs=0.1)


def test_a_line_that_wets_nothing_has_no_evenness():
    assert family_range(np.array([[50.0, 50.0]]), np.ones(1), 1.0, equal(np.zeros((9, 2)))).value == 0.0


def test_the_record_s_own_lines_come_from_the_working_point():
    record = read(TWO + SUPPLY)
    water = line_plan(site_of(record)).today.water
    full = parse_record(TWO + SUPPLY + '[cans]\nreads = "volume"\nunit = "mL"\nopening = "84 mm"\nacross = ["1 m", '
                        '"2 m"]\nalong = ["1 m", "2 m"]\ngrid = [[1, 2], [3, 4]]\n[run]\nduration = "30 min"\n'
                        'lines = "together"\n')
    point = working_point(system_of(site_of(full)))
    assert water.how == "pressures" and water.runs == "together"
    assert water.total == pytest.approx(point.total)
    assert [gauge.kpa for gauge in water.last] == pytest.approx([point.pressure[31], point.pressure[63]])
    assert [gauge.head for gauge in water.last] == [32, 32]
    assert all(gauge.low <= gauge.kpa <= gauge.high for gauge in (*water.last, *water.chain))
    assert [gauge.at for gauge in water.chain] == ["supply", "filter inlet", "filter outlet", "regulator inlet",
                                                   "regulator outlet"]


def test_the_last_head_is_the_one_farthest_from_the_water():
    far = (HEADS + line("left", "2 m") + SUPPLY).replace('fed_from = "near"', 'fed_from = "far"')
    water = line_plan(site(far)).today.water
    assert (water.first[0].head, water.last[0].head) == (32, 1)
    nominal = line_plan(site(far.replace('pipe = "26.6 mm"\n', ""))).today.water
    assert nominal.how == "nominal" and (nominal.first[0].head, nominal.last[0].head) == (32, 1)
    assert nominal.total == pytest.approx(32 * 40.0) and nominal.runs is None and nominal.last[0].kpa is None


def test_a_weak_supply_runs_lines_only_in_turn_and_a_weaker_one_not_even_so():
    weak = SUPPLY.replace('time = "24 s"', 'time = "58 s"')
    plan = line_plan(site(TWO + weak), "US")
    assert plan.today.water.runs == "in turn"
    assert "With all lines together, the lowest head would be left with" in plan.today.water.why[0]
    assert " psi " in plan.today.water.why[0]
    alone = working_points_of(TWO + weak)
    assert sum(plan.today.water.flows.values()) == pytest.approx(alone, rel=1e-6)
    assert line_plan(site(TWO + SUPPLY.replace('time = "24 s"', 'time = "5 min"'))).today.water.runs == "neither"


def working_points_of(text):
    full = parse_record(text + '[cans]\nreads = "volume"\nunit = "mL"\nopening = "84 mm"\nacross = ["1 m", "2 m"]\n'
                        'along = ["1 m", "2 m"]\ngrid = [[1, 2], [3, 4]]\n[run]\nduration = "30 min"\n'
                        'lines = "in turn"\n')
    return sum(stage.flow for stage in working_point(system_of(site_of(full))).stages)


def test_what_is_not_known_is_said():
    plan = line_plan(site(BARE))
    assert plan.today is None and plan.heads.flow is None
    assert {"heads.wetted_diameter", "heads.flow", "lines"} <= set(plan.heads.needs)
    assert all(option.water.total is None and option.water.runs is None for option in plan.options)
    assert all("from memory" in text or "no source" in text for text in plan.heads.assumed)


def test_ground_beyond_every_head_is_counted():
    short = read(HEADS + line("left", "2.275 m", count=20) + line("right", "6.825 m", count=20))
    today = line_plan(site_of(short)).today
    # Heads end 0.5 + 19 x 0.9 = 17.6 m along; 29 - 17.6 - 2.45 m of the far end are out of reach, and a little more.
    assert 1 - today.wetted == pytest.approx((29 - 17.6 - 2.45) / 29, abs=0.05)


def test_a_very_wide_floor_stays_short():
    wide = read(HEADS.replace('width = "9.1 m"', 'width = "100 m"'))
    plan = line_plan(site_of(wide))
    assert plan.wetting == math.ceil(100 / math.sqrt(4.9 ** 2 - plan.heads.spacing ** 2))
    assert len(plan.options) <= 6


def test_a_floor_for_more_heads_than_a_zone_may_have_is_refused():
    with pytest.raises(ValueError, match="received a floor that takes 35 lines of 444 heads, expected at most 3000"):
        line_plan(site(BARE.replace('"9.1 m"', '"100 m"').replace('"29 m"', '"400 m"')))


def test_unlike_heads_and_unbelievable_ones_are_said():
    sizes = [f'flow = "40 L/h"\nat = "200 kPa"\nwetted_diameter = "{size} m"\n' for size in (4, 5)]
    plan = line_plan(site(BARE + line("a", "2 m", more=sizes[0]) + line("b", "7 m", more=sizes[1])))
    assert plan.heads.diameter == 4.5 and "their mean is taken" in plan.heads.assumed[0]
    odd = line_plan(site(HEADS.replace('"4.9 m"', '"4.9 cm"')))
    assert odd.heads.diameter == 4.8 and "heads.wetted_diameter: received 4.9 cm, usual is" in odd.heads.assumed[0]
