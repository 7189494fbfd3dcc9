"""Several kinds of heads in one zone: each its throw and its share of the water, around what the record says."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array
from ..record.running import Running
from ..record.site_lines import FULL, ORIFICE, SiteHeads
from . import fit, model, overlap

if TYPE_CHECKING:
    from .estimate import Estimate

HEIGHT_POWER = 0.4    # how the throw grows with the height of a head; a judgement, between no and a free fall's 0.5
STRETCH_SD = 0.1      # of the logarithm of a kind's throw / that of the others, where the record says both ...
STRETCH_SD_FREE = 0.25  # ... and where it does not, or where their heights differ
FLOW_SD = 0.15        # of a kind's share of the water around what the record says, relative ...
FLOW_SD_FREE = 0.3    # ... and where it does not say it
STEP = 0.06           # of the logarithm of a throw that is sought
FARTHEST = 2.5        # standard deviations to which it is sought
MOST_SOUGHT = 3       # kinds beside the first whose throw is sought


@dataclass(frozen=True)
class HeadKinds:
    """What is known of heads of several kinds, or of arcs.

    Attributes
    ----------
    kind : array (m,) of int [1]
        Of each head; 0 is the one that hangs most, and the profile is that of its heads if they threw all around.
    throws : overlap.Throws
        How each throws, by what the record says: radii and flows at one pressure / those of kind 0.
    stretch_sd, strength_sd : array (kinds,) [1]
        How far each kind may be from that, relative; the first is 0.
    """

    kind: NDArray[np.int_]
    throws: overlap.Throws
    stretch_sd: Array
    strength_sd: Array


@dataclass(frozen=True)
class Setting:
    """A test seen with one throw of each kind.

    Attributes
    ----------
    scene : model.Scene
        The test.
    log_prior : float [1]
        Of these throws.
    """

    scene: model.Scene
    log_prior: float


def kinds_of(heads: SiteHeads) -> HeadKinds | None:
    """What a site says of its kinds of heads.

    Parameters
    ----------
    heads : SiteHeads
        Of a site.

    Returns
    -------
    HeadKinds or None
        None where all heads are alike and throw all around.
    """
    kind = heads.kind
    if not len(heads) or (kind.max() == 0 and np.all(heads.arc == FULL)):
        return None
    first = int(np.flatnonzero(kind == 0)[0])
    wide, strong = heads.radius / heads.radius[first], _flow_at(heads, heads.at[first]) / heads.flow[first]
    higher = (heads.hung / heads.hung[first]) ** HEIGHT_POWER
    known, told = ~np.isnan(wide), ~np.isnan(strong)
    known &= np.isnan(higher) | (np.abs(higher - 1.0) < 1e-9)
    of_kind = [int(np.flatnonzero(kind == number)[0]) for number in range(kind.max() + 1)]
    apart = np.arange(len(of_kind)) > 0
    stretch = np.where(np.isnan(wide), 1.0, wide) * np.where(np.isnan(higher), 1.0, higher)
    return HeadKinds(kind, overlap.Throws(stretch, np.where(told, strong, 1.0), heads.facing, heads.arc),
                     apart * np.where(known[of_kind], STRETCH_SD, STRETCH_SD_FREE),
                     apart * np.where(told[of_kind], FLOW_SD, FLOW_SD_FREE))


def _flow_at(heads: SiteHeads, pressure: float) -> Array:
    """Flow of each head at one pressure [m3/s]; its nominal one where the pressures are not known."""
    power = np.where(np.isnan(heads.exponent) | heads.holds_flow, ORIFICE, heads.exponent)
    share = (pressure / heads.at) ** power
    share = np.where(heads.holds_flow, np.minimum(share, 1.0), share)
    flow: Array = heads.flow * np.where(np.isnan(share), 1.0, share)
    return flow


def timed(kinds: HeadKinds | None, heads: SiteHeads, running: Running) -> HeadKinds | None:
    """The same heads, each with its share of the time that its line ran.

    Parameters
    ----------
    kinds : HeadKinds or None
        From `kinds_of`.
    heads : SiteHeads
        Of the site.
    running : Running
        How its lines ran.

    Returns
    -------
    HeadKinds or None
        What was given where all lines ran for the same time.
    """
    if running.shares is None:
        return kinds
    share = running.shares[heads.line]
    if kinds is not None:
        return replace(kinds, throws=replace(kinds.throws, strength=kinds.throws.strength * share))
    one = np.ones(len(heads))
    throws = overlap.Throws(one, share, np.full(len(heads), np.nan), FULL * one)
    return HeadKinds(np.zeros(len(heads), int), throws, np.zeros(1), np.zeros(1))


def untimed(found: Estimate, heads: SiteHeads, running: Running) -> Estimate:
    """An estimate of heads that were `timed`, with the times in the draws of its trends and outputs.

    Parameters
    ----------
    found : Estimate
        Its figures, outputs and trends are those of heads while they run.
    heads : SiteHeads
        Of the site.
    running : Running
        How its lines ran.

    Returns
    -------
    Estimate
        The draws of its trends and outputs are water in the run's duration.
    """
    samples = found.samples
    if running.shares is None or samples is None or samples.throws is None:
        return found
    share, throws = running.shares[heads.line], samples.throws
    kinds = kinds_of(heads)
    kept = replace(samples, trend=samples.trend * share, output=samples.output * share,
                   stretch=None if kinds is None else samples.stretch,
                   throws=None if kinds is None else replace(throws, strength=throws.strength / share))
    return replace(found, samples=kept)


def with_kinds(scene: model.Scene, kinds: HeadKinds | None) -> model.Scene:
    """A test whose heads are of these kinds.

    Parameters
    ----------
    scene : model.Scene
        Of heads that are all alike.
    kinds : HeadKinds or None
        Of its heads; None leaves the test as it is.

    Returns
    -------
    model.Scene
        Each kind's share of the water is free around what is known of it.
    """
    if kinds is None:
        return scene
    free = [np.where(kinds.kind == number, sd, 0.0) for number, sd in enumerate(kinds.strength_sd) if sd > 0]
    throws = kinds.throws
    return replace(scene, stretch=throws.stretch, strength=throws.strength, arc=throws.arc, facing=throws.facing,
                   trend_root=np.column_stack([scene.trend_root, *free]))


def settings(scene: model.Scene, kinds: HeadKinds | None, radius: float | None) -> list[Setting]:
    """The throws of each kind that the cans allow, weighed by what is known of them.

    One kind after the other is sought on a grid around what the record says, and pays for its distance from that.

    Parameters
    ----------
    scene : model.Scene
        From `with_kinds`.
    kinds : HeadKinds or None
        Of its heads.
    radius : float or None [m]
        Throw radius of kind 0 from a data sheet.

    Returns
    -------
    list of Setting
        The best first, then its neighbours, each with its log prior over that of the best; only the test itself where
        nothing is sought.
    """
    sought = [] if kinds is None else [number for number, sd in enumerate(kinds.stretch_sd) if sd > 0][:MOST_SOUGHT]
    if kinds is None or not sought:
        return [Setting(scene, 0.0)]
    off = np.zeros(len(kinds.stretch_sd))
    for number in sought:
        reach = int(FARTHEST * kinds.stretch_sd[number] / STEP)
        tried = {}
        for step in (2, 1):
            middle = round(max(tried, key=lambda at: tried[at][0]) / STEP) if tried else 0
            places = range(-reach, reach + 1, 2) if step == 2 else (middle - 1, middle + 1)
            for at in (place * STEP for place in places):
                tried[at] = (_score(_at(scene, kinds, _put(off, number, at)), radius), at)
        off = _put(off, number, max(tried.values())[1])
    near = [off, *(_put(off, number, off[number] + way) for number in sought for way in (-STEP, STEP))]
    found = [_at(scene, kinds, each) for each in near]
    return [replace(one, log_prior=one.log_prior - found[0].log_prior) for one in found]


def moved(found: list[Setting], heads: Array) -> list[Setting]:
    """The same settings with the pattern elsewhere.

    Parameters
    ----------
    found : list of Setting
        From `settings`.
    heads : array (m, 2) [m]
        Where the heads' patterns are.

    Returns
    -------
    list of Setting
    """
    return [replace(one, scene=replace(one.scene, heads=heads)) for one in found]


def _put(off: Array, number: int, value: float) -> Array:
    """The same with one kind elsewhere."""
    other = off.copy()
    other[number] = value
    return other


def _at(scene: model.Scene, kinds: HeadKinds, off: Array) -> Setting:
    """The test with these logarithms of throws."""
    on = kinds.stretch_sd > 0
    far = off[on] / kinds.stretch_sd[on]
    prior = -0.5 * float(far @ far)
    return Setting(replace(scene, stretch=kinds.throws.stretch * np.exp(off)[kinds.kind]), prior)


def _score(setting: Setting, radius: float | None) -> float:
    return fit.scan(setting.scene, radius, sparse=True)[0].score + setting.log_prior
