"""How often a few cans can say whether a head is mended: ``python -m tests.changes.mended_table [tests] [seed]``."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass, replace

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from evenfall.changes.mended import MENDED_FROM, MendedHead, mended_heads
from evenfall.pattern import simulate
from evenfall.record.site import site_of

from ..simulated_record import record_of

NEAR, FAR = 0.4, 0.9  # [m] from the head, four cans each
KINDS = {"mended": 0.5, "as it was": 0.35, "half": 0.15}


@dataclass(frozen=True)
class Tried:
    """One head with what it truly gives now, as a part of its share."""

    kind: str
    truth: float
    found: MendedHead

    @property
    def held(self) -> bool:
        """Whether the interval of the output now holds the truth."""
        return self.found.after.low <= self.truth <= self.found.after.high


def around(tunnel, head: int, rng) -> np.ndarray:
    """Eight cans around a head, inside the floor."""
    turn = rng.uniform(0, 2 * np.pi) + np.arange(8) * np.pi / 4
    away = np.where(np.arange(8) % 2, NEAR, FAR)
    places = tunnel.heads[head] + np.column_stack([away * np.cos(turn), away * np.sin(turn)])
    return np.clip(places, 0.1, [tunnel.width - 0.1, tunnel.length - 0.1])


def tried(seed: int) -> Tried:
    """A tunnel with one weak head, and eight cans around it on another day."""
    rng = np.random.default_rng([77, seed])
    weak = float(rng.choice([0.0, rng.uniform(0.2, 0.6)]))
    tunnel = simulate.random_tunnel(rng, cans=int(rng.integers(24, 80)), weak=[weak],
                                    upsets=simulate.Upsets(uneven_lines=0.04))
    head, kind = tunnel.weak[0], str(rng.choice(list(KINDS), p=list(KINDS.values())))
    truth = {"mended": 1 + 0.05 * rng.standard_normal(), "as it was": weak * (1 + 0.05 * rng.standard_normal()),
             "half": rng.uniform(0.5, 0.95)}[kind]
    output = tunnel.output.copy()
    output[head] = tunnel.share[head] * truth
    output = output * (1 + 0.03 * rng.standard_normal())  # the pressure of another day
    cans = around(tunnel, head, rng)
    depth = simulate.read_cans(cans, tunnel.heads, output, tunnel.radius, tunnel.rate, rng, minutes=tunnel.minutes,
                               area=tunnel.can_area)
    line = tunnel.line_of[head]
    name = (f"line {line}", int((tunnel.line_of[:head] == line).sum()) + 1)
    later = replace(tunnel, cans=cans, depth=depth, output=output)
    return Tried(kind, float(truth), mended_heads(site_of(record_of(later)), site_of(record_of(tunnel)), [name])[0])


def main(count: int = 100, seed: int = 500) -> None:
    """Print the table."""
    found = [tried(seed + k) for k in range(count)]
    for answer in ("mended", "still weak", "cannot tell"):
        some = [one for one in found if one.found.answer == answer]
        print(f"{answer:12} {len(some):3}, of which give {MENDED_FROM:.2f} or more: "
              f"{sum(one.truth >= MENDED_FROM for one in some)}")
    print(f"interval of the output now held {sum(one.held for one in found)} of {count}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
