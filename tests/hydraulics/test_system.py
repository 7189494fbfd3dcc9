"""From a record to its working point: samples against their gauges, what is missing, what is hard to believe."""

import re

import numpy as np
import pytest
from evenfall.hydraulics.system import (
    KPA,
    Closed,
    gauge_readings,
    system_of,
    working_point,
    working_points,
    working_range,
)
from evenfall.record.file import parse_record
from evenfall.record.samples import SHOWS, sample_text
from evenfall.record.site import site_of
from evenfall.units.quantity import parse

from .texts import HEADS, LINE, SUPPLY, record_of, site_with

FULL_SCALES = (100.0, 160.0, 250.0, 400.0, 600.0)  # usual gauges [kPa], from memory


@pytest.mark.parametrize("name", [name for name in SHOWS if name != "bare"])
def test_samples_against_their_own_gauges(name):
    record = parse_record(sample_text(name), f"{name}.toml")
    system = system_of(site_of(record))
    point = working_point(system)
    readings = gauge_readings(site_of(record), system, point)
    assert len(readings) == len(record.pressures) > 0
    for item, modelled in zip(record.pressures, readings, strict=True):
        read = item.value.si / 1000
        scale = next(full for full in FULL_SCALES if full >= read)
        assert modelled == pytest.approx(read, abs=min(5.0, max(0.03 * scale, 3.5))), item.at
    for item in record.head_flows or []:
        head = [k for k in range(len(system.place)) if system.names[system.line_of[k]] == item.line][item.head - 1]
        assert point.flow[head] == pytest.approx(item.volume.si / item.time.si * 3.6e6, rel=0.05)
    assert {stage.regulator for stage in point.stages} == {"starved" if "starved" in name else "holds"}


def test_bare_says_what_it_lacks():
    with pytest.raises(Closed, match="does not say lines") as fault:
        system_of(site_of(parse_record(sample_text("bare"))))
    assert fault.value.needs == ("lines",)


def test_missing_keys_are_named():
    record = record_of(heads='[heads]\nflow = "50 L/h"\n', line=LINE.replace('pipe = "20.9 mm"\n', ""))
    with pytest.raises(Closed) as fault:
        system_of(site_of(record))
    assert fault.value.needs == ("heads.at", "lines[1].pipe", "lines[2].pipe")


def test_without_a_supply_the_nominal_pressure_stands_at_the_lines():
    system = system_of(site_with(supply=""))
    point = working_point(system)
    assert point.stages[0].entries["left"] == pytest.approx(200.0)
    assert point.stages[0].regulator == "none" and "supply" in point.needs
    assert "The pressure where each line begins is taken as the heads' nominal one." in point.warnings
    held = working_point(system, held_kpa=150.0)
    assert held.stages[0].entries["left"] == pytest.approx(150.0) and held.total < point.total
    assert not any("nominal" in text for text in held.warnings)


@pytest.mark.parametrize("parts, says", [
    ({"heads": HEADS.replace("0.5\n", "5.0\n")}, "heads.exponent: received 5.0"),
    ({"line": LINE.replace("20.9 mm", "2 m")}, r"lines\[1\].pipe: received 2 m"),
    ({"heads": HEADS + 'opens_at = "60 kPa"\ncloses_at = "90 kPa"\n'}, "heads.closes_at: received 90 kPa")])
def test_what_is_hard_to_believe_closes_the_pressures(parts, says):
    with pytest.raises(Closed, match=f"The pressures were left out. {says}"):
        system_of(site_with(**parts))


@pytest.mark.parametrize("change, says", [
    (('time = "20 s"', 'time = "0 s"'), r"supply.flowing\[1\].time: received 0 s"),
    (('inside = "25 mm"', 'inside = "2 m"'), "supply.hose.inside: received 2 m"),
    (('"330 kPa"', '"450 kPa"'), "higher pressure while a bucket was filled"),
    (('static = "400 kPa"\n', ""), "its pressure with nothing running is not known")])
