"""How wide and how right the estimate from the cans alone is: ``python -m tests.pattern.cans_only_table [n] [seed]``.

The tunnels are those of the families: six curves, one to three lines, cans on a grid, staggered or anywhere; sound,
with blocked heads, in wind, or with one line low. So many tests for each number of cans, from this seed on.
"""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass, replace

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from evenfall.cans.surface import map_axes
from evenfall.pattern.cans_only import estimate_cans_only

from ..families.tunnels import CURVES, Tunnel, cu, low_quarter, moved, read, sound

SIZES = {24: ((4, 6), (3, 8)), 48: ((6, 8), (5, 10)), 100: ((8, 12), (10, 10), (7, 14))}
CELLS = 900


@dataclass(frozen=True)
class Judged:
    """One test; points of DUlq and of CU."""

    held: bool
    held_cu: bool
    held_mean: bool
    width: float
    width_cu: float
    error: float
    at_the_cans: float


def any_tunnel(rng, cans: int) -> Tunnel:
    """A tunnel and its cans."""
    columns, rows = SIZES[cans][rng.integers(len(SIZES[cans]))]
    kind = str(rng.choice(["grid", "staggered", "random"]))
    lines = int(rng.choice([1, 2, 2, 3, 3]))
    tunnel = sound(rng, curve=str(rng.choice([*CURVES, "measured leg"])), layout_kind=kind, lines=lines,
                   columns=columns, rows=rows)
    what = str(rng.choice(["sound", "blocked", "wind", "low line"]))
    if what == "blocked":
        out = set(rng.choice(len(tunnel.heads), max(1, len(tunnel.heads) // 20), replace=False).tolist())
        return replace(tunnel, heads=[replace(head, flow=0.0) if number in out else head
                                      for number, head in enumerate(tunnel.heads)])
    if what == "wind":
        turn, far = rng.uniform(0, 2 * np.pi), rng.uniform(0.3, 0.8)
        drift = (far * np.cos(turn), far * np.sin(turn))
        return moved(tunnel, lambda head: replace(head, drift=drift, wind_spread=0.5))
    if what == "low line":
        return moved(tunnel, lambda head: replace(head, flow=head.flow * (0.7 if head.line == 0 else 1.0)))
    return tunnel


def judged(cans: int, seed: int) -> Judged:
    """Make a tunnel, read its cans, and hold the estimate against the floor."""
    rng = np.random.default_rng([seed, cans])
    tunnel = any_tunnel(rng, cans)
    floor = tunnel.floor()
    depth = read(tunnel, rng) * 10 / tunnel.opening
    x, y = map_axes(tunnel.width, tunnel.length, CELLS)
    places = np.column_stack([np.tile(x, len(y)), np.repeat(y, len(x))])
    found = estimate_cans_only(tunnel.cans, depth, places, can_area_cm2=tunnel.opening,
                               walls=(tunnel.width, tunnel.length))
    truth = low_quarter(floor.ravel())
    du, even, mean = found.du_low_quarter, found.cu, found.mean
    return Judged(du.low <= truth <= du.high, even.low <= cu(floor) <= even.high, mean.low <= floor.mean() <= mean.high,
                  du.high - du.low, even.high - even.low, du.value - truth, low_quarter(depth) - truth)


def row(cans: int, found: list[Judged]) -> str:
    """One line of the table."""
    mean = lambda name: np.mean([getattr(one, name) for one in found])  # noqa: E731
    root = lambda name: np.sqrt(np.mean([getattr(one, name) ** 2 for one in found]))  # noqa: E731
    held = ", ".join(f"{name} {sum(getattr(one, key) for one in found)}" for name, key in (
        ("DUlq", "held"), ("CU", "held_cu"), ("mean", "held_mean")))
    return (f"{cans:3} cans: held {held} of {len(found)}; width DUlq {mean('width'):.1f}, CU {mean('width_cu'):.1f}; "
            f"error {root('error'):.1f} (at the cans {root('at_the_cans'):.1f})")


def main(count: int = 100, seed: int = 3000) -> None:
    """Print the table."""
    for cans in SIZES:
        print(row(cans, [judged(cans, seed + k) for k in range(count)]), flush=True)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
