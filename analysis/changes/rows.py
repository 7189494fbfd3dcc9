"""Where lines and their heads go in a change."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array
from .errors import ChangeError

HOLE = 0.03      # [m] a hole so near a wanted place is used as it is
MOST_ON_LINE = 1000
LEAST_GAP = 0.1  # [m] from the last head of today to one more at the end of the line


class HeadRow:
    """The heads of one line on their way through a change: places [m], today's beside them."""

    def __init__(self, today: Array, length: float) -> None:
        self.today, self.length = today, length
        self.places: NDArray[np.floating[Any]] = today
        self.spacing: float | None = float(np.median(np.diff(today))) if len(today) > 1 else None

    def spread(self, spacing: float) -> None:
        """Set the heads so far apart, about the middle of today's, as many as keep within the floor."""
        today = self.today
        count = int(round((today[-1] - today[0]) / spacing)) + 1
        middle = 0.5 * float(today[0] + today[-1])
        while count > 1 and (count - 1) * spacing > 2 * min(middle, self.length - middle):
            count -= 1
        self.spacing = spacing
        self.places = middle + (np.arange(count) - 0.5 * (count - 1)) * spacing

    def begin_at(self, first: float) -> None:
        """Set the first head so far from the inlet end wall, and go on to as far from the other."""
        if first > self.length / 2:
            raise ChangeError(f"received a first head {first:g} m from the inlet end wall, expected at most half the "
                           f"length of {self.length:g} m, correct it")
        if self.spacing is None:
            raise ChangeError("received a first head for a line with one head, expected head_spacing with it, add it")
        self.places = first + self.spacing * np.arange(int((self.length - 2 * first) / self.spacing + 1e-9) + 1)

    def add_between(self) -> None:
        """Add a head between each two."""
        if len(self.today) < 2:
            raise ChangeError("received add_between for a line with one head, expected two or more, leave it out")
        self.places = np.sort(np.concatenate([self.places, 0.5 * (self.places[1:] + self.places[:-1])]))

    def add_at_ends(self, end: float) -> None:
        """Add a head so far from each end wall, where there is room for it."""
        begins = [end] * bool(self.places[0] - end > LEAST_GAP)
        ends = [self.length - end] * bool(self.length - end - self.places[-1] > LEAST_GAP)
        self.places = np.concatenate([begins, self.places, ends])

    def settled(self) -> Array:
        """The places, in today's holes where every one of these has a new place within `HOLE`."""
        found, today = np.asarray(self.places, float), self.today
        nearest = np.abs(found[:, None] - today[None, :]).argmin(axis=0)
        if len(set(nearest)) == len(today) and np.abs(found[nearest] - today).max() <= HOLE:
            found = found.copy()
            found[nearest] = today
        if len(found) > MOST_ON_LINE:
            raise ChangeError(f"received a spacing that puts {len(found)} heads on a line, expected at most "
                           f"{MOST_ON_LINE}, widen it")
        return found


def kept_lines(today: Array, across: Array) -> list[int]:
    """Which line of today hangs at each new place: in their order, and moved as little as can be.

    Parameters
    ----------
    today : array (n,) [m]
        Places of the lines, rising.
    across : array (k,) [m]
        New places, rising.

    Returns
    -------
    list of int [1]
        Number of today's line for each new place; -1 for a new line. Where there are fewer places than lines, the
        others come down.
    """
    few, many = (today, across) if len(today) <= len(across) else (across, today)
    apart = np.abs(few[:, None] - many[None, :])
    best = np.full((len(few) + 1, len(many) + 1), np.inf)
    best[0] = 0.0
    for i in range(1, len(few) + 1):
        for j in range(i, len(many) + 1):
            best[i, j] = min(best[i, j - 1], best[i - 1, j - 1] + apart[i - 1, j - 1])
    pairs, j = [], len(many)
    for i in range(len(few), 0, -1):
        while best[i, j - 1] <= best[i, j] + 1e-9:
            j -= 1
        pairs.append((i - 1, j - 1))
        j -= 1
    if few is across:
        return [line for _, line in reversed(pairs)]
    found = [-1] * len(across)
    for line, place in pairs:
        found[place] = line
    return found
