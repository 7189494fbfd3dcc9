"""What a change would bring: the pattern of this test from other heads, or at other pressures."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ..pattern import overlap
from ..pattern.changed import Layout, layout_today, levelled, mended, moved
from ..pattern.estimate import Estimate
from ..pattern.floor import WIDEN, WIDEN_CU, Figure, Samples, figure, pairs_within, rates
from ..pattern.many import Points, point_figures
from ..pattern.whole_floor import WholeFloor
from ..record.ground import Array, Cells
from ..record.site import Site
from ..reference.yardsticks import limit
from .errors import ChangeError
from .key import Changed

# How the wetted radius grows with pressure, r ~ p^n: usual value and band; a judgement, not measured.
RADIUS_POWER = (0.0, 0.2, 0.35)
LEAST = 1.0  # [%] least half width of an interval
# Under its working pressure a spray turns to a ring, how far is not known: the part of the water that may fall in it
# grows from nothing to all over this fall of the pressure; where the ring stands and how wide it is. Judgements.
RING_OVER, RING_AT, RING_WIDE = 0.4, 0.8, 0.15


@dataclass(frozen=True)
class HeadState:
    """What hydraulics says of every head of a system.

    Attributes
    ----------
    pressure : array (m,) [kPa]
        At the head; zero where it does not run.
    flow : array (m,) [L/h]
        Of the head.
    """

    pressure: Array
    flow: Array


@dataclass(frozen=True)
class Prediction:
    """A floor after a change.

    Attributes
    ----------
    cu, du_low_quarter : Figure [%]
        Over all the ground.
    rate_mm_h : Figure [mm/h]
        Mean rate over it from the first line's opening to the last one's closing.
    depth : array (p,) [1]
        Mean of the draws at each place / mean of all the ground.
    rates : array (s, p) [mm/h]
        Of each draw, over the whole run.
    layout : Layout
        The heads.
    """

    cu: Figure
    du_low_quarter: Figure
    rate_mm_h: Figure
    depth: Array
    rates: Array = field(repr=False)
    layout: Layout


def today_of(floor: WholeFloor, site: Site) -> Layout:
    """The heads of a test, line by line from the left.

    Parameters
    ----------
    floor : WholeFloor
        The estimate, with heads.
    site : Site
        The same test.

    Returns
    -------
    Layout
    """
    order, line_of = from_the_left(site)
    samples = samples_of(floor.estimate)
    places = np.array([head[2:] for head in floor.heads])[order] + floor.estimate.shift
    kept = Samples(samples.radius, samples.rate, samples.trend[:, order], samples.output[:, order],
                   None if samples.stretch is None else samples.stretch[:, order],
                   None if samples.throws is None else samples.throws.take(order))
    return layout_today(kept, places, line_of)


def samples_of(estimate: Estimate) -> Samples:
    """The draws of an estimate that was made with heads.

    Parameters
    ----------
    estimate : Estimate
        Of a test.

    Returns
    -------
    Samples

    Raises
    ------
    ChangeError
        Without heads.
    """
    if estimate.samples is None:
        raise ChangeError("received a record without heads on lines, expected [[lines]] with the places of their "
                          "heads, add them before a change is tried")
    return estimate.samples


def from_the_left(site: Site) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Order of a site's heads by their lines from the left.

    Parameters
    ----------
    site : Site
        With heads.

    Returns
    -------
    order, line_of : array (m,) of int [1]
        Index of each head in the record's order, and its line counted from the left.
    """
    wanted, line = site.from_the_left(), site.heads.line
    order = np.concatenate([np.flatnonzero(line == k) for k in wanted])
    return order, np.repeat(np.arange(len(wanted)), [len(site.lines[k].along) for k in wanted])


def changed_layout(today: Layout, changed: Changed, suspects: list[int], names: list[str],
                   shift: Array, rng: np.random.Generator, usual: Array | None = None) -> Layout:
    """The heads after a change, still at today's pressures.

    Parameters
    ----------
    today : Layout
        From `today_of`.
    changed : Changed
        The change.
    suspects : list of int
        Indices in `today` of the heads that stand out.
    names : list of str
        Today's lines from the left.
    shift : array (2,) [m]
        Shift of the pattern by drift.
    rng : numpy.random.Generator
        For the manufacture of new heads.
    usual : array (m,) [1], optional
        What each of today's heads would give in a sound system, for a line that is mended as a whole; all alike if
        left out.

    Returns
    -------
    Layout

    Raises
    ------
    ValueError
        For a head or a line to be mended that is not there.
    """
    lines = [(like, x + shift[0], ys + shift[1]) for like, x, ys in changed.lines]
    single = [] if changed.mend == "suspects" else [head for head in changed.mend if head[1] > 0]
    whole = [] if changed.mend == "suspects" else [_line(names, line, "all") for line, head in changed.mend if not head]
    if whole:
        usual = np.ones(len(today.heads)) if usual is None else usual
        today = levelled(today, whole, usual if today.throws is None else usual / today.throws.strength)
    made = moved(today, lines, rng)
    which = suspects if changed.mend == "suspects" else [_index(today, names, *head) for head in single]
    return mended(made, [k for k, was in enumerate(made.was) if was in which], rng) if which else made


