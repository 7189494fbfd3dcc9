"""Pressures and flows of many branched systems at once.

One system is a source, a tee behind it, from the tee a feed tube to each line, and from where it meets the line
one or two sides of heads one after the other. Arrays run (system, line, side, head), padded with heads of no flow.

The flows of the heads are those at which a convex function is least (the content of a network: its slope along each
head's flow is the pressure that the flow takes less the pressure that is there, and every loss grows with flow).
The method is Newton's (Todini and Pilati's global gradient, for a comb of ladders solved by one sweep back and one
forth), within the bounds 0 and what the source could ever press through a head. A step that would pass the least place
is shortened; where Newton's step would not lead down, each head steps towards the flow that its pressure gives, which
always does. That is why it settles; what is checked at the end is the laws themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array
from .friction import Law, loss_and_slope
from .outlets import Outlets, needed_head, outlet_flow

LEAST_PRESSURE = 1e-6  # of a head's nominal pressure: no tangent of a head's curve is taken below it
MOST_TURNS = 20  # of sweeps in a round
MOST_CUTS = 12  # of one step


@dataclass(frozen=True)
class Tree:
    """The tubes of systems.

    Attributes
    ----------
    steps : array (b, lines, sides, n) [m]
        Tube from where the water enters the line to head 1, from head 1 to 2, and so on.
    lift : array (b, lines, sides, n) [m]
        Height of each head above the zero of heights.
    bore : array (b, lines) [m]
        Inside diameter of each line and its feed.
    feed : array (b, lines) [m]
        Tube from the tee to the line.
    """

    steps: Array
    lift: Array
    bore: Array
    feed: Array


class Feeds(Protocol):
    """What feeds systems: a head at the tee that does not rise with flow, and its slope."""

    def at(self, flow: Array) -> tuple[Array, Array]:
        """Head and slope at a flow of each system."""

    def take(self, which: NDArray[np.int_]) -> Feeds:
        """Some of the systems."""


@dataclass(frozen=True)
class Held:
    """A source that holds its head at any flow.

    Attributes
    ----------
    head : array (b,) [m]
        Above the zero of heights.
    """

    head: Array

    def at(self, flow: Array) -> tuple[Array, Array]:
        """Head of the source and its slope.

        Parameters
        ----------
        flow : array (b,) [L/h]
            Drawn from it.

        Returns
        -------
        head : array (b,) [m]
        slope : array (b,) [m per L/h]
        """
        return np.broadcast_to(self.head, np.shape(flow)), np.zeros(np.shape(flow))

    def take(self, which: NDArray[np.int_]) -> Held:
        """Some of the systems.

        Parameters
        ----------
        which : array (m,) of int
            Numbers of systems.

        Returns
        -------
        Held
        """
        return Held(self.head[which])


@dataclass(frozen=True)
class Flows:
    """What flows where.

    Attributes
    ----------
    head : array (b, lines, sides, n) [m]
        Head in the tube at each outlet, above the zero of heights.
    flow : array (b, lines, sides, n) [L/h]
        Of each head.
    tee : array (b,) [m]
        Head at the tee.
    entry : array (b, lines) [m]
        Head where the water enters each line.
    rounds : int [1]
        Rounds that were needed.
    """

    head: Array
    flow: Array
    tee: Array
    entry: Array
    rounds: int


def solve_tree(tree: Tree, outlets: Outlets, source: Feeds, law: Law | None = None, *,
               is_open: NDArray[np.bool_] | None = None, tolerance: float = 1e-9, most_rounds: int = 200) -> Flows:
    """Solve many systems at once.

    Parameters
    ----------
    tree : Tree
        Tubes; `b` systems.
    outlets : Outlets
        Heads, arrays (b, lines, sides, n).
    source : Held or Chain
        Something with `at(flow)` and `take(which)`; its head must not rise with flow.
    law : Law, optional
        Friction; Hazen-Williams with 140 if left out.
    is_open : array (b, lines, sides, n) of bool, optional
        Heads whose anti-drip valve is open; all if left out.
    tolerance : float [m]
        Largest difference between the pressure at a head and the pressure that its flow takes.
    most_rounds : int [1]
        Rounds before it gives up.

    Returns
    -------
    Flows

    Raises
    ------
    ValueError
        When the rounds run out before all systems settle.
    """
    flows = np.broadcast_to(np.asarray(True if is_open is None else is_open), tree.steps.shape)
    work = _Work(_heads_first(tree.steps), _heads_first(tree.lift), tree.bore, tree.feed,
                 outlets.mapped(_heads_first), _heads_first(flows), source, law or Law())
    found: list[Array] = [np.full_like(tree.steps, np.nan), np.full_like(tree.steps, np.nan),
                          np.full(len(tree.bore), np.nan), np.full(tree.bore.shape, np.nan)]
    left = np.arange(len(tree.bore))
    here = work.look(work.first_guess())
    for number in range(most_rounds + 1):
        off = here.off(work)
        settled = off < tolerance
        if settled.any() and (settled.all() or settled.mean() > 0.3 or number % 5 == 4):
            values = (np.moveaxis(here.head, 0, -1), np.moveaxis(here.flow, 0, -1), here.tee, here.entry)
            for room, value in zip(found, values, strict=True):
                room[left[settled]] = value[settled]
            keep = np.flatnonzero(~settled)
            left = left[keep]
            if not len(left):
                return Flows(found[0], found[1], found[2], found[3], number)
            work, off = work.take(keep), off[keep]
            here = work.look(here.flow[:, keep])
        if number < most_rounds:
            here = work.walk(here, fills=number > 12 and number % 2 == 1)
    raise ValueError(
        f"the pressures along the line had not settled after {most_rounds} rounds in {len(left)} of "
        f"{len(tree.bore)} systems (still {np.max(off):.2g} m off); check bore, flow and inlet pressure")


def _heads_first(array: NDArray[Any]) -> NDArray[Any]:
    """The heads' axis first, so that sweeps run over contiguous memory."""
    return np.ascontiguousarray(np.moveaxis(array, -1, 0))


