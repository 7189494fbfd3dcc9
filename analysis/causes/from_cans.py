"""Causes that the cans speak for: heads, lines, air and readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..record.model import Pressure
from ..record.places import line_named
from ..reference.yardsticks import limit
from .cause import Cause, grows, percent, surely, together
from .departures import Departure
from .evidence import Evidence, GaugeReading, LineTrend
from .kinds import KINDS, LADDER, SHUT, end_of, line_of, shift_words

GAIN_HALF, GAIN_POWER = 4.5, 2.0  # log evidence at which a departure is as likely as not to be said; own simulation
SUSPECTED = 0.45  # strength of a head that the estimate suspects and the departures don't; own simulation
ALIKE = 1.0       # log evidence within which two kinds are named together
EXPLAINED = 0.6   # part of a fall that hydraulics must explain for it to be called friction


def from_departure(found: Departure, evidence: Evidence) -> Cause:
    """Say in words what a departure is.

    Parameters
    ----------
    found : Departure
        From `find_departures`.
    evidence : Evidence
        The same.

    Returns
    -------
    Cause
    """
    entry = KINDS[found.kind]
    where, says = entry.sayer(found, evidence)
    strength = grows(found.gain, GAIN_HALF, GAIN_POWER) * grows(_effect(found, evidence), entry.half)
    made = Cause(entry.cause, where, says, strength, entry.check, entry.members if len(entry.members) > 1 else (),
                 found.kind, entry.acts_on, _at_fault(found, evidence))
    if found.kind == "fall":
        lines = [line_of(evidence, found.member[0])] if found.member[0] else list(evidence.lines)
        made = _fall_explained(made, found.size, lines, evidence)
    rivals = [kind for kind, gain in sorted(found.rivals.items(), key=lambda each: -each[1])
              if gain > found.gain - ALIKE]
    if rivals:
        # Without a gauge or an eye these look the same from the cans: one cause, named together.
        made = replace(made, cause=together(made.cause, *(KINDS[kind].short for kind in rivals)),
                       group=(*(made.group or (made.cause,)), *(KINDS[kind].short for kind in rivals)))
    return made


def _at_fault(found, evidence):
    """Heads or lines that mending would set right."""
    if found.kind in ("weak head", "strong head", "two kinds", "end heads"):
        return tuple(evidence.floor.heads[number][:2] for number in sorted(found.member))
    if found.kind == "step":
        return ((evidence.floor.heads[found.member[0]][0], 0),)
    return ((found.member[0], 0),) if found.kind == "line low" else ()


def _effect(found, evidence):
    """Size, for a can in parts of the floor's mean: a wet can on dry ground matters little."""
    own = evidence.linear.usual[found.member[0]] if found.kind in ("can low", "can high") else 1.0
    return found.size * float(own)


def suspects_told(made: list[Cause], found: list[Departure], evidence: Evidence) -> list[Cause]:
    """Bring the heads that the estimate suspects and the departures into one.

    Parameters
    ----------
    made : list of Cause
        One for each departure, in the same order.
    found : list of Departure
        From `find_departures`.
    evidence : Evidence
        The same.

    Returns
    -------
    list of Cause
        A single head is named as the estimate names it, and a suspect that no departure explains gets a weak cause of
        its own.
    """
    told, estimate = list(made), evidence.floor.estimate
    for suspect in estimate.suspects:
        near = {suspect.head, *suspect.alike}
        kind = "weak head" if estimate.output[suspect.head] < 1 else "strong head"
        size = abs(1 - float(estimate.output[suspect.head]))
        entry = KINDS[kind]
        own = Cause(entry.cause, *_suspected(suspect, size, kind, evidence), SUSPECTED * grows(size, entry.half),
                    entry.check, entry.members, kind, entry.acts_on, (evidence.floor.heads[suspect.head][:2],))
        place = next((k for k, one in enumerate(found) if one.kind in _BY_HEADS and near & set(one.member)), None)
        if place is None:
            told.append(own)
        elif found[place].kind == kind:
            other = told[place]
            told[place] = replace(other, where=own.where, says=own.says, mends=own.mends,
                                  strength=max(own.strength, other.strength))
    return told


_BY_HEADS = ("weak head", "strong head", "two kinds", "end heads", "step")


def _suspected(suspect, size, kind, evidence):
    """Where a head hangs that the estimate suspects, and what it says of it."""
    output = evidence.floor.estimate
    low, high = (abs(1 - float(edge[suspect.head])) for edge in (output.output_low, output.output_high))
    low, high = sorted((low, high))
    line = evidence.floor.heads[suspect.head][0]
    alike = sorted(evidence.floor.heads[other][1] for other in suspect.alike if evidence.floor.heads[other][0] == line)
    or_ = f" (or head {together(*(str(number) for number in alike))})" if alike else ""
    word = "less" if kind == "weak head" else "more"
    return evidence.head(suspect.head), (f"By the cans around it, this head{or_} gives {percent(size)} {word} than its "
                                         f"line's trend ({100 * low:.0f} to {100 * high:.0f} %).")



