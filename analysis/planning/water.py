"""Flows and pressures of lines that are planned, and whether the supply runs them together."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..hydraulics.defaults import default
from ..hydraulics.system import Closed, System, WorkingPoint, WorkingRange, system_of, working_points, working_range
from ..record.ground import Array
from ..record.site import Site, SiteLine
from ..reference.yardsticks import LEAST_SHARE
from ..units.shown import show

_M3_S, _KPA = 3.6e6, 1e-3


@dataclass(frozen=True)
class Gauge:
    """A place for a gauge, with what it should read.

    Attributes
    ----------
    at : str
        As in the record's ``[[pressures]]``: ``regulator inlet``, ``line`` and so on.
    line : str or None
        Name of the line.
    head : int or None [1]
        Counted from the inlet end wall.
    why : str
        What the reading is for.
    kpa, low, high : float or None [kPa]
        While the lines run as the supply carries them; the range is the error of the timed buckets. None where the
        pressures are not known.
    """

    at: str
    line: str | None
    head: int | None
    why: str
    kpa: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class LineWater:
    """What lines draw, and what their supply can do.

    Attributes
    ----------
    flows : dict of str to float or None [L/h]
        Of each line, as they are run.
    total : float or None [L/h]
        Of all lines together.
    how : str
        ``pressures`` from the working point, or ``nominal`` flow times the number of heads.
    runs : str or None
        ``together``, ``in turn``, ``neither``, or None where the supply is not known.
    why : tuple of str
        Why not together, and what to mind; one sentence each.
    first, last : tuple of Gauge
        At the head of each line that is nearest to where the water enters, and farthest from it.
    chain : tuple of Gauge
        Along the supply.
    output : array (m,) [1]
        Flow of each head / mean flow, line by line; 1 where the pressures are not known.
    assumed : tuple of str
        What the hydraulics took because the record does not say.
    needs : tuple of str
        Keys of the record that would tell.
    """

    flows: dict[str, float | None]
    total: float | None
    how: str
    runs: str | None
    why: tuple[str, ...]
    first: tuple[Gauge, ...]
    last: tuple[Gauge, ...]
    chain: tuple[Gauge, ...]
    output: Array
    assumed: tuple[str, ...]
    needs: tuple[str, ...]


def water_of(site: Site, lines: list[SiteLine], units: str = "metric") -> LineWater:
    """Flows, pressures and the supply's answer for lines.

    Parameters
    ----------
    site : Site
        Its test still to come or not.
    lines : list of SiteLine
        The lines as they are or as they are planned.
    units : str
        ``metric`` or ``US``, for the sentences.

    Returns
    -------
    LineWater
    """
    planned = replace(site, lines=tuple(lines), in_turn=False)
    try:
        system = system_of(planned)
        together, turn = (working_points([system], way)[0] for way in ("together", "in turn"))
        wanted = planned.heads.at * _KPA
        faults = [_not_carried(system, point, wanted, units) for point in (together, turn)]
        runs = None if not system.fed else "together" if not faults[0] else "in turn" if not faults[1] else "neither"
        ends = working_range(system, "in turn" if runs == "in turn" else "together")
    except Closed as closed:
        return _nominal(planned, lines, str(closed), closed.needs)
    except ValueError as fault:
        return _nominal(planned, lines, f"The pressures were left out: {fault}.", ())
    point = ends.middle
    why = list(faults[0] if runs in ("in turn", "neither") else ()) + list(faults[1] if runs == "neither" else ())
    if system.fed:
        why += [*_mind(point, system, units)]
    flow = np.nan_to_num(point.flow)
    counts = range(len(lines))
    return LineWater(
        {line.name: float(flow[system.line_of == number].sum()) for number, line in enumerate(lines)},
        float(np.nan_to_num(together.flow).sum()), "pressures", runs, tuple(why),
        tuple(_at_head(system, ends, number, far=False) for number in counts),
        tuple(_at_head(system, ends, number, far=True) for number in counts), _chain(site, ends),
        flow / flow.mean() if flow.any() else np.ones(len(flow)), system.notes, system.needs)


def _nominal(site: Site, lines: list[SiteLine], says: str, needs: tuple[str, ...]) -> LineWater:
    """Nominal flow times heads, where the pressures cannot be found."""
    each = {line.name: None if line.flow is None else line.flow * _M3_S * len(line.along) for line in lines}
    known = [flow for flow in each.values() if flow is not None]
    ends = [_ends_of(line, site.length) for line in lines]
    return LineWater(each, sum(known) if len(known) == len(each) else None, "nominal", None, (),
                     tuple(Gauge("line", line.name, near, FIRST) for line, (near, _) in zip(lines, ends, strict=True)),
                     tuple(Gauge("line", line.name, far, LAST) for line, (_, far) in zip(lines, ends, strict=True)),
                     _chain(site, None), np.ones(sum(len(line.along) for line in lines)), (says,),
                     tuple(needs))


def _ends_of(line: SiteLine, length: float) -> tuple[int, int]:
    """Numbers of the heads nearest to the water's entry and farthest from it [1]."""
    apart = np.abs(line.along - {"far": length, "middle": length / 2}.get(line.fed_from or "near", 0.0))
    return int(apart.argmin()) + 1, int(apart.argmax()) + 1


