"""Before the test: how far off DUlq will be for a layout of cans, on tunnels like this one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import overlap, shapes, simulate
from .estimate import estimate

TUNNELS = 24      # simulated for one layout
USUAL_THROW = 2.4  # [m], from memory; drawn around it where no data sheet speaks
USUAL_FLOW = 50.0  # [L/h], from memory; only its ratio to the readings matters
CELL = 0.4        # [m] of the floor's grid


@dataclass(frozen=True)
class Expected:
    """What a can layout is worth before a single can is set out.

    Attributes
    ----------
    error : float [%]
        Root-mean-square error of the whole floor's DUlq, in points.
    error_low, error_high : float [%]
        90 % interval of that error, from the number of simulated tunnels.
    at_the_cans : float [%]
        Root-mean-square difference of DUlq at the cans from the floor's.
    width : float [%]
        Mean width of the 90 % interval of the whole floor's DUlq.
    found : float [1]
        Part of the weak heads (half their share or less) that were named, within one head place; nan where none was
        simulated.
    tunnels : int [1]
        How many were simulated.
    """

    error: float
    error_low: float
    error_high: float
    at_the_cans: float
    width: float
    found: float
    tunnels: int


def expected(site, cans, *, nominal_radius=None, nominal_flow_l_h=None, tunnels=TUNNELS, seed=1, progress=None):
    """Simulate tests with these heads and these cans, and compare each estimate with its truth.

    The profile shape, pressure loss, manufacture, weak heads (none to two), reading error (4 %), placement (4 cm)
    and rounding (1 mL) are drawn anew for each tunnel. The same seed draws the same tunnels for every layout, so that
    layouts are compared on like ground.

    Parameters
    ----------
    site : simulate.SimulatedSite
        Floor and heads.
    cans : array (n, 2) [m]
        Where cans would stand.
    nominal_radius : float or None [m]
        Throw radius from a data sheet; None draws around a usual one, and the estimate is not told.
    nominal_flow_l_h : float or None [L/h]
        Flow of a head from a data sheet.
    tunnels : int [1]
        How many to simulate, at least two.
    seed : int [1]
        Seed of the random numbers.
    progress : callable or None
        Called with a part done from 0 to 1.

    Returns
    -------
    Expected

    Raises
    ------
    ValueError
        For fewer than two tunnels or fewer than four cans.
    """
    cans = np.asarray(cans, float).reshape(-1, 2)
    if tunnels < 2 or len(cans) < 4:
        raise ValueError(f"received {tunnels} tunnels and {len(cans)} cans, expected at least two tunnels and four "
                         "cans; ask for more")
    each = []
    for number in range(tunnels):
        each.append(_one(site, cans, nominal_radius, nominal_flow_l_h, np.random.default_rng([seed, number])))
        if progress:
            progress((number + 1) / tunnels)
    off, off_at_cans, width, present, found = np.array(each, float).T
    square = float(np.mean(off ** 2))
    spread = 1.645 * float(np.std(off ** 2, ddof=1)) / tunnels ** 0.5
    return Expected(square ** 0.5, max(square - spread, 0.0) ** 0.5, (square + spread) ** 0.5,
                    float(np.mean(off_at_cans ** 2)) ** 0.5, float(width.mean()),
                    float(found.sum() / present.sum()) if present.sum() else float("nan"), tunnels)


def _one(site, cans, nominal_radius, nominal_flow, rng):
    """One simulated test: how far its estimate and its cans are off."""
    shape = str(rng.choice(list(shapes.KINDS)))
    throw = (nominal_radius or USUAL_THROW) * np.exp(rng.normal(0.0, 0.08 if nominal_radius else 0.25))
    flow = (nominal_flow or USUAL_FLOW) * np.exp(rng.normal(0.0, 0.08))
    tunnel = simulate.tunnel_at(rng, site, cans, shape=shape, throw=throw, flow=flow)
    found = estimate(
        site.heads, site.line_of, cans, tunnel.depth, overlap.floor_grid(site.width, site.length, CELL),
        can_area_cm2=tunnel.can_area, duration_min=tunnel.minutes, nominal_radius=nominal_radius,
        nominal_flow_l_h=nominal_flow, draws=120)
    weak = [head for head, output in zip(tunnel.weak, tunnel.weak_output, strict=True) if output <= 0.5]
    named = [suspect.head for suspect in found.suspects]
    near = sum(any(abs(head - other) <= 1 and site.line_of[head] == site.line_of[other] for other in named)
               for head in weak)
    truth, interval = tunnel.truth.du_low_quarter, found.du_low_quarter
    return (interval.value - truth, float(overlap.low_quarter(tunnel.depth)) - truth, interval.high - interval.low,
            len(weak), near)
