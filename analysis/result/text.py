"""The result as plain text, 80 columns wide, with a small map in characters."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING

import numpy as np

from ..cans.index_table import INDICES
from ..causes.cautions import SHORT
from ..record.model import Record
from ..record.site import site_of
from ..units.shown import show, shown_unit
from . import advice, meanings
from .model import Result

if TYPE_CHECKING:  # what comes with the fixes is not needed to speak of them
    from ..changes.fixes.search import Fix, TriedChange
    from ..pattern.whole_floor import WholeFloor

WIDTH = 80


def report_text(record: Record, result: Result, system: str = "metric", part_of_mean: float = 0.75) -> str:
    """Write a result for a terminal.

    Parameters
    ----------
    record : Record
        What was tested.
    result : Result
        From `assess.assess`.
    system : str
        ``metric`` or ``US``.
    part_of_mean : float [1]
        The part of the mean under which ground was called dry.

    Returns
    -------
    str
        No line is longer than 80 characters; reads well without colour.
    """
    blocks = [
        _heading(result),
        _rival(result),
        _catch(result, system),
        _figures(result, system),
        _whole_floor(result, system),
        "\n".join(_wrap(says, "", "  ") for says in advice.target_words(record, result)),
        _heads(result, system),
        _map(result, system),
        _dry_spots(result, system, part_of_mean),
        _patches(result),
        _causes(result),
        _fixes(record, result, system),
        _supplies(result),
        _watering(result, system),
        _recheck(result),
        _cautions(result),
        _not_done(result),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


_UNIT = re.compile(r"(?<=\d) (?=%|mm|in\b|m\b|ft|m²)")


def _wrap(text: str, first: str = "", rest: str | None = None, width: int = WIDTH) -> str:
    tied = _UNIT.sub("\u00a0", text)  # a number and its unit stay on one line
    rest = first if rest is None else rest
    return textwrap.fill(tied, width, initial_indent=first, subsequent_indent=rest).replace("\u00a0", " ")


def _heading(result: Result) -> str:
    heading = result.record
    where = ", ".join(part for part in (heading.site, heading.zone, heading.date) if part)
    return "\n".join(_wrap(line) for line in (heading.title, where) if line)


def _rival(result: Result) -> str:
    """What overturns the answer comes before it."""
    return "\n".join(_wrap(says) for says in result.cautions if _is_rival(result, says))


def _is_rival(result: Result, says: str) -> bool:
    return result.fit is not None and says.startswith(result.fit.says)


def _catch(result: Result, system: str) -> str:
    catch = result.catch
    left_out = [f"{catch.set_aside} set aside"] * bool(catch.set_aside)
    left_out += [f"{catch.missing} without a reading"] * bool(catch.missing)
    outside = catch.cans - catch.used - catch.set_aside - catch.missing
    left_out += [f"{outside} outside the beds"] * bool(outside)
    lowest, mean, highest = (show(value, "depth", system, unit="mm", with_unit=False)
                             for value in (catch.lowest_mm, catch.mean_mm, catch.highest_mm))
    text = (f"Catch: mean {mean} {shown_unit('depth', system)} ({lowest} to {highest}), "
            f"{show(catch.rate_mm_h, 'rate', system, unit='mm/h')}; {catch.used} of {catch.cans} cans in the figures"
            + (f" ({', '.join(left_out)})" if left_out else "") + ".")
    return _wrap(text)


def _figures(result: Result, system: str) -> str:
    cans = result.at_the_cans
    lines = ["At the cans" + " " * 33 + "what it means"]
    rows = [(index.name, index.shown(cans.values[key]), index.means(cans.values, system))
            for key, index in INDICES.items() if index.own_row]
    for name, value, says in rows:
        first, *more = _wrap(says, width=WIDTH - 44).split("\n")
        lines.append(f"  {name:<31}{value:>7}    {first}")
        lines += [" " * 44 + line for line in more]
    lines += [_wrap(says, "  ", "    ") for says in meanings.rated(cans)]
    lines.append(_wrap(meanings.low_quarter_rule(result), "  ", "    "))
    if cans.uncorrected:
        before = cans.uncorrected
        lines.append(_wrap(f"As read, before the evaporation correction: CU {before.cu:.0f} %, DUlq "
                           f"{before.du_low_quarter:.0f} %, mean {show(before.mean_mm, 'depth', system, unit='mm')}.",
                           "  ", "    "))
    return "\n".join(lines)


def _whole_floor(result: Result, system: str) -> str:
    whole = result.whole_floor
    if whole is None:
        return ""
    mean = [show(value, "depth", system, unit="mm", with_unit=False)
            for value in (whole.mean_mm.value, whole.mean_mm.low, whole.mean_mm.high)]
    driest = whole.scheduling_coefficient
    lines = [
        "Whole floor (estimate for all the ground, with its 90 % interval)",
        f"  CU    {meanings.interval(whole.cu)}",
        f"  DUlq  {meanings.interval(whole.du_low_quarter)}",
        f"  Mean  {mean[0]} {shown_unit('depth', system)} ({mean[1]} to {mean[2]})",
        _wrap(f"Scheduling coefficient {driest.value:.1f} ({driest.low:.1f} to {driest.high:.1f}): mean / driest "
              "square of 5 % of the ground.", "  ", "    "),
        _wrap(meanings.cans_and_floor(result), "  ", "    "),
        _wrap("The yardsticks rate the figures at the cans, because they come from catch tests; the whole-floor "
              "figure is stricter and stands unrated.", "  ", "    "),
    ]
    if result.fit is not None and not any(_is_rival(result, says) for says in result.cautions):
        lines.append(_wrap(result.fit.says, "  ", "    "))
    return "\n".join(lines)


def _heads(result: Result, system: str) -> str:
    if not result.heads:
        return ""
    found = [head for head in result.heads if head.suspect]
    if not found:
        return _wrap(f"Heads: none of the {len(result.heads)} stands out from the trend of its line.")
    lines = ["Heads that stand out from the trend of their line"]
    return "\n".join([*lines, *(_wrap(f"- {meanings.suspect_means(head, system)}", "  ", "    ") for head in found)])


# Tenths of the mean are digits; at the mean and above, denser marks for wetter ground.
_WET = ((1.2, "."), (1.5, "o"), (np.inf, "#"))


def character_map(depth: np.ndarray, mean: float, size: tuple[float, float], columns: int = 38,
                  most_rows: int = 24) -> list[str]:
    """Draw a depth map in characters.

    Parameters
    ----------
    depth : array (r, c) [mm]
        The map, from the inlet end wall; nan on ground that does not count.
    mean : float [mm]
        The mean that the marks are parts of.
    size : (width, length) [m]
        The floor.
    columns : int
        Characters across.
    most_rows : int
        Most lines.

    Returns
    -------
    list of str
        From the far end wall down to the inlet end wall. A digit is tenths of the mean (7: 70 to 79 %), ``.`` 100 to
        119 %, ``o`` 120 to 149 %, ``#`` more, a blank ground that does not count.
    """
    width, length = size
    # A character is about twice as high as it is wide.
    rows = int(np.clip(round(columns * length / width / 2), 4, most_rows))
    columns = int(np.clip(round(2 * rows * width / length), 8, columns))
    lines = []
    for band in np.array_split(depth[::-1], rows, axis=0):
        cells = [cell[np.isfinite(cell)] / mean for cell in np.array_split(band, columns, axis=1)]
        lines.append("".join(_mark(cell.mean()) if cell.size else " " for cell in cells))
    return lines


def _mark(part: float) -> str:
    if part < 1:
        return str(int(10 * part + 1e-9))
    return next(mark for limit, mark in _WET if part < limit)


def _map(result: Result, system: str) -> str:
    floor = result.floor
    pattern = floor if floor is not None and floor.estimate.how == "heads" else None
    seen = pattern or result.surface
    mean = pattern.estimate.mean.value if pattern else result.catch.mean_mm
    source = "the heads' pattern" if pattern else "the cans"
    length = seen.y[-1] + seen.y[0]
    drawn = character_map(seen.depth_mm, mean, (seen.x[-1] + seen.x[0], length))
    lines = [f"Map of the depth, from {source} (tenths of the mean:",
             "7 is 70 to 79 %; . 100 to 119 %, o 120 to 149 %, # more)",
             "  " + f"{show(length, 'place', system):>8} " + "far end wall"]
    for number, row in enumerate(drawn):
        place = length * (1 - (number + 0.5) / len(drawn))
        label = show(place, "place", system) if (len(drawn) - number) % 4 == 3 else ""
        lines.append(f"  {label:>8} |{row}|")
    lines.append("  " + f"{show(0.0, 'place', system):>8} " + "inlet end wall")
    lines.append(_wrap(_how_sure(result, pattern, system), "  "))
    return "\n".join(lines)


def _how_sure(result: Result, pattern: WholeFloor | None, system: str) -> str:
    if pattern:
        found = pattern.estimate
        used = result.cans.depth_mm[result.cans.usable]
        missed = float(np.sqrt(np.mean((used - found.fitted) ** 2)))
        unsure = float(np.nanmedian(pattern.sd_mm))
        return (f"The pattern misses a can by {show(missed, 'depth', system, unit='mm')} (root mean square); half of "
                f"the ground is known to {show(unsure, 'depth', system, unit='mm')} or better (standard deviation).")
    from ..cans.surface import SAYS

    surface = result.surface
    return (f"Drawn as {SAYS[surface.method]}; a can that is left out is missed by "
            f"{show(surface.error_mm, 'depth', system, unit='mm')} (root mean square). "
            f"{100 * (1 - surface.inside.mean()):.0f} % of the floor lies beyond the cans, where the map "
            "only repeats the nearest ground.")


def _dry_spots(result: Result, system: str, part_of_mean: float) -> str:
    if not result.dry_spots:
        return _wrap(f"No ground of 0.5 m² or more under {100 * part_of_mean:.0f} % of the mean on this map.")
    by = "the heads' pattern" if result.dry_spots[0].map == "pattern" else "the cans"
    lines = [f"Dry ground by {by} (under {100 * part_of_mean:.0f} % of the mean), driest first"]
    for spot in result.dry_spots:
        beyond = ""
        if spot.beyond_the_cans:
            beyond = "; mostly beyond the cans, " + ("so only a guess" if spot.map == "surface" else "by the pattern")
        kind = "strip: " if spot.kind == "strip" else ""
        span = f" ({100 * spot.interval[0]:.0f} to {100 * spot.interval[1]:.0f})" if spot.interval else ""
        lines.append(_wrap(f"- {kind}{spot.where}: {show(spot.depth_mm, 'depth', system, unit='mm')}, "
                           f"{100 * spot.of_mean:.0f} % of the mean{span}, "
                           f"{show(spot.area_m2, 'area', system)}{beyond}",
                           "  ", "    "))
    return "\n".join(lines)


def _patches(result: Result) -> str:
    if not result.patches:
        return ""
    lines = ["Where the crop looks poor"]
    for number, patch in enumerate(result.patches, 1):
        lines.append(_wrap(f"- {patch.note or f'patch {number}'}: {patch.says}", "  ", "    "))
    return "\n".join(lines)


def _causes(result: Result) -> str:
    if any(closed.part == "causes" and not closed.needs for closed in result.not_done):
        return ""
    told, hints = advice.told_causes(result.causes)
    unsought = advice.looked_for(result)
    lines = ["Why: what may be wrong, strongest first (hypotheses; look before you mend)"]
    if not told:
        lines = ["Why: no cause was found." if unsought else "Why: nothing stands out as a fault."]
    said: set[str] = set()
    for cause in told:
        lines.append(_wrap(f"- {advice.cause_title(cause)} ({advice.strength_means(cause.strength)}), "
                           f"{cause.where}. {cause.says}", "  ", "    "))
        again = cause.check_next in said
        lines.append(_wrap("Look next: as above." if again else f"Look next: {cause.check_next}", "    "))
        said.add(cause.check_next)
    if hints:
        lines.append(_wrap("Mere hints: " + "; ".join(f"{cause.cause} ({cause.where})" for cause in hints) + ".", "  ",
                           "    "))
    if unsought:
        lines.append(_wrap(unsought, "  ", "    "))
    if result.unevenness is not None:
        lines.append(_wrap(advice.split_means(result.unevenness), "  ", "    "))
    return "\n".join(lines)


def _fixes(record: Record, result: Result, system: str) -> str:
    from ..changes.fixes.search import of_the_frame

    if result.whole_floor is None or result.whole_floor.how != "heads" or any(
            closed.part == "fixes" for closed in result.not_done):
        return ""
    lines = ["What would mend it: faults, then the cheapest first (by this test's own pattern)"]
    if not result.fixes:
        lines = [_wrap("Fixes: no change that was tried brings 2 points of DUlq or more.")]
    elif first := advice.look_first(result.causes):
        lines.append(_wrap(first, "  ", "  "))
    said: set[str] = set()
    for fix in result.fixes:
        lines += fix_lines(fix, system, said)
    return "\n".join(lines + [_wrap(says, "  ", "    ") for says in of_the_frame(site_of(record))])


def _supplies(result: Result) -> str:
    if not result.supplies:
        return ""
    return "\n".join(["On its other supplies", *(_wrap(f"- {one.says}", "  ", "    ") for one in result.supplies)])


def fix_lines(fix: Fix, system: str, said: set[str] | None = None) -> list[str]:
    """One fix as lines of text.

    Parameters
    ----------
    fix : fixes.Fix
        The fix.
    system : str
        ``metric`` or ``US``.
    said : set of str, optional
        Cautions that stand above already; those of this fix are added.

    Returns
    -------
    list of str
        At most 80 characters each.
    """
    most = " (the largest gain)" if fix.largest_gain else ""
    lines = [_wrap(f"- {fix.says}{most} {meanings.fix_brings(fix, system)}", "  ", "    ")]
    if fix.feasible is False:
        lines.append(_wrap(f"Not with this supply: {fix.why_not}", "    "))
    lines += [_wrap(f"Mind: {warning}", "    ") for warning in fix.warnings]
    said = set() if said is None else said
    lines += [_wrap(f"Careful. {says}", "    ") for says in fix.cautions if says not in said]
    again = [SHORT[says] for says in fix.cautions if says in said]
    said |= set(fix.cautions)
    return lines + ([_wrap(f"Careful, as above: {', '.join(again)}.", "    ")] if again else [])


def _recheck(result: Result) -> str:
    found = result.recheck
    if found is None:
        return ""
    name = ", ".join(part for part in (found.title, found.date) if part)
    return "\n".join([_wrap(f"Held against: {name}"), *(_wrap(f"- {says}", "  ", "    ") for says in
                                                      (*found.says, *found.unlike))])


def _watering(result: Result, system: str) -> str:
    if result.watering is None:
        return ""
    return "\n".join(["Watering",
                      *(_wrap(says, "  ", "    ") for says in advice.watering_means(result.watering, system))])


def try_text(tried: TriedChange, system: str = "metric") -> str:
    """A change that was asked for, as text.

    Parameters
    ----------
    tried : fixes.TriedChange
        From `fixes.try_change`.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        No line is longer than 80 characters.
    """
    today, fix = tried.today, tried.fix
    lines = ["A change, predicted from this test's own pattern",
             f"  {'':10}{'today':>16}{'after':>22}"]
    for name, one, two in (("CU", today.cu, fix.cu), ("DUlq", today.du_low_quarter, fix.du_low_quarter)):
        lines.append(f"  {name:10}{meanings.interval(one):>16}{meanings.interval(two):>22}")
    rates = [show(one.rate_mm_h, "rate", system, unit="mm/h") for one in (today, fix)]
    lines.append(f"  {'Rate':10}{rates[0]:>16}{rates[1]:>22}")
    if fix.flow_l_h is not None and today.flow_l_h is not None:
        flows = [show(flow, "flow", system, unit="L/h") for flow in (today.flow_l_h, fix.flow_l_h)]
        lines.append(f"  {'Flow':10}{flows[0]:>16}{flows[1]:>22}")
    lines.append("")
    lines += fix_lines(fix, system)
    if tried.supply is not None:
        lines.append(_wrap(meanings.supply_means(tried.supply, system), "  ", "    "))
    elif fix.feasible is None:
        lines.append(_wrap("Whether the supply carries it is not known: the record has no [supply].", "  ", "    "))
    return "\n".join(lines) + "\n"


def _cautions(result: Result) -> str:
    found = [says for says in result.cautions if not _is_rival(result, says)]
    return "\n".join(["Mind", *(_wrap(f"- {says}", "  ", "    ") for says in found)]) if found else ""


def _not_done(result: Result) -> str:
    waiting = [closed for closed in result.not_done if closed.needs]
    lines = []
    for closed in waiting:
        if closed.part == "rechecks":
            lines.append(_wrap("The test that this one follows up is not at hand, so nothing is compared with it."))
    return "\n".join(lines)
