"""What a change needs: parts to buy, and how much work they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...pattern.changed import Layout
from ...record.model import Record
from ...record.places import lines_from_the_left
from ..change import Change, Changed

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


def parts_of(record: Record, change: Change, changed: Changed, today: Layout, new: Layout) -> list[Part]:
    """Count the parts of a change.

    Parameters
    ----------
    record : Record
        As it is.
    change : Change
        What is changed.
    changed : Changed
        The record after it.
    today, new : Layout
        Heads before and after.

    Returns
    -------
    list of Part
        Without those of which none is needed.
    """
    need: dict[str, float] = {}

    def add(item: str, count: float) -> None:
        need[item] = need.get(item, 0.0) + count

    lines = lines_from_the_left(record)
    length = record.floor.length.si
    kept = {like for like, _, _ in changed.lines if like >= 0}
    for number, (like, x, ys) in enumerate(changed.lines):
        if like < 0:
            tube = float(ys[-1] - min(ys[0], 0.0))
            for item, count in (("tube, m", tube + 2.0), ("tube hanger", tube / HANGER_EVERY), ("tee", 1),
                                ("end plug", 1), ("clamp", 4)):
                add(item, count)
            continue
        if abs(x - lines[like].x.si) > 0.02:
            add("line to move, m", float(ys[-1] - ys[0]))
        if changed.record.lines[number].fed_from != lines[like].fed_from and "fed_from" in change.values:
            add("tube, m", length / 2)
            add("tee", 1)
            add("clamp", 3)
        if "pipe" in change.values:
            add("tube, m", float(ys[-1]))
            add("fitting", 2)
            add("clamp", 4)
            add("end plug", 1)
    add("end plug", len(lines) - len(kept))
    stay = set(new.was[new.was >= 0])
    gone = [k for k in range(len(today.heads)) if k not in stay]
    new_heads = int((new.was < 0).sum())
    if "pipe" not in change.values:  # a hole that is left; new tube comes without
        add("hole plug", sum(today.line_of[k] in kept for k in gone))
    if "wetted_diameter" in change.values or "flow" in change.values:
        add("head", len(new.heads))
    else:
        add("head", max(new_heads - len(gone), 0))
        add("head to move", min(new_heads, len(gone)) + (len(stay) if "pipe" in change.values else 0))
    add("head to mend", _mended(changed, today, new))
    if record.supply and record.supply.hose:
        was = record.supply.hose.length.si
        length = change.values.get("hose_length", was)
        if "hose" in change.values or abs(length - was) > 0.01:
            add("hose, m", length if "hose" in change.values else max(length - was, 0.0))
            add("fitting", 2)
    add("regulator", int("regulator_range" in change.values))
    add("valve", len(lines) if change.values.get("run_lines") == "in turn" else 0)
    return [Part(item, int(np.ceil(count - 1e-9))) for item, count in need.items() if count > 0]


def _mended(changed: Changed, today: Layout, new: Layout) -> int:
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
