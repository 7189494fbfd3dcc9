"""After a test: where the next cans tell most, and the heads that a bottle would."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch, read_catch
from ..cans.water_balance import all_doubts
from ..causes.explained import fit_of, rests_on
from ..causes.rivals import WORDS, clear_rival, doubt_of
from ..pattern import mixture, overlap
from ..pattern.narrowing import Chosen, Ensemble, most_telling, worth
from ..pattern.rivals import AS_RECORDED, Rival
from ..pattern.scene import READING_ERROR
from ..pattern.threads import one_thread
from ..pattern.whole_floor import WholeFloor, estimate_floor
from ..record.ground import Array
from ..record.places import line_named
from ..record.site import Site
from ..units.shown import show
from .layouts import on_marks

DRAWS = 960           # floors; half of them choose, the others say what the choice is worth
RIVAL_DRAWS = 240     # floors of each rival
MOST_CANS = 40
SETTLED = 10.0        # [%] width of the 90 % interval of DUlq at which an answer counts as settled
MODEL_ERROR = 0.05    # of the mean depth: what the pattern of the heads leaves out at any one place
APART = 0.3           # [m] between two cans
FROM_WALL = 0.1       # [m]
CONTESTED = 0.5       # weight of 'which explanation' beside DUlq where the two best weigh alike
BOTTLES = 3
BOTTLE_ERROR = 0.03   # relative standard deviation of a bottle and a watch, from memory
BOTTLE_TELLS = 0.01   # of DUlq's variance; heads that take away less need no bottle
BESIDE_HEAD = 0.4     # [m]


@dataclass(frozen=True)
class FurtherCan:
    """A place for a can.

    Attributes
    ----------
    x_m, y_m : float [m]
        Across from the left edge, along from the inlet end wall; on marks of the tape.
    why : str
        What it tells.
    """

    x_m: float
    y_m: float
    why: str


@dataclass(frozen=True)
class FurtherBottle:
    """A head to hold a bottle under.

    Attributes
    ----------
    line : str
        Its line.
    head : int [1]
        Its number on that line; 1 is nearest the inlet end wall.
    why : str
        What it tells.
    """

    line: str
    head: int
    why: str


@dataclass(frozen=True)
class Narrows:
    """Width of the 90 % interval of the whole floor's DUlq.

    Attributes
    ----------
    now : float [%]
        In points.
    then : float [%]
        Expected with the further cans, in points.
    """

    now: float
    then: float


@dataclass(frozen=True)
class MoreCans:
    """Where further readings tell most.

    Attributes
    ----------
    cans : tuple of FurtherCan
        The most telling first.
    bottles : tuple of FurtherBottle
        The most telling first; empty without heads.
    narrows : Narrows
        What these cans are expected to bring.
    enough : int or None [1]
        Further cans that would bring the interval down to `SETTLED`; None where even `MOST_CANS` would not.
    """

    cans: tuple[FurtherCan, ...]
    bottles: tuple[FurtherBottle, ...]
    narrows: Narrows
    enough: int | None


@dataclass(frozen=True)
class Explained:
    """Floors under every explanation that counts.

    Attributes
    ----------
    site : Site
        The test, as a clear rival has it where there is one.
    catch : Catch
        Its cans, in the same way.
    floor : WholeFloor
        The estimate.
    maps : array (s, p) [mm]
        Draws of the depth on the ground; those of the estimate first, then those of each rival.
    weight : array (s,) [1]
        Of each draw; they sum to 1.
    which : array (s,) of int [1]
        Whose draw it is: 0 for the record, from 1 for the rivals.
    rivals : tuple of (Rival, weight [1])
        What competes with the record.
    """

    site: Site
    catch: Catch
    floor: WholeFloor
    maps: Array
    weight: Array
    which: Array
    rivals: tuple[tuple[Rival, float], ...]


@one_thread
def more_cans(site: Site, catch: Catch | None = None, count: int = 8, system: str = "metric") -> MoreCans:
    """Choose places for further cans.

    The floors that agree with the readings, those of rival explanations among them, are an ensemble: a place tells much
    where what a can would read there goes with DUlq, or with which explanation is right.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch, optional
        Its cans; read from the site if left out.
    count : int [1]
        How many further cans there are, 1 to `MOST_CANS`.
    system : str
        ``metric`` or ``US``: places fall on marks of that tape, and the words use its units.

    Returns
    -------
    MoreCans

    Raises
    ------
    ValueError
        For another number of cans, or where the whole floor is closed.
    """
    if not 1 <= count <= MOST_CANS:
        raise ValueError(f"received {count} further cans, expected 1 to {MOST_CANS}, choose another number")
    explained = explained_by(site, read_catch(site) if catch is None else catch, system)
    places, cells, near = _offered(explained, system)
    maps = explained.maps
    answers = [overlap.low_quarter(maps, explained.floor.weight)]
    record = 1.0 - sum(weight for _, weight in explained.rivals)
    importance = np.array([1.0, CONTESTED * 4.0 * record * (1.0 - record)][: 1 + bool(explained.rivals)])
    answers += [(explained.which == 0).astype(float)] if explained.rivals else []
    ensemble = Ensemble(maps[:, cells], _noise(explained)[cells], np.column_stack(answers), explained.weight)
    one, other = ensemble.part(slice(0, None, 2)), ensemble.part(slice(1, None, 2))
    chosen = worth(other, most_telling(one, MOST_CANS, near, importance))
    now = width_of(explained, answers[0])
    then = [float(now * step.left[0]) for step in chosen]
    enough = 0 if now <= SETTLED else next((k for k, width in enumerate(then, 1) if width <= SETTLED), None)
    cans = tuple(FurtherCan(float(x), float(y), _why(explained, ensemble, step, (x, y), importance, system))
                 for step in chosen[:count] for x, y in [places[step.which]])
    return MoreCans(cans, _bottles(explained), Narrows(now, then[: count][-1] if then else now), enough)


def explained_by(site: Site, catch: Catch, system: str = "metric") -> Explained:
    """Draw the floors under all that explains the readings.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.
    system : str
        ``metric`` or ``US``, for the sentence of a refusal.

    Returns
    -------
    Explained

    Raises
    ------
    ValueError
        Where the whole floor is closed; the sentence says why.
    """
    odd = all_doubts(site, catch)
    weighed, _ = fit_of(site, catch) if not any("whole_floor" in doubt.closes for doubt in odd) else (None, [])
    rival = doubt_of(site, weighed, system) if weighed else None
    closing = next((doubt for doubt in [*([rival] if rival else []), *odd] if "whole_floor" in doubt.closes), None)
    if closing is not None:
        raise ValueError(f"The whole floor is closed, so no place tells more than another until this is settled: "
                         f"{closing.says}")
    clear = clear_rival(weighed) if weighed else None
    site, catch, base = rests_on(site, catch, clear)
    floor = estimate_floor(site, catch, base=base, draws=DRAWS)
    others = [(one, share) for one, share in (mixture.beside(weighed, clear) if weighed else ())
              if one.kind != AS_RECORDED]
    own, record = floor.estimate.draws.astype(float), 1.0 - sum(share for _, share in others)
    maps, weight, which = [own], [np.full(len(own), record / len(own))], [np.zeros(len(own), int)]
    scale = float(catch.depth_mm[floor.cans].mean())
    for number, (one, share) in enumerate(others, 1):
        maps.append(mixture.maps(one, floor.cells.places, RIVAL_DRAWS, np.random.default_rng(number)) * scale)
        weight.append(np.full(RIVAL_DRAWS, share / RIVAL_DRAWS))
        which.append(np.full(RIVAL_DRAWS, number))
    return Explained(site, catch, floor, np.vstack(maps), np.concatenate(weight), np.concatenate(which), tuple(others))


def _offered(explained: Explained, system: str) -> tuple[Array, Array, Array]:
    """Places on marks of the tape where a can may stand, their cells, and which are too near each other."""
    site, catch = explained.site, explained.catch
    places = np.array([[on_marks(x, system), on_marks(y, system)] for x, y in explained.floor.cells.places])
    x, y = places.T
    fits = site.ground.holds(x, y) & (np.minimum(x, site.width - x) >= FROM_WALL) & (
        np.minimum(y, site.length - y) >= FROM_WALL)
    stand = np.column_stack([catch.x, catch.y])
    fits &= overlap.distances(places, stand).min(axis=1) >= APART
    cells = np.flatnonzero(fits)
    return places[cells], cells, overlap.distances(places[cells], places[cells]) < APART


def _noise(explained: Explained) -> Array:
    """Variance of a reading on each cell of the ground, [mm2]."""
    floor, site = explained.floor, explained.site
    middle = explained.weight @ explained.maps
    shown = np.full(floor.ground.shape, np.nan)
    shown[floor.ground] = middle
    steps = (floor.y[1] - floor.y[0] if len(floor.y) > 1 else 1.0, floor.x[1] - floor.x[0] if len(floor.x) > 1 else 1.0)
    slope = [np.nan_to_num(np.gradient(shown, step, axis=axis)[floor.ground]) if shown.shape[axis] > 1
             else np.zeros(len(middle)) for axis, step in enumerate(steps)]
    found: Array = ((READING_ERROR * middle) ** 2 + (MODEL_ERROR * middle.mean()) ** 2
                    + site.cans.placed_within ** 2 * (slope[0] ** 2 + slope[1] ** 2))
    return found


def width_of(explained: Explained, low_quarter: Array) -> float:
    """Width of the 90 % interval of DUlq with the rivals in it: the estimate's own, as much wider as the draws are.

    Parameters
    ----------
    explained : Explained
        The floors.
    low_quarter : array (s,) [%]
        DUlq of each draw.

    Returns
    -------
    float [%]
        In points.
    """
    own = explained.floor.estimate.du_low_quarter
    first = low_quarter[explained.which == 0].std()
    middle = explained.weight @ low_quarter
    every = np.sqrt(explained.weight @ (low_quarter - middle) ** 2)
    return float((own.high - own.low) * max(every / max(first, 1e-9), 1.0))


def _why(explained: Explained, ensemble: Ensemble, step: Chosen, place: tuple[float, float], importance: Array,
         system: str) -> str:
    """What a can there tells, in words."""
    values, weight = ensemble.readings[:, step.which], explained.weight
    if len(step.share) > 1 and importance[1] * step.share[1] > step.share[0]:
        rival = explained.rivals[0][0]
        means = [values[explained.which == number].mean() for number in (0, 1)]
        said = WORDS[rival.kind].if_so(explained.site, rival.setup.at, system)
        return (f"tells whether {said}: about {_depth(means[1], system)} if so, {_depth(means[0], system)} as the "
                "record has it")
    order = np.argsort(values)
    low, high = np.interp([0.05, 0.95], np.cumsum(weight[order]) / weight.sum(), values[order])
    span = f"{_depth(max(low, 0.0), system)} to {_depth(high, system)} would fit what is known"
    return f"{_where(explained, place, system)}: {span}"


def _depth(value: float, system: str) -> str:
    return show(value, "depth", system, unit="mm")


def _where(explained: Explained, place: tuple[float, float], system: str) -> str:
    """Where a place stands to heads and cans."""
    floor, catch = explained.floor, explained.catch
    if floor.heads:
        away = np.hypot(*(np.array([[x, y] for _, _, x, y in floor.heads]) - place).T)
        nearest = int(away.argmin())
        line, number, _, _ = floor.heads[nearest]
        if nearest in {one.head for one in floor.estimate.suspects}:
            return f"beside {line_named(line)} head {number}, which may be weak or strong"
        if away[nearest] < BESIDE_HEAD:
            return f"close to {line_named(line)} head {number}, where the pattern is steep or hardly seen"
    x, y = catch.x[floor.cans], catch.y[floor.cans]
    if not (x.min() <= place[0] <= x.max() and y.min() <= place[1] <= y.max()):
        return "beyond the outermost cans"
    away = float(np.hypot(x - place[0], y - place[1]).min())
    return f"{show(away, 'place', system)} from the nearest can"


def _bottles(explained: Explained) -> tuple[FurtherBottle, ...]:
    """Heads whose flow is open and matters to DUlq."""
    floor = explained.floor
    samples = floor.estimate.samples
    if samples is None:
        return ()
    given = {(bottle.line, bottle.head) for bottle in explained.site.bottles}
    free = np.array([(line, number) not in given for line, number, _, _ in floor.heads])
    flows = samples.output * overlap.volume(samples.radius, samples.rate)[:, None]
    answers = overlap.low_quarter(floor.estimate.draws.astype(float), floor.weight)[:, None]
    noise = np.where(free, (BOTTLE_ERROR * flows.mean(axis=0)) ** 2, np.inf)
    ensemble = Ensemble(flows, np.where(free, noise, 1e12 * flows.var(axis=0) + 1e12), answers)
    chosen = most_telling(ensemble.part(slice(0, None, 2)), BOTTLES, np.eye(flows.shape[1], dtype=bool), np.ones(1))
    found = []
    for step in worth(ensemble.part(slice(1, None, 2)), chosen):
        if step.share[0] >= BOTTLE_TELLS:
            line, number, _, _ = floor.heads[step.which]
            low, high = floor.estimate.output_low[step.which], floor.estimate.output_high[step.which]
            found.append(FurtherBottle(line, number, f"it may give {100 * low:.0f} to {100 * high:.0f} % of its share, "
                                       "and DUlq hangs on it"))
    return tuple(found)
