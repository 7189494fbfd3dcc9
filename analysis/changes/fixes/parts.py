"""What a change needs: parts to buy, and how much work they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ...pattern.changed import Layout
from ..key import Changed, Job
from ..table import KEYS

HANGER_EVERY = 1.5  # [m] along a new tube, from memory

# Work of one part, in units of hanging one head; from memory, only used to put fixes in order.
WORK = {"head": 1.0, "tube, m": 0.5, "tube hanger": 0.5, "tee": 1.5, "end plug": 0.5, "hole plug": 0.3, "clamp": 0.3,
        "fitting": 0.5, "valve": 4.0, "hose, m": 0.3, "regulator": 3.0, "line to move, m": 0.3, "head to mend": 0.7,
        "head to move": 1.0}
SETTING = 0.5  # a change without parts: turning a regulator, opening a filter


@dataclass(frozen=True)
class Part:
    """One kind of part.

    Attributes
    ----------
    item : str
        What it is.
    count : int [1]
        How many, or metres where the item says so.
    """

    item: str
    count: int


def parts_of(job: Job) -> list[Part]:
    """Count the parts of a change.

    Parameters
    ----------
    job : Job
        The change, and the test before and after it.

    Returns
    -------
    list of Part
        Without those of which none is needed.
    """
    entries = [entry for key, entry in KEYS.items() if key in job.change.texts]
    renewed = {entry.renews for entry in entries}
    need: dict[str, float] = {}
    for item, count in (*_of_lines(job), *(part for entry in entries if entry.on_lines for part in entry.parts(job)),
                        *_of_heads(job, renewed),
                        *(part for entry in entries if not entry.on_lines for part in entry.parts(job))):
        need[item] = need.get(item, 0.0) + count
    return [Part(item, int(np.ceil(count - 1e-9))) for item, count in need.items() if count > 0]


def _of_lines(job: Job) -> Iterator[tuple[str, float]]:
    """What new lines need, and lines that move."""
    order = job.site.from_the_left()
    for like, x, ys in job.changed.lines:
        if like < 0:
            tube = float(ys[-1] - min(ys[0], 0.0))
            yield from (("tube, m", tube + 2.0), ("tube hanger", tube / HANGER_EVERY), ("tee", 1), ("end plug", 1),
                        ("clamp", 4))
        elif abs(x - job.site.lines[order[like]].x) > 0.02:
            yield "line to move, m", float(ys[-1] - ys[0])


def _of_heads(job: Job, renewed: set[str | None]) -> Iterator[tuple[str, float]]:
    """What heads need that are new, that move or are mended, and the holes that they leave."""
    today, new = job.today, job.new
    kept = {like for _, like, _ in job.kept()}
    yield "end plug", len(job.site.from_the_left()) - len(kept)
    stay = set(new.was[new.was >= 0])
    gone = [k for k in range(len(today.heads)) if k not in stay]
    more = int((new.was < 0).sum())
    if "tube" not in renewed:  # a hole that is left; new tube comes without
        yield "hole plug", sum(today.line_of[k] in kept for k in gone)
    if "heads" in renewed:
        yield "head", len(new.heads)
    else:
        yield "head", max(more - len(gone), 0)
        yield "head to move", min(more, len(gone)) + (len(stay) if "tube" in renewed else 0)
    yield "head to mend", _mended(job.changed, today, new)


def _mended(changed: Changed, today: Layout, new: Layout) -> int:
    """How many heads go back to their share."""
    stays = new.was >= 0
    return int((np.abs(new.own[:, stays].mean(axis=0) - today.own[:, new.was[stays]].mean(axis=0)) > 0.02).sum()
               if changed.mend else 0)


def work_of(parts: list[Part], changes: int = 1) -> float:
    """How much work a change is, to put fixes in order.

    Parameters
    ----------
    parts : list of Part
        From `parts_of`.
    changes : int [1]
        How many things are changed.

    Returns
    -------
    float [1]
        In units of hanging one head; from memory.
    """
    return SETTING * changes + sum(WORK[part.item] * part.count for part in parts)
