"""Simulated tunnels: heads, cans and the truth, for tests and for planning."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..hydraulics.lateral import solve_lateral
from . import overlap, shapes

CAN_LAYOUTS = ("grid", "staggered", "dense row")


@dataclass(frozen=True)
class Truth:
    """What the floor really gets.

    Attributes
    ----------
    cu, du_low_quarter : float [%]
        Over the whole floor.
    mean : float [mm/h]
        Mean rate.
    """

    cu: float
    du_low_quarter: float
    mean: float


@dataclass(frozen=True)
class SimulatedSite:
    """A floor with its heads.

    Attributes
    ----------
    width, length : float [m]
        The floor.
    heads : array (m, 2) [m]
        Places of the heads, line by line.
    line_of : array (m,) [1]
        Line of each head.
    """

    width: float
    length: float
    heads: np.ndarray
    line_of: np.ndarray


@dataclass(frozen=True)
class Upsets:
    """What a real test suffers beyond reading and placement.

    Attributes
    ----------
    drift : float [m]
        How far the whole pattern is blown, in a random direction.
    kicked : int [1]
        Cans that lost 30 to 90 % of their catch.
    uneven_lines : float [1]
        Standard deviation of the lines' levels around each other.
    """

    drift: float = 0.0
    kicked: int = 0
    uneven_lines: float = 0.0


@dataclass(frozen=True)
class Tunnel:
    """One simulated tunnel with one catch test.

    Attributes
    ----------
    width, length : float [m]
        The floor.
    heads : array (m, 2) [m]
        Places of the heads, line by line.
    blown : array (m, 2) [m]
        Middle of each head's pattern; the head itself where there is no drift.
    line_of : array (m,) [1]
        Line of each head.
    output : array (m,) [1]
        True output, pressure and faults included; 1 is nominal.
    weak : tuple of int [1]
        Indices of heads with a fault.
    weak_output : tuple of float [1]
        Output of each of them as a part of its share.
    share : array (m,) [1]
        What its place on the line gives each head, before manufacture and faults.
    radius, rate : array (k,) [m], [mm/h]
        The true profile.
    nominal_radius : float [m]
        As a data sheet would say it.
    nominal_flow : float [L/h]
        As a data sheet would say it.
    cans : array (n, 2) [m]
        Where the cans should stand.
    depth : array (n,) [mm]
        What they read.
    can_area, minutes : float [cm2], [min]
        Opening and run time.
    shape, layout : str
        Names of the profile family and the can layout.
    truth : Truth
        Figures of the whole floor.
    """

    width: float
    length: float
    heads: np.ndarray
    blown: np.ndarray
    line_of: np.ndarray
    output: np.ndarray
    weak: tuple
    weak_output: tuple
    share: np.ndarray
    radius: np.ndarray
    rate: np.ndarray
    nominal_radius: float
    nominal_flow: float
    cans: np.ndarray
    depth: np.ndarray
    can_area: float
    minutes: float
    shape: str
    layout: str
    truth: Truth


def lines_of_heads(width, length, lines, spacing):
    """Heads on lines spread evenly across, centred along.

    Parameters
    ----------
    width, length : float [m]
        The floor.
    lines : int [1]
        Number of lines.
    spacing : float [m]
        Between heads of a line.

    Returns
    -------
    heads : array (m, 2) [m]
        Places, line by line from the inlet end.
    line_of : array (m,) [1]
        Line of each.
    """
    count = max(3, int((length - 0.8) / spacing) + 1)
    along = 0.5 * length + (np.arange(count) - 0.5 * (count - 1)) * spacing
    across = (np.arange(lines) + 0.5) * width / lines
    return (np.column_stack([np.repeat(across, count), np.tile(along, lines)]),
            np.repeat(np.arange(lines), count))


def can_places(width, length, count, layout):
    """Cans on a plain grid, on staggered rows, or in one dense row with sparse ones.

    Parameters
    ----------
    width, length : float [m]
        The floor.
    count : int [1]
        About so many cans; a grid rounds to whole rows.
    layout : str
        One of `CAN_LAYOUTS`.

    Returns
    -------
    array (n, 2) [m]
        Places.

    Raises
    ------
    ValueError
        For an unknown layout.
    """
    if layout not in CAN_LAYOUTS:
        raise ValueError(f"layout {layout!r} is unknown; use one of {', '.join(CAN_LAYOUTS)}")
    if layout == "dense row":
        dense = count // 2
        row = np.column_stack([(np.arange(dense) + 0.5) * width / dense,
                               np.full(dense, 0.47 * length)])
        return np.vstack([row, _grid(width, length, count - dense, 0.0)])
    stagger = 0.25 if layout == "staggered" else 0.0
    return _grid(width, length, count, stagger)


def _grid(width, length, count, stagger):
    columns = int(np.clip(round(np.sqrt(count * width / length * 1.6)), 2, 9))
    rows = max(2, round(count / columns))
    x, y = np.meshgrid((np.arange(columns) + 0.5) * width / columns,
                       (np.arange(rows) + 0.5) * length / rows)
    shift = np.where(np.arange(rows) % 2 == 0, -1.0, 1.0)[:, None] * stagger * width / columns
    return np.column_stack([(x + shift).ravel(), y.ravel()])


def shares_along(heads, line_of, rng, *, flow):
    """Output of each head from the pressure along its line, fed at the near end.

    Parameters
    ----------
    heads : array (m, 2) [m]
        Places.
    line_of : array (m,) [1]
        Line of each.
    rng : numpy.random.Generator
        Source of the random numbers.
    flow : float [L/h]
        Nominal flow of a head.

    Returns
    -------
    array (m,) [1]
        Output; their mean is 1.
    """
    lines = np.unique(line_of)
    bore = rng.choice([0.0158, 0.0209, 0.0209, 0.0266])
    inlets = 24.0 * rng.uniform(0.97, 1.03, len(lines))
    share = _flow_shares(heads, line_of, inlets, bore, flow)
    if share.min() < 0.6 * share.max():  # too thin a tube for such a line: take the next bore
        share = _flow_shares(heads, line_of, np.full(len(lines), 24.0), 0.0266, flow)
    return share / share.mean()


def _flow_shares(heads, line_of, inlets, bore, flow):
    share = np.empty(len(heads))
    for line, inlet in zip(np.unique(line_of), inlets, strict=True):
        on = line_of == line
        steps = np.diff(heads[on, 1], prepend=0.0)
        share[on] = solve_lateral(inlet, steps, bore, flow, 20.0).flow / flow
    return share


def read_cans(cans, heads, output, radius, rate, rng, *, minutes, area, reading_error=0.04,
              position_sd=0.04, step_ml=1.0, throws=None):
    """What cans read: displaced, with reading error, rounded.

    Parameters
    ----------
    cans : array (n, 2) [m]
        Where they should stand.
    heads : array (m, 2) [m]
        Heads.
    output : array (m,) [1]
        Their outputs.
    radius, rate : array (k,) [m], [mm/h]
        Profile.
    rng : numpy.random.Generator
        Source of the random numbers.
    minutes, area : float [min], [cm2]
        Run time and opening.
    reading_error : float [1]
        Relative standard deviation of a reading.
    position_sd : float [m]
        Standard deviation of each coordinate.
    step_ml : float [mL]
        Readings are rounded to it; 0 leaves them.
    throws : overlap.Throws or None
        How each head throws the profile; None where all are alike and throw all around.

    Returns
    -------
    array (n,) [mm]
        Depths.
    """
    stood = cans + rng.normal(0.0, position_sd, cans.shape)
    rates = overlap.rates_at(stood, heads, output, radius, rate, throws)
    caught = rates * minutes / 60.0 * area / 10.0 * (1.0 + rng.normal(0.0, reading_error, len(cans)))
    caught = np.maximum(caught, 0.0)
    if step_ml > 0.0:
        caught = np.round(caught / step_ml) * step_ml
    return caught * 10.0 / area


def random_site(rng):
    """A floor with heads, drawn at random.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    SimulatedSite
        6 to 9 m wide, 15 to 29 m long, one to four lines, heads 0.76 to 1.83 m apart.
    """
    width, length = rng.uniform(6.0, 9.0), rng.uniform(15.0, 29.0)
    lines = int(rng.choice([1, 2, 2, 2, 2, 3, 3, 4]))
    return SimulatedSite(width, length, *lines_of_heads(width, length, lines, rng.uniform(0.76, 1.83)))


def random_tunnel(rng, *, shape=None, layout=None, cans=None, weak=None, spread=0.05, upsets=Upsets()):
    """One tunnel drawn at random.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of the random numbers.
    shape : str or None
        Profile family of `shapes.KINDS` or `shapes.ODD_KINDS`; None draws one of the first.
    layout : str or None
        Can layout; None draws one.
    cans : int or None [1]
        About so many cans; None draws 18 to 96.
    weak : list of float or None [1]
        Output of each weak head; None draws none to two.
    spread : float [1]
        Standard deviation of the outputs by manufacture.
    upsets : Upsets
        What else goes wrong.

    Returns
    -------
    Tunnel
        The tunnel with its test and its truth.
    """
    shape = str(rng.choice(list(shapes.KINDS))) if shape is None else shape
    layout = str(rng.choice(CAN_LAYOUTS)) if layout is None else layout
    count = int(np.round(np.exp(rng.uniform(np.log(18), np.log(96))))) if cans is None else cans
    site = random_site(rng)
    return tunnel_at(rng, site, can_places(site.width, site.length, count, layout), shape=shape,
                     throw=rng.uniform(1.4, 3.2), flow=rng.uniform(30.0, 70.0), weak=weak, spread=spread,
                     upsets=upsets, layout=layout)


def tunnel_at(rng, site, cans, *, shape, throw, flow, weak=None, spread=0.05, upsets=Upsets(), layout="given"):
    """A tunnel of known floor, heads and cans; everything else drawn at random.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of the random numbers.
    site : SimulatedSite
        Floor and heads.
    cans : array (n, 2) [m]
        Where the cans should stand.
    shape : str
        Profile family of `shapes.KINDS` or `shapes.ODD_KINDS`.
    throw : float [m]
        Of the profile.
    flow : float [L/h]
        Of one head.
    weak : list of float or None [1]
        Output of each weak head; None draws none to two.
    spread : float [1]
        Standard deviation of the outputs by manufacture.
    upsets : Upsets
        What else goes wrong.
    layout : str
        Name of the can layout.

    Returns
    -------
    Tunnel
        The tunnel with its test and its truth.
    """
    heads, line_of = site.heads, site.line_of
    s = np.linspace(0.0, 1.0, 401)
    radius = s * throw
    rate = overlap.scaled_to_flow(radius, {**shapes.KINDS, **shapes.ODD_KINDS}[shape](s, rng), flow)
    if weak is None:
        weak = [float(rng.choice([0.0, rng.uniform(0.2, 0.5)]))
                for _ in range(int(rng.integers(0, 3)))]
    where = rng.choice(len(heads), len(weak), replace=False)
    share = shares_along(heads, line_of, rng, flow=flow)
    if upsets.uneven_lines:
        share = share * np.maximum(1.0 + upsets.uneven_lines * rng.standard_normal(line_of.max() + 1), 0.3)[line_of]
    output = share * np.maximum(1.0 + spread * rng.standard_normal(len(heads)), 0.0)
    output[where] *= np.asarray(weak, float)
    turn = rng.uniform(0.0, 2.0 * np.pi) if upsets.drift else 0.0
    middle = heads + upsets.drift * np.array([np.cos(turn), np.sin(turn)])
    floor = overlap.rates_at(overlap.floor_grid(site.width, site.length, 0.12), middle, output, radius, rate)
    truth = Truth(float(overlap.christiansen(floor)), float(overlap.low_quarter(floor)), float(floor.mean()))
    area = 55.0
    minutes = rng.uniform(25.0, 35.0) / (floor.mean() * area / 10.0) * 60.0
    depth = read_cans(cans, middle, output, radius, rate, rng, minutes=minutes, area=area)
    if upsets.kicked:
        depth[rng.choice(len(cans), upsets.kicked, replace=False)] *= rng.uniform(0.1, 0.7, upsets.kicked)
    return Tunnel(site.width, site.length, heads, middle, line_of, output, tuple(int(i) for i in where), tuple(weak),
                  share, radius, rate, throw * np.exp(rng.normal(0.0, 0.07)), flow * np.exp(rng.normal(0.0, 0.08)),
                  np.asarray(cans, float), depth, area, minutes, shape, layout, truth)
