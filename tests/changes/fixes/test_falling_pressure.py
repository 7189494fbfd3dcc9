"""A fall of pressure: the ring of a spray under its working pressure is in the interval, and said."""

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.changes.change import read_changes
from evenfall.changes.fixes.search import try_change
from evenfall.changes.predict import ring_at
from evenfall.hydraulics.system import system_of, working_point
from evenfall.pattern import overlap
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.site import site_of

from .planted import RADIUS_POWER, planted
from .test_planted import YS, supply

PLACES = {"width": 6.0, "length": 20.0, "xs": [1.5, 4.5], "ys": YS, "reach": 2.2}
FALL = 0.7


def test_the_ring_begins_where_pressure_falls_under_the_heads_own():
    usual = np.full(4, 200.0)
    assert ring_at(usual, usual, 200.0) == 0.0
    assert ring_at(1.5 * usual, 1.1 * usual, 200.0) == 0.0  # still over the heads' own
    assert ring_at(0.7 * usual, 0.7 * usual, 200.0) == 0.0  # the test shows that ring already
    assert 0.3 < ring_at(usual, 0.8 * usual, 200.0) < ring_at(usual, 0.7 * usual, 200.0) < 1.0
    assert ring_at(usual, 0.3 * usual, 200.0) == 1.0


def truth(site, ring):
    """DUlq after the fall, where a part of the water goes into a ring."""
    pressure = working_point(system_of(site)).pressure
    heads = np.array([(x, y) for x in PLACES["xs"] for y in PLACES["ys"]])
    s = np.linspace(0.0, 1.0, 120)
    places = overlap.floor_grid(PLACES["width"], PLACES["length"], 0.2)
    rate = np.zeros(len(places))
    for head, kpa in zip(heads, pressure, strict=True):
        wide = s * PLACES["reach"] * (kpa / 200.0) ** RADIUS_POWER
        shapes = (1 - s**2 + 1e-9, np.exp(-0.5 * ((s - 0.8) / 0.12) ** 2))
        parts = [overlap.scaled_to_flow(wide, shape, kpa**0.5) for shape in shapes]
        rate += overlap.profile_at(np.hypot(*(places - head).T), wide, (1 - ring) * parts[0] + ring * parts[1])
    return float(overlap.low_quarter(rate))


@pytest.mark.parametrize("ring", [0.0, 0.3, 0.5])
def test_the_interval_holds_plain_and_ringed_sprays(ring):
    held = 0
    for seed in range(3):
        record = planted(seed=seed, supply=supply(), **PLACES)
        site = site_of(record)
        floor = estimate_floor(site, read_catch(site))
        tried = try_change(site, floor, read_changes([f"pressure={FALL * 200 + 20:.0f} kPa"]))
        lower = site.rebuilt({"supply": record.supply.model_dump(by_alias=True, exclude_none=True) | {
            "regulator": {"set": f"{FALL * 200 + 20:.0f} kPa"}}, "pressures": None, "head_flows": None})
        true = truth(lower, ring)
        found = tried.fix.du_low_quarter
        held += found.low <= true <= found.high
        assert any("the spray may turn to a ring" in text for text in tried.fix.warnings)
        more = try_change(site, floor, read_changes(["pressure=250 kPa"])).fix
        assert not any("ring" in text for text in more.warnings)
    assert held >= 2