def test_what_is_hard_to_believe_in_the_supply_closes_only_that(change, says):
    system = system_of(site_with(supply=SUPPLY.replace(*change)))
    assert not system.fed and any(re.search(says, note) for note in system.notes)
    assert working_point(system).stages[0].entries["right"] == pytest.approx(200.0)


def test_a_set_pressure_above_the_static_one_is_starved():
    point = working_point(system_of(site_with(supply=SUPPLY.replace('set = "200', 'set = "500'))))
    assert point.stages[0].regulator == "starved"


def test_together_in_turn_and_alone():
    system = system_of(site_with(supply=SUPPLY.replace("25 mm", "16 mm"), run="in turn"))
    turn, both, one = (working_point(system, lines) for lines in (None, "together", "left"))
    assert [stage.lines for stage in turn.stages] == [("left",), ("right",)]
    assert turn.total < both.total < 2 * turn.total  # a second line starves the regulator
    assert turn.stages[0].regulator == "holds" and both.stages[0].regulator == "starved"
    np.testing.assert_allclose(one.flow[:30], turn.flow[:30], rtol=1e-6)
    assert np.isnan(one.flow[30:]).all()
    with pytest.raises(ValueError, match="lines 'middle', expected together, in turn or one of left, right"):
        working_point(system, "middle")


def test_mass_balances():
    for fed in ("near", "far", "middle"):
        point = working_point(system_of(site_with(line=LINE.replace("near", fed))))
        assert np.nansum(point.flow) == pytest.approx(point.total, rel=1e-9)


def test_fed_from_the_middle_is_the_more_even():
    spread = {fed: working_point(system_of(site_with(line=LINE.replace("near", fed).replace("20.9", "13")))).stages[
        0].flow_spread for fed in ("near", "far", "middle")}
    assert spread["middle"] < 0.5 * min(spread["near"], spread["far"])


def test_far_is_near_turned_around():
    near = working_point(system_of(site_with(line=LINE.replace('"0.6 m"', '"1.125 m"'))))
    far = working_point(system_of(site_with(line=LINE.replace('"0.6 m"', '"1.125 m"').replace("near", "far"))))
    np.testing.assert_allclose(near.flow[:30], far.flow[:30][::-1], rtol=1e-6)


def test_many_candidates_equal_one_by_one():
    changes = [{}, {"lines": ("a", "b", "c")}, {"line": LINE.replace("near", "middle")}, {"supply": ""},
               {"line": LINE.replace("20.9", "9")}, {"supply": SUPPLY.replace("25 mm", "16 mm")},
               {"heads": HEADS + 'opens_at = "150 kPa"\ncloses_at = "60 kPa"\n', "line": LINE.replace("20.9", "13")},
               {"heads": HEADS + "regulated = true\n"}]
    systems = [system_of(site_with(**change)) for change in changes]
    for lines in ("together", "in turn"):
        for system, many in zip(systems, working_points(systems, lines), strict=True):
            one = working_point(system, lines)
            np.testing.assert_allclose(many.pressure, one.pressure, atol=1e-5)
            np.testing.assert_allclose(many.flow, one.flow, rtol=1e-5, atol=1e-3)
            assert many.warnings == one.warnings
    assert working_points([]) == []


def test_anti_drip_heads_that_stay_shut():
    heads = HEADS + 'opens_at = "190 kPa"\ncloses_at = "60 kPa"\n'
    point = working_point(system_of(site_with(heads=heads)))
    assert point.total == 0 and any("60 of 60 heads do not open" in text for text in point.warnings)
    assert point.pressure[0] == pytest.approx(200.0 - 1.6 * KPA)


def test_the_error_of_the_bucket_is_carried():
    system = system_of(site_with(supply=SUPPLY.replace("25 mm", "16 mm")))
    ends = working_range(system)
    assert ends.low.total < ends.middle.total < ends.high.total
    assert system.flow_error == pytest.approx(0.05)
    longer = SUPPLY.replace("20 L", "200 L").replace('"20 s"', '"200 s"').replace("25 mm", "16 mm")
    firm = working_range(system_of(site_with(supply=longer)))
    assert firm.high.total - firm.low.total < 0.2 * (ends.high.total - ends.low.total)


