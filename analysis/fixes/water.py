"""Pressures and flows of a system, and whether its supply carries a change."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..hydraulics.network import System
from ..hydraulics.system import KPA, Closed, WorkingPoint, system_of, working_point
from ..predict import Heads, from_the_left
from ..record.model import Record
from ..units_shown import show

LEAST_SHARE = 0.8     # part of the working pressure that the lowest head must keep; from memory
FAST = 1.5            # [m/s] in laterals


@dataclass(frozen=True)
class Water:
    """The working point of a system.

    Attributes
    ----------
    heads : Heads
        Pressure and flow of every head, by the lines from the left.
    flow_l_h : float [L/h]
        What the supply gives at once.
    can_l_h : float [L/h]
        Flow that it can give while the lowest head keeps its working pressure.
    lowest_kpa : float [kPa]
        Pressure at the lowest head.
    wanted_kpa : float [kPa]
        Working pressure that the heads must keep.
    fastest : float [m/s]
        Largest velocity in a line.
    closed : int [1]
        Heads that do not open.
    fed : bool
        Whether the record has a supply.
    """

    heads: Heads
    flow_l_h: float
    can_l_h: float
    lowest_kpa: float
    wanted_kpa: float
    fastest: float
    closed: int
    fed: bool


def water_of(record: Record) -> Water | None:
    """Find the working point of a record's system.

    Parameters
    ----------
    record : Record
        With heads on lines.

    Returns
    -------
    Water or None
        None where the record does not say enough, or where the pressures do not settle.
    """
    try:
        system = system_of(record)
        point = working_point(system)
    except (Closed, ValueError):
        return None
    order, _ = from_the_left(record)
    pressure = np.maximum(np.nan_to_num(point.pressure), 0.0)
    wanted = record.heads.at.si / 1e3 if record.heads and record.heads.at else float(np.median(pressure))
    lowest = float(pressure.min())
    return Water(
        Heads(pressure[order], np.nan_to_num(point.flow)[order]), float(point.total),
        _can(system, point, lowest - LEAST_SHARE * wanted), lowest, wanted,
        max(stage.velocities.get(name, 0.0) for stage in point.stages for name in stage.lines),
        int((np.nan_to_num(point.flow) <= 0).sum()), system.fed)


def _can(system: System, point: WorkingPoint, spare_kpa: float) -> float:
    """Flow at which the tee has lost what the lowest head can spare [L/h]."""
    flow = point.total
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


def carries(before: Water | None, after: Water | None, system: str) -> tuple[bool | None, str | None, list[str]]:
    """Judge whether the supply carries a change.

    Not feasible means only: the supply cannot hold the heads' working pressure, or heads do not open.

    Parameters
    ----------
    before, after : Water or None
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
    warnings = []
    if after.fastest > FAST:
        warnings.append(f"Water runs at {show(after.fastest, 'speed', system)} where a line begins; over "
                        f"{show(FAST, 'speed', system)} it wears and hammers.")
    if not after.fed:
        return None, None, warnings
    if after.closed > before.closed:
        return False, f"{after.closed} heads would not open at the pressure that is left.", warnings
    # A system that already runs under its heads' pressure is not to be made worse.
    least = LEAST_SHARE * min(after.wanted_kpa, before.lowest_kpa)
    if after.lowest_kpa < least:
        return False, (f"the lowest head would be left with {show(after.lowest_kpa * 1e3, 'pressure', system)}; it "
                       f"needs {show(least * 1e3, 'pressure', system)} or more."), warnings
    return True, None, warnings
