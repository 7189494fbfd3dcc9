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
class Tunnel:
    """One simulated tunnel with one catch test.

    Attributes
    ----------
    width, length : float [m]
        The floor.
    heads : array (m, 2) [m]
        Places of the heads, line by line.
    line_of : array (m,) [1]
        Line of each head.
    output : array (m,) [1]
        True output, pressure and faults included; 1 is nominal.
    weak : tuple of int [1]
        Indices of heads with a fault.
    weak_output : tuple of float [1]
        Output of each of them as a part of its share.
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
    line_of: np.ndarray
    output: np.ndarray
    weak: tuple
    weak_output: tuple
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
        Line of each; all lines have equally many heads.
    rng : numpy.random.Generator
        Source of the random numbers.
    flow : float [L/h]
        Nominal flow of a head.

    Returns
    -------
    array (m,) [1]
        Output; their mean is 1.
    """
    lines = int(line_of.max()) + 1
    along = heads[:, 1].reshape(lines, -1)
    steps = np.diff(along, axis=1, prepend=0.0)
    bore = rng.choice([0.0158, 0.0209, 0.0209, 0.0266])
    result = solve_lateral(np.full(lines, 24.0) * rng.uniform(0.97, 1.03, lines), steps,
                           np.full(lines, bore), flow, 20.0)
    share = result.flow.ravel() / flow
    if share.min() < 0.6 * share.max():  # too thin a tube for such a line: take the next bore
        result = solve_lateral(np.full(lines, 24.0), steps, np.full(lines, 0.0266), flow, 20.0)
        share = result.flow.ravel() / flow
    return share / share.mean()


def read_cans(cans, heads, output, radius, rate, rng, *, minutes, area, reading_error=0.04,
              placed=0.04, step_ml=1.0):
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
    placed : float [m]
        Standard deviation of each coordinate.
    step_ml : float [mL]
        Readings are rounded to it; 0 leaves them.

    Returns
    -------
    array (n,) [mm]
        Depths.
    """
    stood = cans + rng.normal(0.0, placed, cans.shape)
    rates = overlap.rates_at(stood, heads, output, radius, rate)
    caught = rates * minutes / 60.0 * area / 10.0 * (1.0 + rng.normal(0.0, reading_error, len(cans)))
    caught = np.maximum(caught, 0.0)
    if step_ml > 0.0:
        caught = np.round(caught / step_ml) * step_ml
    return caught * 10.0 / area


def random_tunnel(rng, *, shape=None, layout=None, cans=None, weak=None, spread=0.05):
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

    Returns
    -------
    Tunnel
        The tunnel with its test and its truth.
    """
    shape = str(rng.choice(list(shapes.KINDS))) if shape is None else shape
    layout = str(rng.choice(CAN_LAYOUTS)) if layout is None else layout
    count = int(np.round(np.exp(rng.uniform(np.log(18), np.log(96))))) if cans is None else cans
    width, length = rng.uniform(6.0, 9.0), rng.uniform(15.0, 29.0)
    lines = int(rng.choice([1, 2, 2, 2, 2, 3, 3, 4]))
    heads, line_of = lines_of_heads(width, length, lines, rng.uniform(0.76, 1.83))
    s = np.linspace(0.0, 1.0, 401)
    maker = {**shapes.KINDS, **shapes.ODD_KINDS}[shape]
    reach, flow = rng.uniform(1.4, 3.2), rng.uniform(30.0, 70.0)
    radius = s * reach
    rate = overlap.scaled_to_flow(radius, maker(s, rng), flow)
    if weak is None:
        weak = [float(rng.choice([0.0, rng.uniform(0.2, 0.5)]))
                for _ in range(int(rng.integers(0, 3)))]
    where = rng.choice(len(heads), len(weak), replace=False)
    output = shares_along(heads, line_of, rng, flow=flow)
    output = output * np.maximum(1.0 + spread * rng.standard_normal(len(heads)), 0.0)
    output[where] *= np.asarray(weak, float)
    places = can_places(width, length, count, layout)
    floor = overlap.rates_at(overlap.floor_grid(width, length, 0.12), heads, output, radius, rate)
    truth = Truth(float(overlap.christiansen(floor)), float(overlap.low_quarter(floor)),
                  float(floor.mean()))
    area = 55.0
    minutes = rng.uniform(25.0, 35.0) / (floor.mean() * area / 10.0) * 60.0
    depth = read_cans(places, heads, output, radius, rate, rng, minutes=minutes, area=area)
    return Tunnel(width, length, heads, line_of, output, tuple(int(i) for i in where), tuple(weak),
                  radius, rate, reach * np.exp(rng.normal(0.0, 0.07)),
                  flow * np.exp(rng.normal(0.0, 0.08)), places, depth, area, minutes, shape,
                  layout, truth)
