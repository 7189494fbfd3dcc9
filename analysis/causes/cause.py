"""A cause: what may be wrong, where, how sure, and what to look at next."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class Cause:
    """A hypothesis, never a verdict.

    Attributes
    ----------
    cause : str
        What may be wrong; all of them, joined by 'or', where the test cannot tell them apart.
    where : str
        In words that a person can walk to.
    says : str
        The evidence, in numbers with units.
    strength : float [1]
        0 to 1; grows with the size of the effect and with how surely it is seen.
    check_next : str
        What to look at, the cheapest first.
    group : tuple of str
        The members, where they cannot be told apart; empty otherwise.
    kind : str
        A short name of the kind of cause, for programs.
    explains : str
        What it acts on: ``pattern``, ``pressure``, ``heads``, ``readings`` or ``supply``; not part of the JSON.
    mends : tuple of (line, number) [1]
        The heads at fault, by their lines' names; number 0 for a line as a whole. Not part of the JSON.
    """

    cause: str
    where: str
    says: str
    strength: float
    check_next: str
    group: tuple[str, ...] = ()
    kind: str = ""
    explains: str = field(default="", metadata={"json": False})
    mends: tuple[tuple[str, int], ...] = field(default=(), metadata={"json": False})


def together(*members: str) -> str:
    """Name inseparable causes as one.

    Parameters
    ----------
    *members : str
        Each of them.

    Returns
    -------
    str
    """
    return members[0] if len(members) == 1 else f"{', '.join(members[:-1])} or {members[-1]}"


def grows(value: float, half: float, power: float = 2.0) -> float:
    """Grow smoothly from 0 to 1.

    Parameters
    ----------
    value : float [1]
        Below 0 counts as 0.
    half : float [1]
        Where it is 0.5, in the unit of `value`.
    power : float [1]
        Power.

    Returns
    -------
    float [1]
    """
    share = max(float(value), 0.0) / half
    return share**power / (1.0 + share**power)


def surely(excess: float, sd: float) -> float:
    """How likely a reading that is off by this much is truly off.

    Parameters
    ----------
    excess : float [any unit]
        Reading beyond its limit.
    sd : float [same unit]
        Standard deviation of its error.

    Returns
    -------
    float [1]
        The normal law's share below excess / sd.
    """
    from scipy.special import ndtr

    return float(ndtr(excess / max(sd, 1e-12)))


def percent(part: float) -> str:
    """Write a part of one.

    Parameters
    ----------
    part : float [1]
        To be written.

    Returns
    -------
    str
        ``38 %``.
    """
    return f"{100 * part:.0f} %"


def figures(values: np.ndarray, form: str = ".0f") -> str:
    """Write some numbers in a row, at most six.

    Parameters
    ----------
    values : array (k,) [any unit]
        To be written.
    form : str
        Format of each.

    Returns
    -------
    str
    """
    shown = [format(float(value), form) for value in values[:6]]
    return ", ".join(shown) + (" ..." if len(values) > 6 else "")
