"""Many values with known errors: how far the units differ, what each is worth, and which cannot be told apart."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special, stats

_STEPS = 200            # Newton's method at least doubles a variance that is far too small, so this is ample
_CELLS = 1_000_000      # simulated numbers held at once; the half dozen arrays of this size take about 60 MB
_FINEST = 1e-5          # share of the largest error below which an error counts as this share, in groups
_LOOK_EVERY = 100       # draws between two looks at whether a split is decided already
_LOOK_RISK = 1e-4       # chance that one look decides otherwise than endless draws would


@dataclass(frozen=True)
class Shrunk:
    """Values drawn toward their mean."""

    mean: float  # [unit of the values] weighted mean of the units
    mean_low: float  # [unit of the values] its 90 % interval
    mean_high: float  # [unit of the values]
    tau: float  # [unit of the values] standard deviation between units
    value: np.ndarray  # [unit of the values] each value after it is drawn toward the mean
    sd: np.ndarray  # [unit of the values] standard deviation of each, with what is unknown of mean and tau


def checked(value: np.ndarray, sd: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Take values and their errors as arrays, or say what is wrong with them."""
    value, sd = np.asarray(value, dtype=float), np.asarray(sd, dtype=float)
    if value.ndim != 1 or value.shape != sd.shape or not value.size:
        raise ValueError(f"received values {value.shape} with errors {sd.shape}, expected two rows of one length and "
                         "at least one value, give each value its error")
    if not (np.isfinite(value).all() and np.isfinite(sd).all() and (sd > 0).all()):
        raise ValueError("received a value or an error that is not finite or an error that is not above zero, expected "
                         "finite values with errors above zero, leave the others out")
    return value, sd


def spread_between(value: np.ndarray, sd: np.ndarray, design: np.ndarray | None = None) -> float:
    """Estimate how far units differ beyond their known errors."""
    # The variance t for which sum (residual^2 / (sd^2 + t)) equals its degrees of freedom (Paule and Mandel 1982, J.
    # Res. NBS 87, 377), by Newton's method from zero (DerSimonian and Kacker 2007, Contemp. Clin. Trials 28, 105): the
    # sum is convex in t, so no step goes too far.
    value, sd = checked(value, sd)
    design = np.ones((len(value), 1)) if design is None else np.asarray(design, dtype=float)
    free = len(value) - design.shape[1]
    variance = 0.0
    for _ in range(_STEPS):
        root = 1 / np.sqrt(sd**2 + variance)
        part = np.linalg.lstsq(design * root[:, None], value * root)[0]
        left = (value - design @ part) * root
        over = left @ left - free
        if over <= 1e-12 * max(free, 1):
            break
        variance += over / np.sum((left * root) ** 2)
    return math.sqrt(variance)


def shrink(value: np.ndarray, sd: np.ndarray) -> Shrunk:
    """Draw each value toward the weighted mean, the more the less is known of it."""
    # Empirical Bayes with normal errors and a normal spread between units (Morris 1983, JASA 78, 47; the formulas for
    # unequal errors from memory): the share by which a value is drawn is (n - 3) / (n - 1) sd^2 / (sd^2 + tau^2). The
    # factor corrects for tau being an estimate, and leaves up to three values as they are. His estimate of tau is the
    # one of Paule and Mandel. The interval of the mean takes Student's t with n - 1 degrees of freedom and is never
    # narrower than the errors allow (Knapp and Hartung 2003, Stat. Med. 22, 2693); that of a single value is normal.
    value, sd = checked(value, sd)
    count, tau = len(value), spread_between(value, sd)
    weight = 1 / (sd**2 + tau**2)
    total = weight.sum()
    mean = float(weight @ value / total)
    off, pull = value - mean, _pull(sd, tau)
    usual = weight @ sd**2 / total
    unsure = 2 / max(count - 3, 1) * pull**2 * (usual + tau**2) * weight
    variance = sd**2 * (1 - (1 - weight / total) * pull) + unsure * off**2
    wide = stats.t.ppf(0.95, count - 1) if count > 1 else stats.norm.ppf(0.95)
    half = float(wide / math.sqrt(total))
    return Shrunk(mean, mean - half, mean + half, tau, value - pull * off, np.sqrt(variance))


def _pull(sd: np.ndarray, tau: float) -> np.ndarray:
    """Share by which each value is drawn toward the mean; 0 for up to three values."""
    count = len(sd)
    return max(count - 3, 0) / max(count - 1, 1) * sd**2 / (sd**2 + tau**2)


