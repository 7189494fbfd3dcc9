"""Two tests with the same cans: which heads and which cans changed.

A can keeps its place, its opening and the pattern above it, so the difference of its two readings knows far more of a
change than either test. Over all cans d = g y + L l + M h + c + e: one level g for the system, one l for each line, the
change h of each head's output with M what a sound head gives each can (the earlier estimate's), single cans c, noise e.
Heads and cans are let off the rule one at a time while that pays in evidence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch
from ..pattern.floor import Figure
from ..pattern.scene import READING_ERROR
from ..pattern.shares import slope_at, some_draws, water_of_heads
from ..pattern.whole_floor import WholeFloor
from ..record.ground import Array
from ..record.places import line_named
from ..record.site import Site

LEVEL_SD = 0.3       # of the system's level from one day to another, relative
LINE_SD = 0.04       # of a line's level against the others'
QUIET_SD = 0.03      # of the output of a head that did not change
HEAD_SD = 0.5        # of one that did
CAN_SD = 0.5         # of a can that was kicked or misread, of its own reading
MODEL_ERROR = 0.015  # of the mean reading: what a common pattern leaves out
HEAD_RARE, CAN_RARE = 0.03, 0.02  # how often a head or a can changes, before the cans speak
PAYS = 1.0           # gain in log evidence, the rarity paid, from which a further change is taken
MOST = 8             # changes that are told
TOLD = 0.5           # chance from which a change is told
DRAWS = 40           # of the earlier pattern, for what a head gives a can
SAME_PLACE = 0.1     # [m] within which a head hangs where it hung
WIDEN = 1.2          # factor on the intervals, from simulated pairs


@dataclass(frozen=True)
class HeadChange:
    """A head whose output changed.

    Attributes
    ----------
    line : str
        Its line.
    number : int [1]
        On that line; 1 is nearest the inlet end wall.
    before, after : float [1]
        Its output as a part of its share.
    change : Figure [1]
        After less before, with its 90 % interval.
    chance : float [1]
        That this head changed, and not a neighbour or a can.
    """

    line: str
    number: int
    before: float
    after: float
    change: Figure
    chance: float


@dataclass(frozen=True)
class CanChange:
    """A can that changed more than the heads explain.

    Attributes
    ----------
    can : str
        Its name.
    ratio : float [1]
        What it caught / what it would have by its earlier reading and the heads.
    chance : float [1]
        That it is this can, and no head.
    """

    can: str
    ratio: float
    chance: float


@dataclass(frozen=True)
class Changes:
    """What changed, the surest first.

    Attributes
    ----------
    heads : list of HeadChange
        Heads.
    cans : list of CanChange
        Cans.
    says : list of str
        Whole sentences.
    """

    heads: list[HeadChange]
    cans: list[CanChange]
    says: list[str]


@dataclass(frozen=True)
class _Pairs:
    """The linear model of the differences, in parts of the mean earlier reading."""

    difference: Array   # (n,)
    always: Array       # (n, n) covariance by noise, level, lines and quiet heads
    columns: Array      # (n, m + n): what a change of a head, or of a can, does
    prior: Array        # (m + n,) variance of each
    rare: Array         # (m + n,) log odds of each
    heads: int


def changes_between(old: Catch, new: Catch, mates: tuple[Array, Array], before: WholeFloor, earlier: Site,
                    later: Site) -> Changes | None:
    """Find what changed between two tests with the same cans.

    Parameters
    ----------
    old, new : Catch
        The cans of both tests.
    mates : (array, array) of int [1]
        Numbers of the cans that stand at the same places, in both.
    before : WholeFloor
        The earlier estimate.
    earlier, later : Site
        The tests.

    Returns
    -------
    Changes or None
        None without heads, or where they hang elsewhere than before.
    """
    samples = before.estimate.samples
    heads = earlier.heads
    if samples is None or len(heads) != len(later.heads) or (
            np.abs(heads.places - later.heads.places).max() > SAME_PLACE):
        return None
    model = _model(old, new, mates, before, earlier)
    return _told(model, *_taken(model), before, new, mates[1])


def _model(old: Catch, new: Catch, mates: tuple[Array, Array], before: WholeFloor, earlier: Site) -> _Pairs:
    one, two = (catch.depth_mm[which].astype(float) for catch, which in zip((old, new), mates, strict=True))
    mean = one.mean()
    one, two = one / mean, two / mean * (one.mean() / two.mean())
    cans = np.column_stack([old.x[mates[0]], old.y[mates[0]]])
    samples = before.estimate.samples
    assert samples is not None  # there are heads
    few, places = some_draws(samples, DRAWS), earlier.heads.places + before.estimate.shift
    water, slope = water_of_heads(few, places, cans).mean(axis=0), slope_at(few, places, cans)
    step = (10 / earlier.cans.opening if earlier.cans.opening else 1.0) / mean
    noise = (READING_ERROR ** 2 * (one ** 2 + two ** 2) + 2 * step ** 2 / 12 + MODEL_ERROR ** 2
             + 2 * (earlier.cans.placed_within * slope) ** 2)
    lines = np.array([water[:, earlier.heads.line == line].sum(axis=1)
                      for line in range(int(earlier.heads.line.max()) + 1)])
    always = (np.diag(noise) + LEVEL_SD ** 2 * np.outer(one, one) + LINE_SD ** 2 * lines.T @ lines
              + QUIET_SD ** 2 * water @ water.T)
    count, heads = len(one), water.shape[1]
    own = np.maximum(np.maximum(one, two), 0.2)
    return _Pairs(two - one, always, np.hstack([water, np.diag(own)]),
                  np.concatenate([np.full(heads, HEAD_SD ** 2), np.full(count, CAN_SD ** 2)]),
                  np.log(np.concatenate([np.full(heads, HEAD_RARE), np.full(count, CAN_RARE)])), heads)


def _gains(model: _Pairs, covariance: Array) -> Array:
    """Log evidence that each further change would add, rarity paid."""
    whitened = np.linalg.solve(covariance, np.column_stack([model.difference, model.columns]))
    pull, spread = model.columns.T @ whitened[:, 0], np.einsum("nk,nk->k", model.columns, whitened[:, 1:])
    inflated = 1.0 + model.prior * spread
    gain: Array = 0.5 * model.prior * pull ** 2 / inflated - 0.5 * np.log(inflated) + model.rare
    return gain


def _taken(model: _Pairs) -> tuple[list[int], list[float]]:
    """The changes that pay, and the chance of each against all others in its place."""
    covariance = model.always.copy()
    taken: list[int] = []
    while len(taken) < MOST:
        gain = _gains(model, covariance)
        gain[taken] = -np.inf
        best = int(np.argmax(gain))
        if gain[best] < PAYS:
            break
        taken.append(best)
        covariance = covariance + model.prior[best] * np.outer(model.columns[:, best], model.columns[:, best])
    chances = []
    for one in taken:
        rest = covariance - model.prior[one] * np.outer(model.columns[:, one], model.columns[:, one])
        gain = _gains(model, rest)
        gain[[other for other in taken if other != one]] = -np.inf
        top = max(float(gain.max()), 0.0)
        chances.append(float(np.exp(gain[one] - top) / (np.exp(-top) + np.exp(gain - top).sum())))
    return taken, chances


def _told(model: _Pairs, taken: list[int], chances: list[float], before: WholeFloor, new: Catch,
          cans: Array) -> Changes:
    """What was taken and is likely, with intervals."""
    columns, prior = model.columns[:, taken], model.prior[taken]
    covariance = model.always + (columns * prior) @ columns.T
    link = prior[:, None] * columns.T
    middle = link @ np.linalg.solve(covariance, model.difference)
    sd = np.sqrt(np.maximum(prior - np.einsum("kn,nk->k", link, np.linalg.solve(covariance, link.T)), 0.0))
    heads, odd = [], []
    for place in np.argsort([-chance for chance in chances], kind="stable"):
        which, chance = taken[place], chances[place]
        if chance < TOLD:
            continue
        if which < model.heads:
            line, number, _, _ = before.heads[which]
            was = float(before.estimate.output[which])
            half = WIDEN * 1.645 * sd[place]
            change = Figure(float(middle[place]), float(middle[place] - half), float(middle[place] + half))
            heads.append(HeadChange(line, number, was, max(was + change.value, 0.0), change, chance))
        else:
            own = float(columns[which - model.heads, place])
            seen = own * middle[place]
            ratio = 1.0 + seen / max(own - max(seen, 0.0), 0.05)
            odd.append(CanChange(new.name(int(cans[which - model.heads])), max(float(ratio), 0.0), chance))
    return Changes(heads, odd, [*map(_head_says, heads), *map(_can_says, odd)])


def _head_says(head: HeadChange) -> str:
    way = "more" if head.change.value > 0 else "less"
    low, high = sorted(abs(100 * end) for end in (head.change.low, head.change.high))
    return (f"{line_named(head.line).capitalize()} head {head.number} gives {way} than before by "
            f"{abs(100 * head.change.value):.0f} points of its share ({low:.0f} to {high:.0f}), "
            f"{min(round(100 * head.chance), 99)} in 100: from {100 * head.before:.0f} to {100 * head.after:.0f} %.")


def _can_says(can: CanChange) -> str:
    return (f"{can.can.capitalize()} caught {100 * can.ratio:.0f} % of what its earlier reading and the heads let "
            "expect: read it again.")
