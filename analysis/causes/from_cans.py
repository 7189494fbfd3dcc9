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
from .words import ACTS, CHECKS, HALF, LADDER, NAMES, SHORT, SHUT

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
    where, says = _SAYERS[found.kind](found, evidence)
    names = NAMES[found.kind]
    strength = grows(found.gain, GAIN_HALF, GAIN_POWER) * grows(_effect(found, evidence), HALF[found.kind])
    made = Cause(_named(found.kind, names), where, says, strength, CHECKS.get(found.kind, ""),
                 names if len(names) > 1 else (), found.kind, ACTS[found.kind])
    if found.kind == "fall":
        lines = [line_of(evidence, found.member[0])] if found.member[0] else list(evidence.lines)
        made = _fall_explained(made, found.size, lines, evidence)
    rivals = [kind for kind, gain in sorted(found.rivals.items(), key=lambda each: -each[1])
              if gain > found.gain - ALIKE]
    if rivals:
        # Without a gauge or an eye these look the same from the cans: one cause, named together.
        made = replace(made, cause=together(made.cause, *(SHORT[kind] for kind in rivals)),
                       group=(*(made.group or (made.cause,)), *(SHORT[kind] for kind in rivals)))
    return made


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
        own = Cause("", *_suspected(suspect, size, kind, evidence), SUSPECTED * grows(size, HALF[kind]), CHECKS[kind],
                    NAMES[kind], kind, "heads")
        own = replace(own, cause=together(*NAMES[kind]))
        place = next((k for k, one in enumerate(found) if one.kind in _BY_HEADS and near & set(one.member)), None)
        if place is None:
            told.append(own)
        elif found[place].kind == kind:
            other = told[place]
            told[place] = replace(other, where=own.where, says=own.says, strength=max(own.strength, other.strength))
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


def _named(kind, names):
    """The cause in words, from its members."""
    if kind == "line low":
        return "one line gives too little: " + together(*names)
    if kind in ("step",):
        return "less water from one place on: " + together(*names)
    return together(*names)


def _about(size, sd, most=np.inf):
    """A size with its 90 % margin."""
    return f"{100 * min(size, most):.0f} ± {100 * 1.645 * sd:.0f} %"


def _head(found, evidence):
    """A single head."""
    number = found.member[0]
    alike = [evidence.floor.heads[other[0]][1] for other in found.alike
             if evidence.floor.heads[other[0]][0] == evidence.floor.heads[number][0]]
    or_ = f", or head {together(*(str(each) for each in sorted(alike)))} of that line" if alike else ""
    word = "less" if found.kind == "weak head" else "more"
    return evidence.head(number), (f"By the cans around it, {evidence.head(number)}{or_} gives "
                                   f"{_about(found.size, found.sd, 1.0 if word == 'less' else np.inf)} {word} than the "
                                   "heads beside it.")


def _several(found, evidence):
    """Heads beside each other."""
    first, last = found.member[0], found.member[-1]
    line, one, _, y_one = evidence.floor.heads[first]
    _, two, _, y_two = evidence.floor.heads[last]
    (one, y_one), (two, y_two) = sorted([(one, y_one), (two, y_two)])
    where = (f"{line_named(line)}, heads {one} to {two} "
             f"({evidence.show(y_one, 'place')} to {evidence.show(y_two, 'place')} from the inlet end)")
    words = {"two kinds": f"these heads give {_about(found.size, found.sd)} more than the others of the line",
             "end heads": f"the last {len(found.member)} heads give {_about(found.size, found.sd)} less than the "
                          "others of the line"}
    return where, f"By the cans, {words[found.kind]}."


def _step(found, evidence):
    """Less water from one place on."""
    line, one, _, y_one = evidence.floor.heads[found.member[0]]
    _, two, _, y_two = evidence.floor.heads[found.member[1]]
    (one, y_one), (two, y_two) = sorted([(one, y_one), (two, y_two)])
    near, far = evidence.show(y_one, "place"), evidence.show(y_two, "place")
    return (f"{line_named(line)}, between heads {one} and {two} ({near} to {far} from the inlet end)",
            f"From there on the heads of {line_named(line)} give {_about(found.size, found.sd)} less than before it.")


def _line(found, evidence):
    """A line that is low as a whole."""
    line = line_of(evidence, found.member[0])
    says = (f"The {len(line.heads)} heads of {line_named(line.name)} give {_about(found.size, found.sd)} less than "
            f"those of the other line{'s' if len(evidence.lines) > 2 else ''}.")
    if line.modelled_level is not None:
        says += (f" Friction and height explain {percent(max(1 - line.modelled_level, 0.0))}.")
    return f"{line_named(line.name)}, all of it", says


