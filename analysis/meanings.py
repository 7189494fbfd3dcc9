"""What each figure means for this test, in one sentence a person can use."""

from __future__ import annotations

from .results import Result
from .units_shown import show
from .uniformity import du_whole_cans
from .yardsticks import YARDSTICKS, rate


def cu_means(cu: float) -> str:
    """Say what CU means.

    Parameters
    ----------
    cu : float [%]
        Christiansen's coefficient of uniformity.

    Returns
    -------
    str
    """
    return f"On average a can caught {100 - cu:.0f} % more or less than the mean."


def du_low_quarter_means(du: float, system: str = "metric") -> str:
    """Say what DUlq means.

    Parameters
    ----------
    du : float [%]
        Low-quarter distribution uniformity.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
    """
    if du < 1:
        return "The driest quarter got next to nothing: no run time will water it."
    wanted = 0.010 if system == "metric" else 0.0127
    return (f"The driest quarter got {du:.0f} % of the mean: to give it {show(wanted, 'depth', system)}, "
            f"{show(100 * wanted / du, 'depth', system)} must fall on average.")


def du_low_half_means(du: float) -> str:
    """Say what DUlh means.

    Parameters
    ----------
    du : float [%]
        Low-half distribution uniformity.

    Returns
    -------
    str
    """
    return f"The drier half of the cans got {du:.0f} % of the mean."


def scheduling_means(coefficient: float | None) -> str:
    """Say what the scheduling coefficient at the cans means.

    Parameters
    ----------
    coefficient : float or None [1]
        Mean / driest can.

    Returns
    -------
    str
    """
    if coefficient is None:
        return "At least one can stayed dry."
    return f"To bring the driest can to the mean, run {coefficient:.1f} times as long."


def yardstick_means(figure: str, value: float) -> str:
    """Hold a figure at the cans against the yardsticks of its kind.

    Parameters
    ----------
    figure : str
        ``cu`` or ``du_low_quarter``.
    value : float [%]
        The figure.

    Returns
    -------
    str
        The rating with its source, then the other yardsticks.
    """
    word, first = rate(figure, value)
    limits = f"{first.high:.0f} and more"
    if first.low:
        limits = f"under {first.low:.0f} poor, {limits} good"
    verdict = {"good": "Good by", "fair": "Fair by", "poor": "Poor by", "under it": "Under"}[word]
    says = f"{verdict} the yardstick for {first.says}: {limits} ({first.source})."
    for other in (item for item in YARDSTICKS if item.figure == figure and item is not first):
        says += f" For {other.says}: {other.high:.0f} and more ({other.source})."
    return says


def low_quarter_rule(result: Result) -> str:
    """State how the low quarter was counted.

    Parameters
    ----------
    result : Result
        From `assess.assess`.

    Returns
    -------
    str
        With the figure by whole cans where that differs.
    """
    used = result.catch.used
    if used % 4 == 0:
        return f"The driest quarter is the driest {used // 4} of {used} cans."
    whole = -(-used // 4)
    other = du_whole_cans(result.cans.depth_mm[result.cans.counted])
    return (f"The driest quarter of {used} cans is {used / 4:g} cans: the last of them counts at part weight. "
            f"By the next whole number ({whole} cans of equal weight) DUlq is {other:.0f} %.")