@dataclass(frozen=True)
class _Here:
    """Where the search stands: flows, the laws' values and slopes there; the heads' axis first."""

    flow: Array
    loss: Array
    slope: Array
    through: Array
    trunk: tuple[Array, Array, Array, Array, Array]
    head: Array
    tee: Array
    entry: Array
    over: Array  # pressure that the flow takes less the pressure there [m]
    steep: Array  # and its own slope in the head's flow

    def fixed(self, work: _Work) -> NDArray[np.bool_]:
        """Heads at a bound that they press against."""
        at: NDArray[np.bool_] = ((self.flow <= 0) & (self.over >= 0)) | ((self.flow >= work.most) & (self.over <= 0))
        return at

    def off(self, work: _Work) -> Array:
        """Largest pressure that does not fit, for each system [m]."""
        most: Array = np.max(np.where(self.fixed(work), 0.0, np.abs(self.over)), axis=(0, 2, 3))
        return most


class _Work:
    """One batch in hand, the heads' axis first so that sweeps run over contiguous memory."""

    def __init__(self, steps: Array, lift: Array, bore: Array, feed: Array, outlets: Outlets,
                 is_open: NDArray[np.bool_], source: Feeds, law: Law) -> None:
        self.steps, self.lift, self.bore, self.feed = steps, lift, bore, feed
        self.outlets, self.open, self.source, self.law = outlets, is_open, source, law
        self.least = outlets.flow * LEAST_PRESSURE**outlets.exponent
        self.top = source.at(np.zeros(len(bore)))[0]
        self.most = outlet_flow(self.top[:, None, None] - lift, outlets, is_open)

    def take(self, which: NDArray[np.int_]) -> _Work:
        """Some of the systems."""
        def rows(array: NDArray[Any]) -> NDArray[Any]:
            return array[:, which]

        return _Work(rows(self.steps), rows(self.lift), self.bore[which], self.feed[which],
                     self.outlets.mapped(rows), rows(self.open), self.source.take(which), self.law)

    def first_guess(self) -> Array:
        """Flows at the source's head without friction, scaled down by what friction they would meet."""
        through = np.cumsum(self.most[::-1], axis=0)[::-1]
        lost = loss_and_slope(self.law, through, self.steps, self.bore[:, :, None])[0].sum(axis=0)
        into = through[0].sum(axis=-1)
        total = into.sum(axis=-1)
        lost = (lost.max(axis=-1) + loss_and_slope(self.law, into, self.feed, self.bore)[0]).max(axis=-1)
        lost = lost + self.top - self.source.at(total)[0]
        share = (1.0 + np.maximum(lost, 0.0) / np.maximum(self.top, 1.0)) ** -0.55
        guess: Array = self.most * share[:, None, None]
        return guess

    def look(self, flow: Array) -> _Here:
        """Heads everywhere at given flows of the heads."""
        through = np.cumsum(flow[::-1], axis=0)[::-1]
        loss, slope = loss_and_slope(self.law, through, self.steps, self.bore[:, :, None])
        into = through[0].sum(axis=-1)
        feed_loss, feed_slope = loss_and_slope(self.law, into, self.feed, self.bore)
        total = into.sum(axis=-1)
        tee, falls = self.source.at(total)
        entry = tee[:, None] - feed_loss
        head = entry[:, :, None] - np.cumsum(loss, axis=0)
        need, steep = needed_head(flow, self.outlets)
        return _Here(flow, loss, slope, through, (into, feed_loss, feed_slope, total, falls), head, tee, entry,
                     need + self.lift - head, steep)

    def walk(self, here: _Here, fills: bool = False) -> _Here:
        """One step down: Newton's where it leads down, shortened where it would pass the least place."""
        away = self.newton(here, fills) - here.flow
        rate = np.sum(here.over * away, axis=(0, 2, 3))
        weight = np.sum(np.abs(here.over * away), axis=(0, 2, 3))
        lost = ~(rate < -1e-3 * weight)
        if lost.any():
            plain = np.minimum(outlet_flow(here.head - self.lift, self.outlets, self.open), self.most) - here.flow
            away = np.where(lost[:, None, None], plain, away)
            rate = np.sum(here.over * away, axis=(0, 2, 3))
        part = np.ones(len(rate))
        for _ in range(MOST_CUTS):
            # a bound is met exactly, whatever rounding makes of the step
            there = self.look(np.clip(here.flow + part[:, None, None] * away, 0.0, self.most))
            rate_there = np.sum(there.over * away, axis=(0, 2, 3))
            far = (rate_there > 0.5 * np.abs(rate)) & (np.abs(rate_there) > 1e-12)
            if not far.any():
                break
            with np.errstate(invalid="ignore", divide="ignore"):
                cut = np.clip(rate / (rate - rate_there), 0.05, 0.9)
            part = np.where(far, part * cut, part)
        return there

    def newton(self, here: _Here, fills: bool = False) -> Array:
        """The flows at which the tangents of all laws agree, each head within its bounds.

        Which heads stand at a bound is found by turns: sweep, look which heads passed a bound, sweep again.
        Heads fill up to their upper bound in the sweeps only where `fills` says so, because the turns may then go in
        a circle.
        """
        pressed = here.head - self.lift
        drawn = np.minimum(outlet_flow(pressed, self.outlets, self.open), self.most)
        at = np.maximum(np.maximum(here.flow, drawn), self.least)
        steep = np.where(at > here.flow, needed_head(at, self.outlets)[1], here.steep)
        usable = self.most > 0
        g = np.where(usable, 1.0 / np.where(usable, steep, 1.0), 0.0)  # flow as e + g x head in the tube
        e = here.flow - g * (here.over + here.head)
        running, full = usable & ((here.flow > 0) | (here.over < 0)), usable & (here.flow >= self.most) & (
            here.over <= 0)
        a, b = here.loss - here.slope * here.through, here.slope
        for _ in range(MOST_TURNS):
            head = self._sweep(here, a, b, np.where(full, self.most, np.where(running, e, 0.0)),
                               np.where(running & ~full, g, 0.0))
            wanted = e + g * head
            was, running, full = (running, full), usable & (wanted > 0), (full | fills) & (
                wanted > self.most)
            if np.array_equal(was[0], running) and np.array_equal(was[1], full):
                break
        bounded: Array = np.clip(np.where(usable, wanted, 0.0), 0.0, self.most)
        return bounded

    def _sweep(self, here: _Here, a: Array, b: Array, e: Array, g: Array) -> Array:
        """Head in the tube at each outlet where every loss is a + b x flow and every head's flow e + g x head."""
        alpha, beta = np.empty_like(a), np.empty_like(a)
        sum_a, sum_b = np.zeros(a.shape[1:]), np.zeros(a.shape[1:])
        for i in range(len(a) - 1, -1, -1):  # each step's flow as alpha + beta x head before it
            sum_a = sum_a + e[i]
            sum_b = sum_b + g[i]
            part = 1.0 / (1.0 + sum_b * b[i])
            sum_a = (sum_a - sum_b * a[i]) * part
            sum_b = sum_b * part
            alpha[i], beta[i] = sum_a, sum_b
        before = np.broadcast_to(self._entry(here, sum_a.sum(axis=-1), sum_b.sum(axis=-1))[:, :, None], sum_a.shape)
        head = np.empty_like(a)
        for i in range(len(a)):
            before = before - a[i] - b[i] * (alpha[i] + beta[i] * before)
            head[i] = before
        return head

    def _entry(self, here: _Here, sum_a: Array, sum_b: Array) -> Array:
        """Heads at the lines' entries in the tangents' system."""
        into, loss, b, total, falls = here.trunk
        a = loss - b * into
        part = 1.0 / (1.0 + sum_b * b)
        line_a, line_b = (sum_a - sum_b * a) * part, sum_b * part
        all_a, all_b = line_a.sum(axis=-1), line_b.sum(axis=-1)
        flow = (all_a + all_b * (here.tee - falls * total)) / (1.0 - all_b * falls)
        tee = (here.tee + falls * (flow - total))[:, None]
        entry: Array = tee - a - b * (line_a + line_b * tee)
        return entry
