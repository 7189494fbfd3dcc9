"""Eight further cans really added, chosen or even: ``python -m tests.planning.really_added [tests a kind] [seed]``.

The tunnels are those of the families, with 20 to 30 cans; each is sound, has a line or all heads elsewhere than its
record says, or has two blocked heads.
"""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass, replace

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from evenfall.cans.catch import read_catch
from evenfall.pattern import overlap
from evenfall.planning.layouts import GRID, layout_of
from evenfall.planning.more import explained_by, more_cans, width_of
from evenfall.record.file import parse_record, plain_text
from evenfall.record.site import site_of

from ..families.tunnels import Tunnel, low_quarter, moved, read, sound

KINDS = ("sound", "a line elsewhere", "heads further along", "two blocked heads")
ADDED = 8
WIDE = 10.0  # points of DUlq from which an answer counts as contested


@dataclass(frozen=True)
class Added:
    """One test; widths of the interval of DUlq in points."""

    kind: str
    now: float
    then: float      # expected with the chosen cans
    chosen: float    # seen with them
    even: float      # seen with as many on a grid of their own
    held: bool       # by the interval with the chosen cans


def few_cans(rng, kind: str) -> Tunnel:
    """A tunnel with few cans, as it truly is; its record says what was meant."""
    columns, rows = [(4, 6), (4, 5), (5, 6), (3, 8)][rng.integers(4)]
    tunnel = sound(rng, layout_kind=str(rng.choice(["grid", "staggered"])), columns=columns, rows=rows,
                   sheet=bool(rng.random() < 0.5))
    off = rng.choice([-1, 1])
    if kind == "a line elsewhere":
        line = int(rng.integers(0, max(head.line for head in tunnel.heads) + 1))
        return moved(tunnel, lambda head: replace(head, x=head.x + 0.3 * off) if head.line == line else head)
    if kind == "heads further along":
        return moved(tunnel, lambda head: replace(head, y=head.y + 0.2 * off))
    if kind == "two blocked heads":
        blocked = set(rng.choice(len(tunnel.heads), 2, replace=False).tolist())
        return replace(tunnel, heads=[replace(head, flow=0.0) if number in blocked else head
                                      for number, head in enumerate(tunnel.heads)])
    return tunnel


def record_of(tunnel: Tunnel, readings, more=(), read_there=()):
    """The test with further cans as free points."""
    points = [{"x": f"{x:.3f} m", "y": f"{y:.3f} m", "catch": float(value)}
              for (x, y), value in zip([*tunnel.cans, *more], [*readings, *read_there], strict=True)]
    return parse_record(plain_text({**tunnel.record, "cans": {
        "reads": "volume", "unit": "mL", "opening_area": f"{tunnel.opening} cm2", "points": points}}))


def told(record) -> tuple[float, float, float]:
    """Width of DUlq with the rivals in it, and its interval."""
    site = site_of(record)
    explained = explained_by(site, read_catch(site), "metric")
    figure = explained.floor.estimate.du_low_quarter
    return width_of(explained, overlap.low_quarter(explained.maps, explained.floor.weight)), figure.low, figure.high


def added(kind: str, seed: int) -> Added | None:
    """One test; None where the whole floor is closed before or after."""
    rng = np.random.default_rng([seed, *kind.encode()])
    tunnel = few_cans(rng, kind)
    readings = read(tunnel, rng)
    site = site_of(record_of(tunnel, readings))
    widths, held = [], False
    try:
        found = more_cans(site, count=ADDED)
        chosen = np.array([(can.x_m, can.y_m) for can in found.cans])
        for places in (chosen, layout_of(GRID, site.ground, ADDED, [], "metric").places):
            there = read(replace(tunnel, cans=places), rng)
            width, low, high = told(record_of(tunnel, readings, places, there))
            held = held if widths else low <= low_quarter(tunnel.floor().ravel()) <= high
            widths.append(width)
    except ValueError:
        return None
    return Added(kind, found.narrows.now, found.narrows.then, widths[0], widths[1], held)


def narrowed(found: list[Added]) -> tuple[float, float, float]:
    """Mean narrowing expected, by the chosen cans and by even ones [points]."""
    return tuple(float(np.mean([one.now - getattr(one, name) for one in found])) for name in ("then", "chosen", "even"))


def main(count: int = 8, seed: int = 1) -> None:
    """Print the table."""
    every = [one for k in range(count) for kind in KINDS if (one := added(kind, seed + k)) is not None]
    for name, some in ((*((kind, [one for one in every if one.kind == kind]) for kind in KINDS),
                        (f"all over {WIDE:.0f} points", [one for one in every if one.now > WIDE]), ("all", every))):
        if some:
            expected, chosen, even = narrowed(some)
            print(f"{name:22} {len(some):3} tests: {np.mean([one.now for one in some]):5.1f} points, narrowed by "
                  f"{chosen:.1f} ({expected:.1f} expected), by even cans {even:.1f}; held "
                  f"{sum(one.held for one in some)}", flush=True)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
