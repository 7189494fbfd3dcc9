"""Causes and the watering plan in sentences that a person can act on."""

from __future__ import annotations

import math
import re
from functools import reduce
from typing import TYPE_CHECKING

from ..record.model import Record
from ..record.told import without_keys
from ..reference.soils import HOLDS_SOURCE, INTAKE_SOURCE, SOAK_SOURCE, STANDS_MM
from ..units.shown import show, show_rough, shown_unit
from .meanings import interval

if TYPE_CHECKING:  # what comes with causes and watering is not needed to speak of them
    from ..causes.finding import Cause, Unevenness
    from ..pattern.floor import Figure
    from ..watering.schedule import Watering, WateringRun
    from .model import Result

_STRENGTHS = ((0.75, "strong"), (0.5, "likely"), (0.25, "perhaps"), (0.0, "a hint"))
SURE = 0.5    # strength from which a cause comes before changes that are reckoned with it
TOLD = 0.25   # strength from which a cause is told in full
_WORDS = {"heads_at": "a list of its heads", "most_flow": "the largest flow", "cut_out": "where it stops",
          'at = "line"': "the place 'line'"}
_KEYED = re.compile(r"(\w+(?:\[\d+\])?(?:\.\w+(?:\[\d+\])?)*)(: .*)", re.S)


def strength_means(strength: float) -> str:
    """Say how strongly the evidence speaks for a cause.

    Parameters
    ----------
    strength : float [1]
        0 to 1.

    Returns
    -------
    str
        ``likely, 0.6 of 1``.
    """
    return f"{next(word for least, word in _STRENGTHS if strength >= least)}, {strength:.1f} of 1"


def told_causes(causes: list[Cause]) -> tuple[list[Cause], list[Cause]]:
    """Part the causes that are told in full from mere hints.

    Parameters
    ----------
    causes : list of Cause
        Strongest first.

    Returns
    -------
    told, hints : list of Cause
    """
    return ([cause for cause in causes if cause.strength >= TOLD], [cause for cause in causes if cause.strength < TOLD])


def looked_for(result: Result) -> str:
    """Say what was not looked for among the causes, so that silence is not taken for health.

    Parameters
    ----------
    result : Result
        A result.

    Returns
    -------
    str
        A sentence; empty where everything was looked for.
    """
    closed = next((part for part in result.not_done if part.part == "causes" and part.needs), None)
    if closed is None:
        return ""
    missing = ("the record does not say where the lines and their heads are" if closed.needs == ["lines"]
               else "the whole floor is closed")
    return ("Weak heads, uneven lines, lack of pressure along them and the lines' spacing were not looked for, because "
            f"{missing}.")


def look_first(causes: list[Cause]) -> str:
    """Say that a fault of the pressure comes before changes that were reckoned with it.

    Parameters
    ----------
    causes : list of Cause
        Strongest first.

    Returns
    -------
    str
        Empty where the strongest cause is none, a hint, or no matter of pressure or supply.
    """
    first = causes[0] if causes else None
    if first is None or first.strength < SURE or first.explains not in ("pressure", "supply"):
        return ""
    where = f" ({first.where})" if first.where else ""
    return (f"Look first for the strongest cause: {first.cause}{where}. These changes are reckoned with the water as "
            "it runs today, and more heads on a starved line lower its pressure further.")


def split_means(unevenness: Unevenness) -> str:
    """Say where the unevenness comes from.

    Parameters
    ----------
    unevenness : Unevenness
        Of a result.

    Returns
    -------
    str
        Parts of the variance that add up to 100 %.
    """
    return ("Of the unevenness (variance of the depth): "
            + ", ".join(f"{name} {share} %" for name, share in whole_parts(parts_of(unevenness)).items()) + ".")


def whole_parts(parts: dict[str, float]) -> dict[str, int]:
    """Round parts of a hundred so that they still add up to it: those cut most are rounded up.

    Parameters
    ----------
    parts : dict of str to float [%]
        They add up to 100 %.

    Returns
    -------
    dict of str to int [%]
    """
    whole = {name: math.floor(share) for name, share in parts.items()}
    short = max(0, round(sum(parts.values())) - sum(whole.values()))
    for name in sorted(parts, key=lambda name: whole[name] - parts[name])[:short]:
        whole[name] += 1
    return whole


def parts_of(unevenness: Unevenness) -> dict[str, float]:
    """Name the parts of the unevenness.

    Parameters
    ----------
    unevenness : Unevenness
        Of a result.

    Returns
    -------
    dict of str to float [%]
        They add up to 100 %.
    """
    return {"spacing and pattern": unevenness.spacing, "pressure": unevenness.pressure,
            "single heads": unevenness.heads, "readings": unevenness.readings}


