"""Is it mended? A few cans around a head, held against what an earlier test knew of all heads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch, read_catch
from ..pattern.floor import Figure, Samples
from ..pattern.scene import READING_ERROR
from ..pattern.shares import slope_at, water_of_heads
from ..pattern.threads import one_thread
from ..pattern.whole_floor import WholeFloor, estimate_floor
from ..record.ground import Array
from ..record.places import line_named
from ..record.site import Site
from .errors import ChangeError

MENDED_FROM = 0.85    # [1] output from which a head counts as mended: three deviations of sound heads under its share
SOUND_SD = 0.07       # [1] of a mended head's output: manufacture, and pressure that is not quite that of the other day
SURE = 0.9            # chance from which an answer is given
LEVEL_SD = 0.06       # [1] by which the whole system may run at another level than at the earlier test
MODEL_ERROR = 0.06    # of the mean reading: what the earlier estimate leaves out at any one can
OTHERS = (0.8, 0.4)   # mean and standard deviation of the outputs of other heads that are asked for
OUTPUTS = np.linspace(0.0, 1.6, 161)  # [1] that are weighed
WIDEN = 1.2           # factor on the earlier draws' deviations, from simulated tunnels
DRAWS = 480
LEAST_CANS = 2        # within reach of a head
LEAST_PART = 0.15     # of a can's water from a sound head there, for the can to count as within its reach


@dataclass(frozen=True)
class MendedHead:
    """One head before and after.

    Attributes
    ----------
    line : str
        Its line.
    number : int [1]
        On that line; 1 is nearest the inlet end wall.
    answer : str
        ``mended``, ``still weak`` or ``cannot tell``.
    chance : float [1]
        That it gives `MENDED_FROM` of its share or more.
    before, after : Figure [1]
        Its output as a part of its share, with the 90 % interval; `after` by the cans alone.
    cans : int [1]
        Cans within its reach.
    says : str
        One sentence.
    """

    line: str
    number: int
    answer: str
    chance: float
    before: Figure
    after: Figure
    cans: int
    says: str


def heads_named(texts: list[str]) -> list[tuple[str, int]]:
    """Read names of heads.

    Parameters
    ----------
    texts : list of str
        ``left:7`` each.

    Returns
    -------
    list of (line, number)

    Raises
    ------
    ChangeError
        For another text.
    """
    found = []
    for text in texts:
        line, colon, number = text.rpartition(":")
        if not colon or not line.strip() or not number.strip().isdecimal():
            raise ChangeError(f"received head {text!r}, expected a line's name and a head's number, such as left:7")
        found.append((line.strip(), int(number)))
    return found


@one_thread
def mended_heads(site: Site, earlier: Site, heads: list[tuple[str, int]] | None = None,
                 catch: Catch | None = None) -> list[MendedHead]:
    """Ask whether heads are mended.

    The earlier estimate says what all other heads give at these cans, and what a sound head would add: its draws make
    one Gaussian for each output of the head in question, and the cans weigh these outputs against each other.

    Parameters
    ----------
    site : Site
        The few cans of today; only cans and run count.
    earlier : Site
        The earlier test of the same lines, with enough cans for its heads.
    heads : list of (line, number), optional
        Those asked for; the weak heads of the earlier test with cans in reach if left out.
    catch : Catch, optional
        The cans of today; read from the site if left out.

    Returns
    -------
    list of MendedHead
        In the order asked for.

    Raises
    ------
    ChangeError
        For an earlier test without heads, unknown heads, or where no weak head has cans in reach.
    """
    if not len(earlier.heads):
        raise ChangeError("received an earlier test without lines, expected [[lines]] with the places of its heads, "
                          "add them to that record")
    if site.width != earlier.width or site.length != earlier.length:
        raise ChangeError(f"received floors of {site.width:g} m x {site.length:g} m and of {earlier.width:g} m x "
                          f"{earlier.length:g} m, expected two tests of one floor, name the right earlier test")
    catch = read_catch(site) if catch is None else catch
    floor = estimate_floor(earlier, read_catch(earlier), draws=DRAWS)
    samples = floor.estimate.samples
    assert samples is not None  # there are heads
    use = np.flatnonzero(catch.usable)
    cans = np.column_stack([catch.x[use], catch.y[use]])
    rate = catch.depth_mm[use].astype(float) * 60 / site.run_minutes / floor.estimate.mean_rate
    water = water_of_heads(samples, earlier.heads.places + floor.estimate.shift, cans)
    asked = _asked(floor, water, heads)
    noise = _noise(site, earlier, cans, rate, floor, samples)
    return [_judged(floor, samples, water, rate, noise, head, asked) for head in asked]


def _asked(floor: WholeFloor, water: Array, heads: list[tuple[str, int]] | None) -> list[int]:
    """Numbers of the heads that are asked for, in the order of the record's heads or as asked."""
    names = [(line, number) for line, number, _, _ in floor.heads]
    if heads is not None:
        for line, number in heads:
            if (line, number) not in names:
                raise ChangeError(f"received head {line}:{number}, expected a line's name and a head's number of the "
                                  "earlier test, such as left:7")
        return [names.index(head) for head in heads]
    weak = [one.head for one in floor.estimate.suspects if one.output.value < MENDED_FROM]
    found = [head for head in weak if _within_reach(water, head).sum() >= LEAST_CANS]
    if not found:
        raise ChangeError("received cans that stand within reach of no head that was weak at the earlier test, "
                          "expected cans around the mended head, or its name, such as left:7")
    return sorted(found)


