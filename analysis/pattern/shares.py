"""What each head gives each can, and how steep the pattern is there, by the draws of an estimate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..record.ground import Array
from .floor import Samples, maps

SIDE = 0.1  # [m] over which the slope is taken


def water_of_heads(samples: Samples, heads: Array, cans: Array) -> Array:
    """What each head gives each can if it gives its share, in every draw.

    Parameters
    ----------
    samples : Samples
        The draws.
    heads : array (m, 2) [m]
        Where the heads' patterns are.
    cans : array (n, 2) [m]
        Places.

    Returns
    -------
    array (s, n, m) [unit of the draws]
    """
    reach = float(samples.radius[-1] * (1.0 if samples.stretch is None else samples.stretch.max()))
    found: Array = np.zeros((len(samples.output), len(cans), len(heads)))
    for head, place in enumerate(heads):
        if np.hypot(*(cans - place).T).min() < reach:
            alone = np.zeros_like(samples.trend)
            alone[:, head] = samples.trend[:, head]
            found[:, :, head] = maps(replace(samples, output=alone), cans, heads)
    return found


def slope_at(samples: Samples, heads: Array, cans: Array) -> Array:
    """How steep the pattern of sound heads is at each can.

    Parameters
    ----------
    samples : Samples
        The draws.
    heads : array (m, 2) [m]
        Where the heads' patterns are.
    cans : array (n, 2) [m]
        Places.

    Returns
    -------
    array (n,) [unit of the draws a metre]
        Of their mean.
    """
    sound = replace(samples, output=samples.trend)
    ends = [maps(sound, cans + np.array(side) * SIDE, heads).mean(axis=0)
            for side in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    slope: Array = np.hypot(ends[0] - ends[1], ends[2] - ends[3]) / (2 * SIDE)
    return slope


def some_draws(samples: Samples, count: int) -> Samples:
    """The first draws of many.

    Parameters
    ----------
    samples : Samples
        The draws.
    count : int [1]
        At most so many.

    Returns
    -------
    Samples
    """
    return replace(samples, rate=samples.rate[:count], trend=samples.trend[:count], output=samples.output[:count],
                   stretch=None if samples.stretch is None else samples.stretch[:count])
