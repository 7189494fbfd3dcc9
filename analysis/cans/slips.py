"""Readings that no test can give: all alike, in step with their numbers, a row times ten, missing cans written as 0."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LEAST = 8               # cans, under which nothing is said
EVEN = 0.01             # CV under which readings are too even; a reading alone is good to 0.03 or worse (own judgement)
COARSE = 0.03           # of the mean: where half a step of the readings is more, even readings say nothing
TIMES_TEN = (6.5, 15.0)  # a row or column / the cans beside it, whose cans all stand out by `ALL_STAND_OUT`
ALL_STAND_OUT = 4.0
WORTH_A_LOOK = 1.5      # of the middle reading, which every can of such a strip is above
WET_BESIDE = 0.4        # of the mean: what stands beside a row of zeros that are no dry cans
LEAST_IN_ROW = 3


@dataclass(frozen=True)
class Slip:
    """Readings that cannot be what was caught.

    Attributes
    ----------
    kind : str
        ``every can alike``, ``can numbers``, ``times ten`` or ``missing as 0``.
    where : str
        ``row 3`` or ``column 2``; empty for all cans.
    says : str
        What was received, what was expected, what to do, without the key and the full stop.
    certain : bool
        False where the cans may have been as dry as they were read, between lines that hang too far apart or under a
        line that is shut.
    """

    kind: str
    where: str
    says: str
    certain: bool = True


def find_slips(readings: NDArray[np.float64], row: NDArray[np.int_], column: NDArray[np.int_]) -> list[Slip]:
    """Find slips in a table of readings.

    The limits are own judgements; none of them was met by 900 simulated sound tests.

    Parameters
    ----------
    readings : array (n,) [unit of the readings]
        As read; nan without a reading.
    row, column : array (n,) of int [1]
        Of each can, counted from 1; rows of 0 for free points.

    Returns
    -------
    list of Slip
        Empty for nearly every test; one for all cans comes alone.
    """
    there = np.isfinite(readings)
    if there.sum() < LEAST:
        return []
    whole = _alike(readings[there]) or _numbers(readings[there], row[there], column[there])
    if whole:
        return [whole]
    found = []
    for word, own, other in (("row", row, column), ("column", column, row)):
        if own.min() > 0 and other.min() > 0:
            found += _strips(word, readings, own, other)
    return found


def _alike(readings: NDArray[np.float64]) -> Slip | None:
    mean = float(readings.mean())
    if mean <= 0 or readings.std() > EVEN * mean or _step(readings) > COARSE * mean:
        return None
    return Slip("every can alike", "", f"received about {readings[0]:g} in every can, expected readings that differ "
                "by a few percent even where the water is even, check that each can was read by itself")


def _step(readings: NDArray[np.float64]) -> float:
    """Half of the step to which readings seem to be rounded."""
    for step in (10.0, 5.0, 1.0, 0.5, 0.1):
        if np.allclose(readings / step, np.round(readings / step), atol=1e-9):
            return step / 2
    return 0.0


def _numbers(readings: NDArray[np.float64], row: NDArray[np.int_], column: NDArray[np.int_]) -> Slip | None:
    """Readings that count the cans, the rows or the columns."""
    steps = np.diff(readings)
    counted = bool(steps[0] != 0 and np.all(steps == steps[0]))
    by_row, by_column = (bool(np.array_equal(readings, number) and np.ptp(number) > 1) for number in (row, column))
    if not (counted or by_row or by_column):
        return None
    of = "the cans" if counted else "the rows" if by_row else "the cans of each row"
    return Slip("can numbers", "", f"received readings that are the numbers of {of}, expected what the cans caught, "
                "put the readings in their place")


def _strips(word: str, readings: NDArray[np.float64], own: NDArray[np.int_],
            other: NDArray[np.int_]) -> list[Slip]:
    """Rows or columns that were written ten times too large, or with 0 for cans without a reading."""
    numbers = np.unique(own)
    if len(numbers) < LEAST_IN_ROW:
        return []
    there = np.isfinite(readings)
    mean, middle = readings[there].mean(), np.median(readings[there])
    found = []
    for number in numbers:
        here = (own == number) & there
        caught = readings[here]
        if not len(caught) or 0 < caught.max() and caught.min() <= WORTH_A_LOOK * middle:
            continue
        beside = np.isin(own, _neighbours(numbers, number)) & there
        if here.sum() < LEAST_IN_ROW or beside.sum() < LEAST_IN_ROW:
            continue
        where = f"{word} {number}"
        if np.all(readings[here] == 0):
            inner = numbers[0] < number < numbers[-1]
            if inner and _each_side_wet(readings, own, numbers, number, WET_BESIDE * float(mean)):
                found.append(Slip("missing as 0", where, f"received 0 in every can of {where} between wet cans, "
                                  "expected 0 only where a can was dry, write 'no reading' for those that were not "
                                  "read", certain=False))
            continue
        part = _part(readings, own, other, here, beside)
        if part is not None and TIMES_TEN[0] < np.median(part) < TIMES_TEN[1] and part.min() > ALL_STAND_OUT:
            found.append(Slip("times ten", where, f"received readings in {where} that are {np.median(part):.0f} times "
                              "those beside it, expected about as much, check whether a digit or a decimal mark is "
                              "wrong there"))
    return found


def _neighbours(numbers: NDArray[np.int_], number: int) -> list[int]:
    at = int(np.flatnonzero(numbers == number)[0])
    return [int(numbers[near]) for near in (at - 2, at - 1, at + 1, at + 2) if 0 <= near < len(numbers)]


def _each_side_wet(readings: NDArray[np.float64], own: NDArray[np.int_], numbers: NDArray[np.int_], number: int,
                   wet: float) -> bool:
    at = int(np.flatnonzero(numbers == number)[0])
    return all(np.nanmedian(readings[own == numbers[near]]) > wet for near in (at - 1, at + 1))


def _part(readings: NDArray[np.float64], own: NDArray[np.int_], other: NDArray[np.int_], here: NDArray[np.bool_],
          beside: NDArray[np.bool_]) -> NDArray[np.float64] | None:
    """Each reading of a strip / the middle one of those that stand in line with it beside the strip."""
    found = []
    for can in np.flatnonzero(here):
        level = np.median(readings[beside & (other == other[can])]) if np.any(beside & (other == other[can])) else 0.0
        if level > 0:
            found.append(readings[can] / level)
    return np.array(found) if len(found) >= LEAST_IN_ROW else None