def slope_part(evidence: Evidence, line: LineTrend) -> float:
    """How much less the last head gives because it stands higher.

    Parameters
    ----------
    evidence : Evidence
        With hydraulics.
    line : LineSeen
        The line.

    Returns
    -------
    float [1]
        Below 0 where it stands lower; 0 where height is not known.
    """
    hung = evidence.site.line(line.name)
    if evidence.water is None or not hung.rise:
        return 0.0
    near, far = int(line.along.argmin()), int(line.along.argmax())
    rise = hung.rise * (line.y[far] - line.y[near]) / evidence.site.length
    pressure = max(float(evidence.water.pressure[line.heads[near]]), 1.0)
    return hung.less_flow(pressure * 1e3, (pressure - 9.807 * rise) * 1e3)


def _fall_explained(made: Cause, size: float, lines: list[LineTrend], evidence: Evidence) -> Cause:
    """Name a fall of flow by this part along these lines by what explains it."""
    modelled = [line.modelled_fall for line in lines if line.modelled_fall is not None]
    if not modelled:
        return replace(made, kind="fall", mends=tuple((line.name, 0) for line in lines),
                       cause=KINDS["fall"].cause, check_next="Read a gauge at the first and "
                       "the last head of the line; look at the last heads; open the end plug and flush; measure the "
                       "tube's bore." + SHUT)
    worked = float(np.mean(modelled))
    says = f"{made.says} Friction and height explain {percent(max(worked, 0.0))}."
    if worked < EXPLAINED * size:
        names = ("the last heads clog", "the tube is narrower than the record says", "dirt or a kink in the tube")
        return replace(made, kind="fall not explained", group=names, says=says,
                       mends=tuple((line.name, 0) for line in lines),
                       cause="a fall along the line that friction does not explain: " + together(*names),
                       check_next="Open the end plug and flush until the water is clear; look at the last heads; "
                       "measure the tube's bore; read a gauge at the first and the last head." + SHUT + LADDER)
    raised = float(np.mean([slope_part(evidence, line) for line in lines]))
    if raised > 0.5 * worked:
        return replace(made, kind="slope", cause="the line climbs: its far end loses pressure by its elevation",
                       says=f"{says} Height alone makes {percent(raised)}.",
                       check_next="Measure the height of both ends with a level or a hose full of water; read a gauge "
                       "at the first and the last head.")
    return replace(made, kind="friction", cause="friction along the line: the tube is too thin or too long for so "
                   "many heads", says=says, check_next="Read a gauge at the first and the last head; measure the "
                   "tube's bore; count its heads." + LADDER)


def fall_by_gauges(evidence: Evidence) -> list[Cause]:
    """A fall along a line that gauges at its heads show.

    Parameters
    ----------
    evidence : Evidence
        With gauge readings at two heads of a line.

    Returns
    -------
    list of Cause
    """
    made = []
    for line in evidence.lines:
        read = [one for one in evidence.gauges
                if one.item.at == "line" and one.item.line == line.name and one.item.head
                and one.item.head <= len(line.heads)]
        read.sort(key=lambda one: line.along[one.item.head - 1])
        if len(read) == 1 and line.along[read[0].item.head - 1] > 0.7:
            read = [*_first_by_outlet(evidence, line), *read]
        if len(read) < 2:
            continue
        first, last = read[0], read[-1]
        if first.kpa <= 0:
            continue
        hung = evidence.site.line(line.name)
        fall = hung.less_flow(first.kpa * 1e3, last.kpa * 1e3)
        sd = hung.power * np.hypot(first.sd, last.sd) / first.kpa / np.sqrt(2)  # one gauge for both: part cancels
        strength = surely(fall - 0.5 * limit("flow spread"), sd) * grows(fall, 0.7 * limit("flow spread"))
        said = Cause("", f"{line_named(line.name)}, towards {end_of(evidence, int(line.heads[last.item.head - 1]))}",
                     f"By the gauges {evidence.kpa(first.kpa)} at head {first.item.head} and {evidence.kpa(last.kpa)} "
                     f"at head {last.item.head}: {percent(max(fall, 0))} less flow.",
                     strength, "", (), "fall", "pressure")
        made.append(_fall_explained(said, fall, [line], evidence))
    return made


def _first_by_outlet(evidence, line):
    """The first head's pressure from the regulator's gauge, less what hydraulics says is lost up to it."""
    outlet = evidence.gauge("regulator outlet")
    if outlet is None or outlet.modelled is None or evidence.water is None:
        return []
    first = int(line.along.argmin())
    item = Pressure(at="line", value=outlet.item.value, line=line.name, head=first + 1)
    lost = outlet.modelled - float(evidence.water.pressure[line.heads[first]])
    return [GaugeReading(item, outlet.kpa - lost, None, float(np.hypot(outlet.sd, 0.25 * abs(lost))))]


def shift_of_all(evidence: Evidence) -> list[Cause]:
    """Drift or tilt that the estimate found.

    Parameters
    ----------
    evidence : Evidence
        With heads.

    Returns
    -------
    list of Cause
        Empty where no shift paid.
    """
    shift = evidence.floor.estimate.shift
    size = float(np.hypot(*shift))
    if size == 0.0:
        return []
    where, says = shift_words(shift, evidence)
    # The estimate takes a shift only on strong evidence: its size decides.
    entry = KINDS["drift"]
    return [Cause(entry.cause, where, says, 0.95 * grows(size, entry.half), entry.check, entry.members, entry.kind,
                  entry.acts_on)]
