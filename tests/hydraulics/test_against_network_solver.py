"""Whole systems against an independent network solver, live: flows within 0.3 %, pressures within 0.05 m."""

from dataclasses import replace

import numpy as np
import pytest
from evenfall.hydraulics.friction import Law
from evenfall.hydraulics.system import KPA, system_of, working_point

from .network_solver import Network
from .texts import HEADS, LINE, SUPPLY, site_with

VISCOSITY = 1.0219e-6  # the solver's own [m2/s]

# A pump that cuts in above and below what the regulator needs: 200 kPa and its margin.
TANK = SUPPLY.replace('kind = "mains"', 'kind = "pump with tank"\ncut_in = "290 kPa"\ncut_out = "420 kPa"').replace(
    'static = "400 kPa"\n', "").replace("25 mm", "32 mm")

# name: (changes of the texts, lines that run, friction)
CASES = {
    "two lines": ({}, "together"),
    "one of two": ({}, "left"),
    "three lines": ({"lines": ("a", "b", "c"), "supply": SUPPLY.replace("25 mm", "32 mm")}, "together"),
    "one line": ({"lines": ("a",)}, "together"),
    "far": ({"line": LINE.replace('"near"', '"far"')}, "together"),
    "middle": ({"line": LINE.replace('"near"', '"middle"')}, "together"),
    "middle and thin": ({"line": LINE.replace('"near"', '"middle"').replace("20.9", "12")}, "together"),
    "uphill": ({"line": LINE + 'rise = "2 m"\n'}, "together"),
    "downhill": ({"line": LINE + 'rise = "-2 m"\n'}, "together"),
    "far and uphill": ({"line": LINE.replace('"near"', '"far"') + 'rise = "3 m"\n'}, "together"),
    "middle and uphill": ({"line": LINE.replace('"near"', '"middle"') + 'rise = "4 m"\n'}, "together"),
    "thin": ({"line": LINE.replace("20.9", "13.5")}, "together"),
    "very thin": ({"line": LINE.replace("20.9", "8")}, "together"),
    "starved": ({"supply": SUPPLY.replace("25 mm", "16 mm")}, "together"),
    "starved, one of two": ({"supply": SUPPLY.replace("25 mm", "11 mm")}, "right"),
    "starved, three lines": ({"lines": ("a", "b", "c"), "supply": SUPPLY.replace("25 mm", "19 mm")}, "together"),
    "starved by the source": ({"supply": SUPPLY.replace('time = "20 s"', 'time = "55 s"')}, "together"),
    "starved, set too high": ({"supply": SUPPLY.replace('set = "200', 'set = "390')}, "together"),
    "a tank at cut-in": ({"supply": TANK}, "together"),
    "a tank at cut-in, one of two": ({"supply": TANK}, "left"),
    "starved, a tank that cuts in low": ({"supply": TANK.replace("290", "205")}, "together"),
    "no regulator": ({"supply": SUPPLY.split("regulator")[0]}, "together"),
    "low and uphill": ({"line": LINE + 'rise = "6 m"\n', "supply": SUPPLY.replace('set = "200', 'set = "60')},
                       "together"),
    "another exponent": ({"heads": HEADS.replace("0.5\n", "0.62\n")}, "together"),
    "measured exponent, starved": ({"heads": HEADS.replace("0.5\n", "0.516\n"),
                                    "supply": SUPPLY.replace("25 mm", "16 mm")}, "together"),
    "heads that hold their flow": ({"heads": HEADS.replace("200 kPa", "120 kPa") + "regulated = true\n"}, "together"),
    "an exponent of nothing": ({"heads": HEADS.replace("200 kPa", "120 kPa").replace("0.5\n", "0\n")}, "together"),
    "heads on the floor": ({"heads": HEADS.replace("2.1 m", "0 m")}, "together"),
    "no coupling, no rise": ({"supply": SUPPLY + "couplings = 0\n", "line": LINE + 'rise = "0 m"\n'}, "together"),
    "many small heads": ({"heads": HEADS.replace("50 L/h", "20 L/h"),
                          "line": LINE.replace("0.75 m", "0.25 m").replace("30", "90")}, "together"),
    "large heads": ({"heads": HEADS.replace("50 L/h", "160 L/h"), "line": LINE.replace("20.9", "26.6"),
                     "supply": SUPPLY.replace("25 mm", "50 mm").replace('time = "20 s"', 'time = "6 s"').replace(
                         "2 m3/h", "9 m3/h")}, "together"),
}


