"""Which habits go with better or worse outcomes: one habit at a time, units of one member not taken as independent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from .pooling import checked, spread_between

LEAST_KNOWN = 8
LEAST_CLUSTERS = 5
HELD_LEVEL = 0.05  # chance that any habit without an effect is held, over all that are tried
_ALONE = 1e-9      # a cluster whose residuals keep less than this share of their variance decides a coefficient alone
_EXACT = 1e-9      # no standard error is less than this share of what the known errors give: below is rounding


@dataclass(frozen=True)
class Effect:
    """What goes with a habit."""

    name: str  # of the habit
    count: int  # [1] units with a known value, and members that they belong to
    clusters: int  # [1]
    slope: float  # [unit of the outcome per unit of the habit] slope with its 90 % interval
    low: float  # [unit of the outcome per unit of the habit]
    high: float  # [unit of the outcome per unit of the habit]
    p: float  # [1] two-sided p-value
    held: bool  # whether it stands at 5 % after Holm's correction over all habits tried


def effects(habits: dict[str, np.ndarray], outcome: np.ndarray, sd: np.ndarray, cluster: np.ndarray) -> list[Effect]:
    """Regress the outcome on one habit at a time."""
    # Random-effects meta-regression with weights 1 / (sd^2 + tau^2), tau by Paule and Mandel on the residuals (the
    # plain case: Knapp and Hartung 2003, Stat. Med. 22, 2693). Its variance is robust to clusters: CR2, with Student's
    # t on the Satterthwaite degrees of freedom of Bell and McCaffrey 2002 (Survey Methodology 28, 169), which are fewer
    # than the clusters, and far fewer where few of them differ in the habit. Which hold is decided step by step (Holm
    # 1979, Scand. J. Stat. 6, 65).
    outcome, sd = checked(outcome, sd)
    if np.shape(cluster) != outcome.shape:
        raise ValueError(f"received members {np.shape(cluster)} for outcomes {outcome.shape}, expected one for every "
                         "outcome, give each unit its member")
    out = set(left_out(habits, cluster))
    found = []
    for name, habit in habits.items():
        if name not in out:
            known = ~np.isnan(np.asarray(habit, dtype=float))
            member = np.unique(np.asarray(cluster)[known], return_inverse=True)[1]
            slope, error, free = _slope(np.asarray(habit, dtype=float)[known], outcome[known], sd[known], member)
            found.append((name, int(known.sum()), int(member.max()) + 1, slope, error, free))
    chances = [float(2 * stats.t.sf(abs(slope) / error, free)) for *_, slope, error, free in found]
    held = _holm(np.array(chances))
    made = []
    for (name, count, clusters, slope, error, free), p, holds in zip(found, chances, held, strict=True):
        half = float(stats.t.ppf(0.95, free)) * error
        made.append(Effect(name, count, clusters, slope, slope - half, slope + half, p, bool(holds)))
    return sorted(made, key=lambda effect: effect.p)


def left_out(habits: dict[str, np.ndarray], cluster: np.ndarray) -> list[str]:
    """Name the habits that are not tried."""
    # A habit is tried with at least 8 known values from 5 members and a spread above zero, also without any one member:
    # one member against all others says nothing of a habit.
    cluster = np.asarray(cluster)
    if cluster.ndim != 1 or cluster.dtype.kind not in "iu":
        raise ValueError(f"received members of type {cluster.dtype}, expected one row of whole numbers, number them")
    out = []
    for name, habit in habits.items():
        habit = np.asarray(habit, dtype=float)
        if habit.shape != cluster.shape or np.isinf(habit).any():
            raise ValueError(f"received the habit {name!r} with {habit.shape} values or one that is infinite, expected "
                             f"{cluster.shape} that are finite or nan, correct it")
        known = ~np.isnan(habit)
        members = np.unique(cluster[known])
        if known.sum() < LEAST_KNOWN or len(members) < LEAST_CLUSTERS or _one_decides(habit[known], cluster[known]):
            out.append(name)
    return out


def _one_decides(habit: np.ndarray, cluster: np.ndarray) -> bool:
    """Whether a habit has no spread, or none without one of the members."""
    tiny = 1e-9 * np.abs(habit).max()
    order = np.argsort(habit)
    lowest, highest = cluster[order[0]], cluster[order[-1]]
    # Only without the member of the lowest or of the highest value can the range shrink.
    return any(np.ptp(habit[cluster != member]) <= tiny for member in (lowest, highest))


def _slope(habit: np.ndarray, outcome: np.ndarray, sd: np.ndarray, member: np.ndarray) -> tuple[float, float, float]:
    """Slope, its standard error and its degrees of freedom."""
    unit = habit.std()
    design = np.column_stack([np.ones(len(habit)), (habit - habit.mean()) / unit])
    tau = spread_between(outcome, sd, design)
    # Divided by what each is expected to be off by, all errors are alike and independent in the working model.
    root = 1 / np.sqrt(sd**2 + tau**2)
    design = design * root[:, None]
    spread = np.linalg.inv(design.T @ design)
    part = spread @ (design.T @ (outcome * root))
    left = outcome * root - design @ part
    variance, free = _robust(design, left, member, spread)
    error = max(np.sqrt(variance), _EXACT * np.sqrt(spread[1, 1]))
    return float(part[1] / unit), float(error / unit), float(free)


def _robust(design: np.ndarray, left: np.ndarray, member: np.ndarray, spread: np.ndarray) -> tuple[float, float]:
    """CR2 variance of the second coefficient and its degrees of freedom."""
    # Bell and McCaffrey 2002. With H the hat matrix and X_g the rows of a cluster, each cluster's residuals are
    # multiplied by (I - H_gg)^-1/2. As H_gg = Z Z' with Z = X_g spread^1/2, (I - Z Z')^-1/2 Z = Z (I - Z'Z)^-1/2, so
    # that all is done on matrices of 2 by 2, whatever the size of the clusters.
    values, vectors = np.linalg.eigh(spread)
    root = vectors * np.sqrt(values) @ vectors.T
    thin = design @ root
    clusters = int(member.max()) + 1
    inner, score = np.zeros((clusters, 2, 2)), np.zeros((clusters, 2))
    np.add.at(inner, member, thin[:, :, None] * thin[:, None, :])
    np.add.at(score, member, thin * left[:, None])
    share, turn = np.linalg.eigh(inner)
    keeps = 1 - share
    adjust = np.where(keeps > _ALONE, 1 / np.sqrt(np.maximum(keeps, _ALONE)), 0.0)
    # In the turned axes of each cluster: the slope's row of spread^1/2, adjusted.
    row = adjust * (root[1] @ turn)
    variance = np.sum(np.einsum("gk,gk->g", row, np.einsum("gik,gi->gk", turn, score)) ** 2)
    own = np.einsum("gk,gk->g", row**2, share)
    across = np.einsum("gik,gk->gi", turn, share * row)
    trace = own.sum() - np.sum(across**2)
    square = np.sum(own**2) - 2 * np.sum(own[:, None] * across**2) + np.sum((across.T @ across) ** 2)
    return float(variance), float(trace**2 / square)


def _holm(p: np.ndarray) -> np.ndarray:
    """Which of several p-values hold at `HELD_LEVEL`: the smallest first, until one does not."""
    order = np.argsort(p, kind="stable")
    within = p[order] <= HELD_LEVEL / np.arange(len(p), 0, -1)
    held = np.empty(len(p), dtype=bool)
    held[order] = np.logical_and.accumulate(within)
    return held
