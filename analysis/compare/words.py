"""A comparison in sentences, the same in the terminal and on the screen."""

from __future__ import annotations

from itertools import groupby

from ..changes.recheck import sentence
from ..pattern.floor import Figure
from ..units.shown import show_rough, shown_unit
from .comparison import FIGURES, Comparison
from .over_time import Pair, Trend
from .rows import Row
from .together import LEAST_DU, WORST, YARDSTICK, Habit


def span(figure: Figure, unit: str = "%") -> str:
    """Write a figure with its interval."""
    value, low, high = (round(item) for item in (figure.value, figure.low, figure.high))
    return f"{value} {unit} ({low} to {high})"


def signed(figure: Figure) -> str:
    """Write a change with its interval."""
    digits = 1 if figure.high - figure.low < 5 else 0
    value, low, high = (f"{round(item, digits) + 0.0:+.{digits}f}" for item in (figure.value, figure.low, figure.high))
    return f"{value} points ({low} to {high})"


def counted(count: int, thing: str) -> str:
    """Write how many there are of a thing."""
    return f"{count} {thing}{'' if count == 1 else 's'}"


def _tunnels(count: int) -> str:
    return counted(count, "tunnel")


def all_words(found: Comparison) -> list[str]:
    """Say how the tunnels stand as a whole."""
    name = FIGURES[found.figure]
    pooled = [row for row in found.rows if row.shrunk]
    said, between = [], found.between or 0.0
    if pooled and found.mean:
        said.append(f"{name} of the whole floor is {span(found.mean)} on the mean of {_tunnels(len(pooled))}, with its "
                    "90 % interval.")
        said.append(groups_words(pooled, name))
    if len(pooled) > 3:
        said.append("The tests' own noise taken off, " + (
            f"tunnels differ by {between:.0f} points (standard deviation)." if between >= 0.5 else
            "these tests show no difference between tunnels; that does not mean that there is none."))
    apart = sum(bool(row.unlike and row.figure) for row in found.rows)
    if apart:
        said.append(f"{_tunnels(apart)} {'was' if apart == 1 else 'were'} tested under other conditions than most; "
                    f"{'it is' if apart == 1 else 'they are'} shown, but not pooled with the others.")
    if found.waiting:
        said.append(f"{counted(found.waiting, 'test')} {'has' if found.waiting == 1 else 'have'} no estimate of the "
                    "whole floor yet.")
    shut = sum(bool(row.kept.figures.closed) for row in found.rows)
    if shut:
        said.append(f"{_tunnels(shut)} cannot be estimated: something in the record is hard to believe (see the test).")
    return said


def groups_words(pooled: list[Row], name: str) -> str:
    """Say which tunnels can be told apart."""
    groups = {row.group for row in pooled}
    if len(groups) == 1:
        return ("" if len(pooled) == 1 else
                f"The tests cannot tell these {len(pooled)} tunnels apart: their order means nothing.")
    first = [row for row in pooled if row.group == 0]
    which = _tunnels(len(first))
    return (f"The tests tell {len(groups)} groups apart. {which} {'has' if len(first) == 1 else 'have'} the lowest "
            f"{name} and should be helped first; within a group the order means nothing.")


def row_groups(rows: list[Row]) -> list[tuple[int | None, list[Row]]]:
    """Cut the rows into runs of one group, for headings."""
    return [(key, list(run)) for key, run in groupby(
        rows, key=lambda row: None if row.figure is None else -1 if row.group is None else row.group)]


def chance(row: Row) -> str:
    """Write how likely a tunnel is among the lowest quarter."""
    if row.among_lowest is None:
        return ""
    percent = 100 * row.among_lowest
    return ">99 %" if percent > 99.4 else "<1 %" if percent < 0.6 else f"{percent:.0f} %"


def pair_words(pair: Pair, figure: str) -> list[str]:
    """Say what a repair changed."""
    said = [f"{pair.name}, {pair.before.figures.date or 'no date'} to {pair.after.figures.date}: "
            + sentence(f"{FIGURES[figure]} of the whole floor", pair.figure)]
    if pair.at_the_cans is not None:
        said.append(f"At the same cans {pair.at_the_cans:+.0f} points.")
    return said + list(pair.unlike)


def trend_words(trend: Trend, figure: str) -> str:
    """Say where a tunnel is going."""
    rate = trend.a_year
    verdict = "falling" if rate.high < 0 else "rising" if rate.low > 0 else "no trend is shown"
    left = f" {counted(trend.left_out, 'test')} under other conditions left out." if trend.left_out else ""
    return (f"{trend.name}: {FIGURES[figure]} {signed(rate)} a year over {len(trend.tests)} tests, "
            f"{str(trend.tests[0].figures.date)[:4]} to {str(trend.tests[-1].figures.date)[:4]}: {verdict}.{left}")


def year_words(found: Comparison) -> str:
    """Say how the tunnels stand against the year before."""
    item = found.year_before
    if item is None:
        return ""
    verdict = ("better" if item.change.low > 0 else "worse" if item.change.high < 0 else
               "no change of all together is shown")
    left = (f" {_tunnels(item.left_out)} tested under unlike conditions left out.") if item.left_out else ""
    return (f"{item.year} against {item.before}, {_tunnels(item.tunnels)} tested in both: {FIGURES[found.figure]} "
            f"{signed(item.change)} on the mean: {verdict}.{left}")


def habit_words(habit: Habit, figure: str) -> str:
    """Say what a habit goes with."""
    verdict = "stands" if habit.stands else "may be chance, among so many tried"
    return (f"{habit.words[0].upper()}{habit.words[1:]}, {habit.step}: {FIGURES[figure]} {signed(habit.change)}, over "
            f"{_tunnels(habit.tunnels)}: {verdict}.")


def habits_caution(found: Comparison) -> list[str]:
    """Say how the habits are to be read."""
    said = []
    if found.habits:
        said.append(f"{counted(len(found.habits), 'habit')} tried one at a time; 'stands' allows for that (Holm, 5 in "
                    "100). What goes with unevenness need not be its cause, and habits that go together share an "
                    "effect.")
    if any(habit.name == "cans" and habit.stands for habit in found.habits):
        said.append("The figure goes with the number of cans: part of the differences may come from the tests and not "
                    "from the tunnels.")
    if found.not_tried:
        said.append("Known in too few tunnels or members, or too alike in them, to be tried: "
                    f"{'; '.join(found.not_tried)}.")
    return said


def water_words(found: Comparison) -> str:
    """Say what water the driest tunnels would save."""
    item = found.water
    if item is None:
        return ""
    saved = item.week_l
    value, low, high = (
        show_rough(litres, "volume", found.system, unit="L", with_unit=False)  # two digits: the interval allows no more
        for litres in (saved.value, saved.low, saved.high))
    unit = shown_unit("volume", found.system)
    left = (f" {_tunnels(item.unknown)} without the crop's daily use (crop.daily_use) not counted." if item.unknown
            else "")
    if item.hopeless:
        left += (f" {_tunnels(item.hopeless)} under DUlq {LEAST_DU:.0f} % not counted: no run serves the driest "
                 "quarter there.")
    which = _tunnels(item.tunnels) if item.tunnels == 1 else f"the {item.tunnels} driest tunnels"
    return (f"If {which} that are counted (at most {WORST}) reached DUlq {item.yardstick:.0f} %, the same need of "
            f"{'its' if item.tunnels == 1 else 'their'} driest quarter would take {value} {unit} less a week ({low} to "
            f"{high}). Yardstick: {YARDSTICK.says}, {YARDSTICK.source}.{left}")
