"""What each figure means for this test, in one sentence a person can use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..cans.index_table import INDICES
from ..cans.uniformity import du_low_quarter, du_whole_cans
from ..pattern.floor import Figure
from ..pattern.whole_floor import between_cans
from ..reference.yardsticks import YARDSTICKS, rate
from ..units.shown import show
from .model import AtTheCans, HeadFound, Result

if TYPE_CHECKING:  # what comes with the fixes is not needed to speak of them
    from ..changes.fixes.search import Fix, SupplyAsked


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


def rated(cans: AtTheCans) -> list[str]:
    """Hold every index that has yardsticks against them.

    Parameters
    ----------
    cans : AtTheCans
        Of a result.

    Returns
    -------
    list of str
        ``CU: Good by the yardstick for ...``, in the order of the table.
    """
    with_yardsticks = {item.figure for item in YARDSTICKS}
    return [f"{index.short}: {yardstick_means(key, value)}" for key, index in INDICES.items()
            if key in with_yardsticks and (value := cans.values[key]) is not None]


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


def interval(estimate: Figure, unit: str = "%") -> str:
    """Write an estimate with its interval.

    Parameters
    ----------
    estimate : Figure
        In `unit`.
    unit : str
        Written once, after the value.

    Returns
    -------
    str
        ``62 % (58 to 64)``.
    """
    return f"{estimate.value:.0f} {unit} ({estimate.low:.0f} to {estimate.high:.0f})"


def cans_and_floor(result: Result) -> str:
    """Say in one sentence why the figures at the cans and for the whole floor differ.

    Parameters
    ----------
    result : Result
        With an estimate for the whole floor.

    Returns
    -------
    str
        Empty without an estimate.
    """
    floor = result.floor
    if result.whole_floor is None or floor is None:
        return ""
    if result.whole_floor.how == "cans only":
        return ("Without the heads nobody can tell what the ground between and beyond the cans got, so the interval is "
                "wide: add heads and lines to the record.")
    whole, cans = result.whole_floor.du_low_quarter, result.at_the_cans.du_low_quarter
    gap = cans - whole.value
    if whole.low - 1 <= cans <= whole.high + 1:
        return "The cans show the floor as it is: the two DUlq agree within the interval."
    if gap < 0:
        return (f"The cans stand on drier ground than most: they read {-gap:.0f} points of DUlq less even than the "
                "floor.")
    between = between_cans(result.surface, floor)[floor.ground]
    depth, weight = floor.depth_mm[floor.ground][between], None if floor.weight is None else floor.weight[between]
    inner = float(du_low_quarter(depth, weight)) if between.sum() > 20 else whole.value
    if inner - whole.value > gap / 2:
        where = "ground beyond them, by the walls and ends, is drier"
    else:
        where = "they miss dry ground between them"
    return f"The cans read {gap:.0f} points of DUlq more even than the whole floor, because {where}."


def suspect_means(head: HeadFound, system: str = "metric") -> str:
    """Name a head that seems weak or strong.

    Parameters
    ----------
    head : HeadFound
        A suspect.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        ``left line, head 12, about 11.8 m from the inlet end: 35 % of its share (20 to 52)``.
    """
    numbers = " or ".join(str(number) for number in sorted({head.number, *head.or_}))
    return (f"{head.line} line, head {numbers}, about {show(head.y_m, 'place', system)} from the inlet end: "
            f"{100 * head.output:.0f} % of its share ({100 * head.low:.0f} to {100 * head.high:.0f})")


def fix_brings(fix: Fix, system: str) -> str:
    """What a fix brings beside DUlq.

    Parameters
    ----------
    fix : Fix
        From `fixes.find_fixes`.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        CU, the rate, and the flow at once where it is known.
    """
    flow = "" if fix.flow_l_h is None else f"; {show(fix.flow_l_h, 'flow', system, unit='L/h')} at once"
    return f"CU {interval(fix.cu)}; {show(fix.rate_mm_h, 'rate', system, unit='mm/h')}{flow}."


def supply_means(supply: SupplyAsked, system: str) -> str:
    """What a change asks of the supply, and what that can do.

    Parameters
    ----------
    supply : SupplyAsked
        From `fixes.try_change`.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
    """
    return (f"The supply: {show(supply.needs_l_h, 'flow', system, unit='L/h')} wanted, "
            f"{show(supply.can_l_h, 'flow', system, unit='L/h')} possible at the heads' working pressure; "
            f"{show(supply.pressure_kpa, 'pressure', system, unit='kPa')} at the lowest head.")
