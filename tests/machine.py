"""How fast this machine is just now."""

import time


def slowness():
    """How much slower this machine is just now than the two cores the limits are for (1: not at all).

    Those do this loop in about 0.35 s (own measurement, Python 3.11).
    """
    begin = time.perf_counter()
    total = 0
    for number in range(5_000_000):
        total += number * number
    return max(1.0, (time.perf_counter() - begin) / 0.35)
