"""What further readings would be worth: the draws of an estimate as an ensemble, made narrower by readings to come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..record.ground import Array

LEAST_SHARE = 0.002  # of the answer's variance; a reading that takes away less is chance among so many draws


@dataclass(frozen=True)
class Ensemble:
    """Draws of what could be read, and of the answers that hang on it.

    Attributes
    ----------
    readings : array (s, c) [any unit]
        What each of c further readings would be in each draw.
    noise : array (c,) [its unit squared]
        Variance of each by everything that has nothing to do with the answer.
    answers : array (s, a) [any unit]
        What is asked for; each counts as a part of its own variance.
    weight : array (s,) [1] or None
        Of each draw; None where all weigh the same.
    """

    readings: np.ndarray
    noise: np.ndarray
    answers: np.ndarray
    weight: np.ndarray | None = None

    def part(self, which: slice) -> Ensemble:
        """Some of the draws.

        Parameters
        ----------
        which : slice
            Which.

        Returns
        -------
        Ensemble
        """
        weight = None if self.weight is None else self.weight[which]
        return Ensemble(self.readings[which], self.noise, self.answers[which], weight)


@dataclass(frozen=True)
class Chosen:
    """A further reading and what it is expected to bring.

    Attributes
    ----------
    which : int [1]
        Its number among those offered.
    left : array (a,) [1]
        Part of each answer's standard deviation that is left after this one and those before it.
    share : array (a,) [1]
        Part of each answer's variance that this one takes away.
    """

    which: int
    left: Array
    share: Array


def most_telling(ensemble: Ensemble, count: int, near: Array, importance: Array) -> list[int]:
    """Choose readings one by one, each the one that narrows the answers most once those before it are known.

    The linear-Gaussian update of an ensemble, one reading at a time and without drawn noise: Whitaker and Hamill 2002,
    Ensemble data assimilation without perturbed observations, Monthly Weather Review 130, equations 10 to 13.

    Parameters
    ----------
    ensemble : Ensemble
        Draws.
    count : int [1]
        At most so many.
    near : array (c, c) of bool
        Readings that cannot both be taken.
    importance : array (a,) [1]
        What each answer counts.

    Returns
    -------
    list of int
        Fewer where nothing more would tell anything.
    """
    readings, answers = _centred(ensemble.readings, ensemble.weight), _centred(ensemble.answers, ensemble.weight)
    whole = np.maximum((answers ** 2).sum(axis=0), 1e-12)
    open_ = np.ones(readings.shape[1], bool)
    chosen: list[int] = []
    while len(chosen) < count and open_.any():
        total = (readings ** 2).sum(axis=0) + ensemble.noise
        gain = ((answers.T @ readings) ** 2 / total / whole[:, None] * importance[:, None]).sum(axis=0)
        best = int(np.argmax(np.where(open_, gain, -1.0)))
        if gain[best] < LEAST_SHARE * importance.sum():
            break
        chosen.append(best)
        open_ &= ~near[best]
        taken = readings[:, best].copy()
        pull = 1.0 / (total[best] * (1.0 + np.sqrt(ensemble.noise[best] / total[best])))
        answers = answers - np.outer(taken, pull * (taken @ answers))
        readings = readings - np.outer(taken, pull * (taken @ readings))
    return chosen


def worth(ensemble: Ensemble, chosen: list[int]) -> list[Chosen]:
    """What chosen readings bring, by draws that had no part in choosing them.

    Parameters
    ----------
    ensemble : Ensemble
        Other draws than those they were chosen by.
    chosen : list of int [1]
        Numbers of the readings, in their order.

    Returns
    -------
    list of Chosen
        Never better than draws of this number can show.
    """
    answers = _centred(ensemble.answers, ensemble.weight)
    whole = np.maximum((answers ** 2).sum(axis=0), 1e-12)
    before, found = np.ones(answers.shape[1]), []
    for number in range(1, len(chosen) + 1):
        taken = _centred(ensemble.readings[:, chosen[:number]], ensemble.weight)
        link = taken.T @ answers
        covariance = taken.T @ taken + np.diag(ensemble.noise[chosen[:number]])
        told = (link * np.linalg.solve(covariance, link)).sum(axis=0) / whole
        told = 1.0 - (1.0 - told) * (len(answers) - 1) / max(len(answers) - 1 - number, 1)  # chance alone tells a part
        left = np.minimum(np.sqrt(np.clip(1.0 - told, 0.0, 1.0)), before)
        found.append(Chosen(chosen[number - 1], left, before ** 2 - left ** 2))
        before = left
    return found


def _centred(values: np.ndarray, weight: np.ndarray | None) -> np.ndarray:
    """Draws less their mean, scaled so that their squares sum to the variance."""
    share = np.full(len(values), 1.0 / len(values)) if weight is None else weight / weight.sum()
    centred: np.ndarray = np.sqrt(share)[:, None] * (values - share @ values)
    return centred
