"""Everything before there are readings: how many lines, what they need, and the test that would tell how even it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..record.ground import Array
from ..record.running import running_of
from ..record.site import Site
from ..reference.yardsticks import LEAST_MEAN_ML
from .checks import checks, control_words, opening_text
from .expect import TUNNELS, Drawn, ExpectedError, PlannedFloor, draw_tunnels, expected_error
from .ground import ground_of
from .layouts import LAYOUTS, LEAST_CANS, MOST_CANS, STAGGERED, CanLayout, described_layout, layout_of, walk
from .lines import LineOption, LinePlan, head_array, line_plan
from .run_time import RunTime, run_time
from .water import Gauge

__all__ = ["LAYOUTS", "LEAST_CANS", "MOST_CANS", "JudgedLayout", "PlannedTest", "plan_of", "walk"]

CURVE = (24, 36, 48, 72)      # numbers of cans that are compared; the first that is good enough is proposed
GOOD_ENOUGH = 3.0             # [%] expected error at which no more cans are asked for; a judgement
CLOSE = 0.5                   # [%] difference of two errors that does not count; staggered rows are walked faster
FEWEST_TUNNELS = 12
MANY_HEADS = 150              # from here on fewer tunnels are simulated, so that the answer takes no longer


@dataclass(frozen=True)
class JudgedLayout:
    """A layout of cans and what it is worth.

    Attributes
    ----------
    layout : CanLayout
        Where they stand.
    expected : ExpectedError
        By simulated tunnels.
    """

    layout: CanLayout
    expected: ExpectedError


@dataclass(frozen=True)
class PlannedTest:
    """A plan for lines and for their test.

    Attributes
    ----------
    lines : LinePlan
        How many lines the floor takes.
    tested : tuple of (name, x, places) [m]
        The lines that the test is planned for.
    proposed_lines : bool
        Whether those are proposed ones, because the record has none.
    layouts : tuple of JudgedLayout
        Grid, staggered rows and dense row with the same cans; then the record's own cans where it has some.
    best : int
        Which of them is proposed.
    curve : tuple of JudgedLayout
        The proposed kind of layout with other numbers of cans, by their number.
    tunnels : int
        How many were simulated for each layout.
    run : RunTime or None
        None where the flow of the heads is not known.
    gauges : tuple of Gauge
        Where to read pressure, in the direction of the water.
    control : str
        Control cans in words.
    checks : tuple of str
        What to check before.
    assumed : tuple of str
        What was taken because the record does not say, with where it comes from.
    needs : tuple of str
        Keys of the record that would replace it.
    """

    lines: LinePlan
    tested: tuple[tuple[str, float, Array], ...]
    proposed_lines: bool
    layouts: tuple[JudgedLayout, ...]
    best: int
    curve: tuple[JudgedLayout, ...]
    tunnels: int
    run: RunTime | None
    gauges: tuple[Gauge, ...]
    control: str
    checks: tuple[str, ...]
    assumed: tuple[str, ...]
    needs: tuple[str, ...]

    @property
    def proposed(self) -> JudgedLayout:
        """The layout that is proposed."""
        return self.layouts[self.best]


def plan_of(site: Site, *, cans: int | None = None, units: str = "metric", tunnels: int = TUNNELS, seed: int = 1,
            progress: Callable[[float], None] | None = None) -> PlannedTest:
    """Plan lines and a test from the floor, the heads, the lines and the supply.

    Parameters
    ----------
    site : Site
        Of a record that was read for planning (`read_record` with ``planning=True``), or with its readings.
    cans : int, optional
        How many cans there are; the least number that is good enough if left out.
    units : str
        ``metric`` or ``US``: for sentences, and for the marks of the tape on which cans fall.
    tunnels : int [1]
        Simulated for each layout; fewer for very many heads.
    seed : int [1]
        Of the simulated tunnels.
    progress : callable, optional
        Called with a part done from 0 to 1.

    Returns
    -------
    PlannedTest

    Raises
    ------
    ValueError
        For a number of cans outside `LEAST_CANS` to `MOST_CANS`, or a floor that takes too many heads for one zone.
    """
    if cans is not None and not LEAST_CANS <= cans <= MOST_CANS:
        raise ValueError(f"received {cans} cans, expected {LEAST_CANS} to {MOST_CANS}, choose another number")
    tell = progress or (lambda part: None)
    lines = line_plan(site, units)
    option = lines.today or _proposed_lines(lines)
    heads = head_array(option.lines)
    line_of = np.repeat(np.arange(len(option.lines)), [len(line.along) for line in option.lines])
    tested = tuple((line.name, line.x, line.along) for line in option.lines)
    known = "heads.wetted_diameter" not in lines.heads.needs
    planned = PlannedFloor(heads, line_of, ground_of(site), lines.heads.diameter / 2 if known else None,
                           lines.heads.flow)
    drawn = draw_tunnels(planned, _tunnels(tunnels, len(heads)), seed)
    tell(0.1)
    judge = _Judge(site, planned, tested, drawn, units, tell)
    count = cans or judge.enough()
    layouts = [judge.of(name, count) for name in LAYOUTS]
    own = _own_cans(site, tested)
    best = _best(layouts)
    if own is not None:
        layouts.append(JudgedLayout(own, expected_error(planned, own.places, drawn)))
    name = layouts[best].layout.name
    curve = sorted((judge.of(name, number) for number in {*CURVE, count}), key=lambda one: one.expected.cans)
    tell(1.0)
    flow = _flow_of_heads(option, lines)
    run = None
    if flow is not None:
        in_turn = option.water.runs == "in turn" or (option.water.runs is None and site.in_turn)
        alike = [replace(line, ran=60.0) for line in option.lines]  # how long is still to be found
        run = run_time(site, heads, flow, lines.heads.diameter / 2, layouts[best].layout.places, planned.ground,
                       running_of(alike, 60.0, in_turn and len(alike) > 1), line_of)
    return PlannedTest(
        lines, tested, lines.today is None, tuple(layouts), best, tuple(curve), len(drawn), run, _gauges(option),
        control_words(run.minutes if run else 30, run.catch if run else LEAST_MEAN_ML, units), checks(site, units),
        *_assumptions(lines, option, run, units))


class _Judge:
    """Judges layouts once each, and tells how far it is."""

    def __init__(self, site: Site, planned: PlannedFloor, tested: tuple[tuple[str, float, Array], ...],
                 drawn: list[Drawn], units: str, tell: Callable[[float], None]) -> None:
        self.ground, self.planned, self.drawn, self.units, self.tell = site.ground, planned, drawn, units, tell
        self.lines = [(x, places) for _, x, places in tested]
        self.done: dict[tuple[str, int], JudgedLayout] = {}

    def of(self, name: str, count: int) -> JudgedLayout:
        if (name, count) not in self.done:
            layout = layout_of(name, self.ground, count, self.lines, self.units)
            self.done[name, count] = JudgedLayout(layout, expected_error(self.planned, layout.places, self.drawn))
            self.tell(min(0.1 + 0.11 * len(self.done), 0.98))
        return self.done[name, count]

    def enough(self) -> int:
        """The least usual number of cans that is good enough on staggered rows; the largest where none is."""
        return next((count for count in CURVE if self.of(STAGGERED, count).expected.error <= GOOD_ENOUGH),
                    CURVE[-1])


def _tunnels(wanted: int, heads: int) -> int:
    return max(min(FEWEST_TUNNELS, wanted), round(wanted * min(1.0, MANY_HEADS / heads)))


def _proposed_lines(lines: LinePlan) -> LineOption:
    """The lines that are advised."""
    return lines.advised


def _own_cans(site: Site, tested: tuple[tuple[str, float, Array], ...]) -> CanLayout | None:
    """The record's own cans, where it has some."""
    plain = site.written_cans
    if plain is None:
        return None
    places = {key: plain[key] for key in ("across", "along", "stagger") if key in plain}
    for key in ("rows", "points"):
        if key in plain:
            places[key] = [{name: value for name, value in item.items() if name != "catch"} for item in plain[key]]
    found = described_layout("as in the record", places, site.ground, [(x, ys) for _, x, ys in tested])
    return found if len(found.places) >= 4 else None


