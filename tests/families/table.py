"""The table of families: ``python -m tests.families.table [tests a family] [first seed] [part of a family's name]``."""

from __future__ import annotations

import os
import sys

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from concurrent.futures import ProcessPoolExecutor

import numpy as np

from .judge import Verdict, verdict
from .plants import FAMILIES


def row(name: str, found: list[Verdict]) -> str:
    """One line of the table."""
    seen = [one for one in found if not one.closed]
    held = sum(one.held for one in seen)
    mean = lambda values: float(np.sqrt(np.mean(np.square(values)))) if len(values) else float("nan")  # noqa: E731
    false = [kind for one in found for kind in one.false]
    named = f"{sum(one.found for one in found)}/{sum(one.blocked for one in found)}"
    return (f"{name[:44]:44} {len(found):3} {len(found) - len(seen):6} {held:3}/{len(seen):<3}"
            f"{mean([one.error for one in seen]):7.1f}{np.mean([one.width for one in seen]) if seen else np.nan:7.1f}"
            f"{mean([one.error_at_cans for one in found if not one.stopped]):7.1f}"
            f"{sum(bool(one.false) for one in found):6} {named:>7} {sum(one.false_suspects for one in found):5}"
            f"{sum(one.right == one.told and bool(one.right) for one in found):6}  {', '.join(sorted(set(false)))}")


def main(count: int = 20, seed: int = 1, part: str = "") -> None:
    """Print the table."""
    names = [name for name in FAMILIES if part in name]
    print(f"{'family':44} {'n':>3} closed    held  error  width   cans false blocked wrong right  causes not there")
    with ProcessPoolExecutor(2) as pool:
        jobs = {name: [pool.submit(verdict, name, seed + k) for k in range(count)] for name in names}
        everything = []
        for name in names:
            found = [job.result() for job in jobs[name]]
            everything += found
            print(row(name, found), flush=True)
    print(row("all", everything))


if __name__ == "__main__":
    words = sys.argv[1:]
    main(*(int(word) for word in words[:2]), *words[2:3])
