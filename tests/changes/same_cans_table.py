"""Which heads changed, on simulated pairs of tests: ``python -m tests.changes.same_cans_table [pairs] [first seed]``.

One tunnel twice with the same cans; between the tests half of the tunnels had their weak heads mended, a head more may
have become clogged, and either test may suffer drift, a kicked can and lines at unlike levels.
"""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from evenfall.cans.catch import read_catch
from evenfall.changes.same_cans import Changes, changes_between
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.site import site_of

from ..members.pairs import pair
from ..simulated_record import record_of

LARGE, REAL = 0.4, 0.15  # of a share: changes that should be found, and those that are no false alarm


@dataclass(frozen=True)
class Held:
    """One pair: what was told, and the true change of every head by line and number."""

    found: Changes
    truth: dict[tuple[str, int], float]
    kicked: int

    @property
    def large(self) -> list[tuple[str, int]]:
        """Heads that changed much."""
        return [head for head, change in self.truth.items() if abs(change) > LARGE]

    def near(self, line: str, number: int) -> float:
        """The largest true change among a head and its two neighbours."""
        return max((self.truth.get((line, number + off), 0.0) for off in (-1, 0, 1)), key=abs)


def held(seed: int) -> Held:
    """Make a pair and hold it against the truth."""
    rng = np.random.default_rng([5, seed])
    before, after = pair(rng, "repair")
    sites = [site_of(record_of(one)) for one in (before, after)]
    catches = [read_catch(site) for site in sites]
    floor = estimate_floor(sites[0], catches[0])
    every = np.arange(len(catches[0].x))
    found = changes_between(*catches, (every, every), floor, *sites)
    level = np.median(after.output / np.maximum(before.output, 1e-9))
    change = (after.output / level - before.output) / before.share
    names = [(line, number) for line, number, _, _ in floor.heads]
    return Held(found, dict(zip(names, change.tolist(), strict=True)), 0)


def main(count: int = 60, seed: int = 1) -> None:
    """Print the table."""
    every = [held(seed + k) for k in range(count)]
    large = [(one, head) for one in every for head in one.large]
    named = [(one, head) for one in every for head in one.found.heads]
    exact = sum(any((told.line, told.number) == head for told in one.found.heads) for one, head in large)
    close = sum(any(told.line == head[0] and abs(told.number - head[1]) <= 1 for told in one.found.heads)
                for one, head in large)
    print(f"{len(large)} heads changed by more than {LARGE}: {exact} named, {close} with the next head counted")
    right = sum(abs(one.truth[head.line, head.number]) > REAL for one, head in named)
    near = sum(abs(one.near(head.line, head.number)) > REAL for one, head in named)
    inside = sum(head.change.low <= one.truth[head.line, head.number] <= head.change.high for one, head in named)
    print(f"{len(named)} heads named: {right} changed by more than {REAL}, {near} with the next head counted; interval "
          f"held {inside}; cans named in {sum(bool(one.found.cans) for one in every)} of {count} pairs")
    for low, high in ((0.5, 0.8), (0.8, 0.95), (0.95, 1.001)):
        some = [(one, head) for one, head in named if low <= head.chance < high]
        good = sum(abs(one.truth[head.line, head.number]) > REAL for one, head in some)
        print(f"  chance {low:.2f} to {min(high, 1):.2f}: {len(some)}, right {good}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