def compare(system, lines):
    point = working_point(system, lines)
    run = [number for number, name in enumerate(system.names) if any(name in stage.lines for stage in point.stages)]
    network = Network(system, run)
    network.solve()
    pressure, flow = network.heads()
    gauges = {name: network.gauge(name) for name in network.gauges}
    network.close()
    on = ~np.isnan(pressure)
    np.testing.assert_array_equal(on, ~np.isnan(point.flow))
    np.testing.assert_allclose(point.flow[on], flow[on], rtol=0.003, atol=0.003 * 0.01 * system.outlets.flow.max())
    np.testing.assert_allclose(point.pressure[on] / KPA, pressure[on], atol=0.05, rtol=0)
    assert point.total == pytest.approx(flow[on].sum(), rel=0.003)
    for name, value in gauges.items():
        assert point.stages[0].pressures[name] / KPA == pytest.approx(value, abs=0.05), name
    return point


@pytest.mark.parametrize("name", CASES)
def test_hazen_williams(name):
    parts, lines = CASES[name]
    point = compare(system_of(site_with(**parts)), lines)
    state = "starved" if "starved" in name else "none" if name == "no regulator" else "holds"
    assert point.stages[0].regulator == state


@pytest.mark.parametrize("name", ["two lines", "middle and uphill", "thin", "very thin", "starved, set too high",
                                  "many small heads"])
def test_darcy_weisbach(name):
    parts, lines = CASES[name]
    system = system_of(site_with(**parts))
    # The fall of the source follows another power there; a source that holds its pressure takes its place.
    chain = replace(system.chain, law=Law("swamee-jain", viscosity=VISCOSITY), fall=np.zeros(1))
    compare(replace(system, chain=chain), lines)


def test_blocked_and_worn_heads():
    system = system_of(site_with())
    output = np.where(np.arange(60) % 7 == 3, 0.0, 1.0)
    output[5], output[41] = 0.4, 1.6
    point = compare(replace(system, output=output), "together")
    assert point.flow[3] == 0 and point.flow[41] > 1.5 * point.flow[40]


def test_a_starved_line_leaves_its_last_heads_dry():
    parts, lines = CASES["low and uphill"]
    point = compare(system_of(site_with(**parts)), lines)
    assert (point.flow[:30] == 0).sum() > 3 and point.flow[0] > 10
    assert any("get no water" in text for text in point.warnings)


@pytest.mark.parametrize("name", ["heads that hold their flow", "an exponent of nothing"])
def test_heads_that_hold_their_flow_all_give_it(name):
    site = site_with(**CASES[name][0])
    assert site.heads.holds_flow.all() and system_of(site).outlets.regulated.all()
    point = compare(system_of(site), "together")
    np.testing.assert_allclose(point.flow, 50.0, rtol=1e-9)
    assert np.ptp(point.pressure) > 5  # [kPa] that the tubes take all the same


def test_a_height_of_nothing_is_a_height():
    """Heads on the floor under a tube that hangs: the water's fall is theirs."""
    low, high = (working_point(system_of(site_with(heads=HEADS.replace("2.1 m", text)))) for text in ("0 m", "2.1 m"))
    assert np.median(low.pressure - high.pressure) == pytest.approx(2.1 * KPA, rel=0.1)
    assert not any("Heights" in text for text in low.warnings)
