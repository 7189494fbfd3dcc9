"""Making the figures that a store still lacks."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager

from ..record.file import parse_record
from .errors import StoreError
from .kept import Kept
from .summaries import Summary, summary_of
from .viewer import Viewer
from .writer import Store

PAYS_FROM = 12  # tests from which a second process is worth its start


def complete(store: Store, viewer: Viewer, *, whole_floor: bool = True, workers: int = 1, most: int | None = None,
             progress: Callable[[int, int], None] | None = None) -> list[str]:
    """Make the figures that are missing or of another method; each is kept as soon as it is made."""
    todo = [item for item in store.unfinished(viewer) if whole_floor or item.summary is None][:most]
    faults: list[str] = []
    for number, (item, made) in enumerate(_made(store, viewer, todo, whole_floor, workers), 1):
        if isinstance(made, Summary):
            store.put_summary(item.digest, made)
        else:
            faults.append(f"{item.test}: its figures could not be made ({made}); its record is kept")
        if progress:
            progress(number, len(todo))
    return faults


def _made(store: Store, viewer: Viewer, todo: list[Kept], whole_floor: bool,
          workers: int) -> Iterator[tuple[Kept, Summary | str]]:
    texts = ((item, store.text(viewer, item.test, item.version)) for item in todo)
    if workers < 2 or len(todo) < PAYS_FROM:
        yield from ((item, make(text, whole_floor)) for item, text in texts)
        return
    with helpers(min(workers, len(todo))) as pool:
        if pool:
            yield from _in_turn(pool, texts, whole_floor, 4 * workers)


@contextmanager
def helpers(workers: int) -> Iterator[ProcessPoolExecutor | None]:
    """Further processes for a while."""
    if workers < 2:
        yield None
        return
    try:
        with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), _let_the_first_end_it) as pool:
            yield pool
    except BrokenProcessPool:
        raise StoreError("a process that did part of the work was ended from outside, perhaps for want of memory; do "
                         "it again: what was done before is kept") from None


def _let_the_first_end_it() -> None:
    """Ctrl+C reaches every process; the first one stops the work and says so."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _in_turn(pool: ProcessPoolExecutor, texts: Iterable[tuple[Kept, str]], whole_floor: bool,
             ahead: int) -> Iterator[tuple[Kept, Summary | str]]:
    """Results as they are ready, with only a few texts under way."""
    waiting: dict[Future[Summary | str], Kept] = {}
    for item, text in texts:
        waiting[pool.submit(make, text, whole_floor)] = item
        if len(waiting) >= ahead:
            done = next(as_completed(waiting))
            yield waiting.pop(done), done.result()
    for done in as_completed(list(waiting)):
        yield waiting[done], done.result()


def make(text: str, whole_floor: bool) -> Summary | str:
    """Sum up one record."""
    try:
        return summary_of(parse_record(text), whole_floor=whole_floor)
    except (ValueError, ArithmeticError) as error:  # LinAlgError is a ValueError
        return " ".join(str(error).split())[:300]


def processes() -> int:
    """How many processes this machine serves well."""
    return max(1, os.cpu_count() or 1)
