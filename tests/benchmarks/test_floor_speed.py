"""How long the whole floor takes, and how that grows with cans and heads."""

from functools import partial

import numpy as np
from evenfall.changes.fixes.search import find_fixes
from evenfall.pattern import estimate, overlap, simulate
from evenfall.pattern.prior import groups
from evenfall.record.file import parse_record, plain_text
from evenfall.record.model import to_plain
from evenfall.record.site import site_of
from evenfall.result.assessment import assess

from ..machine import slowness
from ..simulated_record import record_of
from .test_speed import best

WIDTH, LENGTH = 7.0, 24.0


def tunnel_of(cans, heads, seed=5):
    """A simulated tunnel with about so many cans, and heads on two lines."""
    places = simulate.lines_of_heads(WIDTH, LENGTH, 2, (LENGTH - 0.8) / (heads / 2 - 1) - 1e-9)
    site = simulate.SimulatedSite(WIDTH, LENGTH, *places)
    return simulate.tunnel_at(np.random.default_rng(seed), site, simulate.can_places(WIDTH, LENGTH, cans, "staggered"),
                              shape="ring", throw=2.2, flow=50.0, weak=[0.0])


def test_assess_with_the_whole_floor():
    tunnel = tunnel_of(72, 60)
    record = record_of(tunnel)
    assert len(tunnel.cans) >= 70 and len(tunnel.heads) == 60
    groups()  # the library of shapes is made once in a process
    result = assess(record)
    assert result.whole_floor.how == "heads" and len(result.heads) == 60
    limit = 3.0 * slowness()
    taken = best(lambda: assess(record), 3)
    print(f"\nassess, {len(tunnel.cans)} cans and 60 heads: {taken:.2f} s, limit here {limit:.2f} s")
    assert taken <= limit


def supplied(tunnel):
    """The tunnel's record with a system whose filter is loaded, and places for more lines."""
    record = record_of(tunnel, supply={
        "kind": "mains", "static": "400 kPa", "height": "0.5 m", "hose": {"length": "15 m", "inside": "25 mm"},
        "flowing": [{"pressure": "330 kPa", "volume": "20 L", "time": "20 s"}],
        "filter": {"clean_loss": "10 kPa", "at": "2 m3/h", "loaded": 3.0},
        "regulator": {"set": "200 kPa", "least_flow": "300 L/h", "most_flow": "5000 L/h"}})
    plain = to_plain(record)
    plain["floor"]["hangs_at"] = [f"{x} m" for x in (1.75, 2.6, 3.5, 4.4, 5.25)]
    plain["heads"] |= {"at": "180 kPa", "exponent": 0.5, "height": "2.1 m"}
    for line in plain["lines"]:
        line |= {"pipe": "20.9 mm", "height": "2.3 m", "fed_from": "near", "feed": "4 m"}
    return parse_record(plain_text(plain))


def test_assess_with_causes_and_fixes():
    """Everything that one test can have: whole floor, causes, and a search for fixes three changes deep."""
    tunnel = tunnel_of(72, 60)
    record = supplied(tunnel)
    groups()
    result = assess(record)
    assert len(tunnel.cans) >= 70 and len(result.heads) == 60
    assert result.fixes and all(fix.flow_l_h is not None for fix in result.fixes)
    slow = slowness()
    taken = best(lambda: assess(record), 3)
    alone = best(lambda: find_fixes(site_of(record), result.floor), 3)
    print(f"\nassess with supply, causes and fixes, {len(tunnel.cans)} cans and 60 heads: {taken:.2f} s "
          f"({taken / slow:.2f} s on the machine the limit is for), of which fixes {alone:.2f} s")
    assert taken <= 8.0 * slow
    assert alone <= 2.0 * slow


def test_cost_grows_no_faster_than_cans_times_heads():
    sizes = [(36, 30), (72, 30), (36, 60), (72, 60), (144, 60), (72, 120), (144, 120)]
    places = overlap.floor_grid(WIDTH, LENGTH, 0.35)
    work, taken = [], []
    for cans, heads in sizes:
        tunnel = tunnel_of(cans, heads)
        work.append(len(tunnel.cans) * len(tunnel.heads))
        taken.append(best(partial(
            estimate.estimate, tunnel.heads, tunnel.line_of, tunnel.cans, tunnel.depth, places,
            can_area_cm2=tunnel.can_area, duration_min=tunnel.minutes, nominal_radius=2.2, nominal_flow_l_h=50.0), 2))
        print(f"\n{len(tunnel.cans)} cans, {len(tunnel.heads)} heads: {taken[-1]:.2f} s", end="")
    power = np.polyfit(np.log(work), np.log(taken), 1)[0]
    print(f"\ncost grows with the power {power:.2f} of cans x heads")
    assert power <= 1.0
    assert taken[-1] / taken[0] <= work[-1] / work[0]
