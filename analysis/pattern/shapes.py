"""Shapes of radial profiles over s = r / throw radius, from 0 to 1.

Each takes s [1] and returns a rate on any scale [1], never negative, zero beyond 1. They feed
both the prior of the fit and the simulated tunnels.
"""

from __future__ import annotations

import numpy as np


def _inside(s, value):
    return np.where((s >= 0.0) & (s <= 1.0), np.maximum(value, 0.0), 0.0)


def dome(s, inner=2.0, outer=1.0):
    """(1 - s^inner)^outer: cone (1, 1), parabola (2, 1), ellipse (2, 1/2), flat (large, small).

    Parameters
    ----------
    s : array (...) [1]
        Distance / throw radius.
    inner, outer : float [1]
        The exponents, above zero.

    Returns
    -------
    array (...) [1]
        Shape.
    """
    return _inside(s, np.maximum(1.0 - np.clip(s, 0.0, 1.0) ** inner, 0.0) ** outer)


def ramp(s, width=0.4):
    """Flat, then a straight fall to zero over the last `width` of the throw radius.

    Parameters
    ----------
    s : array (...) [1]
        Distance / throw radius.
    width : float [1]
        Part of the throw radius over which it falls.

    Returns
    -------
    array (...) [1]
        Shape.
    """
    return _inside(s, np.minimum(1.0, (1.0 - s) / width))


def bump(s, centre, width):
    """A bell around `centre`.

    Parameters
    ----------
    s : array (...) [1]
        Distance / throw radius.
    centre, width : float [1]
        Middle and standard deviation, as parts of the throw radius.

    Returns
    -------
    array (...) [1]
        Shape.
    """
    return np.exp(-0.5 * ((s - centre) / width) ** 2)