def test_other_supplies_have_their_own_working_points():
    more = SUPPLY.replace("[supply]", '[[other_supplies]]\nname = "lower field"').replace("400 kPa", "260 kPa").replace(
        "330 kPa", "200 kPa")
    record = record_of(more=more)
    own, other = (working_point(system_of(site_of(record), supply=name)) for name in (None, "lower field"))
    assert own.stages[0].regulator == "holds" and other.stages[0].regulator == "starved"
    with pytest.raises(ValueError, match="received the supply 'upper', expected one of lower field"):
        system_of(site_of(record), supply="upper")


def test_outputs_of_heads():
    record = record_of()
    output = np.ones(60)
    output[7] = 0.0
    point = working_point(system_of(site_of(record), output=output))
    assert point.flow[7] == 0 and point.flow[6] > 40
    with pytest.raises(ValueError, match="expected 60 numbers of 0 or more"):
        system_of(site_of(record), output=[1.0])


def test_a_held_pressure_replaces_the_supply():
    system = system_of(site_with())
    point = working_point(system, held_kpa=120.0)
    assert point.stages[0].pressures == {"tee": pytest.approx(120.0)}
    assert point.total == pytest.approx(working_point(system).total * np.sqrt(104.3 / 184.3), rel=0.01)
    with pytest.raises(ValueError, match="received a held pressure of -1 kPa"):
        working_point(system, held_kpa=-1.0)


def test_pressure_falls_with_height_of_the_line():
    low, high = (working_point(system_of(site_with(line=LINE + rise)))
                 for rise in ("", 'rise = "2 m"\n'))
    assert high.pressure[29] - low.pressure[29] == pytest.approx(-2 * KPA * 22.35 / 24, abs=0.6)


def test_systems_of_two_laws_are_solved_apart():
    record = record_of()
    with pytest.raises(ValueError, match="2 friction laws"):
        working_points([system_of(site_of(record)), system_of(site_of(record), friction="colebrook")])


def test_warmer_water_rubs_less():
    record = record_of(line=LINE.replace("20.9", "13"))
    totals = []
    for degrees in ("5 C", "35 C"):
        run = record.run.model_copy(update={"water": parse(degrees, "temperature")})
        site = site_of(record.model_copy(update={"run": run}))
        totals.append(working_point(system_of(site, friction="colebrook")).total)
    assert totals[1] > 1.01 * totals[0]


TANK = SUPPLY.replace('kind = "mains"\nstatic = "400 kPa"',
                      'kind = "pump with tank"\ncut_in = "207 kPa"\ncut_out = "345 kPa"')


def test_a_tank_is_worked_out_where_its_pump_cuts_in():
    """A regulator of 241 kPa (35 psi) is not held by a pump that cuts in at 207 kPa (30 psi)."""
    site = site_with(supply=TANK.replace('set = "200', 'set = "241').replace("25 mm", "40 mm"))
    system = system_of(site)
    ends = working_range(system)
    assert ends.middle.stages[0].regulator == "starved" and ends.high.stages[0].regulator == "holds"
    assert ends.middle.stages[0].pressures["supply"] == pytest.approx(207, abs=0.1)
    assert ends.high.stages[0].pressures["supply"] == pytest.approx(345, abs=0.1)  # the bucket was filled at 330
    assert ends.middle.stages[0].pressures["regulator outlet"] < 207 - 34
    assert any("swing between 207 and 345 kPa" in note and "where it cuts in" in note for note in system.notes)


def test_a_bucket_under_the_cut_in_says_that_the_pump_gives_less():
    weak = system_of(site_with(supply=TANK.replace('pressure = "330', 'pressure = "150')))
    assert weak.chain.fall[0] > 0
    assert system_of(site_with(supply=TANK)).chain.fall[0] == pytest.approx(0.0, abs=1e-12)


def test_a_tank_that_cuts_in_above_where_it_cuts_out_is_not_known():
    odd = system_of(site_with(supply=TANK.replace("207", "380")))
    assert not odd.fed and any("The supply was left out" in note for note in odd.notes)
