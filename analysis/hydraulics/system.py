"""The working point of a system: what flows, and the pressure everywhere, when source, chain and heads agree."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..record.ground import Array
from ..record.model import Pressure
from ..record.places import line_named
from ..record.site import Site
from .chain import PASCAL, plain_chain
from .defaults import default
from .friction import velocity
from .network import NOMINAL, Closed, System, system_of
from .packing import Indices, Packed, pack
from .supply import PLACES, state_of
from .tree import Flows
from .valves import fill

__all__ = ["Closed", "Stage", "System", "WorkingPoint", "WorkingRange", "gauge_readings", "system_of",
           "working_point", "working_points", "working_range"]

KPA = PASCAL / 1000  # in a metre of water


@dataclass(frozen=True)
class Stage:
    """Lines that run at the same time, and what feeds them meanwhile.

    Attributes
    ----------
    lines : tuple of str
        Their names.
    flow : float [L/h]
        Of all of them.
    pressures : dict of str to float [kPa]
        At the height of the regulator: supply, filter inlet, filter outlet, regulator inlet, regulator outlet, tee;
        only the tee where the record's supply does not stand behind it.
    entries : dict of str to float [kPa]
        In the tube where the water enters each line.
    regulator : str
        ``holds``, ``droops``, ``starved`` or ``none``.
    velocities : dict of str to float [m/s]
        In the hose, manifold and riser that are there, and where each line begins.
    flow_spread : float [%]
        Largest less smallest over the largest, heads of this stage.
    warnings : tuple of str
        One sentence each.
    """

    lines: tuple[str, ...]
    flow: float
    pressures: dict[str, float]
    entries: dict[str, float]
    regulator: str
    velocities: dict[str, float]
    flow_spread: float
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class WorkingPoint:
    """How a system runs.

    Attributes
    ----------
    stages : tuple of Stage
        One where the lines run together, one a line where they run in turn.
    pressure : array (heads,) [kPa]
        At each head while its line runs, in the record's order; below 0 where the tube would draw air; nan where the
        line was not asked for.
    flow : array (heads,) [L/h]
        Of each head.
    tube : array (heads,) [m]
        Head in the tube beside each head, above the floor at the inlet end wall.
    warnings : tuple of str
        Of the stages, and what was assumed.
    needs : tuple of str
        Keys of the record that would replace what was assumed.
    """

    stages: tuple[Stage, ...]
    pressure: Array
    flow: Array
    tube: Array
    warnings: tuple[str, ...]
    needs: tuple[str, ...]

    @property
    def total(self) -> float:
        """Flow of the stage that draws most [L/h]."""
        return max(stage.flow for stage in self.stages)


@dataclass(frozen=True)
class WorkingRange:
    """A working point, and its ends by the error of the timed buckets and the swing of a pump with a tank.

    Attributes
    ----------
    middle, low, high : WorkingPoint
        At the flows as timed and where the pump cuts in; at flows by their error lower; at flows by it higher and
        where the pump cuts out.
    """

    middle: WorkingPoint
    low: WorkingPoint
    high: WorkingPoint


def working_point(system: System, lines: str | None = None, *, held_kpa: float | None = None) -> WorkingPoint:
    """Where source, chain and heads agree.

    Parameters
    ----------
    system : System
        From `system_of`.
    lines : str, optional
        ``together``, ``in turn`` or the name of one line; as the record says if left out.
    held_kpa : float, optional [kPa]
        A pressure that is held at the regulator's outlet instead of what the supply can do, such as a reading.

    Returns
    -------
    WorkingPoint

    Raises
    ------
    ValueError
        For an unknown line, or where the pressures do not settle.
    """
    return working_points([system], lines, held_kpa=held_kpa)[0]


def working_points(systems: Sequence[System], lines: str | None = None, *,
                   held_kpa: float | None = None) -> list[WorkingPoint]:
    """The working points of many candidates in one solution.

    Parameters
    ----------
    systems : sequence of System
        Candidates with the same friction law; their lines and heads may differ.
    lines : str, optional
        As of `working_point`, for all of them.
    held_kpa : float, optional [kPa]
        As of `working_point`.

    Returns
    -------
    list of WorkingPoint
        In the order of the systems.
    """
    if not len(systems):
        return []
    if held_kpa is not None:
        if not np.isfinite(held_kpa) or held_kpa < 0:
            raise ValueError(f"received a held pressure of {held_kpa:g} kPa, expected 0 or more, correct it")
        systems = [_held(system, held_kpa / KPA) for system in systems]
    stages = [_stages(system, lines) for system in systems]
    jobs = [(system, run) for system, runs in zip(systems, stages, strict=True) for run in runs]
    packed = pack(jobs)
    found = fill(packed.tree, packed.outlets, packed.chain, packed.chain.law)
    totals = found.flow.sum(axis=(1, 2, 3))
    chain = packed.chain.along(totals)[0]
    points, job = [], 0
    for system, runs in zip(systems, stages, strict=True):
        numbers = list(range(job, job + len(runs)))
        points.append(_point(system, runs, numbers, packed, found, totals, chain))
        job += len(runs)
    return points


def working_range(system: System, lines: str | None = None) -> WorkingRange:
    """A working point with what the timed buckets and a pump with a tank leave open.

    Parameters
    ----------
    system : System
        From `system_of`.
    lines : str, optional
        As of `working_point`.

    Returns
    -------
    WorkingRange
    """
    chain, error = system.chain, min(system.flow_error, 0.9)
    ends = [replace(system, chain=replace(chain, fall=chain.fall * (1 + sign * error) ** -chain.power,
                                          static=chain.static + (sign > 0) * system.swing)) for sign in (0, -1, 1)]
    middle, low, high = working_points(ends, lines)
    return WorkingRange(middle, low, high)


def gauge_readings(site: Site, system: System, point: WorkingPoint) -> list[float | None]:
    """What each gauge of a site should read at a working point.

    A gauge of the chain without a height stands at the regulator's, one on a line at its head's (or its tube's, where
    no head is named). Lines in turn: the chain's gauges are taken while the line that draws most runs.

    Parameters
    ----------
    site : Site
        With gauges.
    system : System
        Of that site.
    point : WorkingPoint
        Of that system.

    Returns
    -------
    list of (float or None) [kPa]
        In the record's order; None where the place of a gauge is not known or not modelled.
    """
    return [_gauge(item, system, point) for item in site.gauges]


def _gauge(item: Pressure, system: System, point: WorkingPoint) -> float | None:
    """What one gauge should read."""
    if item.at != "line":
        stage = max(point.stages, key=lambda each: each.flow)
        up = item.height.si - system.chain.height[0] if item.height else 0.0
        return float(stage.pressures[item.at] - up * KPA) if item.at in stage.pressures else None
    if item.line not in system.names:
        return None
    line = system.names.index(item.line)
    heads = np.flatnonzero(system.line_of == line)
    if item.head is None:
        entry = next((stage.entries[item.line] for stage in point.stages if item.line in stage.entries), None)
        up = item.height.si - system.tube[line] if item.height else 0.0
        return None if entry is None else float(entry - up * KPA)
    if item.head > len(heads) or np.isnan(point.tube[heads[item.head - 1]]):
        return None
    head = heads[item.head - 1]
    stands = (item.height.si + system.tilt[line] * system.place[head]) if item.height else system.lift[head]
    return float((point.tube[head] - stands) * KPA)


def _held(system: System, head: float) -> System:
    """The same with a head that is held at the regulator's outlet."""
    chain = system.chain
    if not system.fed:
        raised = max(system.tube + system.tilt * system.enters)
        return replace(system, chain=replace(chain, static=np.array([head + raised])),
                       notes=tuple(note for note in system.notes if note != NOMINAL))
    plain = plain_chain(head, chain.law, float(chain.height[0]))
    tubes = ("manifold", "manifold_bore", "riser", "riser_bore")
    return replace(system, chain=replace(plain, **{name: getattr(chain, name) for name in tubes}), fed=False)