def alike_groups(value: np.ndarray, sd: np.ndarray, draws: int = 1000, alpha: float = 0.1,
                 seed: int = 0) -> np.ndarray:
    """Put units that the data cannot tell apart into one group."""
    # The units, in the order of their shrunk values, are cut in two where the weighted sum of squares between the parts
    # is largest, if it is larger than units that are all alike would give; then each part likewise, at the same `alpha`
    # (Scott and Knott 1974, Biometrics 30, 507, here with known, unequal errors). What units that are all alike would
    # give is simulated: their common mean and their errors, sorted by the same rule (each drawn by its share toward the
    # mean of all). Draws end early once the answer is sure (Gandy 2009, JASA 104, 1504).
    value, sd = checked(value, sd)
    if not (0 < alpha < 1 and (draws + 1) * alpha > 1):
        raise ValueError(f"received alpha {alpha} with {draws} draws, expected alpha between 0 and 1 and more than "
                         "1/alpha draws, choose others")
    shrunk = shrink(value, sd)
    order = np.argsort(shrunk.value, kind="stable")
    keeps = 1 - _pull(sd, shrunk.tau)[order]
    # Sums of weights that differ by more than this would be lost in rounding.
    off, sd = value[order] - shrunk.mean, np.maximum(sd, _FINEST * sd.max())[order]
    rng = np.random.default_rng(seed)
    begins = np.zeros(len(value), dtype=int)
    parts = [slice(0, len(value))]
    while parts:
        part = parts.pop()
        cut = part.start + _cut(off[part], sd[part], keeps[part], draws, alpha, rng)
        if cut > part.start:
            begins[cut] = 1
            parts += [slice(part.start, cut), slice(cut, part.stop)]
    group = np.empty(len(value), dtype=int)
    group[order] = np.cumsum(begins)
    return group


def _cut(off: np.ndarray, sd: np.ndarray, keeps: np.ndarray, draws: int, alpha: float,
         rng: np.random.Generator) -> int:
    """Size of the lower part where sorted units are worth cutting in two, 0 where they are not."""
    if len(off) < 2:
        return 0
    weight = 1 / sd**2
    # Units of one value are never parted: along them the sum of squares is convex, so that it is largest at an end.
    between = _between(off, weight)
    best = int(np.argmax(between))
    largest = between[best]
    # However they are sorted, units that are all alike have no more between the parts than in all: chi-square. This
    # settles cuts that are plain, and those of two units exactly.
    surely = special.chdtrc(len(off) - 1, largest) < alpha
    if not surely and len(off) == 2:
        return 0
    return best + 1 if surely or _rare(largest, weight @ off / weight.sum(), sd, keeps, draws, alpha, rng) else 0


def _between(off: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Weighted sum of squares between the parts, for every cut along the last axis."""
    total = weight.sum(-1, keepdims=True)
    mean = np.sum(weight * off, -1, keepdims=True) / total
    left = np.cumsum(weight * (off - mean), -1)[..., :-1]
    below = np.cumsum(weight, -1)[..., :-1]
    return np.asarray(left**2 * total / (below * (total - below)))


def _rare(largest: float, mean: float, sd: np.ndarray, keeps: np.ndarray, draws: int, alpha: float,
          rng: np.random.Generator) -> bool:
    """Whether units that are all alike, with these errors, have so large a sum of squares in fewer than alpha."""
    done = reached = 0
    weight, block = 1 / sd**2, max(1, min(_LOOK_EVERY, _CELLS // len(sd)))
    while done < draws:
        off = mean + sd * rng.standard_normal((min(block, draws - done), len(sd)))
        order = np.argsort(keeps * off, axis=1)
        between = _between(np.take_along_axis(off, order, 1), weight[order])
        done += len(off)
        reached += int(np.sum(between.max(1) >= largest))
        if special.bdtr(reached, done, alpha) < _LOOK_RISK:
            return True
        if reached and special.bdtrc(reached - 1, done, alpha) < _LOOK_RISK:
            return False
    return bool((reached + 1) / (draws + 1) < alpha)


def chance_of_low(value: np.ndarray, sd: np.ndarray, part: float = 0.25, draws: int = 2000,
                  seed: int = 0) -> np.ndarray:
    """How likely each unit is among the lowest."""
    shrunk = shrink(value, sd)
    if not (0 < part <= 1 and draws >= 1):
        raise ValueError(f"received the part {part} and {draws} draws, expected a part above 0 and up to 1 and at "
                         "least one draw, choose others")
    count = len(shrunk.value)
    most = math.ceil(part * count - 1e-9)  # 0.07 of 100 is 7 and not 8, whatever rounding says
    rng, hits, done = np.random.default_rng(seed), np.zeros(count), 0
    while done < draws:
        size = (min(draws - done, max(1, _CELLS // count)), count)
        drawn = shrunk.value + shrunk.sd * rng.standard_normal(size)
        hits += np.sum(drawn <= np.partition(drawn, most - 1, axis=1)[:, most - 1, None], axis=0)
        done += size[0]
    return hits / draws
