"""Kinds of causes that the cans speak for: one entry each, with its words and how it is said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..record.places import line_named
from .cause import percent, together
from .evidence import Evidence, LineTrend

if TYPE_CHECKING:
    from .departures import Departure

LADDER = " A second person holds the ladder; keep away from power lines."
SHUT = " Shut the water, vent, and see the gauge at zero before opening anything."


@dataclass(frozen=True)
class CauseKind:
    """One kind of cause.

    Attributes
    ----------
    kind : str
        Its short name, as in the JSON.
    members : tuple of str
        What it may be; the cans cannot tell them apart.
    short : str
        What it is called beside another.
    check : str
        What to look at next; empty where that depends on what explains it.
    half : float [1]
        Size at which the effect is as large as may just be let go.
    acts_on : str
        ``heads``, ``pressure``, ``pattern`` or ``readings``.
    sayer : callable
        From a departure and the evidence to where it is and what the cans say, in words.
    leads : str
        Words before the members.
    """

    kind: str
    members: tuple[str, ...]
    short: str
    check: str
    half: float
    acts_on: str
    sayer: Callable[[Departure, Evidence], tuple[str, str]]
    leads: str = ""

    @property
    def cause(self) -> str:
        """What it may be, in words."""
        return self.leads + together(*self.members)


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
    return (f"{who}, towards {end_of(evidence, int(ends[0])) if name or len(lines) == 1 else 'the last heads'}",
            f"Along {who} the heads give less and less, at the end {_about(found.size, found.sd)} less than where the "
            "water comes in.")


def end_of(evidence: Evidence, number: int) -> str:
    """Say how far a head hangs from the inlet end.

    Parameters
    ----------
    evidence : Evidence
        With heads.
    number : int [1]
        Index of the head.

    Returns
    -------
    str
    """
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
    return shift_words(found.size * np.array([np.cos(turn), np.sin(turn)]), evidence)


def shift_words(shift: np.ndarray, evidence: Evidence) -> tuple[str, str]:
    """Say where a moved pattern lies.

    Parameters
    ----------
    shift : array (2,) [m]
        To the right, and along.
    evidence : Evidence
        For its units.

    Returns
    -------
    where, says : str
    """
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


KINDS = {entry.kind: entry for entry in (
    CauseKind(
        "weak head", ("a clogged head", "a worn or wrong nozzle that gives too little", "a stuck anti-drip valve"),
        short="a weak head", half=0.3, acts_on="heads", sayer=_head,
        check="Look at the head while it runs and hold a bottle under it and under its neighbour for a minute. "
              "Then shut off, rinse its nozzle, look for a stuck valve." + LADDER),
    CauseKind(
        "strong head", ("a worn head", "a head of another size", "a leaking head"),
        short="a strong head", half=0.25, acts_on="heads", sayer=_head,
        check="Look for a stream or a drip; hold a bottle under it and under its neighbour for a minute; "
              "compare the nozzle's colour or size." + LADDER),
    CauseKind(
        "two kinds", ("heads of two kinds on one line",),
        short="heads of two kinds", half=0.2, acts_on="heads", sayer=_several,
        check="Walk along the line and compare colour and size of the nozzles; a bottle under one of each." + LADDER),
    CauseKind(
        "line low", ("its valve is partly closed", "its feed tube is kinked", "its inlet is clogged"),
        short="a line that is low as a whole", half=0.08, acts_on="pressure", sayer=_line,
        leads="one line gives too little: ",
        check="Look at its valve and follow its feed tube for a kink; read a gauge at its first head and at "
              "the other line's; then open its inlet." + SHUT),
    CauseKind(
        "step", ("a kinked tube", "a crushed tube", "a half-blocked coupling", "a leak"),
        short="a step in the line", half=0.12, acts_on="pressure", sayer=_step,
        leads="less water from one place on: ",
        check="Follow the tube there for a kink, a flat place, a drip or a wet spot; read a gauge on both "
              "sides of it; then open the coupling." + SHUT),
    CauseKind(
        "end heads", ("the last heads are clogged by dirt at the end plug", "a kink before the last heads"),
        short="weak last heads", half=0.2, acts_on="heads", sayer=_several,
        check="Look at the last heads while they run; open the end plug and flush until the water is clear; "
              "then clean the nozzles." + SHUT + LADDER),
    CauseKind(
        "wet wall", ("spray that runs down the film",),
        short="a wet strip along a wall", half=0.25, acts_on="pattern", sayer=_wall,
        check="Look at the film while it runs: drops that run down end at this strip. Measure from the wall to "
              "the first head's reach."),
    CauseKind(
        "drift", ("drift of the spray by moving air", "tilted heads"),
        short="drift or tilted heads", half=0.12, acts_on="pattern", sayer=_drift,
        check="Hold a strip of film or smoke in the spray with the sides as they were; look along the heads "
              "for tilted ones; repeat with the sides closed."),
    CauseKind(
        "dry wedge", ("something in the way of the spray: a post, a bow or a hanging crop",),
        short="a dry wedge", half=0.25, acts_on="pattern", sayer=_wedge,
        check="Stand there while it runs and look towards the nearest head: what does the spray hit?"),
    CauseKind(
        "can low", ("a can that was tipped, shaded or misread",),
        short="a can that reads too little", half=0.25, acts_on="readings", sayer=_can,
        check="Read the can again; look for a tilt, a leaf over it or spilled water; repeat with a second can "
              "beside it."),
    CauseKind(
        "can high", ("a can that was dripped on or misread",),
        short="a can that reads too much", half=0.25, acts_on="readings", sayer=_can,
        check="Read the can again; look up for a drip from the frame, film or tube; repeat with a second can "
              "beside it."),
    CauseKind(
        "fall", ("the last heads get less pressure: friction, a narrow tube or heads that clog towards the end",),
        short="a fall along the line", half=0.08, acts_on="pressure", sayer=_fall,
        check=""),  # it depends on what explains the fall
)}