def taper(s, width=0.1):
    """1 inside, falling smoothly to 0 at the throw radius over `width`.

    Parameters
    ----------
    s : array (...) [1]
        Distance / throw radius.
    width : float [1]
        Part of the throw radius over which it falls.

    Returns
    -------
    array (...) [1]
        Factor.
    """
    t = np.clip((1.0 - s) / width, 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def ring(s, centre=0.7, width=0.15, base=0.25):
    """A ring around a flatter middle.

    Parameters
    ----------
    s : array (...) [1]
        Distance / throw radius.
    centre, width : float [1]
        Middle and spread of the ring.
    base : float [1]
        Rate of the middle; the ring adds 1.

    Returns
    -------
    array (...) [1]
        Shape.
    """
    return _inside(s, (base + bump(s, centre, width)) * taper(s, 0.15))


def peaked(s, length=0.25):
    """A steep exponential fall from the middle.

    Parameters
    ----------
    s : array (...) [1]
        Distance / throw radius.
    length : float [1]
        Part of the throw radius over which it falls to 1/e.

    Returns
    -------
    array (...) [1]
        Shape.
    """
    return _inside(s, np.exp(-s / length) * taper(s, 0.3))


def two_humped(s, middle=0.2, centre=0.75, width=0.13, share=0.6):
    """A heap in the middle and a ring outside it.

    Parameters
    ----------
    s : array (...) [1]
        Distance / throw radius.
    middle : float [1]
        Spread of the heap.
    centre, width : float [1]
        Middle and spread of the ring.
    share : float [1]
        Height of the ring; the heap has 1.

    Returns
    -------
    array (...) [1]
        Shape.
    """
    return _inside(s, (bump(s, 0.0, middle) + share * bump(s, centre, width) + 0.08) * taper(s, 0.12))


def random_shape(kind, s, rng):
    """One random member of a family.

    Parameters
    ----------
    kind : str
        A name of `KINDS`.
    s : array (k,) [1]
        Distance / throw radius.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    array (k,) [1]
        Shape.

    Raises
    ------
    ValueError
        For an unknown name.
    """
    if kind not in KINDS:
        raise ValueError(f"shape {kind!r} is unknown; use one of {', '.join(KINDS)}")
    return KINDS[kind](s, rng)


KINDS = {
    "cone": lambda s, g: dome(s, g.uniform(0.8, 1.25), g.uniform(0.85, 1.4)),
    "parabola": lambda s, g: dome(s, g.uniform(1.5, 2.6), g.uniform(0.8, 1.6)),
    "ellipse": lambda s, g: dome(s, g.uniform(1.6, 2.6), g.uniform(0.4, 0.7)),
    "flat": lambda s, g: dome(s, g.uniform(5.0, 20.0), g.uniform(0.3, 1.0)),
    "flat with ramp": lambda s, g: ramp(s, g.uniform(0.15, 0.75)),
    "ring": lambda s, g: ring(s, g.uniform(0.5, 0.85), g.uniform(0.08, 0.22), g.uniform(0.05, 0.7)),
    "peaked": lambda s, g: peaked(s, g.uniform(0.15, 0.5)),
    "two-humped": lambda s, g: two_humped(s, g.uniform(0.1, 0.3), g.uniform(0.6, 0.85),
                                          g.uniform(0.08, 0.18), g.uniform(0.2, 1.2)),
}


def _random_spline(s, rng):
    knots = np.linspace(0.0, 1.0, rng.integers(5, 9))
    height = rng.gamma(2.0, 0.5, knots.size)
    height[-1] = 0.0
    smooth = np.interp(s, knots, height)
    for _ in range(3):
        window = max(3, s.size // 25) | 1
        padded = np.pad(smooth, window // 2, mode="edge")
        smooth = np.convolve(padded, np.ones(window) / window, mode="valid")
    return _inside(s, smooth * taper(s, 0.08))


def _stairs(s, rng):
    edges = np.sort(rng.uniform(0.15, 0.95, 3))
    heights = np.append(np.sort(rng.uniform(0.1, 1.0, 3))[::-1], 0.0)
    if rng.random() < 0.3:
        heights[:3] = rng.permutation(heights[:3])
    return _inside(s, heights[np.searchsorted(edges, s)] * 1.0)


def _bell_and_ring(s, rng):
    bell = bump(s, 0.0, rng.uniform(0.25, 0.5))
    thin = rng.uniform(0.15, 0.9) * bump(s, rng.uniform(0.8, 0.92), rng.uniform(0.04, 0.08))
    return _inside(s, (bell + thin) * taper(s, 0.06))


def _long_tail(s, rng):
    core = dome(s / rng.uniform(0.45, 0.65), 2.0, 1.0)
    return _inside(s, core + rng.uniform(0.08, 0.25) * (1.0 - s))


def _hollow(s, rng):
    inner = np.clip(s / rng.uniform(0.3, 0.7), 0.0, 1.0) ** rng.uniform(0.7, 2.0)
    return _inside(s, (0.05 + inner) * ramp(s, rng.uniform(0.1, 0.3)))


def _bumps(s, rng):
    total = np.full_like(s, 0.03)
    for _ in range(rng.integers(2, 6)):
        total += rng.uniform(0.2, 1.0) * bump(s, rng.uniform(0.0, 1.0), rng.uniform(0.06, 0.25))
    return _inside(s, total * np.clip((1.0 - s) / rng.uniform(0.02, 0.15), 0.0, 1.0))


def _comb(s, rng):
    waves = 1.1 + np.cos(2.0 * np.pi * s * rng.uniform(1.5, 3.5) + rng.uniform(0.0, 6.0))
    return _inside(s, waves * np.clip((1.0 - s) / 0.1, 0.0, 1.0) * (1.0 - rng.uniform(0.0, 0.8) * s))


def _sawtooth(s, rng):
    teeth = rng.integers(2, 4)
    return _inside(s, (1.15 - np.mod(s * teeth, 1.0)) * (1.0 - rng.uniform(0.0, 0.7) * s))


def _hat(s, rng):
    spike = rng.uniform(1.0, 4.0) * np.exp(-((s / rng.uniform(0.1, 0.2)) ** 2))
    return _inside(s, spike + 0.4 * np.clip((1.0 - s) / rng.uniform(0.1, 0.6), 0.0, 1.0))


def _wavy(s, rng):
    """The exponential of a smooth random curve."""
    place = np.linspace(0.0, 1.0, 51)
    covariance = np.exp(-0.5 * ((place[:, None] - place[None, :]) / rng.uniform(0.12, 0.35)) ** 2)
    curve = np.linalg.cholesky(covariance + 1e-8 * np.eye(place.size)) @ rng.standard_normal(place.size)
    edge = np.clip((1.0 - s) / rng.uniform(0.05, 0.5), 0.0, 1.0)
    return _inside(s, np.exp(0.8 * np.interp(s, place, curve)) * edge)


def _corners(s, rng):
    place = [0.0, rng.uniform(0.1, 0.3), rng.uniform(0.35, 0.5), rng.uniform(0.6, 0.8), 1.0]
    rate = [rng.uniform(0.0, 0.5), 1.0, rng.uniform(0.3, 1.0), rng.uniform(0.2, 1.2), 0.0]
    return _inside(s, np.interp(s, place, rate))


# Shapes that no group of the prior was made from: the honest test of the fit.
ODD_KINDS = {
    "random spline": _random_spline,
    "stairs": _stairs,
    "bell and thin ring": _bell_and_ring,
    "long tail": _long_tail,
    "hollow": _hollow,
    "bumps": _bumps,
    "comb": _comb,
    "sawtooth": _sawtooth,
    "hat": _hat,
    "wavy": _wavy,
    "corners": _corners,
}
