"""Cooperatives whose tunnels are all alike, from real estimates; `python -m tests.members.alike 40 1 100` prints how
often one of them is called the worst: 40 tests of one tunnel with new readings each, of which 100 cooperatives are
drawn."""

import sys
from dataclasses import replace

import numpy as np
from evenfall.cans.catch import read_catch
from evenfall.compare.pooling import alike_groups
from evenfall.compare.rows import ALPHA, sd_of
from evenfall.pattern import overlap, simulate
from evenfall.pattern.threads import one_thread
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.site import site_of

from ..simulated_record import record_of
from .pairs import upsets


@one_thread
def of_one_tunnel(count, rng):
    """(DUlq, its standard error) of so many tests, each with cans and upsets of its own; the true floor is one."""
    first = simulate.random_tunnel(rng, weak=[])
    found = []
    while len(found) < count:
        layout = str(rng.choice(simulate.CAN_LAYOUTS))
        cans = simulate.can_places(first.width, first.length, int(rng.integers(36, 90)), layout)
        later, turn = upsets(rng), rng.uniform(0.0, 2 * np.pi)
        blown = first.heads + later.drift * np.array([np.cos(turn), np.sin(turn)])
        depth = simulate.read_cans(cans, blown, first.output, first.radius, first.rate, rng, minutes=first.minutes,
                                   area=first.can_area)
        if later.kicked:
            depth[rng.integers(len(depth))] *= rng.uniform(0.1, 0.7)
        record = record_of(replace(first, cans=cans, depth=depth))
        figure = estimate_floor(site_of(record), read_catch(site_of(record))).estimate.du_low_quarter
        found.append((figure.value, sd_of(figure)))
    floor = overlap.rates_at(overlap.floor_grid(first.width, first.length, 0.12), first.heads, first.output,
                             first.radius, first.rate)
    return np.array(found), float(overlap.low_quarter(floor))


def main(count, seed, sets):
    rng = np.random.default_rng(seed)
    found, truth = of_one_tunnel(count, rng)
    off = (found[:, 0] - truth) / found[:, 1]
    false = 0
    for _ in range(sets):
        value, sd = found[rng.choice(count, 24, replace=False)].T
        false += alike_groups(value, sd, alpha=ALPHA).max() > 0
    print(f"seed {seed}: DUlq {truth:.0f} %, error {np.sqrt(np.mean((found[:, 0] - truth) ** 2)):.1f}, held "
          f"{100 * np.mean(np.abs(off) < 1.645):.0f} of 100; a false worst in {100 * false / sets:.0f} of 100")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:4]))
