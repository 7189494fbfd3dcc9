"""The floor after a change: the same pattern from heads elsewhere, or at another pressure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import overlap
from .floor import Samples

NEW_SPREAD = 0.05  # standard deviation of a new head's output by manufacture


@dataclass(frozen=True)
class Layout:
    """Heads with what each of them gives in every draw.

    Attributes
    ----------
    heads : array (m, 2) [m]
        Places, line by line from the left, each line from the inlet end wall.
    line_of : array (m,) of int [1]
        Line of each head.
    was : array (m,) of int [1]
        The head of today that stands there; -1 for a new one.
    trend : array (s, m) [1]
        Smooth trend of its line at each head.
    own : array (s, m) [1]
        Output / that trend.
    like : array (m,) of int [1]
        The head of today whose kind it is of: itself, else the nearest on the line that it takes after.
    stretch : array (s, m) [1] or None
        Throw radius / that of the profile; None where all heads are alike.
    throws : overlap.Throws or None
        How they throw otherwise; None where they are alike and throw all around.
    """

    heads: np.ndarray
    line_of: np.ndarray
    was: np.ndarray
    trend: np.ndarray
    own: np.ndarray
    like: np.ndarray
    stretch: np.ndarray | None = None
    throws: overlap.Throws | None = None

    @property
    def output(self) -> np.ndarray:
        """Output of each head in every draw, (s, m) [1]."""
        return self.trend * self.own


def layout_today(samples: Samples, heads: np.ndarray, line_of: np.ndarray) -> Layout:
    """The heads as they hang now.

    Parameters
    ----------
    samples : Samples
        Draws of the estimate.
    heads : array (m, 2) [m]
        Their places.
    line_of : array (m,) of int [1]
        Line of each, numbered from 0.

    Returns
    -------
    Layout
    """
    return Layout(np.asarray(heads, float), np.asarray(line_of), np.arange(len(heads)), samples.trend,
                  samples.output / samples.trend, np.arange(len(heads)), samples.stretch, samples.throws)


def moved(today: Layout, lines: list[tuple[int, float, np.ndarray]], rng: np.random.Generator) -> Layout:
    """Heads at other places: those that stay keep their output, new ones are sound.

    Parameters
    ----------
    today : Layout
        Heads as they are.
    lines : list of (line, x, y) [1], [m], [m]
        Of each new line: the line of today whose trend it takes, its x, and the y of its heads. A line that stays
        itself has the number of its own place in the list; a new one names its nearest neighbour and -1 - line.
    rng : numpy.random.Generator
        For the manufacture of new heads.

    Returns
    -------
    Layout
    """
    draws = today.trend.shape[0]
    parts = []
    for number, (like, x, ys) in enumerate(lines):
        is_new, like = like < 0, like if like >= 0 else -1 - like
        ys = np.asarray(ys, float)
        on = np.flatnonzero(today.line_of == like)
        along = today.heads[on, 1]
        trend = _between(ys, along, today.trend[:, on])
        own = 1.0 + NEW_SPREAD * rng.standard_normal((draws, len(ys)))
        was = np.full(len(ys), -1)
        nearest = np.abs(ys[:, None] - along[None, :]).argmin(axis=1)
        if not is_new:
            same = np.abs(ys - along[nearest]) < 0.01
            own[:, same] = today.own[:, on[nearest[same]]]
            was[same] = on[nearest[same]]
        parts.append((np.column_stack([np.full(len(ys), x), ys]), np.full(len(ys), number), was, trend,
                      np.maximum(own, 0.0), on[nearest]))
    heads, line_of, was, trend, own, kind = zip(*parts, strict=True)
    made = Layout(np.vstack(heads), np.concatenate(line_of), np.concatenate(was), np.hstack(trend), np.hstack(own),
                  np.concatenate(kind))
    if today.throws is None or today.stretch is None:
        return made
    return replace(made, stretch=today.stretch[:, made.like], throws=today.throws.take(made.like))


def levelled(layout: Layout, lines: list[int], usual: np.ndarray) -> Layout:
    """The same with whole lines back to what the others give.

    Where no other line is left, a line is brought back to what its best quarter gives.

    Parameters
    ----------
    layout : Layout
        Heads.
    lines : list of int [1]
        Lines that give too little.
    usual : array (m,) [1]
        What each head would give in a sound system beside the others, on any scale.

    Returns
    -------
    Layout
    """
    trend, level = layout.trend.copy(), layout.trend / usual
    others = ~np.isin(layout.line_of, lines)
    for line in lines:
        on = layout.line_of == line
        own = np.sort(level[:, on], axis=1)[:, -max(1, int(on.sum()) // 4):]
        sound = level[:, others].mean(axis=1) if others.any() else own.mean(axis=1)
        trend[:, on] = np.maximum(sound[:, None] * usual[on], trend[:, on])
    return replace(layout, trend=trend)


def _between(ys, along, values):
    """Values (s, k) at rising places (k,), read at others: straight between, the nearest beyond."""
    if len(along) == 1:
        return np.repeat(values, len(ys), axis=1)
    left = np.clip(np.searchsorted(along, ys, side="right") - 1, 0, len(along) - 2)
    gaps = np.maximum(along[left + 1] - along[left], 1e-9)  # two heads may hang at one place
    part = np.clip((ys - along[left]) / gaps, 0.0, 1.0)
    return values[:, left] + (values[:, left + 1] - values[:, left]) * part


def mended(layout: Layout, which: list[int], rng: np.random.Generator) -> Layout:
    """The same with some heads back to their share.

    Parameters
    ----------
    layout : Layout
        Heads.
    which : list of int [1]
        Their indices in it.
    rng : numpy.random.Generator
        For the manufacture of sound heads.

    Returns
    -------
    Layout
    """
    own = layout.own.copy()
    own[:, which] = 1.0 + NEW_SPREAD * rng.standard_normal((len(own), len(which)))
    return replace(layout, own=np.maximum(own, 0.0))