def _best(layouts: list[JudgedLayout]) -> int:
    """The smallest error among those that cover the floor and share no period; staggered rows where it is close."""
    sound = [number for number, one in enumerate(layouts) if one.layout.covers and not one.layout.shares_period]
    among = sound or list(range(len(layouts)))
    least = min(among, key=lambda number: layouts[number].expected.error)
    staggered = LAYOUTS.index(STAGGERED)
    near = layouts[staggered].expected.error - layouts[least].expected.error <= CLOSE
    return staggered if staggered in among and near else least


def _flow_of_heads(option: LineOption, lines: LinePlan) -> Array | None:
    """Flow of each head [L/h], while all run."""
    if option.water.total is None:
        return None
    if option.water.how == "pressures":
        return option.water.output * sum(option.water.flows.values()) / option.heads
    return np.concatenate([np.full(len(line.along), (option.water.flows[line.name] or 0.0) / len(line.along))
                           for line in option.lines])


def _gauges(option: LineOption) -> tuple[Gauge, ...]:
    pairs = [gauge for both in zip(option.water.first, option.water.last, strict=True)
             for gauge in (both if both[0].head != both[1].head else both[1:])]
    return (*option.water.chain, *pairs)


def _assumptions(lines: LinePlan, option: LineOption, run: RunTime | None, units: str):
    said, needs = list(lines.heads.assumed), [*lines.heads.needs, *option.water.needs]
    if run is None:
        said.append("The length of the run is left out: the flow of a head is not known.")
    elif run.opening_assumed:
        said.append(f"A can's opening is taken as {opening_text(run.opening_cm2, units)} (from memory); measure yours.")
        needs.append("cans.opening")
    if lines.today is None:
        said.append("The pressures are left out: the record has no lines with heads.")
        needs = [need for need in needs if not need.startswith("lines[")]
    else:
        said += option.water.assumed
    return tuple(dict.fromkeys(said)), tuple(dict.fromkeys(needs))