def cause_title(cause: Cause) -> str:
    """A cause as the beginning of a sentence.

    Parameters
    ----------
    cause : Cause
        Any.

    Returns
    -------
    str
    """
    return f"{cause.cause[0].upper()}{cause.cause[1:]}"


def serves_means(serves: str | float) -> str:
    """Name the ground that a watering serves.

    Parameters
    ----------
    serves : str or float
        As of `watering.WateringRun`.

    Returns
    -------
    str
        ``the driest quarter``.
    """
    if isinstance(serves, str):
        return {"mean": "the mean of the ground", "low half": "the drier half", "low quarter": "the driest quarter",
                "until mended": "more than the mean and less than the driest quarter"}[serves]
    return f"{100 * serves:.0f} % of the ground at least"


def minutes_of(run: WateringRun) -> str:
    """Write a run time with its interval.

    Parameters
    ----------
    run : WateringRun
        Of a watering plan.

    Returns
    -------
    str
        ``59 min (56 to 61)``.
    """
    return f"{run.minutes.value:.0f} min ({run.minutes.low:.0f} to {run.minutes.high:.0f})"


def watering_means(plan: Watering, system: str) -> list[str]:
    """Say a watering plan in sentences, what to do first.

    Parameters
    ----------
    plan : Watering
        Of a result, or one that somebody asked for.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    list of str
    """
    run, said = plan.chosen, []
    depth = show(plan.depth_mm, "depth", system, unit="mm")
    every = "" if plan.days is None else " each day" if plan.days == 1 else f" every {plan.days} days"
    if plan.drowns is not None and plan.lacks_mm is not None:
        said.append(f"Mend first: to give the driest quarter {depth} it would take {minutes_of(plan.drowns)} and drown "
                    f"{100 * plan.drowns.goes.drowned:.0f} % of the ground.")
        said.append(f"Until then run it {minutes_of(run)}{every}: the driest quarter then lacks "
                    f"{show(plan.lacks_mm, 'depth', system, unit='mm')} of {depth} each time.")
    else:
        said.append(f"Run it {minutes_of(run)}{every}: that gives {serves_means(run.serves)} {depth}.")
    if plan.lines:
        said.append(f"The lines run {'in turn' if plan.in_turn else 'together, each for its own time'}: "
                    + ", ".join(f"{one.line} {one.minutes:.0f} min" for one in plan.lines) + ".")
    said += _soaking(plan, system)
    if plan.week_hours is not None and plan.week_l is not None:
        said.append(f"In a week {plan.week_hours.value:.1f} h ({plan.week_hours.low:.1f} to "
                    f"{plan.week_hours.high:.1f}) and {litres(plan.week_l, system)} on the ground.")
    if run.serves != "mean" and plan.extra_l > 0:
        said.append(f"Unevenness costs {show_rough(plan.extra_l, 'volume', system, unit='L')} more at each watering "
                    f"than if every place got the mean; still {100 * run.goes.short:.0f} % of the ground stays short "
                    f"({show_rough(run.goes.deficit_l, 'volume', system, unit='L')} are missing there).")
    if run.goes.drowned > 0.01:
        said.append(f"{100 * run.goes.drowned:.0f} % of the ground gets more than one and a half times the need.")
    if plan.after_fix is not None:
        after = plan.after_fix
        week = ("" if after.saved_week_l is None else
                f", {show_rough(abs(after.saved_week_l), 'volume', system, unit='L')} a week "
                f"{'less' if after.saved_week_l >= 0 else 'more'}")
        for_whom = f" for {serves_means(after.serves)}" if after.serves != run.serves else ""
        said.append(f"With the fix of the largest gain ({after.name}) it is {after.minutes.value:.0f} min{for_whom} "
                    f"({after.minutes.low:.0f} to {after.minutes.high:.0f}){week}.")
    return said + _wanted(plan, system)


def _soaking(plan: Watering, system: str) -> list[str]:
    highest = show(plan.highest_mm_h, "rate", system, unit="mm/h")
    if plan.soak is None:
        return [f"The wettest ground gets {highest}; name the soil in the record to see whether it takes that in."]
    if plan.soak.runs == 1:
        return [f"One run without a pause: the wettest ground gets {highest}, "
                f"and {plan.soil} takes that in for so long."]
    what = "the time of each line" if plan.in_turn else "it"
    return [f"Cut {what} into {plan.soak.runs} runs of {plan.soak.on_min:.0f} min with {plan.soak.pause_min:.0f} min "
            f"between, so that water does not stand: the wettest ground gets {highest}, more than wet {plan.soil} may "
            f"take in (intake: {INTAKE_SOURCE}; water that may stand, {show(STANDS_MM, 'depth', system, unit='mm')}: "
            f"{SOAK_SOURCE})."]


