"""Heads that hold their flow: pressure lost along a line is no fall of theirs."""

import numpy as np
import pytest
from evenfall.causes.findings import findings
from evenfall.causes.from_cans import fall_by_gauges, slope_part
from evenfall.record.file import parse_record
from evenfall.record.site import site_of

from .hand import evidence, text

HELD = {"regulated": ("exponent = 0.5", "exponent = 0.5\nregulated = true"), "no exponent": ("exponent = 0.5",
        "exponent = 0"), "by the line": ('fed_from = "near"', 'fed_from = "near"\nexponent = 0.0')}


def gauges(first, last):
    return "".join(f'[[pressures]]\nat = "line"\nline = "left"\nhead = {head}\nvalue = "{kpa} kPa"\n'
                   for head, kpa in ((1, first), (10, last)))


def falls(record):
    return {cause.where: cause for cause in fall_by_gauges(evidence(record, floor=True))}


def test_an_orifice_falls_with_its_pressure():
    [cause] = falls(text(gauges(300, 210))).values()
    assert cause.kind.startswith("fall") and cause.strength > 0.5
    assert "16 % less flow" in cause.says  # 1 - (210 / 300)^0.5


@pytest.mark.parametrize("how", HELD)
def test_a_head_that_holds_its_flow_does_not(how):
    found = falls(text(gauges(300, 210)).replace(*HELD[how]))
    assert all(cause.strength == 0 for cause in found.values())


@pytest.mark.parametrize("how", HELD)
def test_below_its_nominal_pressure_it_falls_too(how):
    [cause] = falls(text(gauges(300, 110)).replace(*HELD[how])).values()
    assert "26 % less flow" in cause.says and cause.strength > 0.5  # 1 - (110 / 200)^0.5, an orifice from 200 kPa down


def test_less_flow_by_hand():
    line = site_of(parse_record(text())).lines[0]
    held = site_of(parse_record(text().replace(*HELD["no exponent"]))).lines[0]
    assert line.less_flow(200e3, 50e3) == pytest.approx(0.5) and held.less_flow(200e3, 50e3) == pytest.approx(0.5)
    assert line.less_flow(800e3, 200e3) == pytest.approx(0.5) and held.less_flow(800e3, 200e3) == 0
    assert line.less_flow(200e3, -1.0) == 1 and line.less_flow(0.0, 100e3) == 0 and held.less_flow(0.0, 100e3) == 0
    assert (line.power, held.power, held.holds_flow, line.holds_flow) == (0.5, 0.5, True, False)


SUPPLY = """[supply]
static = "600 kPa"
height = "0.5 m"
regulator = { set = "350 kPa" }
"""


def test_a_line_that_climbs_takes_nothing_from_heads_that_hold():
    rise = ('fed_from = "near"', 'fed_from = "near"\nrise = "1 m"')
    plain, held = (evidence(record, floor=True) for record in (
        text(supply=SUPPLY).replace(*rise), text(supply=SUPPLY).replace(*rise).replace(*HELD["no exponent"])))
    parts = [slope_part(one, one.lines[0]) for one in (plain, held)]
    pressure = float(plain.water.pressure[0])
    climb = 9.807 * (11.4 - 0.6) / 12
    assert parts[0] == pytest.approx(1 - np.sqrt(1 - climb / pressure)) and parts[1] == 0


@pytest.mark.parametrize("height", ["0 m", "1 m"])
def test_a_height_of_nothing_is_a_height(height):
    """Gauges at known heights contradict each other by less than gauges that may stand a metre apart."""
    def strength(line):
        record = text("".join(f'[[pressures]]\nat = "{at}"\n{line}value = "{kpa} kPa"\n' for at, kpa in (
            ("filter inlet", 300), ("filter outlet", 325))))
        [cause] = [one for one in findings(evidence(record)) if "filter outlet above" in one.cause]
        return cause.strength

    assert strength(f'height = "{height}"\n') > 0.4 > 0.3 > strength("")