def _line(names: list[str], line: str, number: int | str) -> int:
    """The line of a name."""
    if line not in names:
        raise ValueError(f"received mend={line}:{number}, expected one of the lines {', '.join(names)}, correct it")
    return names.index(line)


def _index(today: Layout, names: list[str], line: str, number: int) -> int:
    """The head of a line and a number."""
    on = np.flatnonzero(today.line_of == _line(names, line, number))
    if not 1 <= number <= len(on):
        raise ValueError(f"received mend={line}:{number}, expected a head from 1 to {len(on)}, correct it")
    return int(on[number - 1])


def ratios(
    today: Layout, new: Layout, lines: list[tuple[int, float, Array]], before: HeadState, after: HeadState
) -> tuple[Array, Array]:
    """How flow and pressure of each new head compare with those at its place today.

    Parameters
    ----------
    today, new : Layout
        Heads before and after.
    lines : list of (like, x, ys)
        See `changes.Changed`.
    before, after : HeadState
        Hydraulics of both, in the order of the layouts.

    Returns
    -------
    flow, pressure : array (m,) [1]
        New / today, of a head of the same kind; 0 where a head does not run any more.
    """
    flow, pressure = np.ones(len(new.heads)), np.ones(len(new.heads))
    usual = np.ones(len(today.heads)) if today.throws is None else today.throws.strength
    mist = limit("mist")  # above it the reach grows no more
    for number, (like, _, _) in enumerate(lines):
        source = like if like >= 0 else -1 - like
        on, old = new.line_of == number, today.line_of == source
        for found, was, now, kind in ((flow, before.flow / usual, after.flow, usual[new.like[on]]),
                                      (pressure, np.minimum(before.pressure, mist), np.minimum(after.pressure, mist),
                                       1.0)):
            here = np.interp(new.heads[on, 1], today.heads[old, 1], was[old]) * kind
            found[on] = np.divide(now[on], here, out=np.zeros(int(on.sum())), where=here > 0)
    return flow, pressure


def predicted(
    estimate: Estimate, ground: Cells, new: Layout, *, flow: Array | float = 1.0,
    pressure: Array | float = 1.0, wider: Array | float = 1.0, pace: float = 1.0, ring: float = 0.0,
    draws: int | None = None, seed: int = 0,
) -> Prediction:
    """Figures of the floor after a change, with 90 % intervals.

    The intervals carry the draws of the estimate (profile, outputs), the manufacture of new heads and the band of
    the power with which the radius follows pressure.

    Parameters
    ----------
    estimate : Estimate
        Of the test, made with heads.
    ground : Cells
        The ground that counts.
    new : Layout
        Heads after the change.
    flow, pressure : array (m,) or float [1]
        Each head's flow and pressure / those of today.
    wider : array (m,) or float [1]
        Diameter of a new kind of head / today's.
    pace : float [1]
        How the lines run then: `Running.pace`.
    ring : float [1]
        The largest part of the water that may fall in a ring at a pressure under the heads' own; it widens the
        intervals.
    draws : int or None [1]
        How many draws; None takes all.
    seed : int [1]
        For the band of the radius.

    Returns
    -------
    Prediction
    """
    samples = samples_of(estimate)
    take = slice(None) if draws is None else np.linspace(0, len(samples.rate) - 1, draws).round().astype(int)
    rate, output = samples.rate[take], new.output[take] * flow
    if new.throws is not None:
        output = output * new.throws.denser
    power = np.random.default_rng(seed).triangular(*RADIUS_POWER, len(rate))
    stretch = wider * np.maximum(np.broadcast_to(pressure, output.shape[1:]), 0.05)[None, :] ** power[:, None]
    if new.stretch is not None:
        stretch = stretch * new.stretch[take]
    pairs = pairs_within(ground.places, new.heads, samples.radius[-1] * float(stretch.max()), new.throws)
    maps = rates(pairs, rate, output, None if np.all(stretch == 1.0) else stretch)
    mean = overlap.average(maps, ground.weight)
    cu, du = _evenness(maps, ground)
    if ring > 0:
        part = ring * np.random.default_rng(seed + 1).uniform(size=len(rate)) ** 2  # little more often than much
        ringed = _evenness(rates(pairs, _ringed(samples.radius, rate, part), output, stretch), ground)
        cu, du = (replace(one, low=min(one.low, other.low), high=max(one.high, other.high))
                  for one, other in zip((cu, du), ringed, strict=True))
    return Prediction(
        cu, du,
        figure(mean * estimate.mean_rate * pace, lowest=0.0), (maps / mean[:, None]).mean(axis=0),
        (maps * (estimate.mean_rate * pace)).astype(np.float32), new)