def _not_carried(system: System, point: WorkingPoint, wanted: Array, units: str) -> list[str]:
    """Why a way of running does not do: heads that do not open, or too little pressure at the lowest."""
    said = []
    still = int((np.nan_to_num(point.flow) <= 0).sum())
    if still:
        said.append(f"{_way(point, system)}, {still} of {len(point.flow)} heads would not run.")
    share = np.nan_to_num(point.pressure) / wanted
    if not still and share.min() < LEAST_SHARE:
        worst = int(share.argmin())
        has, needs = (show(kpa[worst], "pressure", units, unit="kPa") for kpa in (point.pressure, wanted))
        said.append(f"{_way(point, system)}, the lowest head would be left with {has} where its nominal pressure is "
                    f"{needs}; {100 * LEAST_SHARE:.0f} % of it is taken as the least (from memory).")
    return said


def _mind(point: WorkingPoint, system: System, units: str) -> list[str]:
    """What to mind where the supply does carry it: a starved regulator, its range, fast water."""
    said = []
    if any(stage.regulator == "starved" for stage in point.stages):
        said.append("The regulator's inlet has too little pressure to spare: it does not hold its set pressure.")
    if point.total > system.most_flow:
        said.append(f"{show(point.total, 'flow', units, unit='L/h')} pass the regulator, more than it holds for.")
    if min(stage.flow for stage in point.stages) < system.least_flow:
        said.append("Less water passes the regulator than it needs to hold its set pressure.")
    name, speed = max(((name, speed) for stage in point.stages for name, speed in stage.velocities.items()),
                      key=lambda pair: pair[1])
    if round(speed, 1) > default("largest velocity"):
        where = f"in the {name}" if name in ("hose", "manifold", "riser") else f"where {name} begins"
        said.append(f"Water would run at {show(speed, 'stream', units)} {where}, over the "
                    f"{show(default('largest velocity'), 'stream', units)} of the trade's rule.")
    return said


def _way(point: WorkingPoint, system: System) -> str:
    when = " where the pump cuts in" if system.swing else ""
    if len(system.names) == 1:
        return f"With the line running{when}"
    return f"With all lines together{when}" if len(point.stages) == 1 else f"Even with the lines in turn{when}"


FIRST = "with the last head: what the line itself takes"
LAST = "the lowest pressure of the line"
_CHAIN = {
    "supply": "what the source holds while the lines run",
    "filter inlet": "with the outlet: whether the filter is loaded",
    "filter outlet": "with the inlet: whether the filter is loaded",
    "regulator inlet": "whether the regulator has pressure to spare",
    "regulator outlet": "whether the regulator holds; this counts only while water runs",
}


def _at_head(system: System, ends: WorkingRange, line: int, *, far: bool) -> Gauge:
    on = np.flatnonzero(system.line_of == line)
    apart = np.abs(system.place[on] - system.enters[line])
    at = int(apart.argmax() if far else apart.argmin())
    low, middle, high = (float(point.pressure[on[at]]) for point in (ends.low, ends.middle, ends.high))
    return Gauge("line", system.names[line], at + 1, LAST if far else FIRST, middle, min(low, middle),
                 max(high, middle))


def _chain(site: Site, ends: WorkingRange | None) -> tuple[Gauge, ...]:
    """Gauges of the supply: those whose parts are there, or are not known to be missing."""
    supply = site.supply
    places = [at for at in _CHAIN if supply is None or at == "supply"
              or getattr(supply, at.split()[0]) is not None]
    found = []
    for at in places:
        values: list[float] = []
        for point in (ends.low, ends.middle, ends.high) if ends is not None else ():
            stage = max(point.stages, key=lambda each: each.flow)
            values += [stage.pressures[at]] if at in stage.pressures else []
        found.append(Gauge(at, None, None, _CHAIN[at], *((values[1], min(values), max(values))
                                                         if len(values) == 3 else ())))
    return tuple(found)
