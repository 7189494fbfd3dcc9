"""Several kinds of heads on one line: each by its own flow, exponent and height, held against the network solver."""

import numpy as np
import pytest
from evenfall.hydraulics.network import Closed
from evenfall.hydraulics.system import KPA, system_of, working_point

from .test_against_network_solver import compare
from .texts import HEADS, site_with

ENDS = """[[other_heads]]
line = "left"
heads = [1, 2, 29, 30]
flow = "25 L/h"
at = "150 kPa"
"""
CASES = {
    "small heads at the ends": ENDS,
    "two kinds beside the line's own": ENDS + """[[other_heads]]
line = "right"
heads = [3, 9, 15]
flow = "90 L/h"
""",
    "some hang lower": '[[other_heads]]\nline = "left"\nheads = [2, 4, 6, 8]\nheight = "0.9 m"\n',
    "some hold their flow": ENDS + '[[other_heads]]\nline = "right"\nheads = [1, 30]\nat = "120 kPa"\n'
                                   'regulated = true\n',
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("place", ["near", "middle"])
def test_kinds_on_a_line_flow_as_the_network_solver_says(name, place):
    from .texts import LINE

    compare(system_of(site_with(more=CASES[name], line=LINE.replace('"near"', f'"{place}"'))), "together")


def test_each_head_gives_what_its_own_exponent_says():
    site = site_with(more=ENDS + "exponent = 0.7\n")
    point = working_point(system_of(site))
    small = np.isin(np.arange(60), [0, 1, 28, 29])
    np.testing.assert_allclose(point.flow[small], 25 * (point.pressure[small] / 150) ** 0.7, rtol=1e-6)
    np.testing.assert_allclose(point.flow[~small], 50 * (point.pressure[~small] / 200) ** 0.5, rtol=1e-6)


def test_a_lower_head_has_the_pressure_of_its_height():
    plain, lower = (working_point(system_of(site_with(more=more))) for more in (
        "", '[[other_heads]]\nline = "left"\nheads = [30]\nheight = "1.1 m"\n'))
    assert lower.pressure[29] - plain.pressure[29] == pytest.approx(1.0 * KPA, rel=0.02)


def test_only_some_heads_close_below_their_valves_pressure():
    point = working_point(system_of(site_with(
        heads=HEADS, more='[[other_heads]]\nline = "left"\nheads = [30]\nopens_at = "390 kPa"\n'
                          'closes_at = "380 kPa"\n')))
    assert point.flow[29] == 0 and (point.flow[:29] > 30).all()


def test_a_head_that_is_on_no_line_closes_the_pressures():
    with pytest.raises(Closed, match=r"other_heads\[1\].line: received 'north', expected the name of a line"):
        system_of(site_with(more='[[other_heads]]\nline = "north"\nheads = [1]\nflow = "9 L/h"\n'))
