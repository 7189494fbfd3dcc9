"""Heads: how their flow follows the pressure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..record.ground import Array, Numbers
from ..record.site_lines import HOLDS_BELOW


@dataclass(frozen=True)
class Outlets:
    """Heads along lines, one element each.

    Attributes
    ----------
    flow : array (...) [L/h]
        Of each head at `head`; 0 where there is none.
    head : array (...) [m]
        Pressure head for that flow.
    exponent : array (...) [1]
        x in q = k p^x, 0 to 2.
    regulated : array (...) of bool
        Whether the flow stays at `flow` above `head`.
    opens : array (...) [m]
        Below this a closed head does not start; 0 where there is no such valve.
    closes : array (...) [m]
        Below this an open head stops.
    """

    flow: Array
    head: Array
    exponent: Array
    regulated: NDArray[np.bool_]
    opens: Array
    closes: Array

    def mapped(self, change: Callable[[NDArray[Any]], NDArray[Any]]) -> Outlets:
        """The same heads, every array changed alike.

        Parameters
        ----------
        change : callable
            From one array to another.

        Returns
        -------
        Outlets
        """
        return Outlets(*(change(getattr(self, name)) for name in self.__dataclass_fields__))


def make_outlets(shape: tuple[int, ...], flow: Numbers, head: Numbers, exponent: Numbers = 0.5,
                 regulated: ArrayLike = False, opens: Numbers = 0.0, closes: Numbers | None = None) -> Outlets:
    """Give every head of an array its sizes.

    Parameters
    ----------
    shape : tuple of int
        Of the heads.
    flow : array (...) [L/h]
        Nominal flow.
    head : array (...) [m]
        Pressure head for it.
    exponent : array (...) [1]
        x in q = k p^x; under `HOLDS_BELOW` the head is taken as a regulated one with an orifice's flow below `head`.
    regulated : array (...) of bool
        Whether the flow stays constant above `head`.
    opens : array (...) [m]
        Opening pressure of an anti-drip valve; 0 without one.
    closes : array (...) [m]
        Closing pressure; `opens` if left out.

    Returns
    -------
    Outlets

    Raises
    ------
    ValueError
        For a negative flow, a head not above 0, an exponent outside 0 to 2, or a valve that closes
        above the pressure that opens it.
    """
    closes = opens if closes is None else closes
    sizes = [np.broadcast_to(np.asarray(v, float), shape) for v in (flow, head, exponent, opens, closes)]
    flow, head, exponent, opens, closes = sizes
    if not (np.all(flow >= 0) and np.all(np.isfinite(flow)) and np.all(head > 0) and np.all(np.isfinite(head))):
        raise ValueError("received a head's flow below 0, or a pressure for it that is not above 0, "
                         "expected sizes of a real head, correct them")
    if not np.all((exponent >= 0) & (exponent <= 2)):
        raise ValueError(f"received an exponent of {np.ravel(exponent)[np.argmax(np.abs(np.ravel(exponent) - 1))]:g}, "
                         "expected 0 to 2 (0.5 for an orifice), correct it")
    if not np.all(closes <= opens):
        raise ValueError("received heads that close above the pressure that opens them, expected closing to be "
                         "the lower one, correct them")
    constant = exponent < HOLDS_BELOW
    return Outlets(flow, head, np.where(constant, 0.5, exponent), constant | np.asarray(regulated, bool), opens, closes)


def outlet_flow(head: Array, outlets: Outlets, is_open: ArrayLike = True) -> Array:
    """Flow of heads at a pressure.

    Parameters
    ----------
    head : array (...) [m]
        Pressure head at each head; below 0 nothing flows.
    outlets : Outlets
        The heads.
    is_open : array (...) of bool
        Whether the anti-drip valve is open.

    Returns
    -------
    array (...) [L/h]
    """
    pressed = np.maximum(head, 0.0) / outlets.head
    share = np.sqrt(pressed) if np.all(outlets.exponent == 0.5) else pressed**outlets.exponent
    share = np.where(np.asarray(head) > 0, share, 0.0)
    share = np.where(outlets.regulated, np.minimum(share, 1.0), share)
    return np.where(is_open, outlets.flow * share, 0.0)


def needed_head(flow: Array, outlets: Outlets) -> tuple[Array, Array]:
    """Pressure that a flow takes, and how it grows with flow: the curve of `outlet_flow` turned over.

    Parameters
    ----------
    flow : array (...) [L/h]
        Above 0 where it is wanted.
    outlets : Outlets
        The heads, with an exponent above 0.

    Returns
    -------
    head : array (...) [m]
    slope : array (...) [m per L/h]
    """
    nominal = np.maximum(outlets.flow, 1e-12)
    share = flow / nominal
    if np.all(outlets.exponent == 0.5):
        steep = outlets.head * share / nominal
        return steep * flow, 2.0 * steep
    power = 1.0 / outlets.exponent
    steep = outlets.head * np.maximum(share, 1e-30) ** (power - 1.0) / nominal
    return steep * flow, power * steep
