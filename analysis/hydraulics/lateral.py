"""One line of heads along a tube: the pressure and the flow at every head."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..record.ground import Array, Numbers
from .friction import Law, hazen_williams_loss
from .outlets import make_outlets
from .tree import Held, Tree
from .valves import fill

__all__ = ["Lateral", "hazen_williams_loss", "solve_lateral"]


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

    head: Array
    flow: Array
    inflow: Array


def solve_lateral(inlet: Numbers, steps: Array, bore: Numbers, nominal_flow: Numbers, nominal_head: Numbers, *,
                  exponent: float = 0.5, roughness: float = 140.0, rise: Numbers = 0.0, regulated: bool = False,
                  opens: float = 0.0, closes: float | None = None, law: Law | None = None, tolerance: float = 1e-9,
                  most_rounds: int = 200) -> Lateral:
    """Pressure and flow at every outlet of laterals that are fed from one end.

    Parameters
    ----------
    inlet : array (...) [m]
        Pressure head where the lateral begins.
    steps : array (..., n) [m]
        Tube length from the inlet to outlet 1, from outlet 1 to 2, and so on.
    bore : array (...) [m]
        Inside diameter of the tube.
    nominal_flow : array (...) or (..., n) [L/h]
        Flow of one outlet at `nominal_head`; with an axis more than `inlet`, each outlet's own.
    nominal_head : array (...) [m]
        Pressure head at which the outlet gives its nominal flow.
    exponent : float [1]
        x in q = k p^x.
    roughness : float [1]
        Hazen-Williams C, where no law is given.
    rise : array (..., n) or float [m]
        Height of each outlet above the inlet.
    regulated : bool
        Whether the outlets hold their nominal flow above the nominal head.
    opens : float [m]
        Opening pressure of anti-drip valves; 0 without.
    closes : float [m]
        Their closing pressure; `opens` if left out.
    law : Law, optional
        Another friction law.
    tolerance : float [m]
        Largest difference between the pressure at a head and the pressure that its flow takes.
    most_rounds : int [1]
        Rounds before it gives up.

    Returns
    -------
    Lateral
        Heads [m] and flows [L/h]; a head below zero gives no flow.

    Raises
    ------
    ValueError
        When the rounds run out before the heads settle, or a size is none of a real line.
    """
    steps = np.asarray(steps, float)
    shape = np.broadcast_shapes(np.shape(inlet), np.shape(bore), steps.shape[:-1], np.shape(nominal_head))
    full = (*shape, steps.shape[-1])
    if not (np.all(steps >= 0) and np.all(np.asarray(bore) > 0)):
        raise ValueError("received a tube with a negative length or a bore that is not above 0, "
                         "expected sizes of a real tube, correct them")

    def wide(value: Numbers) -> Array:
        return np.reshape(np.broadcast_to(np.asarray(value, float), shape), (-1, 1))

    def flat(value: Numbers) -> Array:
        return np.reshape(np.broadcast_to(np.asarray(value, float), full), (-1, 1, 1, full[-1]))

    per_head = np.ndim(nominal_flow) == len(full) and np.shape(nominal_flow)[-1:] == full[-1:]
    each = np.asarray(nominal_flow, float) if per_head else wide(nominal_flow).reshape(*shape, 1)
    outlets = make_outlets((wide(inlet).size, 1, 1, full[-1]), flat(each), wide(nominal_head)[:, :, None, None],
                           exponent, regulated, opens, closes)
    tree = Tree(flat(steps), flat(rise), wide(bore), np.zeros((wide(inlet).size, 1)))
    found = fill(tree, outlets, Held(wide(inlet)[:, 0]), law or Law(constant=roughness),
                 tolerance=tolerance, most_rounds=most_rounds)
    flow = found.flow.reshape(full)
    return Lateral((found.head - tree.lift).reshape(full), flow, flow.sum(axis=-1))