def _stages(system: System, lines: str | None) -> list[list[int]]:
    """Numbers of the lines that run at the same time."""
    wanted = lines or system.run
    every = list(range(len(system.names)))
    if wanted == "together":
        return [every]
    if wanted == "in turn":
        return [[line] for line in every]
    if wanted in system.names:
        return [[system.names.index(wanted)]]
    raise ValueError(f"received the lines '{wanted}', expected together, in turn or one of "
                     f"{', '.join(system.names)}, choose one")


def _point(system: System, runs: list[list[int]], numbers: list[int], packed: Packed, found: Flows, totals: Array,
           chain: dict[str, Array]) -> WorkingPoint:
    """A system's working point from its jobs in a batch."""
    count = len(system.place)
    tube, flow = np.full(count, np.nan), np.full(count, np.nan)
    stages = []
    for run, job in zip(runs, numbers, strict=True):
        heads, spots = packed.heads[job], packed.spots[job]
        tube[heads], flow[heads] = found.head[job].ravel()[spots], found.flow[job].ravel()[spots]
        gauges = {name: float(chain[name][job] * KPA) for name in (PLACES if system.fed else ("tee",))}
        running = _Running(system, run, heads, float(totals[job]), gauges, found.entry[job],
                           (tube[heads] - system.lift[heads]) * KPA, flow[heads])
        stages.append(_stage(running))
    warnings = dict.fromkeys((*system.notes, *(text for stage in stages for text in stage.warnings)))
    return WorkingPoint(tuple(stages), (tube - system.lift) * KPA, flow, tube, tuple(warnings), system.needs)


