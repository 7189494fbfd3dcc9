"""Many systems as plain arrays: the same as their working points one by one."""

import numpy as np
import pytest
from evenfall.hydraulics.many import solve_many
from evenfall.hydraulics.system import system_of, working_point

from .texts import HEADS, LINE, SUPPLY, site_with

CHANGES = [
    {}, {"lines": ("a", "b", "c")}, {"line": LINE.replace("near", "middle")}, {"supply": ""}, {"run": "in turn"},
    {"line": LINE.replace("20.9", "9")}, {"supply": SUPPLY.replace("25 mm", "16 mm")},
    {"heads": HEADS + 'opens_at = "150 kPa"\ncloses_at = "60 kPa"\n', "line": LINE.replace("20.9", "13")},
    {"heads": HEADS + "regulated = true\n"}, {"line": LINE.replace("30", "11")},
    {"supply": SUPPLY + 'riser = { length = "2 m", inside = "14 mm" }\n'}]


def test_many_equal_their_working_points():
    systems = [system_of(site_with(**change)) for change in CHANGES]
    found = solve_many(systems * 30)
    assert len(found.pressure) == 30 * len(CHANGES) and found.settled.all()
    for number, system in enumerate(systems * 2):
        point = working_point(system)
        np.testing.assert_allclose(found.pressure[number], point.pressure, atol=1e-5)
        np.testing.assert_allclose(found.flow[number], point.flow, rtol=1e-6, atol=1e-4)
        assert found.total[number] == pytest.approx(point.total, rel=1e-7)
        fast = max(speed for stage in point.stages for name, speed in stage.velocities.items()
                   if name not in ("hose", "manifold"))
        assert found.fastest[number] == pytest.approx(fast, rel=1e-6)


def test_nothing_is_solved_for_nothing():
    assert solve_many([]).pressure == ()
