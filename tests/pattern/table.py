"""What the whole-floor estimate can and cannot tell, by can count, on simulated tunnels.

    python -m tests.pattern.table [TUNNELS] [SEED]

prints the guide's tables. Every shape has as many tunnels; a third of them suffer drift of 0.25 m, a kicked can
and uneven lines as well, and every third comes without a data sheet.
"""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor

import numpy as np
from evenfall.pattern import shapes, simulate

from . import score

SHAPES = (*shapes.KINDS, *shapes.ODD_KINDS)
UPSETS = simulate.Upsets(drift=0.25, kicked=1, uneven_lines=0.08)


def judged(number, seed=650_000, step=0.35, draws=200):
    """Score of one simulated tunnel; the number decides shape and upsets."""
    rng = np.random.default_rng(seed + number)
    turn = number // len(SHAPES)
    tunnel = simulate.random_tunnel(rng, shape=SHAPES[number % len(SHAPES)],
                                    upsets=UPSETS if turn % 3 == 1 else simulate.Upsets())
    return score.judge(tunnel, step=step, draws=draws, nominal=turn % 3 != 2)


def main(count=228, seed=650_000):
    """Print the tables.

    Parameters
    ----------
    count : int [1]
        How many tunnels.
    seed : int [1]
        Of the first.
    """
    with ProcessPoolExecutor(2) as pool:
        scores = list(pool.map(judged, range(count), [seed] * count, chunksize=4))
    turns = [(number // len(SHAPES)) % 3 for number in range(count)]
    print("no upsets, with and without a data sheet")
    print(score.table([one for one, turn in zip(scores, turns, strict=True) if turn != 1]))
    print("drift, a kicked can, uneven lines")
    print(score.table([one for one, turn in zip(scores, turns, strict=True) if turn == 1]))
    parts = {"all": scores, "calm, with a data sheet": [], "drift, a kicked can, uneven lines": [],
             "no data sheet": []}
    for turn, one in zip(turns, scores, strict=True):
        parts[list(parts)[1 + turn]].append(one)
    parts |= {shape: [one for one in scores if one.shape == shape] for shape in SHAPES}
    for name, some in parts.items():
        if not some:
            continue
        row = score.table_row(some)
        print(f"{name:34} " + " ".join(f"{key} {value:.3g}" for key, value in row.items()))


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
