"""The keys of a change: one entry each with how it is read, made, said, asked for, what it needs and what to mind."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from ..causes.cautions import BACKFLOW, ELECTRICITY, FRAME, LADDERS, PRESSURE, SAFETY
from ..record.places import line_named
from ..units.quantity import parse
from ..units.shown import show
from . import reading
from .errors import ChangeError
from .key import Asked, ChangeKey, Job, Sketch

if TYPE_CHECKING:
    from .fixes.judge import Baseline, Judged

Parts = list[tuple[str, float]]


def cautions_of(keys: Iterable[str]) -> list[str]:
    """What to mind while a change is made.

    Parameters
    ----------
    keys : iterable of str
        Of the change.

    Returns
    -------
    list of str
        Whole sentences: someone stands on a ladder, hangs weight on the frame, opens a filter or a fitting, wires a
        valve or a pump, or changes what stands between the tap and the lines.
    """
    found = dict.fromkeys(says for key in keys for says in KEYS[key].cautions)
    return sorted(found, key=lambda says: SAFETY.index(says) if says in SAFETY else len(SAFETY))


# --- lines and their heads ------------------------------------------------------------------------


def _evenly(sketch: Sketch, value: int, text: str) -> None:
    sketch.across = (np.arange(value) + 0.5) * sketch.site.width / value


def _at_places(sketch: Sketch, value: list[float], text: str) -> None:
    width, across = sketch.site.width, np.array(value)
    if across[-1] > width:
        raise ChangeError(f"received a line at {across[across > width][0]:g} m, expected places on a floor "
                          f"{width:g} m wide, correct it")
    sketch.across = across


def _row(step: str, *, with_value: bool = True) -> Callable[[Sketch, Any, str], None]:
    """Take a step of `rows.HeadRow` on every line."""
    def apply(sketch: Sketch, value: Any, text: str) -> None:
        sketch.more_at_ends = sketch.more_at_ends or step == "add_at_ends"
        sketch.row_steps.append(lambda row: getattr(row, step)(*([value] if with_value else [])))

    return apply


def _hang(judged: Judged, text: str, system: str) -> str:
    lines = judged.changed.lines
    new = sum(like < 0 for like, _, _ in lines)
    begin = f"hang {new} more line{'s' if new > 1 else ''}, so that" if new else "hang the lines so that"
    places = [show(x, "place", system) for _, x, _ in lines]
    shown = places[0] if len(places) == 1 else f"{', '.join(places[:-1])} and {places[-1]}"
    where = "" if judged.carried else " (if the frame can carry one there)"
    return f"{begin} they run {shown} from the left edge{where}"


def _count_of_lines(judged: Judged, text: str) -> str:
    count = len(judged.changed.lines)
    return f"{count} line{'s' if count > 1 else ''}, evenly across"


def _lines_moved(judged: Judged, text: str) -> str:
    lines = judged.changed.lines
    return f"{len(lines)} lines" if any(like < 0 for like, _, _ in lines) else "lines moved"


# --- tubes, heads and the run ---------------------------------------------------------------------


def _tube(sketch: Sketch, value: float, text: str) -> None:
    sketch.of_line["pipe"] = parse(f"{value * 1e3:.6g} mm", "length")


def _feed(sketch: Sketch, value: str, text: str) -> None:
    sketch.of_line["fed_from"] = value


def _kind_of_head(key: str) -> Callable[[Sketch, Any, str], None]:
    """Give all heads a size; what lines say of their own is given up."""
    def apply(sketch: Sketch, value: Any, text: str) -> None:
        sketch.section("heads")[key] = text
        sketch.of_line[key] = None

    return apply


def _run_lines(sketch: Sketch, value: str, text: str) -> None:
    if len(sketch.across) == 1:
        raise ChangeError("received run_lines with one line, expected two lines or more, leave it out")
    sketch.section("run")["lines"] = text


def _mend(sketch: Sketch, value: Any, text: str) -> None:
    sketch.mend = value


def _to_mend(judged: Judged, text: str, system: str) -> str:
    value = judged.change.values["mend"]
    if value == "suspects":
        return "clean or change the heads that stand out"
    by_line: dict[str, list[int]] = {}
    for line, number in value:
        by_line.setdefault(line, []).append(number)
    whole = [line for line, numbers in by_line.items() if 0 in numbers]
    ends = [f"flush {line_named(line)} at its end plug" for line, numbers in by_line.items()
            if _holds_last(judged, line, numbers)]
    single = [f"{line_named(line)}, {_heads(numbers)}" for line, numbers in by_line.items() if any(numbers)]
    said = [f"bring {' and '.join(map(line_named, whole))} back to full flow (valve, feed tube, inlet, kinks, leaks; "
            "flush the end)"] if whole else []
    said += ends + ([f"clean or change {' and '.join(single)}"] if single else [])
    return ", ".join(said)


def _holds_last(judged: Judged, line: str, numbers: list[int]) -> bool:
    """Whether the last two heads of a line or more are among these: dirt settles at its end."""
    last = len(next((one.along for one in judged.changed.site.lines if one.name == line), ()))
    return last > 2 and {last, last - 1} <= set(numbers)


def _heads(numbers: list[int]) -> str:
    """Numbers of heads, those in a row as a stretch."""
    rows: list[list[int]] = []
    for number in sorted(number for number in set(numbers) if number):
        if rows and number == rows[-1][-1] + 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    words = [f"{row[0]} to {row[-1]}" if len(row) > 2 else " and ".join(map(str, row)) for row in rows]
    return f"head{'s' if sum(map(len, rows)) > 1 else ''} {', '.join(words)}"


def _mended_name(judged: Judged, text: str) -> str:
    value = judged.change.values["mend"]
    return "a line mended" if value != "suspects" and all(not number for _, number in value) else "weak heads mended"


def _has_suspects(baseline: Baseline, text: str) -> None:
    if text == "suspects" and not baseline.suspects:
        raise ChangeError("received mend=suspects, expected a test in which heads stand out, name the heads instead, "
                          "such as left:7")


def _has_flows(baseline: Baseline, text: str) -> None:
    if baseline.water is None and np.isnan(baseline.site.heads.flow).any():
        raise ChangeError(f"received flow={text}, expected a record with the flow of today's heads, add heads.flow")


# --- the supply -----------------------------------------------------------------------------------


def _set(key: str, part: str, inner: str) -> Callable[[Sketch, Any, str], None]:
    """Write a text into a part of the supply."""
    def apply(sketch: Sketch, value: Any, text: str) -> None:
        sketch.part_of_supply(part, key, text)[inner] = text

    return apply


def _range(sketch: Sketch, value: tuple[str, str], text: str) -> None:
    regulator = sketch.part_of_supply("regulator", "regulator_range", text)
    regulator["least_flow"], regulator["most_flow"] = value


def _clean(sketch: Sketch, value: str, text: str) -> None:
    sketch.part_of_supply("filter", "filter", text).pop("loaded", None)


# --- what it needs --------------------------------------------------------------------------------


def _none(job: Job) -> Parts:
    """Nothing beside what more, fewer and moved heads and lines need."""
    return []


def _new_tube(job: Job) -> Parts:
    return [part for _, _, ys in job.kept() for part in (
        ("tube, m", float(ys[-1])), ("fitting", 2), ("clamp", 4), ("end plug", 1))]


def _fed_anew(job: Job) -> Parts:
    order = job.site.from_the_left()
    return [part for number, like, _ in job.kept()
            if job.changed.site.lines[number].fed_from != job.site.lines[order[like]].fed_from
            for part in (("tube, m", job.site.length / 2), ("tee", 1), ("clamp", 3))]


def _new_hose(job: Job) -> Parts:
    was, now = (supply.hose.length.si if supply and supply.hose else 0.0
                for supply in (job.site.supply, job.changed.site.supply))
    if "hose" in job.change.texts:
        return [("hose, m", now), ("fitting", 2)]
    return [("hose, m", max(now - was, 0.0)), ("fitting", 2)] if abs(now - was) > 0.01 else []


def _lengthened(job: Job) -> Parts:
    return [] if "hose" in job.change.texts else _new_hose(job)  # the new hose has its new length already


# --- words ----------------------------------------------------------------------------------------


def _named(words: str) -> Callable[[Judged, str], str]:
    """A name that is made of the text."""
    return lambda judged, text: words.format(text)


def _do(words: str) -> Callable[[Judged, str, str], str]:
    """An action that is made of the text."""
    return lambda judged, text, system: words.format(text)


def _moves(judged: Judged) -> bool:
    """Whether heads leave their holes."""
    return any(part.item == "head to move" for part in judged.parts)


def _named_if_moved(moved: str, stays: str) -> Callable[[Judged, str], str]:
    return lambda judged, text: moved if _moves(judged) else stays


def _do_if_moved(moved: str, stays: str) -> Callable[[Judged, str, str], str]:
    return lambda judged, text, system: (moved if _moves(judged) else stays).format(text)


_FROM = {"middle": "its middle", "near": "the near end", "far": "the far end"}
_HOW = {"in turn": "one after the other", "together": "together"}

KEYS: dict[str, ChangeKey] = {entry.key: entry for entry in (
    ChangeKey("lines", reading.count, _evenly, _count_of_lines, _hang, _none, (LADDERS, FRAME, PRESSURE),
              asked=Asked("Number of lines, evenly across", "3"), against=("line_x",)),
    ChangeKey("line_x", reading.places, _at_places, _lines_moved, _hang, _none, (LADDERS, FRAME, PRESSURE),
              asked=Asked("Lines at these places from the left edge", "1.5 m, 6.1 m", "5 ft, 20 ft")),
    ChangeKey("head_spacing", reading.size("head_spacing", "length"), _row("spread"),
              _named_if_moved("other spacing of the heads", "heads between"),
              _do_if_moved("set the heads {} apart", "add heads between those that hang, {} apart"), _none, (LADDERS,),
              asked=Asked("Heads this far apart", "0.6 m", "2 ft"), against=("add_between",)),
    ChangeKey("add_between", reading.one_of("add_between", "yes"), _row("add_between", with_value=False),
              _named("a head between each two"), _do("add a head between each two"), _none, (LADDERS,),
              asked=Asked("A head between each two", choices=("yes",))),
    ChangeKey("first", reading.size("first", "length"), _row("begin_at"),
              _named_if_moved("heads nearer the end walls", "more heads at the ends"),
              _do_if_moved("set the first heads {} from the end walls",
                           "add heads at the ends of the lines, the first {} from the end walls"), _none, (LADDERS,),
              asked=Asked("First head from the end wall", "0.4 m", "1.5 ft"), against=("add_at_ends",)),
    ChangeKey("add_at_ends", reading.size("add_at_ends", "length"), _row("add_at_ends"),
              _named("more heads at the ends"),
              _do("hang one more head at each end of a line that has room for it, {} from the end wall"), _none,
              (LADDERS,), asked=Asked("One more head at each end, this far from the end walls", "0.3 m", "1 ft")),
    ChangeKey("pressure", reading.size("pressure", "pressure"), _set("pressure", "regulator", "set"),
              _named("another pressure"), _do("change the regulator for one of {}"),
              lambda job: [("regulator", 1)], (PRESSURE,), asks="supply",  # most are made for one pressure
              asked=Asked("A regulator of this pressure", "250 kPa", "35 psi")),
    ChangeKey("wetted_diameter", reading.size("wetted_diameter", "length"), _kind_of_head("wetted_diameter"),
              _named("wider heads"), _do("take heads that wet {} across"), _none, (LADDERS,), renews="heads",
              asked=Asked("Heads that wet this diameter", "6 m", "20 ft")),
    ChangeKey("flow", reading.size("flow", "flow"), _kind_of_head("flow"), _named("heads of another flow"),
              _do("take heads of {}"), _none, (LADDERS,), check=_has_flows, renews="heads",
              asked=Asked("Heads of this flow", "55 L/h", "0.25 gpm")),
    ChangeKey("pipe", reading.size("pipe", "length"), _tube, _named("wider tube"),
              _do("take tube of {} inside for the lines"), _new_tube, (LADDERS, PRESSURE), asks="pressures",
              on_lines=True, renews="tube", asked=Asked("Inside diameter of the lines", "26.6 mm", "1.05 in")),
    ChangeKey("hose", reading.size("hose", "length"), _set("hose", "hose", "inside"), _named("another hose"),
              _do("take a hose of {} inside"), _new_hose, (PRESSURE, BACKFLOW), asks="supply",
              asked=Asked("Inside diameter of the hose", "25 mm", "1 in")),
    ChangeKey("hose_length", reading.size("hose_length", "length"), _set("hose_length", "hose", "length"),
              _named("another hose"), _do("take a hose of {}"), _lengthened, (PRESSURE, BACKFLOW), asks="supply",
              asked=Asked("Length of the hose", "10 m", "30 ft")),
    ChangeKey("filter", reading.one_of("filter", "clean"), _clean, _named("filter cleaned"),
              _do("clean the filter (close, vent and check for zero pressure first)"), _none, (PRESSURE,),
              asks="supply", asked=Asked("The filter is cleaned", choices=("clean",))),
    ChangeKey("regulator_range", reading.flow_range, _range, _named("a regulator that fits the flow"),
              _do("take a regulator that holds over {}"), lambda job: [("regulator", 1)], (PRESSURE,), asks="supply",
              asked=Asked("A regulator that holds over this range", "150 to 2700 L/h", "0.7 to 12 gpm")),
    ChangeKey("fed_from", reading.one_of("fed_from", "near", "far", "middle"), _feed, _named("lines fed from the {}"),
              lambda judged, text, system: f"feed each line from {_FROM[text]}", _fed_anew, (LADDERS, PRESSURE),
              asks="pressures", on_lines=True, asked=Asked("Lines fed from", choices=("near", "far", "middle"))),
    ChangeKey("run_lines", reading.one_of("run_lines", "together", "in turn"), _run_lines, _named("lines {}"),
              lambda judged, text, system: f"run the lines {_HOW[text]}",
              lambda job: [("valve", len(job.site.from_the_left()))] if job.changed.site.in_turn else [],
              (PRESSURE, ELECTRICITY, BACKFLOW), asked=Asked("Lines run", choices=("together", "in turn"))),
    ChangeKey("mend", reading.heads, _mend, _mended_name, _to_mend, _none, (LADDERS,),
              check=_has_suspects, asked=Asked("Heads that stand out are mended", choices=("suspects",))),
)}
