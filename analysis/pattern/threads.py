"""Linear algebra on one thread: the matrices here are small, and threads that wait for each other cost far more."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps


def one_thread(work: Callable) -> Callable:
    """Run a function with the linear algebra library held to one thread.

    On two cores of which one was busy, solving for 144 cans took twenty times as long with two threads as with one
    (own measurement; OpenBLAS threads spin while they wait).

    Parameters
    ----------
    work : callable
        What is to run.

    Returns
    -------
    callable
        The same, with the limit lifted again after it.
    """
    @wraps(work)
    def held(*args, **options):
        from threadpoolctl import threadpool_limits

        with threadpool_limits(limits=1, user_api="blas"):
            return work(*args, **options)
    return held
