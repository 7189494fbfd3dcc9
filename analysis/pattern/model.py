"""Cans, heads and one profile as a linear-Gaussian model around a current guess.

Readings y [of their mean] follow from the profile's values c at the knots and the heads'
outputs o: y_i = sum_j o_j f_c(r_ij). Around (c0, o0) this is y = Phi(o0) c + A(c0) (o - o0),
with noise from reading, rounding and placement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from . import overlap
from .prior import KNOTS
from .spans import gradient, output_matrix, profile_matrix, spans


@dataclass(frozen=True)
class Scene:
    """Everything about a test that the fit needs, in its own scale.

    Attributes
    ----------
    cans : array (n, 2) [m]
        Cans.
    heads : array (m, 2) [m]
        Heads.
    line_of : array (m,) [1]
        Line of each head.
    reading : array (n,) [1]
        Rate of each can / mean rate.
    trend_root : array (m, q) [1]
        Columns of the lines' smooth trends, each scaled to its prior standard deviation.
    spread : float [1]
        Standard deviation of a sound head's output.
    reading_error : float [1]
        Relative standard deviation of a reading.
    position_sd : float [m]
        Standard deviation of each coordinate of a can.
    rounding : float [1]
        Step of the readings / mean reading.
    flow : float or None [m2]
        Nominal flow of a head / mean rate.
    flow_error : float [1]
        Its relative standard deviation.
    stretch : array (m,) [1] or None
        Throw radius of each head / that of the profile, where heads are of unlike kinds; the water stays the same.
    facing : array (m,) [radians] or None
        Where the middle of a head's arc points, from x towards y; nan for a head that throws all around.
    arc : array (m,) [radians] or None
        How wide that arc is; None for half circles.
    strength : array (m,) [1] or None
        Flow of each head's kind / that of the profile; an output of 1 is that flow.
    extra : array (n, e) [1] or None
        Ways in which the readings may depart from the heads' water together, each scaled to its standard deviation.
    steepest : float [1/m]
        Largest gradient that counts as noise of placement: a profile must not earn its fit by noise of its own making.
    """

    cans: np.ndarray
    heads: np.ndarray
    line_of: np.ndarray
    reading: np.ndarray
    trend_root: np.ndarray
    spread: float
    reading_error: float
    position_sd: float
    rounding: float
    flow: float | None
    flow_error: float
    stretch: np.ndarray | None = None
    facing: np.ndarray | None = None
    arc: np.ndarray | None = None
    strength: np.ndarray | None = None
    extra: np.ndarray | None = None
    steepest: float = np.inf

    def spans(self, throw):
        """Pairs of can and head within a throw radius.

        Parameters
        ----------
        throw : float [m]
            Of the profile.

        Returns
        -------
        Spans
        """
        return spans(self.cans, self.heads, throw, stretch=self.stretch, facing=self.facing, arc=self.arc,
                     strength=self.strength)


@dataclass(frozen=True)
class State:
    """Posterior of one cell: profile, outputs, and what sampling from it needs.

    Attributes
    ----------
    throw : float [m]
        Throw radius.
    profile : array (k,) [1]
        Mean of the profile's values at the inner knots.
    output : array (m,) [1]
        Mean outputs.
    evidence : float [1]
        Log density of the readings.
    phi : array (n, k), lean : array (n, m), solve : callable
        Matrices of the linear model, and the solver of the readings' covariance.
    residual : array (n,) [1]
        Readings less what the prior means give.
    noise : array (n,) [1]
        Variance of each reading by reading, rounding and placement.
    fitted : array (n,) [1]
        Readings by the posterior means.
    prior_profile : array (k,), prior_root : array (k, k) [1]
        The Gaussian the profile came from.
    base_output : array (m,) [1]
        Outputs around which it is linear.
    head_variance : array (m,) [1]
        Prior variance of each output around its trend.
    departure : array (m,) or float [1]
        Prior mean of it.
    can_variance : array (n,) or float [1]
        Extra variance of cans in doubt.
    """

    throw: float
    profile: np.ndarray
    output: np.ndarray
    evidence: float
    phi: np.ndarray
    response: np.ndarray
    solve: object
    residual: np.ndarray
    noise: np.ndarray
    fitted: np.ndarray
    prior_profile: np.ndarray
    prior_root: np.ndarray
    base_output: np.ndarray
    head_variance: np.ndarray
    departure: np.ndarray | float = 0.0
    can_variance: np.ndarray | float = 0.0


def throws_of(scene):
    """How the heads of a test throw its profile.

    Parameters
    ----------
    scene : Scene
        The test.

    Returns
    -------
    overlap.Throws or None
        None where all heads are alike and throw all around.
    """
    if scene.stretch is None and scene.facing is None and scene.strength is None:
        return None
    plain = np.ones(len(scene.heads))
    facing = plain * np.nan if scene.facing is None else scene.facing
    arc = np.where(np.isnan(facing), 2.0 * np.pi, np.pi) if scene.arc is None else scene.arc
    return overlap.Throws(plain if scene.stretch is None else scene.stretch,
                          plain if scene.strength is None else scene.strength, facing, arc)


def trend_columns(heads, line_of, *, level=0.12, slope=0.12, bend=0.05):
    """Smooth trends along the lines: level, slope and bend of each.

    Parameters
    ----------
    heads : array (m, 2) [m]
        Heads.
    line_of : array (m,) [1]
        Line of each.
    level, slope, bend : float [1]
        Prior standard deviations, slope and bend at the ends of the line.

    Returns
    -------
    array (m, 3 x lines) [1]
        Columns scaled by their standard deviations.
    """
    heads, line_of = np.asarray(heads, float), np.asarray(line_of)
    columns = []
    for line in np.unique(line_of):
        on = line_of == line
        place = heads[on]
        along = (place - place.mean(axis=0)) @ _direction(place)
        t = along / max(float(np.abs(along).max()), 1e-9)
        for height, shape in ((level, np.ones_like(t)), (slope, t), (bend, 1.5 * t * t - 0.5)):
            column = np.zeros(len(heads))
            column[on] = height * shape
            columns.append(column)
    return np.column_stack(columns)


def _direction(place):
    """Along the line, as a unit vector."""
    span = place[-1] - place[0]
    size = float(np.hypot(*span))
    return span / size if size > 0.0 else np.array([0.0, 1.0])


def solve_cell(scene, pairs, prior_profile, prior_root, profile, output, head_variance, can_variance, departure=0.0):
    """One Gauss-Newton step: the posterior of the model made linear around a guess.

    Parameters
    ----------
    scene : Scene
        The test.
    pairs : Spans
        Pairs within reach.
    prior_profile : array (k,) [1]
        Prior mean at the inner knots.
    prior_root : array (k, k) [1]
        Root of the prior covariance.
    profile, output : array (k,), array (m,) [1]
        The guess.
    head_variance : array (m,) [1]
        Prior variance of each output around its trend.
    can_variance : array (n,) [1]
        Extra variance of cans in doubt.
    departure : array (m,) or float [1]
        Prior mean of each output around its trend.

    Returns
    -------
    State
        The posterior.
    """
    count = len(scene.reading)
    guess = np.maximum(profile, 0.0)
    phi = profile_matrix(pairs, output, count)
    response = output_matrix(pairs, guess, (count, len(scene.heads)))
    shown = phi @ guess
    slope = gradient(pairs, guess, output, count)
    if np.isfinite(scene.steepest):
        slope = slope * np.minimum(1.0, scene.steepest / np.maximum(np.hypot(*slope.T), 1e-9))[:, None]
    noise = ((scene.reading_error * shown) ** 2 + scene.rounding ** 2 / 12.0 + 0.006 ** 2
             + scene.position_sd ** 2 * (slope ** 2).sum(axis=1) + can_variance)
    reading = scene.reading
    if scene.flow is not None:  # the nominal flow as one more reading
        weights = overlap.volume_weights(KNOTS * pairs.throw)[:-1]
        phi = np.vstack([phi, weights])
        response = np.vstack([response, np.zeros(response.shape[1])])
        noise = np.append(noise, (scene.flow_error * scene.flow) ** 2)
        reading = np.append(reading, scene.flow)
    lifted, trended = phi @ prior_root, response @ scene.trend_root
    covariance = lifted @ lifted.T + trended @ trended.T + (response * head_variance) @ response.T
    if scene.extra is not None:
        covariance[:count, :count] += scene.extra @ scene.extra.T
    covariance[np.diag_indices_from(covariance)] += noise
    factor = cho_factor(covariance, lower=True, check_finite=False)
    residual = reading - phi @ prior_profile - response @ (1.0 + departure - output)
    pull = cho_solve(factor, residual, check_finite=False)
    new_profile = prior_profile + prior_root @ (lifted.T @ pull)
    new_output = 1.0 + departure + scene.trend_root @ (trended.T @ pull) + head_variance * (response.T @ pull)
    evidence = (-0.5 * residual @ pull - np.log(np.diag(factor[0])).sum()
                - 0.5 * len(reading) * np.log(2.0 * np.pi))
    fitted = (phi @ new_profile + response @ (new_output - output))[:count]
    return State(pairs.throw, new_profile, new_output, float(evidence), phi, response,
                 lambda right: cho_solve(factor, right, check_finite=False), residual, noise, fitted,
                 prior_profile, prior_root, output, head_variance, departure, can_variance)


def draw(scene, state, count, rng):
    """Samples of profile and outputs from one cell's posterior.

    Parameters
    ----------
    scene : Scene
        The test.
    state : State
        The cell.
    count : int [1]
        How many.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    profile : array (count, k) [1]
        Values at the inner knots, not yet held above zero.
    trend : array (count, m) [1]
        Smooth trend of its line at each head.
    output : array (count, m) [1]
        Outputs, not yet held above zero.
    extra : array (count, e) [1] or None
        How much of each column of the scene's `extra`; None where it has none.
    """
    root, sd = state.prior_root, np.sqrt(state.head_variance)
    profile = state.prior_profile[:, None] + root @ rng.standard_normal((root.shape[1], count))
    wander = scene.trend_root @ rng.standard_normal((scene.trend_root.shape[1], count))
    trend = 1.0 + wander
    departure = np.broadcast_to(state.departure, len(sd))
    output = trend + departure[:, None] + sd[:, None] * rng.standard_normal((len(sd), count))
    noise = np.sqrt(state.noise)[:, None] * rng.standard_normal((len(state.noise), count))
    target = (state.residual + state.phi @ state.prior_profile
              + state.response @ (1.0 + departure - state.base_output))
    seen = state.phi @ profile + state.response @ (output - state.base_output[:, None]) + noise
    extra = None
    if scene.extra is not None:
        extra = rng.standard_normal((scene.extra.shape[1], count))
        seen[:len(scene.extra)] += scene.extra @ extra
    pull = state.solve(target[:, None] - seen)
    if extra is not None:
        extra = (extra + scene.extra.T @ pull[:len(scene.extra)]).T
    profile = profile + root @ (root.T @ (state.phi.T @ pull))
    back = state.response.T @ pull
    bend = scene.trend_root @ (scene.trend_root.T @ back)
    output = output + bend + state.head_variance[:, None] * back
    return profile.T, (trend + bend).T, output.T, extra


def profile_precision(state):
    """Inverse of the posterior covariance of the profile's values.

    Parameters
    ----------
    state : State
        The cell.

    Returns
    -------
    array (k, k) [1]
        The precision.
    """
    lifted = state.phi @ state.prior_root
    inner = np.eye(lifted.shape[1]) - lifted.T @ state.solve(lifted)
    covariance = state.prior_root @ inner @ state.prior_root.T
    covariance = 0.5 * (covariance + covariance.T)
    return np.linalg.inv(covariance + 1e-9 * np.trace(covariance) / len(covariance) * np.eye(len(covariance)))
