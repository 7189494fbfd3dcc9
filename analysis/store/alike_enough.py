"""Which values of a table can be shown when every row must look like those of several members."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

Row = tuple[object, ...]  # one value a column; None where there is none


@dataclass(frozen=True)
class _Table:
    """What is asked about: values by column, whose row each is, which row goes first, members that must be alike."""

    columns: list[tuple[object, ...]]
    members: Sequence[str]
    order: list[bytes]
    fewest: int

    def enough(self, group: list[int]) -> bool:
        return len(group) >= self.fewest and len({self.members[at] for at in group}) >= self.fewest


def enough_alike(rows: Sequence[Row], members: Sequence[str], keys: Sequence[str], fewest: int,
                 worth: Sequence[int]) -> list[Row]:
    """Leave values empty until every row looks like rows of several members."""
    if not rows:
        return []
    if len(set(members)) < fewest:
        raise ValueError(f"received rows of {len(set(members))} members, expected {fewest} or more, leave them all out")
    order = [hashlib.sha256(key.encode()).digest() for key in keys]  # as good as drawn by lot: keys may follow dates
    table = _Table(list(zip(*rows, strict=True)), members, order, fewest)
    shown: list[list[object]] = [[None] * len(worth) for _ in rows]
    waiting = [(list(range(len(rows))), tuple(range(len(worth))))]
    while waiting:
        group, columns = waiting.pop()
        column, kept, empty = _best(table, group, columns, worth)
        rest = tuple(other for other in columns if other != column)
        for value, inside in kept.items():
            for at in inside:
                shown[at][column] = value
        waiting += [(inside, rest) for inside in (*kept.values(), empty) if kept and inside]
    return [tuple(row) for row in shown]


def _best(table: _Table, group: list[int], columns: tuple[int, ...],
          worth: Sequence[int]) -> tuple[int, dict[object, list[int]], list[int]]:
    """The column to show next, with the groups it makes; no groups where none can be shown."""
    best: tuple[int, dict[object, list[int]], list[int]] = (-1, {}, group)
    most = 0.0
    for column in columns:
        kept, empty = _split(table, group, column)
        score = worth[column] * sum(map(len, kept.values())) / max(1, len(kept) + bool(empty))
        if score > most:
            best, most = (column, kept, empty), score
    return best


def _split(table: _Table, group: list[int], column: int) -> tuple[dict[object, list[int]], list[int]]:
    """Rows by a value that enough members share, and those where it stays empty: none, or of enough members."""
    by_value: dict[object, list[int]] = {}
    for at in group:
        by_value.setdefault(table.columns[column][at], []).append(at)
    empty, kept = by_value.pop(None, []), {}
    for value, inside in by_value.items():
        if table.enough(inside):
            kept[value] = inside
        else:
            empty = empty + inside
    if not (empty and kept) or table.enough(empty):
        return kept, empty
    lent = _lent(table, kept, empty)
    if lent:
        return {value: [at for at in inside if at not in lent] for value, inside in kept.items()}, [*empty, *lent]
    smallest = min(kept, key=lambda value: (len(kept[value]), value))
    return kept, empty + kept.pop(smallest)


def _lent(table: _Table, kept: dict[object, list[int]], empty: list[int]) -> set[int]:
    """The fewest rows that make the empty ones enough and leave every group enough; none where that cannot be."""
    with_them, lent = {table.members[at] for at in empty}, set()
    counts = {value: Counter(table.members[at] for at in inside) for value, inside in kept.items()}
    offers = sorted((counts[value][table.members[at]] == 1,  # its group would have a member less
                     table.order[at], at, value) for value, inside in kept.items() for at in inside)
    for *_, at, value in offers:
        member = table.members[at]
        if member in with_them or (counts[value][member] == 1 and len(counts[value]) <= table.fewest):
            continue
        counts[value] -= Counter([member])
        with_them.add(member)
        lent.add(at)
        if len(with_them) >= table.fewest:
            return lent
    return set()
