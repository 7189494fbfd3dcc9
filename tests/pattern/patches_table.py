"""Whether patches without cans are answered rightly: ``python -m tests.pattern.patches_table [tunnels] [seed]``."""

from __future__ import annotations

import os
import sys

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from evenfall.cans.catch import read_catch
from evenfall.cans.patches import ALIKE_WITHIN, PatchAnswer
from evenfall.pattern.patches import judge_on_floor
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record, plain_text
from evenfall.record.site import site_of

from ..families.plants import any_tunnel
from ..families.tunnels import RASTER, read, record_text

PATCHES = 6  # a tunnel
BANDS = (0.5, 0.8, 0.9, 0.95, 1.001)


def is_true(answer: str, ratio: float) -> bool:
    """Whether an answer is right for the true ratio."""
    return {"drier": ratio < 1, "wetter": ratio > 1, "alike": abs(ratio - 1) < ALIKE_WITHIN}[answer]


def answers(seed: int) -> list[tuple[PatchAnswer, float]]:
    """Patches between the cans of one tunnel, each with its true ratio."""
    rng = np.random.default_rng([11, seed])
    tunnel = any_tunnel(rng)
    site = site_of(parse_record(plain_text(record_text(tunnel, read(tunnel, rng)))))
    floor, truth = estimate_floor(site, read_catch(site)), tunnel.floor()
    x, y = (RASTER / 2 + RASTER * np.arange(size) for size in truth.shape[::-1])
    found = []
    while len(found) < PATCHES:
        wide, long = rng.uniform(0.4, 1.2), rng.uniform(0.5, 2.0)
        left, start = rng.uniform(0, tunnel.width - wide), rng.uniform(0, tunnel.length - long)
        edges = (left, left + wide, start, start + long)
        at_x, at_y = tunnel.cans.T
        if ((at_x >= left) & (at_x <= edges[1]) & (at_y >= start) & (at_y <= edges[3])).any():
            continue
        inside = np.outer((y >= start) & (y <= edges[3]), (x >= left) & (x <= edges[1]))
        answer = judge_on_floor(floor, edges, 0)
        if answer is not None and inside.any():
            found.append((answer, float(truth[inside].mean() / truth[~inside].mean())))
    return found


def main(count: int = 40, seed: int = 1) -> None:
    """Print the table."""
    every = [one for k in range(count) for one in answers(seed + k)]
    told = [(answer, ratio) for answer, ratio in every if answer.answer != "cannot tell"]
    print(f"{len(every)} patches, {len(told)} answered")
    for low, high in zip(BANDS, BANDS[1:], strict=False):
        some = [(answer, ratio) for answer, ratio in told if low <= answer.chance < high]
        right = sum(is_true(answer.answer, ratio) for answer, ratio in some)
        print(f"chance {low:.2f} to {min(high, 1.0):.2f}: {len(some)}, mean "
              f"{np.mean([answer.chance for answer, _ in some]) if some else np.nan:.2f}, right {right}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
