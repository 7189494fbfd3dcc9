"""How long point predictions of candidates take, pressures and pattern together, against plain ones one by one.

The plain one is what a person would write: `scipy.optimize.fsolve` for the flows of all heads, and a sum over the heads
with one numpy call each for the ground. The batch is the one that the search for fixes uses.
"""

from dataclasses import replace

import numpy as np
from evenfall.hydraulics.many import solve_many
from evenfall.hydraulics.system import KPA, system_of
from evenfall.pattern import overlap
from evenfall.pattern.floor import TABLE_STEP
from evenfall.pattern.many import point_figures
from scipy.optimize import fsolve

from ..hydraulics.texts import site_with
from .test_speed import best

WIDTH, LENGTH, REACH, NOMINAL = 7.0, 24.0, 2.4, 200.0  # [m], [m], [m] at [kPa]
RADIUS = np.linspace(0.0, REACH, 25)
RATE = np.maximum(1.0 - RADIUS / REACH, 0.0)
PLACES = overlap.floor_grid(WIDTH, LENGTH, 0.29)
TABLE = np.interp(np.arange(0.0, REACH + 2 * TABLE_STEP, TABLE_STEP), RADIUS, RATE, right=0.0)


def friction(length, bore, constant):
    return 10.667 * length * np.asarray(bore) ** -4.871 * (3.6e6 * constant) ** -1.852


def plain_flows(system):
    """Flow [L/h] and pressure [kPa] of every head, by a solver for any equations."""
    chain, outlets = system.chain, system.outlets
    one = {name: float(getattr(chain, name)[0]) for name in (
        "static", "fall", "power", "hose", "hose_bore", "filter", "loaded", "set", "margin", "height")}
    lines = [np.flatnonzero(system.line_of == line) for line in range(len(system.names))]
    steps = [friction(np.abs(np.diff(system.place[on], prepend=system.enters[line])), system.bore[line],
                      chain.law.constant) for line, on in enumerate(lines)]
    feed = friction(system.feed, system.bore, chain.law.constant)
    hose = friction(one["hose"], one["hose_bore"], chain.law.constant)

    def pressed(flow):
        total = flow.sum()
        before = (one["static"] - one["fall"] * total ** one["power"] - hose * total**1.852
                  - one["loaded"] * one["filter"] * total**2)
        tee = min(one["set"], before - one["margin"]) + one["height"]
        found = np.empty_like(flow)
        for line, on in enumerate(lines):
            through = np.cumsum(flow[on][::-1])[::-1]
            found[on] = tee - feed[line] * through[0] ** 1.852 - np.cumsum(steps[line] * through**1.852)
        return found - system.lift

    def off(flow):
        return flow - outlets.flow * (
            np.maximum(pressed(np.maximum(flow, 0.0)), 0.0) / outlets.head) ** outlets.exponent

    flow = fsolve(off, outlets.flow)
    return flow, pressed(flow) * KPA


def plain(system, heads):
    """CU and DUlq [%] of one candidate."""
    total = np.zeros(len(PLACES))
    for head, flow, pressure in zip(heads, *plain_flows(system), strict=True):
        wider = (pressure / NOMINAL) ** 0.2
        apart = np.hypot(PLACES[:, 0] - head[0], PLACES[:, 1] - head[1])
        total += flow / 50.0 / wider**2 * np.interp(apart / wider, RADIUS, RATE, right=0.0)
    return overlap.christiansen(total), overlap.low_quarter(total)


def in_a_batch(systems, heads):
    """CU and DUlq [%] of many candidates."""
    solved = solve_many(systems)
    wider = [np.maximum(pressure / NOMINAL, 0.05) ** 0.2 for pressure in solved.pressure]
    found = point_figures(PLACES, TABLE, heads, [flow / 50.0 for flow in solved.flow], wider)
    return np.column_stack([found.cu, found.du_low_quarter])


def heads_of(system, xs=(2.0, 5.0)):
    return np.column_stack([np.array(xs)[system.line_of], system.place])


def compared(systems, heads, few=12):
    ours, theirs = in_a_batch(systems, heads), np.array(
        [plain(*one) for one in zip(systems[:few], heads, strict=False)])
    np.testing.assert_allclose(ours[:few], theirs, atol=0.3)  # percent; reaches are rounded to 0.5 %, radii to 1 cm
    slow = best(lambda: [plain(*one) for one in zip(systems[:few], heads, strict=False)], 5) / few
    fast = best(lambda: in_a_batch(systems, heads), 5) / len(systems)
    return slow, fast


def test_candidates_that_share_their_geometry():
    """Other pressures, filters, bores and flows, heads where they are."""
    system, rng = system_of(site_with()), np.random.default_rng(3)
    chain, outlets = system.chain, system.outlets
    systems = [replace(
        system, bore=np.full(2, rng.choice([0.0209, 0.0266, 0.0351])),
        outlets=replace(outlets, flow=outlets.flow * rng.choice([0.6, 0.8, 1.0, 1.2])),
        chain=replace(chain, set=chain.set * rng.uniform(0.7, 1.3), loaded=np.array([rng.uniform(1, 5)])))
        for _ in range(1000)]
    assert len(PLACES) >= 2000 and len(system.place) == 60
    slow, fast = compared(systems, [heads_of(system)] * len(systems))
    print(f"\npoint prediction, 60 heads, {len(PLACES)} places, same geometry: {fast * 1e3:.2f} ms in a batch, "
          f"{slow * 1e3:.1f} ms alone, {slow / fast:.0f} times faster")
    assert slow / fast >= 30


def test_candidates_of_other_geometry():
    """Other places of lines and heads."""
    system, rng = system_of(site_with()), np.random.default_rng(4)
    systems, heads = [], []
    for _ in range(200):
        place = np.tile(rng.uniform(0.2, 0.9) + rng.uniform(0.72, 0.78) * np.arange(30), 2)
        systems.append(replace(system, place=place))
        heads.append(heads_of(systems[-1], (rng.uniform(1.2, 2.4), rng.uniform(4.6, 5.8))))
    slow, fast = compared(systems, heads)
    print(f"\npoint prediction, 60 heads, {len(PLACES)} places, other geometry: {fast * 1e3:.2f} ms in a batch, "
          f"{slow * 1e3:.1f} ms alone, {slow / fast:.1f} times faster")
    assert slow / fast >= 5