def _within_reach(water: Array, head: int) -> Array:
    """Cans to which a sound head gives a part that counts, (n,) of bool."""
    middle = water.mean(axis=0)
    near: Array = middle[:, head] > LEAST_PART * np.maximum(middle.sum(axis=1), 1e-9)
    return near


def _noise(site: Site, earlier: Site, cans: Array, rate: Array, floor: WholeFloor, samples: Samples) -> Array:
    """Variance of each reading by itself, [of the mean rate squared]."""
    step = 10 / site.cans.opening if site.cans.opening else 1.0  # [mm]: a millilitre, or a ruler's millimetre
    rounding = step * 60 / site.run_minutes / floor.estimate.mean_rate
    slope = slope_at(samples, earlier.heads.places + floor.estimate.shift, cans)
    found: Array = ((READING_ERROR * rate) ** 2 + (MODEL_ERROR * max(float(rate.mean()), 1e-3)) ** 2
                    + rounding ** 2 / 12 + (site.cans.placed_within * slope) ** 2)
    return found


def _judged(floor: WholeFloor, samples: Samples, water: Array, rate: Array, noise: Array, head: int,
            asked: list[int]) -> MendedHead:
    """One head: every output it may have, weighed by the cans."""
    own = samples.output / samples.trend
    rest = np.einsum("snm,sm->sn", np.delete(water, asked, axis=2), np.delete(own, asked, axis=1))
    others = [other for other in asked if other != head]
    rest = rest + OTHERS[0] * water[:, :, others].sum(axis=2)
    loose = OTHERS[1] * water[:, :, others].mean(axis=0)
    log = np.empty(len(OUTPUTS))
    for number, output in enumerate(OUTPUTS):
        shown = rest + output * water[:, :, head]
        middle = shown.mean(axis=0)
        covariance = (WIDEN ** 2 * np.cov(shown.T) + np.diag(noise) + loose @ loose.T
                      + LEVEL_SD ** 2 * np.outer(middle, middle))
        off = rate - middle
        log[number] = -0.5 * (off @ np.linalg.solve(covariance, off) + np.linalg.slogdet(covariance)[1])
    likely = np.exp(log - log.max())
    sound = np.exp(-0.5 * ((OUTPUTS - 1.0) / SOUND_SD) ** 2)
    weak = (OUTPUTS <= 1.0).astype(float)
    weight = likely * (sound / sound.sum() + weak / weak.sum())  # as likely mended as not, before the cans speak
    chance = float(weight[OUTPUTS >= MENDED_FROM].sum() / weight.sum())
    after = _interval(likely)
    line, number_on_line, _, _ = floor.heads[head]
    found = floor.estimate
    before = Figure(float(found.output[head]), float(found.output_low[head]), float(found.output_high[head]))
    reach = int(_within_reach(water, head).sum())
    answer = "cannot tell" if reach < LEAST_CANS or 1 - SURE < chance < SURE else (
        "mended" if chance >= SURE else "still weak")
    return MendedHead(line, number_on_line, answer, chance, before, after, reach,
                      _says(line, number_on_line, answer, chance, before, after, reach))


def _interval(likely: Array) -> Figure:
    """Mean and shortest 90 % interval over the outputs that are weighed."""
    share = likely / likely.sum()
    order = np.argsort(-share)
    within = OUTPUTS[order[: int(np.searchsorted(np.cumsum(share[order]), 0.9)) + 1]]
    return Figure(float(share @ OUTPUTS), float(within.min()), float(within.max()))


def _says(line: str, number: int, answer: str, chance: float, before: Figure, after: Figure, reach: int) -> str:
    """The answer in a sentence."""
    name = f"{line_named(line).capitalize()} head {number}"
    if reach < LEAST_CANS:
        few = "only one can stands" if reach else "no can stands"
        return f"{name}: cannot tell, because {few} within its reach."
    gives = (f"it gave {100 * before.value:.0f} % of its share and now gives {100 * after.value:.0f} % "
             f"({100 * after.low:.0f} to {100 * after.high:.0f})")
    sure = round(100 * (chance if answer != "still weak" else 1 - chance))
    told = f"{answer}, {min(sure, 99)} in 100" if answer != "cannot tell" else (
        f"cannot tell: mended {sure} in 100; set more cans within a metre of it")
    return f"{name}: {told}; {gives}."
