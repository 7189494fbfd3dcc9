"""A test held against the one that it follows up: what changed, and whether that is more than the tests' own noise."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ..cans.catch import Catch, read_catch
from ..cans.uniformity import du_low_quarter, indices
from ..causes.explained import floor_today
from ..pattern.floor import Figure
from ..pattern.overlap import average
from ..pattern.whole_floor import WholeFloor
from ..record.conditions import conditions_of, unlike
from ..record.ground import Array
from ..record.site import Site
from .same_cans import CanChange, Changes, HeadChange, changes_between

SAME_PLACE_M = 0.3     # cans this near to each other stand at the same place
DRAWS = 600
# Parts of the width that two estimates would have which share nothing, chosen on simulated pairs with drift, kicked
# cans and unlike levels of lines. On 200 others (`python -m tests.members.pairs repair 200 20000`) DUlq held 95 of 100
# and CU 92 with the same cans, 92 and 89 with others.
SAME_CANS = {"du_low_quarter": 0.65, "cu": 0.5}
OTHER_CANS = {"du_low_quarter": 0.7, "cu": 0.55}


@dataclass(frozen=True)
class Difference:
    """One figure before and after.

    Attributes
    ----------
    before, after : float [%]
        The figure.
    change : Figure [%]
        After less before, in points, with its 90 % interval.
    """

    before: float
    after: float
    change: Figure

    @property
    def shown(self) -> bool:
        """Whether the interval leaves out no change."""
        return self.change.low > 0 or self.change.high < 0


@dataclass(frozen=True)
class Recheck:
    """A test held against an earlier one.

    Attributes
    ----------
    id, title, date : str or None
        Of the earlier test.
    du_low_quarter, cu : Difference
        Over the whole floor.
    at_the_cans : Difference or None
        DUlq at the cans; None where the cans of the two tests stand at unlike places.
    heads : list of HeadChange
        Heads whose output changed, the surest first; empty where the cans or the heads stand elsewhere than before.
    cans : list of CanChange
        Cans that changed more than the heads explain.
    unlike : list of str
        Conditions that differ, whole sentences.
    says : list of str
        What it means.
    floor : WholeFloor
        The earlier estimate; not part of the JSON.
    """

    id: str | None
    title: str
    date: str | None
    du_low_quarter: Difference
    cu: Difference
    at_the_cans: Difference | None
    heads: list[HeadChange]
    cans: list[CanChange]
    unlike: list[str]
    says: list[str]
    floor: WholeFloor = field(metadata={"json": False}, repr=False)


def held_against(site: Site, catch: Catch, floor: WholeFloor, earlier: Site, system: str = "metric") -> Recheck:
    """Hold a test against an earlier one.

    Parameters
    ----------
    site : Site
        The later test.
    catch : Catch
        Its cans.
    floor : WholeFloor
        Its estimate.
    earlier : Site
        The test that it follows up.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    Recheck
    """
    old = read_catch(earlier)
    before = floor_today(earlier, old)
    mates = _mates(old, catch)
    paired = _paired(old, catch, *mates) if mates else None
    changed = changes_between(old, catch, mates, before, earlier, site) if mates else None
    du, even = (difference(getattr(before.estimate, name), getattr(floor.estimate, name),
                           figure=name, same_cans=paired is not None) for name in ("du_low_quarter", "cu"))
    unlike = _unlike(earlier, site, paired is None, system)
    test = earlier.record.test
    return Recheck(test.id, test.title, test.date.isoformat() if test.date else None, du, even, paired,
                   changed.heads if changed else [], changed.cans if changed else [], unlike,
                   _words(du, paired, changed, unlike), before)


def difference(one: Figure, two: Figure, *, figure: str, same_cans: bool) -> Difference:
    """Hold two estimates of one tunnel against each other.

    Parameters
    ----------
    one, two : Figure [%]
        The figure before and after, with its 90 % interval.
    figure : str
        ``du_low_quarter`` or ``cu``.
    same_cans : bool
        Whether the cans stood at the same places; what both estimates miss alike then falls out of the difference.

    Returns
    -------
    Difference
        Two errors that know nothing of each other, narrowed by what 300 simulated pairs showed that they share.
    """
    part = (SAME_CANS if same_cans else OTHER_CANS)[figure]
    change = two.value - one.value
    low = change - part * np.hypot(two.value - two.low, one.high - one.value)
    high = change + part * np.hypot(two.high - two.value, one.value - one.low)
    return Difference(float(one.value), float(two.value), Figure(float(change), float(low), float(high)))


def _mates(old: Catch, new: Catch) -> tuple[Array, Array] | None:
    """Numbers of the cans that stand at the same places in both tests; None where too few do."""
    one, two = (np.flatnonzero(catch.counted) for catch in (old, new))
    apart = np.hypot(old.x[one][:, None] - new.x[two], old.y[one][:, None] - new.y[two])
    mate = apart.argmin(axis=1)
    near = apart[np.arange(len(one)), mate] < SAME_PLACE_M
    if near.sum() < 8 or near.sum() < 0.8 * max(len(one), len(two)) or len(set(mate[near])) < near.sum():
        return None
    return one[near], two[mate[near]]


def _paired(old: Catch, new: Catch, one: Array, two: Array) -> Difference:
    """DUlq at the cans where they stand at the same places: pairs of cans are drawn again and again."""
    before, after = old.depth_mm[one], new.depth_mm[two]
    drawn = np.random.default_rng(0).integers(0, len(before), (DRAWS, len(before)))
    change = du_low_quarter(after[drawn]) - du_low_quarter(before[drawn])
    first, then = (float(indices(catch.depth_mm[catch.counted], catch.weight[catch.counted]).du_low_quarter)
                   for catch in (old, new))
    middle = then - first
    low, high = np.quantile(change, [0.05, 0.95]) - np.median(change)
    return Difference(first, then, Figure(middle, float(middle + low), float(middle + high)))


def _unlike(old: Site, new: Site, other_places: bool, system: str) -> list[str]:
    said = ["The cans stood at unlike places, so the figures at the cans are not held against each other."]
    return said * other_places + unlike(conditions_of(old.record), conditions_of(new.record), system)


def _words(du: Difference, paired: Difference | None, changed: Changes | None, unlike: list[str]) -> list[str]:
    said = [sentence("DUlq of the whole floor", du)]
    if paired is not None:
        said.append(sentence("DUlq at the same cans", paired))
    if changed is not None:
        said += changed.says or ["Can by can, no single head or can changed more than the tests' own noise."]
    if unlike and (du.shown or (paired is not None and paired.shown)):
        said.append("Part of the change may come from what was unlike between the two tests.")
    return said


def sentence(name: str, one: Difference) -> str:
    """Say what became of a figure.

    Parameters
    ----------
    name : str
        Of the figure.
    one : Difference
        Before and after.

    Returns
    -------
    str
        The change is that of the figures as they are written.
    """
    verdict = "more than the tests' own noise" if one.shown else "within the tests' own noise, so no change is shown"
    return f"{name} went from {one.before:.0f} to {one.after:.0f} %, {points(one)}: {verdict}."


def signed_whole(value: float) -> str:
    """Write a change in whole points.

    Parameters
    ----------
    value : float [%]
        In points.

    Returns
    -------
    str
        With its sign; a plain 0 for none.
    """
    return f"{round(value):+d}" if round(value) else "0"


def points(one: Difference, unit: str = " points") -> str:
    """Write a change, the same wherever it is shown: in whole points, as the figures before and after are written.

    Parameters
    ----------
    one : Difference
        Before and after.
    unit : str
        What follows the change.

    Returns
    -------
    str
        ``-4 points (-9 to +1)``.
    """
    value, low, high = map(signed_whole, (round(one.after) - round(one.before), one.change.low, one.change.high))
    return f"{value}{unit} ({low} to {high})"


def relative(floor: WholeFloor) -> np.ndarray:
    """Depth on the ground that counts / its mean.

    Parameters
    ----------
    floor : WholeFloor
        An estimate.

    Returns
    -------
    array (p,) [1]
    """
    depth = floor.depth_mm[floor.ground]
    part: np.ndarray = depth / average(depth, floor.weight)
    return part
