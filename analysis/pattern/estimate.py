"""From cans and known heads to the whole floor, in one call."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from . import drift, fit, floor, kinds, mixture, outputs, overlap, suspects
from .floor import Figure, figure
from .scene import READING_ERROR, scene_of
from .threads import one_thread

DRAWS = 240            # samples of the whole posterior
UNLIKE = 1.2           # misfit above which readings may be rougher than usual
ROUGHER = (0.09, 0.18, 0.3)  # relative standard deviations tried then ...
ERROR_SD = 0.4         # ... and of the logarithm of what is usual


@dataclass(frozen=True)
class Suspect:
    """A head that seems to give too little or too much.

    Attributes
    ----------
    head : int [1]
        Its index.
    output : Figure [1]
        Its output as a part of the trend there.
    alike : tuple of int [1]
        Heads of the same line that it cannot be told from.
    gain : float [1]
        Log evidence for the suspicion.
    """

    head: int
    output: Figure
    alike: tuple
    gain: float


@dataclass(frozen=True)
class Profile:
    """The heads' common profile with its 90 % band.

    Attributes
    ----------
    radius : array (k,) [m]
        From the head.
    rate, low, high : array (k,) [mm/h]
        Rate of a head of output 1.
    throw : Figure [m]
        Where it ends.
    flow : Figure [L/h]
        Water under it.
    """

    radius: np.ndarray
    rate: np.ndarray
    low: np.ndarray
    high: np.ndarray
    throw: Figure
    flow: Figure


@dataclass(frozen=True)
class Estimate:
    """Everything the cans say about the floor and the heads.

    Attributes
    ----------
    how : str
        "heads" or "cans only".
    cu, du_low_quarter : Figure [%]
        Over the floor's places.
    mean : Figure [mm]
        Mean depth over them.
    depth, depth_sd : array (p,) [mm]
        Mean and standard deviation of the depth at each place.
    draws : array (s, p) [mm]
        Sampled maps, for figures not listed here.
    profile : Profile or None
        The heads' profile; None without heads.
    output, output_low, output_high : array (m,) [1]
        Output of each head as a part of the trend there; the interval is what the cans allow that
        head alone, whatever is usual for sound heads.
    trend : array (m,) [1]
        Trend of its line at each head / mean of all.
    silent : array (m,) of bool
        Heads about whose own output the cans say next to nothing.
    suspects : tuple of Suspect
        Weak and strong heads, the surest first.
    doubtful : tuple of int [1]
        Cans to be read again.
    fitted : array (n,) [mm]
        Depth at the cans by the estimate.
    shift : array (2,) [m]
        Shift of the whole pattern by drift or tilt; zeros where none pays.
    samples : floor.Samples or None
        Draws of profile and outputs, in units of `mean_rate`; None without heads.
    mean_rate : float [mm/h]
        Mean rate of the cans.
    """

    how: str
    cu: Figure
    du_low_quarter: Figure
    mean: Figure
    depth: np.ndarray
    depth_sd: np.ndarray
    draws: np.ndarray
    profile: Profile | None
    output: np.ndarray
    output_low: np.ndarray
    output_high: np.ndarray
    trend: np.ndarray
    silent: np.ndarray
    suspects: tuple
    doubtful: tuple
    fitted: np.ndarray
    shift: np.ndarray
    samples: floor.Samples | None = None
    mean_rate: float = 1.0


@one_thread
def estimate(heads_xy, line_of, cans_xy, depth, floor_points, *, can_area_cm2, duration_min,
             nominal_radius=None, nominal_flow_l_h=None, position_sd=0.05, reading_step_mm=None,
             floor_weight=None, seed=0, draws=DRAWS, progress=None, of_kinds=None, base=None, beside=()):
    """The heads' profile, their outputs and the whole floor from one catch test.

    Parameters
    ----------
    heads_xy : array (m, 2) [m]
        Places of the heads.
    line_of : array (m,) [1]
        Line of each head; heads of a line in their order along it.
    cans_xy : array (n, 2) [m]
        Places of the cans.
    depth : array (n,) [mm]
        What they caught.
    floor_points : array (p, 2) [m]
        Places that stand for parts of the floor (or of its beds).
    can_area_cm2 : float [cm2]
        Opening of a can; sets the reading step where none is given.
    duration_min : float [min]
        Run time.
    nominal_radius : float or None [m]
        Throw radius from a data sheet; may be off by a sixth.
    nominal_flow_l_h : float or None [L/h]
        Flow of a head from a data sheet (mm m2/h is L/h); may be off by a sixth.
    position_sd : float [m]
        How well the cans stand where they should.
    reading_step_mm : float or None [mm]
        Step of the readings; None takes 1 mL.
    floor_weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.
    seed : int [1]
        Seed of the random numbers; the same seed gives the same figures.
    draws : int [1]
        Samples of the posterior.
    progress : callable or None
        Called with a part done from 0 to 1.
    of_kinds : kinds.HeadKinds or None
        What is known of heads of several kinds; radius and flow from a data sheet are then those of kind 0. None
        where all are alike and throw all around.
    base : rivals.Rival or None
        The explanation of the readings that heads and profile rest on; None for what is given here.
    beside : list of (rivals.Rival, float)
        What competes with it, with the part of the draws of the floor that each gets.

    Returns
    -------
    Estimate
        See there.

    Raises
    ------
    ValueError
        On arrays that do not fit, fewer than four cans, or all cans dry.
    """
    heads, cans, places = (np.asarray(v, float).reshape(-1, 2) for v in (heads_xy, cans_xy, floor_points))
    depth, line_of = np.asarray(depth, float), np.asarray(line_of)
    _check(heads, line_of, cans, depth, places, duration_min)
    tell = progress or (lambda part: None)
    step = 10.0 / can_area_cm2 if reading_step_mm is None else reading_step_mm
    scene, mean_rate = scene_of(heads, line_of, cans, depth, duration_min, step, position_sd, nominal_flow_l_h)
    if base is None:
        settings = kinds.settings(kinds.with_kinds(scene, of_kinds), of_kinds, nominal_radius)
        settings, found = _with_reading_error(settings, outputs.settled(settings, nominal_radius), nominal_radius)
        tell(0.4)
        blown, found = _with_drift(settings, found, nominal_radius)
    else:
        blown, found = drift.Drifted(base.setup.scene, np.zeros(2), np.zeros((2, 2))), base.cells
    scene, cells = blown.scene, outputs.weighed(found)
    tell(0.75)
    rng = np.random.default_rng(seed)
    samples = floor.sample(scene, cells, draws, rng)
    scale = float(depth.mean())
    if base is not None:
        maps = mixture.on_floor(base.setup, samples, places)
    else:
        around = rng.multivariate_normal(np.zeros(2), blown.covariance, draws) if blown.place.any() else None
        maps = floor.maps(samples, places, scene.heads, around)
    # intervals are as much wider as the readings are rougher than usual
    unlike = max(fit.misfit(cells[0].state), 1.0) * (scene.reading_error / READING_ERROR) ** 2
    others = [mixture.maps(rival, places, round(part * draws), rng) for rival, part in beside]
    maps = np.vstack([maps[:draws - sum(map(len, others))], *others])
    for rival, part in beside:
        unlike += part * (fit.misfit(rival.cells[0].state) - unlike)
    tell(0.95)
    made = _assemble(scene, cells, suspects.named(cells, scene.line_of), samples, maps * scale, floor_weight, scale,
                     mean_rate, blown.place, unlike)
    tell(1.0)
    return made if base is None or not base.setup.guests else _own(made, len(heads))


def _own(made, count):
    """The estimate with the heads of this zone alone, which are the first ones."""
    samples = made.samples
    kept = replace(samples, trend=samples.trend[:, :count], output=samples.output[:, :count],
                   stretch=None if samples.stretch is None else samples.stretch[:, :count],
                   throws=None if samples.throws is None else samples.throws.take(slice(None, count)))
    return replace(made, samples=kept, output=made.output[:count], output_low=made.output_low[:count],
                   output_high=made.output_high[:count], trend=made.trend[:count], silent=made.silent[:count],
                   suspects=tuple(one for one in made.suspects if one.head < count))


def _with_reading_error(settings, found, nominal_radius):
    """The test with readings as rough as they seem to be, where the heads explain them badly."""
    best = found[0].score
    if fit.misfit(found[0].state) < UNLIKE:
        return settings, found
    for error in ROUGHER:
        rough = [replace(one, scene=replace(one.scene, reading_error=error)) for one in settings]
        there = outputs.settled(rough, nominal_radius)
        score = there[0].score - 0.5 * (np.log(error / READING_ERROR) / ERROR_SD) ** 2
        if score < best:
            break
        best, settings, found = score, rough, there
    return settings, found


def _with_drift(settings, found, nominal_radius):
    """The test with the pattern where drift has put it, and its cells, where that explains the cans better."""
    scene = settings[0].scene
    best = drift.Drifted(scene, np.zeros(2), np.zeros((2, 2))), found
    tried = [fit.Candidate(one.score, one.group, one.pairs, one.state, one.log_prior) for one in found]
    off = fit.Doubts(*(tuple(np.flatnonzero(chance > suspects.NAMED).tolist())
                       for chance in (found[0].off, found[0].odd)))
    pays = drift.SHIFT_PAYS
    for doubts in dict.fromkeys((fit.NO_DOUBTS, off)):  # weak heads can hide a drift, and drift look like weak heads
        blown = drift.shifted(scene, tried, nominal_radius, doubts)
        if blown.place.any():
            there = outputs.settled(kinds.moved(settings, blown.scene.heads), nominal_radius)
            if there[0].score + blown.charge > best[1][0].score + best[0].charge + pays:
                best, pays = (blown, there), 0.0
    return best


def _check(heads, line_of, cans, depth, places, duration):
    """Refuse arrays that do not fit, and tests without water."""
    if len(line_of) != len(heads) or len(heads) == 0:
        raise ValueError(f"received {len(heads)} heads and {len(line_of)} line numbers, expected as many "
                         "of both and at least one; give each head its line")
    if len(depth) != len(cans) or len(cans) < 4:
        raise ValueError(f"received {len(cans)} cans and {len(depth)} depths, expected as many of both "
                         "and at least four; leave out cans without a reading")
    if not (np.all(np.isfinite(depth)) and np.all(depth >= 0.0) and depth.max() > 0.0):
        raise ValueError("received depths that are missing, negative or all zero, expected numbers from 0 "
                         "up with at least one above it; leave out cans without a reading")
    if len(places) == 0 or not duration > 0.0:
        raise ValueError(f"received {len(places)} places on the floor and a run of {duration} min, expected "
                         "at least one place and a time above zero; give both")


def _assemble(scene, cells, doubts, samples, maps, weight, scale, mean_rate, shift, misfit):
    """Figures, outputs and profile from the draws."""
    output = sum(cell.weight * outputs.own(scene, cell.state) for cell in cells)
    alone = suspects.freed(cells[0].state)
    widen = np.full(len(output), floor.WIDEN)
    widen[list(doubts.heads)] = floor.WIDEN_SUSPECT
    half = 1.645 * widen * alone.sd  # 90 % of a normal law
    low = np.maximum(np.minimum(alone.output - half, output), 0.0)
    high = np.maximum(alone.output + half, output)
    alike = suspects.alternatives(scene, cells[0], doubts)
    named = tuple(Suspect(h, Figure(float(output[h]), float(low[h]), float(high[h])), alike[h].heads,
                          alike[h].gain) for h in doubts.heads)
    fitted = sum(c.weight * c.state.fitted for c in cells) * scale
    trend = samples.trend.mean(axis=0)
    unlike = np.sqrt(max(misfit, 1.0))
    edges = {"least": floor.LEAST, "lowest": -np.inf, "highest": 100.0}
    return Estimate(
        "heads", figure(overlap.christiansen(maps, weight), widen=floor.WIDEN_CU * unlike, **edges),
        figure(overlap.low_quarter(maps, weight), widen=floor.WIDEN * unlike, **{**edges, "lowest": 0.0}),
        figure(overlap.average(maps, weight), lowest=0.0), maps.mean(axis=0), maps.std(axis=0),
        maps.astype(np.float32), _profile(samples, cells, mean_rate), output, low, high,
        trend / samples.output.mean(), alone.silent,
        tuple(sorted(named, key=lambda s: -s.gain)), doubts.cans, np.maximum(fitted, 0.0), shift,
        samples, mean_rate)


def _profile(samples, cells, mean_rate):
    """The profile with its band, throw radius and flow."""
    thin = slice(None, None, 5)
    rate = samples.rate[:, thin] * mean_rate
    low, high = np.quantile(rate, [0.05, 0.95], axis=0)
    throw = np.array([c.state.throw for c in cells])
    weight = np.array([c.weight for c in cells])
    order = np.argsort(throw)
    whole = np.interp([0.05, 0.95], np.cumsum(weight[order]), throw[order])
    flow = overlap.volume(samples.radius, samples.rate) * mean_rate
    return Profile(samples.radius[thin], rate.mean(axis=0), low, high,
                   Figure(float(throw @ weight), float(whole[0]), float(whole[1])), figure(flow))
