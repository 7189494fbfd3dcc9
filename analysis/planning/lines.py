"""How many lines a width takes: so that every place is wetted, and so that it is even."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..record.ground import Array, Cells
from ..record.model import MOST_HEADS
from ..record.site import Site, SiteLine
from ..reference.yardsticks import LIMITS
from .families import FamilyRange, family_range, wetted_share
from .ground import DIAMETERS_M, PlannedHeads, described, evenly_spaced, ground_of, heads_of, line_at
from .water import LineWater, water_of

MOST_SHOWN = 6     # layouts in the list
MOST_LINES = 40    # tried
CLOSE = 2.0        # [%] points of DUlq that are not worth a line; a judgement
NEARER = 0.15      # [m] by which heads must come nearer to the end walls to be worth a word; a judgement


@dataclass(frozen=True)
class LineOption:
    """A number of lines, evenly across, or the lines of the record.

    Attributes
    ----------
    today : bool
        Whether these are the record's own lines.
    lines : tuple of SiteLine
        Their places and heads.
    x : tuple of float [m]
        Place of each from the left edge.
    distance : float or None [m]
        Largest distance of two neighbours; None for one line.
    heads : int [1]
        On all lines.
    wetted : float [1]
        Part of the ground that some head reaches.
    du_low_quarter : FamilyRange [%]
        Of the ground that counts, over families of profiles, and over `DIAMETERS_M` where nobody says what a head
        wets; heads sound.
    water : LineWater
        Flows, pressures, and what the supply says to it.
    marks : tuple of str
        ``wets every place``, ``evenness``: what this number is the least for.
    """

    today: bool
    lines: tuple[SiteLine, ...]
    x: tuple[float, ...]
    distance: float | None
    heads: int
    wetted: float
    du_low_quarter: FamilyRange
    water: LineWater
    marks: tuple[str, ...]


@dataclass(frozen=True)
class LinePlan:
    """How many lines a floor takes.

    Attributes
    ----------
    heads : PlannedHeads
        What was reckoned with.
    wetting : int or None [1]
        Lines so that every place between the first and the last head is wetted; None where the heads of a line stand
        too far apart for any number.
    even : int [1]
        Lines for evenness: no wider apart than `LIMITS` allows as a part of the wetted diameter.
    width : float [m]
        Of the floor.
    today : LineOption or None
        The record's own lines.
    options : tuple of LineOption
        By the number of lines, evenly across.
    ends : LineOption or None
        Today's lines, or those that are advised, with heads up to the end walls; None where they are there.
    """

    heads: PlannedHeads
    wetting: int | None
    even: int
    width: float
    today: LineOption | None
    options: tuple[LineOption, ...]
    ends: LineOption | None

    @property
    def advised(self) -> LineOption:
        """The fewest lines that are as even as any, but for `CLOSE` points."""
        best = max(option.du_low_quarter.value for option in self.options)
        return next(option for option in self.options if option.du_low_quarter.value >= best - CLOSE)


def lines_that_wet(width: float, diameter: float, spacing: float) -> int | None:
    """Lines, evenly across, so that no place beside or between them stays dry.

    Circles of radius R, s apart, leave no gap on a strip of half width sqrt(R^2 - (s/2)^2) (the height of the lens
    that two of them share). With s much smaller than R this is the trade's width / wetted diameter, rounded up.

    Parameters
    ----------
    width : float [m]
        Of the floor.
    diameter : float [m]
        That one head wets, 2 R.
    spacing : float [m]
        From head to head along a line, s.

    Returns
    -------
    int or None [1]
        None where s is not below the diameter: then the circles of a line do not meet.
    """
    if spacing >= diameter:
        return None
    strip = math.sqrt(diameter ** 2 - spacing ** 2)
    return max(1, math.ceil(width / strip - 1e-9))


def lines_for_evenness(width: float, diameter: float) -> int:
    """Lines, evenly across, no wider apart than is advised.

    Parameters
    ----------
    width : float [m]
        Of the floor.
    diameter : float [m]
        That one head wets.

    Returns
    -------
    int [1]
        By ``LIMITS["line spacing"]``.
    """
    return max(1, math.ceil(width / (LIMITS["line spacing"].value * diameter) - 1e-9))


def line_plan(site: Site, units: str = "metric") -> LinePlan:
    """Layouts of lines from the floor, the heads and the supply alone.

    Parameters
    ----------
    site : Site
        Its test still to come or not.
    units : str
        ``metric`` or ``US``, for the sentences.

    Returns
    -------
    LinePlan

    Raises
    ------
    ValueError
        For a floor without lines that takes more than `MOST_HEADS` heads.
    """
    heads, ground, width = heads_of(site, units), ground_of(site), site.width
    wetting, even = lines_that_wet(width, heads.diameter, heads.spacing), lines_for_evenness(width, heads.diameter)
    if not described(site) and even * len(heads.along) > MOST_HEADS:
        raise ValueError(f"received a floor that takes {even} lines of {len(heads.along)} heads, expected at most "
                         f"{MOST_HEADS} heads in one zone, plan one zone at a time")
    counts = [count for count in _counts(wetting, even) if count * len(heads.along) <= MOST_HEADS] or [1]
    options = []
    for count in counts:
        marks = ("wets every place",) * (count == wetting) + ("evenness",) * (count == even)
        options.append(_option(site, even_lines(site, heads, count), heads, ground, marks, units))
    own = described(site)
    today = _option(site, own, heads, ground, (), units, today=True) if own else None
    plan = LinePlan(heads, wetting, even, width, today, tuple(options), None)
    return replace(plan, ends=_with_ends(site, plan, ground, units))


def _with_ends(site: Site, plan: LinePlan, ground: Cells, units: str) -> LineOption | None:
    """The same lines with their row of heads carried on to half a spacing from the end walls."""
    own = list((plan.today or plan.advised).lines)
    along = evenly_spaced(site.length, plan.heads.spacing)
    bare = max(max(line.along[0], site.length - line.along[-1]) for line in own)
    if not bare > along[0] + NEARER or len(along) * len(own) > MOST_HEADS:
        return None
    return _option(site, [line_at(line, line.name, line.x, along) for line in own], plan.heads, ground, (), units)


def _counts(wetting: int | None, even: int) -> list[int]:
    """The two numbers and what lies around them: DUlq does not simply grow with the number of lines."""
    first = min(wetting or even, even)
    wanted = [count for count in range(first, even + 2) if count <= MOST_LINES]
    if len(wanted) > MOST_SHOWN:
        kept = {wetting or even, even, even + 1}
        wanted = sorted(kept | set(wanted[-(MOST_SHOWN - len(kept)):]))
    return wanted or [MOST_LINES]


def even_lines(site: Site, heads: PlannedHeads, count: int) -> list[SiteLine]:
    """Lines evenly across, like the nearest one of the site.

    Parameters
    ----------
    site : Site
        Its test still to come or not.
    heads : PlannedHeads
        From `ground.heads_of`.
    count : int [1]
        How many lines.

    Returns
    -------
    list of SiteLine
    """
    own, found = described(site), []
    for number in range(count):
        x = (number + 0.5) * site.width / count
        like = min(own, key=lambda line, x=x: abs(line.x - x), default=site.bare_line)
        along = like.along if len(like.along) > 1 else heads.along
        found.append(line_at(like, f"line {number + 1}", x, along))
    return found


def head_array(lines: Sequence[SiteLine]) -> Array:
    """Places of the heads of lines.

    Parameters
    ----------
    lines : list of SiteLine
        With places.

    Returns
    -------
    array (m, 2) [m]
        Line by line.
    """
    return np.array([(line.x, y) for line in lines for y in line.along])


def _option(site: Site, lines: list[SiteLine], heads: PlannedHeads, ground: Cells, marks: tuple[str, ...], units: str,
            today: bool = False) -> LineOption:
    """Lines with what they need and what they bring."""
    places = head_array(lines)
    water = water_of(site, lines, units)
    x = tuple(line.x for line in lines)
    gaps = np.diff(np.sort(x))
    return LineOption(
        today, tuple(lines), x, float(gaps.max()) if len(gaps) else None, len(places),
        wetted_share(places, heads.diameter / 2, ground),
        _range_of(places, water.output, heads, ground), water, marks)


def _range_of(places: Array, output: Array, heads: PlannedHeads, ground: Cells) -> FamilyRange:
    """DUlq over families of patterns, and over what heads wet where nobody says."""
    found = family_range(places, output, heads.diameter / 2, ground)
    if "heads.wetted_diameter" not in heads.needs:
        return found
    ends = [family_range(places, output, diameter / 2, ground) for diameter in DIAMETERS_M]
    return replace(found, low=min(found.low, *(one.low for one in ends)),
                   high=max(found.high, *(one.high for one in ends)))
