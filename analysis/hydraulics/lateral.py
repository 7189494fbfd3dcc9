"""One line of heads along a tube: the pressure and the flow at every head."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

M_PER_KPA = 0.101972  # metres of water in one kilopascal at 9.80665 m/s2 and 1000 kg/m3


@dataclass(frozen=True)
class Lateral:
    """Pressures and flows along one or many laterals.

    Attributes
    ----------
    head : array (..., n) [m]
        Pressure head at each outlet, counted from the fed end.
    flow : array (..., n) [L/h]
        Flow of each outlet.
    inflow : array (...) [L/h]
        Flow into the lateral.
    """

    head: np.ndarray
    flow: np.ndarray
    inflow: np.ndarray


def hazen_williams_loss(flow, length, bore, roughness=140.0):
    """Friction loss of a full pipe after Hazen and Williams, SI form.

    Parameters
    ----------
    flow : array (...) [L/h]
        Flow through the pipe.
    length : array (...) [m]
        Its length.
    bore : array (...) [m]
        Inside diameter.
    roughness : float [1]
        The constant C; 140 for small polyethylene tube is from memory.

    Returns
    -------
    array (...) [m]
        Head lost.
    """
    cubic = np.abs(flow) / 3.6e6
    return 10.667 * length * (cubic / roughness) ** 1.852 * np.asarray(bore, float) ** -4.871


def solve_lateral(inlet, steps, bore, nominal_flow, nominal_head, *, exponent=0.5,
                  roughness=140.0, rise=0.0, tolerance=1e-9, most_rounds=200):
    """Pressure and flow at every outlet of a lateral, by damped fixed point.

    Parameters
    ----------
    inlet : array (...) [m]
        Pressure head where the lateral begins.
    steps : array (..., n) [m]
        Tube length from the inlet to outlet 1, from outlet 1 to 2, and so on.
    bore : array (...) [m]
        Inside diameter of the tube.
    nominal_flow : array (...) [L/h]
        Flow of one outlet at `nominal_head`.
    nominal_head : array (...) [m]
        Pressure head at which the outlet gives its nominal flow.
    exponent : float [1]
        x in q = k p^x.
    roughness : float [1]
        Hazen-Williams C.
    rise : array (..., n) or float [m]
        Height of each outlet above the inlet.
    tolerance : float [m]
        Largest change of any head in the last round.
    most_rounds : int [1]
        Rounds before it gives up.

    Returns
    -------
    Lateral
        Heads [m] and flows [L/h]; a head below zero gives no flow.

    Raises
    ------
    ValueError
        When the rounds run out before the heads settle.
    """
    steps = np.asarray(steps, float)
    wide = [np.asarray(v, float)[..., None] for v in (inlet, bore, nominal_flow, nominal_head)]
    inlet, bore, nominal_flow, nominal_head = wide
    head = np.broadcast_to(inlet, np.broadcast_shapes(inlet.shape, steps.shape)).astype(float)
    for _ in range(most_rounds):
        flow = nominal_flow * (np.maximum(head, 0.0) / nominal_head) ** exponent
        through = np.cumsum(flow[..., ::-1], axis=-1)[..., ::-1]
        lost = np.cumsum(hazen_williams_loss(through, steps, bore, roughness), axis=-1)
        wanted = inlet - lost - rise
        change = float(np.max(np.abs(wanted - head)))
        head = 0.5 * (head + wanted)
        if change < tolerance:
            flow = nominal_flow * (np.maximum(wanted, 0.0) / nominal_head) ** exponent
            return Lateral(wanted, flow, flow.sum(axis=-1))
    raise ValueError(
        f"the pressures along the line had not settled after {most_rounds} rounds "
        f"(last change {change:.2g} m); check bore, flow and inlet pressure")