def _fall(found, evidence):
    """Less and less along a line."""
    name, shape = found.member
    lines = [line_of(evidence, name)] if name else list(evidence.lines)
    who = line_named(name) if name else ("every line" if len(lines) > 1 else line_named(lines[0].name))
    ends = [line.heads[line.along.argmax()] for line in lines]
    return (f"{who}, towards {_end_of(evidence, int(ends[0])) if name or len(lines) == 1 else 'the last heads'}",
            f"Along {who} the heads give less and less, at the end {_about(found.size, found.sd)} less than where the "
            "water comes in.")


def _end_of(evidence, number):
    """How far a head hangs from the inlet end."""
    return evidence.head(number).split(", ", 1)[1]


def _wall(found, evidence):
    """More water beside a wall."""
    wall = found.member[0]
    where = f"the {wall} wall" if "end" in wall else f"the {wall} edge"
    mean = float(evidence.at_cans.mean)
    return (f"{where}, along the wall",
            f"Cans at {where} caught {evidence.show(found.size * mean, 'depth', 'mm')} more than the heads explain "
            f"({percent(found.size)} of the mean), and it dies away within a step of the wall.")


def _drift(found, evidence):
    """The pattern moved by air."""
    turn = found.member[0]
    return _shift_words(found.size * np.array([np.cos(turn), np.sin(turn)]), evidence)


def _shift_words(shift, evidence):
    """Where a moved pattern lies."""
    across, along = shift
    parts = []
    if abs(across) > 0.4 * abs(along):
        parts.append(f"{evidence.show(abs(across), 'height')} to the {'right' if across > 0 else 'left'}")
    if abs(along) > 0.4 * abs(across):
        parts.append(f"{evidence.show(abs(along), 'height')} towards the {'far end' if along > 0 else 'inlet end'}")
    return ("the whole floor", f"The whole pattern lies {' and '.join(parts)} of where the heads hang.")


def _wedge(found, evidence):
    """A dry piece that is narrower than any pattern."""
    x, y, wide = found.member
    return (f"{evidence.show(x, 'place')} from the left edge, {evidence.show(y, 'place')} from the inlet end",
            f"A piece about {evidence.show(2 * wide, 'height')} wide got {_about(found.size, found.sd)} less than the "
            "heads around it explain, and it is narrower than the pattern of any head.")


def _can(found, evidence):
    """A can that the heads do not explain."""
    number = int(evidence.linear.use[found.member[0]])
    catch = evidence.catch
    mean = catch.depth_mm[number] / max(float(evidence.linear.depth[found.member[0]]), 1e-9)
    expects = float(evidence.linear.usual[found.member[0]]) * mean
    x, y = catch.x[number], catch.y[number]
    return (f"{catch.name(number)} ({evidence.show(x, 'place')} from the left edge, {evidence.show(y, 'place')} from "
            "the inlet end)",
            f"It holds {evidence.show(catch.depth_mm[number], 'depth', 'mm')}; the heads and the other cans say "
            f"{evidence.show(expects, 'depth', 'mm')}.")


_SAYERS = {"weak head": _head, "strong head": _head, "two kinds": _several, "end heads": _several, "step": _step,
           "line low": _line, "fall": _fall, "wet wall": _wall, "drift": _drift, "dry wedge": _wedge,
           "can low": _can, "can high": _can}


def line_of(evidence: Evidence, name: str) -> LineTrend:
    """Find a line by its name.

    Parameters
    ----------
    evidence : Evidence
        With lines.
    name : str
        Of one of them.

    Returns
    -------
    LineSeen
    """
    return next(line for line in evidence.lines if line.name == name)


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
        return replace(made, kind="fall", cause=together(*NAMES["fall"]), check_next="Read a gauge at the first and "
                       "the last head of the line; look at the last heads; open the end plug and flush; measure the "
                       "tube's bore." + SHUT)
    worked = float(np.mean(modelled))
    says = f"{made.says} Friction and height explain {percent(max(worked, 0.0))}."
    if worked < EXPLAINED * size:
        names = ("the last heads clog", "the tube is narrower than the record says", "dirt or a kink in the tube")
        return replace(made, kind="fall not explained", group=names, says=says,
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
        said = Cause("", f"{line_named(line.name)}, towards {_end_of(evidence, int(line.heads[last.item.head - 1]))}",
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
    where, says = _shift_words(shift, evidence)
    # The estimate takes a shift only on strong evidence: its size decides.
    return [Cause(together(*NAMES["drift"]), where, says, 0.95 * grows(size, HALF["drift"]), CHECKS["drift"],
                  NAMES["drift"], "drift", "pattern")]