@dataclass(frozen=True)
class _Running:
    """Lines that run at the same time: numbers of the lines and heads, and what was found for them."""

    system: System
    lines: list[int]
    heads: Indices
    total: float
    gauges: dict[str, float]
    entries: Array
    pressure: Array
    flow: Array

    @property
    def names(self) -> tuple[str, ...]:
        """Of the lines."""
        return tuple(self.system.names[line] for line in self.lines)


def _stage(running: _Running) -> Stage:
    """What feeds lines that run, and what to mind."""
    system, chain, gauges = running.system, running.system.chain, running.gauges
    state = "none"
    if system.fed:
        state = state_of(gauges["regulator outlet"] / KPA, gauges["regulator inlet"] / KPA, float(chain.set[0]),
                         float(chain.margin[0]))
    fast = {name: float(velocity(running.total, getattr(chain, f"{name}_bore")[0]))
            for name in ("hose", "manifold", "riser") if getattr(chain, name)[0] > 0}
    enters = {}
    for row, (line, name) in enumerate(zip(running.lines, running.names, strict=True)):
        enters[name] = float((running.entries[row] - system.tube[line] - system.tilt[line] * system.enters[line]) * KPA)
        fast[line_named(name)] = float(velocity(_drawn(running, line), system.bore[line]))
    output = system.output[running.heads]
    spread = _spread(running.flow[output > 0] / output[output > 0]) if (output > 0).any() else 0.0
    return Stage(running.names, running.total, gauges, enters, state, fast, spread,
                 tuple(_warnings(running, state, fast)))


def _drawn(running: _Running, line: int) -> float:
    """Flow where a line begins [L/h]; without a feed tube each side of the entry has its own stream."""
    system, on = running.system, running.system.line_of[running.heads] == line
    if system.feed[line] != 0:
        return float(running.flow[on].sum())
    far = system.place[running.heads[on]] >= system.enters[line]
    return float(max(running.flow[on][far].sum(), running.flow[on][~far].sum()))


def _spread(values: Array) -> float:
    """Largest less smallest over the largest [%]."""
    return float(100 * (values.max() - values.min()) / values.max()) if values.max() > 0 else 0.0


def _warnings(running: _Running, state: str, fast: dict[str, float]) -> Iterator[str]:
    """What to mind while these lines run, one sentence each."""
    system, names, total = running.system, running.names, running.total
    where = f"With {' and '.join(names)} running" if len(names) <= 3 else f"With {len(names)} lines running"
    if state == "starved":
        yield (f"{where}, the regulator is starved: its inlet has {running.gauges['regulator inlet']:.0f} kPa, and "
               f"{(system.chain.set[0] + system.chain.margin[0]) * KPA:.0f} kPa would let it hold, of which it takes "
               f"{system.chain.margin[0] * KPA:.0f} kPa itself (from memory).")
    if total > system.most_flow:
        yield (f"{where}, {total:.0f} L/h pass the regulator, more than the {system.most_flow:.0f} L/h up to which "
               "it holds.")
    if total < system.least_flow:
        yield (f"{where}, {total:.0f} L/h pass the regulator, less than the {system.least_flow:.0f} L/h from which "
               "it holds.")
    limit = default("largest velocity")
    for name, speed in fast.items():
        if speed > limit and name not in ("hose", "manifold"):
            yield f"{where}, the water runs at {speed:.1f} m/s in the {name}, over {limit:g} m/s."
    still = (running.flow <= 0) & (system.output[running.heads] > 0)
    shut = still & (running.pressure > 0) & (system.outlets.opens[running.heads] > 0)
    if shut.any():
        yield f"{where}, {shut.sum()} of {len(still)} heads do not open."
    if (still & ~shut).any():
        yield f"{where}, {(still & ~shut).sum()} of {len(still)} heads get no water."