def _evenness(maps: Array, ground: Cells) -> tuple[Figure, Figure]:
    """CU and DUlq of draws."""
    edges = {"least": LEAST, "highest": 100.0}
    return (figure(overlap.christiansen(maps, ground.weight), widen=WIDEN_CU, **edges),
            figure(overlap.low_quarter(maps, ground.weight), widen=WIDEN, lowest=0.0, **edges))


def _ringed(radius: Array, rate: Array, part: Array) -> Array:
    """Profiles with a part of their water in a ring."""
    wet = (rate > 0) * radius
    throw = wet.max(axis=1, keepdims=True)
    ring = np.exp(-0.5 * ((radius - RING_AT * throw) / (RING_WIDE * throw)) ** 2) * (radius <= throw)
    ring *= ((rate * radius).sum(axis=1) / np.maximum((ring * radius).sum(axis=1), 1e-12))[:, None]
    mixed: Array = (1 - part[:, None]) * rate + part[:, None] * ring
    return mixed


def ring_at(today: Array, after: Array, nominal: Array | float) -> float:
    """The largest part of the water that may fall in a ring after a fall of pressure.

    Parameters
    ----------
    today, after : array (m,), array (n,) [kPa]
        Pressures at the heads.
    nominal : array (k,) or float [kPa]
        The heads' own.

    Returns
    -------
    float [1]
        0 where the pressure does not fall under that of the heads, or of today where that is lower.
    """
    usual = float(np.median(np.minimum(np.median(today), nominal)))
    return float(np.clip((1 - np.median(after) / max(usual, 1e-9)) / RING_OVER, 0.0, 1.0))


def point_predictions(estimate: Estimate, ground: Cells, layouts: list[Layout], flow: list[Array | float],
                      pressure: list[Array | float], wider: list[Array | float]) -> Points:
    """Figures of many candidates at once, from the mean profile and mean outputs: for a search, without intervals.

    Parameters
    ----------
    estimate : Estimate
        Of the test, made with heads.
    ground : Cells
        The ground that counts.
    layouts : list of Layout
        Heads of each candidate.
    flow, pressure : list of (array (m,) or float) [1]
        Each head's flow and pressure / those of today.
    wider : list of (array (m,) or float) [1]
        Diameter of a new kind of head / today's.

    Returns
    -------
    Points
        `Points.mean` in the estimate's own scale.
    """
    heads = [point_heads(*each) for each in zip(layouts, flow, pressure, wider, strict=True)]
    return point_figures(ground.places, samples_of(estimate).rate.mean(axis=0), [layout.heads for layout in layouts],
                         [output for output, _ in heads], [stretch for _, stretch in heads], ground.weight,
                         [layout.throws for layout in layouts])


def point_heads(layout: Layout, flow: Array | float, pressure: Array | float,
                wider: Array | float) -> tuple[Array, Array]:
    """Mean output and reach of each head of a candidate.

    Parameters
    ----------
    layout : Layout
        Its heads.
    flow, pressure : array (m,) or float [1]
        Each head's flow and pressure / those of today.
    wider : array (m,) or float [1]
        Diameter of a new kind of head / today's.

    Returns
    -------
    output, stretch : array (m,) [1]
        Output of each head, of an arc what falls there, and its reach / reach of the profile.
    """
    power = RADIUS_POWER[1]
    stretch = wider * np.maximum(np.broadcast_to(pressure, len(layout.heads)), 0.05) ** power
    output = layout.output.mean(axis=0) * flow
    if layout.throws is None or layout.stretch is None:
        return output, stretch
    return output * layout.throws.denser, stretch * layout.stretch.mean(axis=0)

