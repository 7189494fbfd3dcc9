"""Pressures and flows of systems, and whether their supply carries a change."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ...hydraulics.many import Solved, solve_many
from ...hydraulics.system import KPA, Closed, System, system_of
from ...record.ground import Array
from ...record.site import Site
from ...reference.yardsticks import LEAST_SHARE, limit
from ...units.shown import show
from ..predict import HeadState, from_the_left


@dataclass(frozen=True)
class SystemState:
    """The working point of a system.

    Attributes
    ----------
    heads : HeadState
        Pressure and flow of every head, by the lines from the left.
    nominal : array (m,) [L/h]
        Flow of each head by its data sheet, in the same order.
    flow_l_h : float [L/h]
        What the supply gives at once.
    lowest_kpa : float [kPa]
        Pressure at the head that has least of what it needs.
    wanted_kpa : float [kPa]
        Working pressure of that head.
    fastest : float [m/s]
        Largest velocity in a line or a riser.
    least_l_h : float [L/h]
        Of the lines that run together and draw least.
    closed : int [1]
        Heads that do not open.
    system : System
        What was solved; `System.fed` says whether the record's supply stands behind it.
    """

    heads: HeadState
    nominal: Array
    flow_l_h: float
    lowest_kpa: float
    wanted_kpa: float
    fastest: float
    least_l_h: float
    closed: int
    system: System = field(repr=False)

    @property
    def fed(self) -> bool:
        """Whether the record has a supply."""
        return self.system.fed

    @property
    def can_l_h(self) -> float:
        """Flow that the supply gives while the lowest head keeps its working pressure [L/h]."""
        return _can(self.system, self.flow_l_h, self.lowest_kpa - LEAST_SHARE * self.wanted_kpa)


def states_of(sites: list[Site]) -> list[SystemState | None]:
    """Find the working points of many sites' systems, all at once.

    Parameters
    ----------
    sites : list of Site
        With heads on lines.

    Returns
    -------
    list of (SystemState or None)
        None where a record does not say enough, or where its pressures do not settle.
    """
    systems: dict[int, System] = {}
    for number, site in enumerate(sites):
        try:
            systems[number] = system_of(site)
        except Closed:
            continue
    found: list[SystemState | None] = [None] * len(sites)
    if not systems:
        return found
    solved = solve_many(list(systems.values()))
    for at, (number, system) in enumerate(systems.items()):
        if solved.settled[at]:
            found[number] = _state(sites[number], system, solved, at)
    return found


def _state(site: Site, system: System, solved: Solved, at: int) -> SystemState:
    """One of the systems that were solved."""
    order, _ = from_the_left(site)
    pressure, flow = np.maximum(solved.pressure[at], 0.0), solved.flow[at]
    worst = int(np.argmin(pressure / system.outlets.head))
    return SystemState(HeadState(pressure[order], flow[order]), system.outlets.flow[order], float(solved.total[at]),
                 float(pressure[worst]), float(system.outlets.head[worst] * KPA), float(solved.fastest[at]),
                 float(np.bincount(system.line_of, flow).min() if system.run == "in turn" else solved.total[at]),
                 int((flow <= 0).sum()), system)


def _can(system: System, flow: float, spare_kpa: float) -> float:
    """Flow at which the tee has lost what the lowest head can spare [L/h]."""
    if not system.fed:
        return flow
    tee = float(system.chain.along(np.array([flow]))[0]["tee"][0]) - spare_kpa / KPA
    low, high = 0.0, max(4 * flow, 1.0)
    for _ in range(50):
        middle = 0.5 * (low + high)
        if float(system.chain.along(np.array([middle]))[0]["tee"][0]) >= tee:
            low = middle
        else:
            high = middle
    return low


def carries(before: SystemState | None, after: SystemState | None,
            system: str) -> tuple[bool | None, str | None, list[str]]:
    """Judge whether the supply carries a change.

    Not feasible means only: the supply cannot hold the heads' working pressure, or heads do not open.

    Parameters
    ----------
    before, after : SystemState or None
        Working points before and after.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    feasible : bool or None
        None where the supply is not known.
    why_not : str or None
        Why not.
    warnings : list of str
        What to mind.
    """
    if after is None or before is None:
        return None, None, []
    warnings: list[str] = []
    fast = limit("velocity")
    if after.fastest > fast:
        warnings.append(f"Water runs at {show(after.fastest, 'stream', system)} where a line or its riser begins; over "
                        f"{show(fast, 'stream', system)} it wears and hammers.")
    if not after.fed:
        return None, None, warnings
    warnings += _out_of_range(after, system)
    if after.closed > before.closed:
        return False, f"{after.closed} heads would not open at the pressure that is left.", warnings
    # A system that already runs under its heads' pressure is not to be made worse.
    least = LEAST_SHARE * min(after.wanted_kpa, before.lowest_kpa)
    if after.lowest_kpa < least:
        left, needs = (show(kpa, "pressure", system, unit="kPa") for kpa in (after.lowest_kpa, least))
        when = " where the pump cuts in" if after.system.swing else ""
        return False, f"the lowest head would be left with {left}{when}; it needs {needs} or more.", warnings
    return True, None, warnings


def _out_of_range(water: SystemState, system: str) -> list[str]:
    """Whether more or less water passes the regulator than it holds for."""
    found = []
    for flow, limit_l_h, off, word in ((water.flow_l_h, water.system.most_flow, 1, "more"),
                                       (water.least_l_h, water.system.least_flow, -1, "less")):
        if off * (flow - limit_l_h) > 0:
            passes, holds = (show(l_h, "flow", system, unit="L/h") for l_h in (flow, limit_l_h))
            found.append(f"{passes} pass the regulator, {word} than the {holds} {'up to' if off > 0 else 'from'} which "
                         "it holds.")
    return found
