"""How fast this machine is just now, and ports of it that are free."""

import os
import random
import socket
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


def free_port():
    """A port of 127.0.0.1 that nobody has.

    Each worker looks in a stretch of its own, under the ports that the kernel gives to whoever asks for any: what is
    free now is then not given away before a server that is started on it listens.
    """
    worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw"))
    first = 11_000 + 2_000 * (worker % 10)
    for port in random.sample(range(first, first + 2_000), 2_000):
        with socket.socket() as trial:
            try:
                trial.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise OSError(f"no port from {first} to {first + 1_999} is free")
