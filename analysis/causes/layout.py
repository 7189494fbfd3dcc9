"""Causes in the layout: lines too far apart, dry edges and ends, a pattern that is a ring."""

from __future__ import annotations

import numpy as np

from ..pattern.overlap import average
from ..record.places import lines_named
from ..reference.yardsticks import limit
from .cause import Cause, grows, percent, surely, together
from .evidence import Evidence, GaugeReading
from .kinds import LADDER


def layout_causes(evidence: Evidence) -> list[Cause]:
    """What the places of the heads leave dry, even with every head at its share.

    Parameters
    ----------
    evidence : Evidence
        With heads.

    Returns
    -------
    list of Cause
    """
    return [cause for find in (_between, _edges, _ends, _ring) for cause in find(evidence)]


def _zones(evidence):
    """Cells beyond the first and last heads, beyond the outer lines, and between the lines."""
    x, y = evidence.design.places.T
    first, last = evidence.heads[:, 1].min(), evidence.heads[:, 1].max()
    left, right = evidence.heads[:, 0].min(), evidence.heads[:, 0].max()
    ends = (y < first) | (y > last)
    edges = ~ends & ((x < left) | (x > right))
    return ends, edges, ~ends & ~edges


def _strength(lack):
    """How strong a cause of the layout is by what the ground lacks."""
    return grows(lack, limit("layout"), 3.0)


def _throw(evidence):
    """Throw radius of a head, [m]."""
    return evidence.floor.estimate.profile.throw.value


def _between(evidence):
    """Lines too far apart."""
    lines = sorted(evidence.lines, key=lambda line: line.x)
    if len(lines) < 2:
        return
    design, (x, _) = evidence.design, evidence.design.places.T
    _, edges, inner = _zones(evidence)
    gaps = [(two.x - one.x, one, two) for one, two in zip(lines, lines[1:], strict=False)]
    wide, one, two = max(gaps, key=lambda gap: gap[0])
    middle = inner & (np.abs(x - (one.x + two.x) / 2) < 0.15 * wide)
    if not middle.any():
        return
    lack = design.missing((inner | edges) if _dry_between(evidence) else inner)
    part = wide / (2 * _throw(evidence))
    names = ["the lines are too far apart"]
    group = ()
    pressures = evidence.water.pressure if evidence.water is not None else None
    if pressures is None or np.nanmax(pressures) > limit("mist"):
        group = ("the lines are too far apart", "the pressure is so high that the spray turns to mist")
        names = list(group)
    yield Cause(
        together(*names), f"between {lines_named(one.name, two.name)}, along the whole length",
        f"Midway between the lines the ground gets {percent(design.average(middle))} of the mean, even with every "
        f"head at its share. The lines are {evidence.show(wide, 'height')} apart, {part:.2f} of the wetted diameter of "
        f"{evidence.show(2 * _throw(evidence), 'height')}; up to {limit('line spacing'):.2f} is advised.",
        _strength(lack) * grows(part, 0.4, 4.0), "Measure the lines' distance with a tape and how far one head throws; "
        "look for a fine mist that drifts; read a gauge at a head.", group, "lines too far apart", "pattern")


def _dry_between(evidence):
    """Whether the ground midway between two lines is so dry that the edges are dry for the same reason."""
    design, (x, _) = evidence.design, evidence.design.places.T
    places = sorted({line.x for line in evidence.lines})
    inner = _zones(evidence)[2]
    for one, two in zip(places, places[1:], strict=False):
        middle = inner & (np.abs(x - (one + two) / 2) < 0.15 * (two - one))
        if middle.any() and design.average(middle) < limit("dry between"):
            return True
    return False


def _edges(evidence):
    """Outer lines too far from the walls."""
    design, (x, _) = evidence.design, evidence.design.places.T
    edges = _zones(evidence)[1]
    if not edges.any():
        return
    left, right = evidence.heads[:, 0].min(), evidence.heads[:, 0].max()
    lacks = {"left": design.missing(edges & (x < left)), "right": design.missing(edges & (x > right))}
    lack = float(np.hypot(*lacks.values()))
    both = min(lacks.values()) > 0.5 * max(lacks.values())
    where = "both edges" if both else f"{max(lacks, key=lacks.get)} edge"
    far = {"left": left, "right": evidence.site.width - right}
    dist = max(far.values()) if both else far[max(lacks, key=lacks.get)]
    width = evidence.site.width
    outer = {"left": x < min(0.5, left), "right": x > width - min(0.5, width - right)}  # [m] beside the wall
    zone = outer["left"] | outer["right"] if both else outer[max(lacks, key=lacks.get)]
    if not zone.any():
        zone = edges
    yield Cause(
        "dry edges: the outer line is too far from the wall", f"{where}, along the whole length",
        f"Beside the wall the ground gets {percent(design.average(zone))} of the mean, even with every "
        f"head at its share; the outer line is {evidence.show(dist, 'height')} from the edge and a head reaches "
        f"{evidence.show(_throw(evidence), 'height')}{_turned_away(evidence, left, right)}.",
        _strength(lack) * (0.85 if _dry_between(evidence) else 1.0),
        "Measure from the outer line to the wall with a tape, and how far one head throws.", (),
        "dry edges", "pattern")