def _wanted(plan: Watering, system: str) -> list[str]:
    need = plan.need
    if need is None or plan.days is None:
        return []
    use = show(need.daily_mm, "depth", system, unit="mm")
    if need.holds_mm is None:
        return [f"The crop uses {use} a day; with its soil and the depth of its roots the days between would be known."]
    low, high = (show(held, "depth", system, unit="mm", with_unit=False) for held in need.holds_mm)
    used = need.may_use
    said = [f"The crop uses {use} a day and may use {100 * used.part:.0f} % ({used.source}) of what its roots' depth "
            f"of soil holds for it, {low} to {high} {shown_unit('depth', system)} ({HOLDS_SOURCE}), so watch the crop "
            "and the soil."]
    if not used.known:
        said.append("Which crop it is is not in the table: name one of it, or give the part that it may use.")
    return said


def litres(one: Figure, system: str) -> str:
    """Write a volume with its interval.

    Parameters
    ----------
    one : Figure [L]
        The volume.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        ``1 650 L (1 600 to 1 700)``.
    """
    value, low, high = (show_rough(each, "volume", system, 3, unit="L", with_unit=False)
                        for each in (one.value, one.low, one.high))
    return f"{value} {shown_unit('volume', system)} ({low} to {high})"


def money(plan: Watering, price: float) -> str:
    """Say what the water of a plan costs.

    Parameters
    ----------
    plan : Watering
        Of a result, or one that somebody asked for.
    price : float [money/m3]
        That the person entered.

    Returns
    -------
    str
        Without a currency: it is the person's own.
    """
    each, extra = (value / 1e3 * price for value in (plan.chosen.litres.value, plan.extra_l))
    week = "" if plan.week_l is None else f", {plan.week_l.value / 1e3 * price:.2f} a week"
    return f"At that price each watering costs {each:.2f}{week}; unevenness makes {extra:.2f} of it."


def target_words(record: Record, result: Result) -> list[str]:
    """Hold the agreed DUlq against the test, at the cans and over the whole floor.

    Parameters
    ----------
    record : Record
        What was tested.
    result : Result
        From `assess.assess`.

    Returns
    -------
    list of str
        What was agreed, then each figure with its verdict, the agreed one first; empty without a target.
    """
    if record.target is None or record.target.du_low_quarter is None:
        return []
    wanted, figure = record.target.du_low_quarter, record.target.figure
    whole = ("The whole floor is not estimated in this test, so the target cannot be held against it."
             if result.whole_floor is None else _floor_verdict(wanted, result.whole_floor.du_low_quarter))
    both = [_cans_verdict(wanted, result.at_the_cans.du_low_quarter), whole]
    agreed = {"at the cans": " at the cans.", "whole floor": " over the whole floor.",
              None: "; for which figure is not said."}[figure]
    return [f"Agreed: DUlq of {wanted:g} %{agreed}", *(both[::-1] if figure == "whole floor" else both)]


def _cans_verdict(wanted: float, found: float) -> str:
    shown = f"{found:.0f}"
    if (float(shown) >= wanted) != (found >= wanted):
        shown = f"{found:.2f}"  # rounded, the figure would contradict the verdict
    return f"At the cans it is {shown} %: {'met' if found >= wanted else 'not met'}."


def _floor_verdict(wanted: float, found: Figure) -> str:
    word = ("met" if found.low >= wanted else "not met" if found.high < wanted else
            f"open, {wanted:g} % lies within the 90 % interval")
    return f"Over the whole floor it is {interval(found)}: {word}."


def plain_cautions(record: Record, cautions: list[str]) -> list[str]:
    """Write cautions for somebody who does not know the record's file.

    Parameters
    ----------
    record : Record
        What was tested.
    cautions : list of str
        Of a result; those about a value begin with its key.

    Returns
    -------
    list of str
        Keys in words; what is said alike of several lines (or gauges) is said once.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    for caution in cautions:
        found = _KEYED.fullmatch(caution)
        key, rest = found.groups() if found and "[" in found[1] else ("", caution)
        groups.setdefault((re.sub(r"\d+", "#", key), rest), []).append(key)
    return [_said_once(record, keys, rest) for (_, rest), keys in groups.items()]


def _said_once(record: Record, keys: list[str], rest: str) -> str:
    """One sentence for values that are doubted alike: ``The tube of it (line left and line right): received ...``."""
    said = without_keys(keys[0] + rest, record)
    owners = [without_keys(key, record).partition(" (")[2].removesuffix(")") for key in dict.fromkeys(keys)]
    if len(owners) > 1 and all(owners):
        said = said.replace(f"({owners[0]})", f"({', '.join(owners[:-1])} and {owners[-1]})", 1)
    return reduce(lambda so_far, word: so_far.replace(*word), _WORDS.items(), said)
