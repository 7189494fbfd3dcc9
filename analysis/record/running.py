"""How the lines of a site run: which are open at the same time, for how long, and what that makes of rate and time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .ground import Array
from .site_lines import SiteLine


@dataclass(frozen=True)
class Running:
    """One run of a site.

    Attributes
    ----------
    stages : tuple of tuple of int [1]
        Numbers of the lines that are open at the same time, in the record's order; one stage follows the other.
    ran : array (lines,) [min]
        How long water ran from each line.
    usual : float [min]
        The run's duration: how long a line runs that does not say its own time.
    minutes : float [min]
        From the first line's opening to the last one's closing.
    """

    stages: tuple[tuple[int, ...], ...]
    ran: Array
    usual: float
    minutes: float

    @property
    def pace(self) -> float:
        """Mean rate over the whole run / rate at which each line's water falls if all run for `usual`, [1]."""
        return self.usual / self.minutes

    @property
    def shares(self) -> Array | None:
        """How long each line ran / `usual`, (lines,) [1]; None where all ran for so long."""
        return None if bool(np.all(self.ran == self.usual)) else self.ran / self.usual

    @property
    def at_once(self) -> bool:
        """Whether all lines run together for the same time."""
        return len(self.stages) == 1 and bool(np.all(self.ran == self.minutes))

    def of_lines(self, minutes: float) -> Array:
        """How long each line runs in a run of another length.

        Parameters
        ----------
        minutes : float [min]
            Of the whole run.

        Returns
        -------
        array (lines,) [min]
        """
        return minutes * self.ran / self.minutes

    def falls(self, each: Array) -> Array:
        """Highest rate at places while water falls there.

        Parameters
        ----------
        each : array (lines, p) [mm/h]
            What each line brings to each place, in `usual` minutes' time.

        Returns
        -------
        array (p,) [mm/h]
            Of the stage that brings most there.
        """
        while_open = np.asarray(each, float) * (self.usual / self.ran)[:, None]
        found: Array = np.max([while_open[list(stage)].sum(axis=0) for stage in self.stages], axis=0)
        return found


def running_of(lines: Sequence[SiteLine], duration: float, in_turn: bool) -> Running:
    """Find out how lines run.

    Parameters
    ----------
    lines : sequence of SiteLine
        In the record's order; none where nobody says.
    duration : float [s]
        How long each line runs that does not say its own time.
    in_turn : bool
        Whether they run one after the other.

    Returns
    -------
    Running
    """
    ran = np.array([line.ran for line in lines], float) / 60 if len(lines) else np.array([duration / 60])
    every = tuple(range(len(ran)))
    stages = tuple((line,) for line in every) if in_turn else (every,)
    return Running(stages, ran, duration / 60, float(sum(ran[list(stage)].max() for stage in stages)))
