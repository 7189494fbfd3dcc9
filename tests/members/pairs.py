"""Simulated pairs of tests; `python -m tests.members.pairs KIND 60 1` prints how well the intervals of their difference
hold.

Kinds: `repair` (one tunnel, the same cans), `cans` (one tunnel, cans of another layout), `tunnels` (two tunnels).
"""

import sys
from dataclasses import replace

import numpy as np
from evenfall.cans.catch import read_catch
from evenfall.changes.recheck import OTHER_CANS, difference
from evenfall.pattern import overlap, simulate
from evenfall.pattern.floor import Figure
from evenfall.pattern.threads import one_thread
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.site import site_of

from ..simulated_record import record_of


def upsets(rng):
    """What real tests suffer: drift in three of ten, a kicked can in two, lines at unlike levels in three."""
    return simulate.Upsets(drift=rng.uniform(0.0, 0.25) * (rng.random() < 0.3), kicked=int(rng.random() < 0.2),
                           uneven_lines=0.05 * (rng.random() < 0.3))


def pair(rng, kind):
    """Two tests with their truths; between those of one tunnel half of the tunnels had their weak heads mended."""
    before = simulate.random_tunnel(rng, cans=int(rng.integers(30, 90)), upsets=upsets(rng))
    if kind == "tunnels":
        return before, simulate.random_tunnel(rng, cans=int(rng.integers(30, 90)), upsets=upsets(rng))
    output, cans, later = before.output.copy(), before.cans, upsets(rng)
    if rng.random() < 0.5:
        output[list(before.weak)] = before.share[list(before.weak)]
    if kind == "cans":
        layout = str(rng.choice([item for item in simulate.CAN_LAYOUTS if item != before.layout]))
        cans = simulate.can_places(before.width, before.length, int(rng.integers(30, 90)), layout)
    turn = rng.uniform(0.0, 2 * np.pi)
    blown = before.heads + later.drift * np.array([np.cos(turn), np.sin(turn)])
    floor = overlap.rates_at(overlap.floor_grid(before.width, before.length, 0.12), blown, output, before.radius,
                             before.rate)
    truth = simulate.Truth(float(overlap.christiansen(floor)), float(overlap.low_quarter(floor)), float(floor.mean()))
    depth = simulate.read_cans(cans, blown, output, before.radius, before.rate, rng, minutes=before.minutes,
                               area=before.can_area)
    if later.kicked:
        depth[rng.integers(len(depth))] *= rng.uniform(0.1, 0.7)
    return before, replace(before, cans=cans, blown=blown, output=output, depth=depth, truth=truth)


def apart(one, two, figure):
    """Two tunnels share no error: the difference as it stands before it is narrowed."""
    made = difference(one, two, figure=figure, same_cans=False)
    low, high = (made.change.value + (end - made.change.value) / OTHER_CANS[figure]
                 for end in (made.change.low, made.change.high))
    return replace(made, change=Figure(made.change.value, low, high))


@one_thread
def judge(seed, kind):
    """(truth, value, low, high) of the change of DUlq and of CU [points]."""
    rng = np.random.default_rng(seed)
    found, truths = [], []
    for tunnel in pair(rng, kind):
        record = record_of(tunnel)
        found.append(estimate_floor(site_of(record), read_catch(site_of(record))).estimate)
        truths.append(tunnel.truth)
    rows = []
    for name in ("du_low_quarter", "cu"):
        one, two = (getattr(item, name) for item in found)
        change = (apart(one, two, name) if kind == "tunnels" else
                  difference(one, two, figure=name, same_cans=kind == "repair")).change
        truth = getattr(truths[1], name) - getattr(truths[0], name)
        rows.append((truth, change.value, change.low, change.high))
    return rows


def table(kind, count, first):
    rows = np.array([judge(seed, kind) for seed in range(first, first + count)])
    for name, part in (("DUlq", rows[:, 0]), ("CU", rows[:, 1])):
        truth, value, low, high = part.T
        off = np.where(truth > value, (truth - value) / (high - value), (value - truth) / (value - low))
        print(f"{kind}, {name}: {count} pairs, held {100 * np.mean(off <= 1):.0f} of 100, error "
              f"{np.sqrt(np.mean((value - truth) ** 2)):.1f}, width {np.mean(high - low):.1f} points; "
              f"85, 90, 95 would hold at {np.quantile(off, [0.85, 0.9, 0.95]).round(2)} of this width")
    return rows


if __name__ == "__main__":
    np.set_printoptions(suppress=True)
    table(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
