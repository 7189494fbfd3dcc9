"""Which departure from a sound system explains the cans best: one linear model, one currency.

Every fault that changes what the cans catch is a direction in the space of the cans, with a usual size and its
spread. Its gain is the log evidence that letting the cans move along it brings; a family of like faults (each head,
each place of a step) shares one prior, so that many members cost what they should. Families are taken one by one
while they pay, each seen beside those already taken.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .evidence import Evidence

MOST = 5            # departures looked for
PAYS = 0.5          # log evidence below which none is named
FRICTION_POWER = 2.85  # shape of the fall of pressure along a line of many heads
WALL = 0.3          # [m] over which a wet strip dies away
WEDGES = (0.45, 0.8)  # [m] sizes of a dry wedge


@dataclass(frozen=True)
class Family:
    """Like faults.

    Attributes
    ----------
    kind : str
        Name of the family.
    members : tuple
        What each stands for: heads, a line, a can ...
    directions : array (n, k) [1]
        Direction of each.
    usual, spread : float [1]
        Size along it and its standard deviation.
    prior : float [1]
        Log prior of the whole family against the others.
    """

    kind: str
    members: tuple
    directions: np.ndarray
    usual: float
    spread: float
    prior: float = 0.0


@dataclass(frozen=True)
class Departure:
    """A fault that the cans speak for.

    Attributes
    ----------
    kind : str
        Name of its family.
    member : object
        The likeliest member.
    alike : tuple
        Members within two units of log evidence of it.
    size, sd : float [1]
        Along its direction.
    gain : float [1]
        Log evidence for the family, beside the departures taken before it.
    rivals : dict of str to float [1]
        Other families that explain nearly the same, with their gain.
    """

    kind: str
    member: object
    alike: tuple
    size: float
    sd: float
    gain: float
    rivals: dict


def families(evidence: Evidence) -> list[Family]:
    """Everything that may be wrong with heads, lines, readings and air.

    Parameters
    ----------
    evidence : Evidence
        With heads.

    Returns
    -------
    list of Family
    """
    made = [*_heads(evidence), *_lines(evidence), *_ground(evidence), *_cans(evidence)]
    return [family for family in made if family.directions.shape[1]]


def _family(kind, pairs, usual, spread, prior=0.0):
    """A family of members with their directions."""
    pairs = [pair for pair in pairs if np.abs(pair[1]).max() > 1e-3]
    directions = np.column_stack([direction for _, direction in pairs]) if pairs else np.zeros((0, 0))
    return Family(kind, tuple(member for member, _ in pairs), directions, usual, spread, prior)


def _heads(evidence):
    """Single heads, and runs of heads of another kind."""
    response = evidence.linear.response
    single = [((number,), response[:, number]) for number in range(response.shape[1])]
    yield _family("weak head", [(member, -direction) for member, direction in single], 0.75, 0.3)
    yield _family("strong head", single, 0.6, 0.35, -1.0)
    mixed = []
    for line in evidence.lines:
        count = len(line.heads)
        for long in range(3, min(9, count - 3)):
            for start in range(1, count - long):
                some = line.heads[start:start + long]
                mixed.append((tuple(some), response[:, some].sum(axis=1)))
    yield _family("two kinds", mixed, 0.5, 0.2, -1.0)


def _lines(evidence):
    """Whole lines, falls along them, steps and weak last heads."""
    response, lines = evidence.linear.response, evidence.lines
    if len(lines) > 1:
        yield _family("line low", [((line.name,), -response[:, line.heads].sum(axis=1)) for line in lines], 0.3, 0.15)
    falls, steps, ends = [], [], []
    shapes = {"friction": lambda s: 1 - (1 - s) ** FRICTION_POWER, "slope": lambda s: s}
    for name, shape in shapes.items():
        each = [(line.name, -(response[:, line.heads] @ shape(line.along))) for line in lines if len(line.heads) > 2]
        falls += [((line, name), direction) for line, direction in each] if len(each) > 1 else []
        falls.append((("", name), np.sum([direction for _, direction in each], axis=0) if each else response[:, 0] * 0))
    for line in lines:
        order = line.heads[np.argsort(line.along, kind="stable")]
        count = len(order)
        for first in range(2, count - 1):
            last = count - first
            direction = -response[:, order[first:]].sum(axis=1)
            if last <= max(2, min(6, count // 4)):
                ends.append((tuple(order[first:]), direction))
            elif first >= 3 or count < 8:
                steps.append((tuple(order[first - 1:first + 1]), direction))
    yield _family("fall", falls, 0.22, 0.12)
    yield _family("step", steps, 0.35, 0.15)
    yield _family("end heads", ends, 0.5, 0.22)


def _ground(evidence):
    """Wet walls, drift and dry wedges."""
    linear, width, length = evidence.linear, evidence.site.width, evidence.site.length
    x, y = linear.cans.T
    walls = {"left": x, "right": width - x, "inlet end": y, "far end": length - y}
    yield _family("wet wall", [((name,), wall_direction(away))
                               for name, away in walls.items() if (away < 2 * WALL).sum() >= 3], 0.8, 0.5, -0.5)
    turns = np.arange(8) * np.pi / 4
    drifts = [((float(turn),), -linear.gradient @ [np.cos(turn), np.sin(turn)]) for turn in turns]
    yield _family("drift", drifts, 0.3, 0.12)
    wedges = []
    for place in linear.cans:
        apart = np.hypot(*(linear.cans - place).T)
        for wide in WEDGES:
            direction = np.exp(-0.5 * (apart / wide) ** 2)
            if (direction > 0.3).sum() >= 2:
                wedges.append(((float(place[0]), float(place[1]), wide), -linear.usual * direction))
    yield _family("dry wedge", wedges, 0.5, 0.2, -1.5)


def wall_direction(away: np.ndarray) -> np.ndarray:
    """How water that runs down a wall's film is spread over the cans beside it.

    Parameters
    ----------
    away : array (n,) [m]
        Of the cans from the wall.

    Returns
    -------
    array (n,) [1]
        1 at the wall, dying away within a step.
    """
    return np.where(away < 3 * WALL, np.exp(-away / WALL), 0.0)


def _cans(evidence):
    """Single cans."""
    linear = evidence.linear
    own = np.diag(np.maximum(linear.usual, 0.15))
    yield _family("can low", [((number,), -own[number]) for number in range(len(own))], 0.6, 0.3, -0.5)
    yield _family("can high", [((number,), own[number]) for number in range(len(own))], 0.8, 0.5, -1.5)


def find_departures(evidence: Evidence, made: list[Family] | None = None) -> list[Departure]:
    """Take the departures that the cans speak for, one by one.

    Parameters
    ----------
    evidence : Evidence
        With heads.
    made : list of Family, optional
        The families; `families` if left out.

    Returns
    -------
    list of Departure
        In the order in which they were taken; gains are divided by what the taken ones leave unexplained.
    """
    made = families(evidence) if made is None else made
    covariance, rest = evidence.linear.covariance.copy(), evidence.linear.depth - evidence.linear.usual
    taken = []
    for _ in range(MOST):
        inverse = np.linalg.inv(covariance)
        pull = inverse @ rest
        scored = []
        for family in made:
            gain, size, sd = _along(family, inverse, pull)
            whole = float(np.logaddexp.reduce(gain) - np.log(len(gain))) + family.prior
            scored.append((whole, family, gain, size, sd))
        whole, family, gain, size, sd = max(scored, key=lambda each: each[0])
        if whole < PAYS:
            break
        best = int(gain.argmax())
        rivals = {other.kind: one for one, other, *_ in scored if other is not family and one > whole - 2.0}
        alike = tuple(family.members[k] for k in np.flatnonzero(gain > gain[best] - 2.0) if k != best)
        taken.append(Departure(family.kind, family.members[best], alike, float(size[best]), float(sd[best]), whole,
                               rivals))
        direction = family.directions[:, best]
        rest = rest - family.usual * direction
        covariance = covariance + family.spread**2 * np.outer(direction, direction)
    excess = max(1.0, float(rest @ np.linalg.solve(covariance, rest)) / len(rest))
    return [Departure(one.kind, one.member, one.alike, one.size, one.sd, one.gain / excess, one.rivals)
            for one in taken]


def _along(family, inverse, pull):
    """Gain, size and its standard deviation along each direction of a family."""
    variance = family.spread**2
    precision = np.einsum("nk,nk->k", family.directions, inverse @ family.directions)
    drawn = family.directions.T @ pull
    tight = 1 / variance + precision
    towards = drawn + family.usual / variance
    gain = (-0.5 * np.log(variance * tight) + 0.5 * towards**2 / tight - 0.5 * family.usual**2 / variance)
    return gain, towards / tight, 1 / np.sqrt(tight)