def _turned_away(evidence, left, right):
    """Whether heads beside a wall throw arcs into the floor, so that the ground behind them gets nothing."""
    heads = evidence.site.heads
    outer = ((heads.x < left + 0.01) & (np.cos(heads.facing) > 0.5)) | (
        (heads.x > right - 0.01) & (np.cos(heads.facing) < -0.5))
    return ", in an arc that leaves the ground behind it dry" if outer.any() else ""


def _ends(evidence):
    """First and last heads too far from the end walls."""
    design, (_, y) = evidence.design, evidence.design.places.T
    first, last = evidence.heads[:, 1].min(), evidence.heads[:, 1].max()
    # The strip that the missing heads would have wetted too.
    near = y < min(first + 0.5 * _throw(evidence), evidence.site.length / 3)
    far = y > max(last - 0.5 * _throw(evidence), 2 * evidence.site.length / 3)
    if not (near | far).any():
        return
    middle = ~(near | far)
    usual = design.average(middle) if middle.any() else 1.0
    # What an end lacks against the same columns in the middle, so that dry strips along the lines do not count.
    lack_of = {name: _against_middle(evidence, zone, middle) for name, zone in (("inlet end", near), ("far end", far))}
    lack = float(np.hypot(*lack_of.values()))
    both = min(lack_of.values()) > 0.5 * max(lack_of.values())
    worst = max(lack_of, key=lack_of.get)
    zone = (near | far) if both else (near if worst == "inlet end" else far)
    beyond = evidence.site.length - last
    gap = max(first, beyond) if both else (first if worst == "inlet end" else beyond)
    yield Cause(
        "dry ends: the first and last heads are too far from the end walls", "both ends" if both else f"the {worst}",
        f"At {'the ends' if both else 'this end'} the ground gets {percent(design.average(zone) / usual)} of what "
        f"the middle gets, even with every head at its share; the outermost head is {evidence.show(gap, 'height')} "
        f"from the end wall and a head reaches {evidence.show(_throw(evidence), 'height')}.",
        _strength(lack), "Measure from the end wall to the first head with a tape; ask whether the end is planted.",
        (), "dry ends", "pattern")


def _against_middle(evidence, zone, middle):
    """What a zone lacks against the same columns in the middle, as `DesignFloor.missing` counts it."""
    design, (x, _) = evidence.design, evidence.design.places.T
    if not middle.any() or not zone.any():
        return 0.0
    area = np.ones(len(x)) if design.weight is None else design.weight
    columns, back = np.unique(np.round(x, 4), return_inverse=True)
    held = np.bincount(back, np.where(middle, area, 0.0), len(columns))
    total = np.bincount(back, np.where(middle, area * design.depth, 0.0), len(columns))
    usual = np.divide(total, held, out=np.zeros(len(columns)), where=held > 0)
    lack = np.where(zone, np.maximum(usual[back] - design.depth, 0.0), 0.0)
    return float(np.sqrt(average(lack**2, design.weight)))


def typical_pressure(evidence: Evidence, read: list[GaugeReading]) -> tuple[float, float]:
    """Pressure at the middle head, from gauges at some heads.

    Parameters
    ----------
    evidence : Evidence
        With hydraulics where a gauge stands at the end of a line.
    read : list of GaugeSeen
        Gauges at heads, at least one.

    Returns
    -------
    pressure, sd : float [kPa]
        The gauges' own median where hydraulics is closed.
    """
    sd = max(one.sd for one in read)
    if evidence.water is None or any(not one.modelled or one.modelled <= 0 for one in read):
        return float(np.median([one.kpa for one in read])), sd
    part = np.median([one.kpa / one.modelled for one in read])
    return float(part * np.nanmedian(evidence.water.pressure)), sd


def _ring(evidence):
    """A pattern that is a ring."""
    ring = evidence.ring
    sd = max((ring.high - ring.low) / 3.29, 0.05)
    sure = surely(ring.value - 1.4, sd)
    at = evidence.nominal_pressure
    low, read = 0.0, "no gauge was read at a head"
    pressure = None
    heads = [one for one in evidence.gauges if one.item.at == "line" and one.item.head]
    if at is not None and heads:
        pressure, sd_kpa = typical_pressure(evidence, heads)
        low = surely(limit("working pressure") * at - pressure, sd_kpa)
        read = (f"by the gauges a typical head has {evidence.kpa(pressure)}, its data sheet asks for "
                f"{evidence.kpa(at)}")
    # Some sound heads throw a ring: without a low gauge the shape alone stays a hint.
    strength = sure * grows(ring.value, 1.8) * (0.35 + 0.6 * low) if heads else 0.35 * sure * grows(ring.value, 1.8)
    if pressure is not None:
        strength = max(strength, 0.75 * low * grows(at / max(pressure, 1.0) - 1, 0.33))
    yield Cause(
        "the pressure at the heads is too low" if low > 0.5 else
        together("the pressure at the heads is too low, so that they throw a ring",
                 "these heads throw a ring by design"),
        "around every head", f"Out at the edge of its reach a head brings {ring.value:.1f} times what it brings close "
        f"by ({ring.low:.1f} to {ring.high:.1f}); {read}.", strength,
        "Read a gauge beside a head while all lines run; look whether the spray comes in a cone or breaks up fully."
        + LADDER, () if low > 0.5 else ("low pressure", "the head's design"), "ring", "pattern")
