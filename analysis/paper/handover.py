"""The handover: what was tested, how even it is, why, what to do, and the baseline for the next test."""

from __future__ import annotations

import numpy as np

from ..cans.dry_spots import PART_OF_MEAN
from ..cans.index_table import INDICES
from ..causes.cautions import SAFETY
from ..planning.layouts import tape_text
from ..record.model import Record
from ..record.places import head_places, line_named
from ..reference.yardsticks import SURVEYS
from ..result import advice, meanings
from ..result.model import Result
from ..units.shown import show
from . import PlanView, new_page, to_bytes
from .page import FAINT, Page

KIND = "Handover"
_FILTER_LOADED = 28e3  # [Pa] more than when clean; from memory
MOST_CAUSES, MOST_FIXES, MOST_SPOTS = 4, 3, 8  # told in full; the rest is in the record's own result
_SIGNATURES = 48.0  # [mm] for two headings and the blanks to sign
_RING = 2.2  # [mm] radius round the number of a head that stands out
LIMITS = (
    "The figures hold for this run: its pressure, wind and sides. Another day may differ.",
    "The yardsticks rate figures at the cans, because they come from catch tests; the figure for the whole floor is an "
    "estimate with a 90 % interval, is stricter, and stands unrated.",
    "Causes are hypotheses: the test says where to look, not what will be found. Predictions of fixes assume sound new "
    "parts.",
    "Nothing here replaces local codes or the advice of a licensed installer, electrician or water authority.",
)


def care(system: str) -> tuple[str, ...]:
    """List what keeps a system even through the season."""
    return (
        f"Clean the filter when it takes about {show(_FILTER_LOADED, 'pressure', system)} more than when clean, and at "
        "the start of each season: shut, vent, check for zero pressure, open.",
        "Flush each line at its far end until the water is clear, at the start of each season and after every repair.",
        "Walk the lines while they run once a month: every head turns, none drips, none hangs askew.",
        "Read the pressure at the regulator and at the last head of each line, and hold it against the baseline above.",
        "Before frost: drain lines, filter bowl, regulator and anti-drip valves.",
        "Repeat this test after every change of lines or heads, and each season, with the cans at the same places.",
    )


def make_handover(record: Record, result: Result, system: str = "metric", paper: str = "A4") -> bytes:
    """Draw the handover of a test."""
    page = new_page(paper, record.test.title, KIND)
    for part in (_what, _figures, _before, _map, _poor, _why, _fixes, _watering, _baseline, _care, _signed):
        part(page, record, result, system)
    return to_bytes(page)


def _what(page: Page, record: Record, result: Result, system: str) -> None:
    test, run, cans = record.test, record.run, result.catch
    page.heading(f"{KIND}: {test.title}", 0)
    heads = [len(head_places(line)) for line in record.lines or []]
    size = f"{tape_text(record.floor.width.si, system)} by {tape_text(record.floor.length.si, system)}"
    conditions = [f"wind {run.wind.text}" if run.wind else "wind not noted",
                  f"sides {run.sides}" if run.sides else "sides not noted"]
    page.facts([(name, text) for name, text in (
        ("Where", ", ".join(part for part in (test.site, test.zone, test.tunnel) if part)),
        ("When, by", ", ".join(part for part in (test.date.isoformat() if test.date else "", test.by or "") if part)),
        ("Floor", size + (f", {len(record.floor.beds)} beds count" if record.floor.beds else "")),
        ("Lines and heads", f"{len(heads)} lines, {sum(heads)} heads" + _head_words(record) if heads else ""),
        ("Run", f"{run.duration.text}" + (f", lines {run.lines}" if run.lines else "") + "; " + ", ".join(conditions)),
        ("Cans", f"{cans.used} of {cans.cans} in the figures, {cans.set_aside} set aside, {cans.missing} without a "
                 f"reading; read as {record.cans.reads}"),
        ("Notes", " ".join((test.notes or "").split())),
    ) if text])


def _head_words(record: Record) -> str:
    heads = record.heads
    if heads is None:
        return ""
    parts = [heads.label or "", f"{heads.flow.text} nominal" if heads.flow else "",
             f"at {heads.at.text}" if heads.at else ""]
    return ": " + " ".join(part for part in parts if part) if any(parts) else ""


def _figures(page: Page, record: Record, result: Result, system: str) -> None:
    cans, whole, catch = result.at_the_cans, result.whole_floor, result.catch
    page.heading("How even")
    main = [index for index in INDICES.values() if index.main]
    of_floor = {index.key: getattr(whole, index.key, None) for index in main}
    rows = [*([index.name, index.shown(cans.values[index.key]),
               meanings.interval(found) if (found := of_floor[index.key]) else "–"] for index in main),
            ["Mean depth", show(catch.mean_mm, "depth", system, unit="mm"),
             show(whole.mean_mm.value, "depth", system, unit="mm") if whole else "–"],
            ["Application rate", show(catch.rate_mm_h, "rate", system, unit="mm/h"), ""]]
    page.ruled(["", "at the cans", "whole floor (90 % interval)"], rows, (5, 3, 4))
    page.points([*(index.means(cans.values, system) for index in main), *meanings.rated(cans),
                 *advice.target_words(record, result),
                 *filter(None, [meanings.cans_and_floor(result)]),
                 f"Surveys found a mean DUlq of {SURVEYS[0].value:.0f} % in {SURVEYS[0].says} ({SURVEYS[0].source})."])


def _before(page: Page, record: Record, result: Result, system: str) -> None:
    found = result.recheck
    if found is None:
        return
    page.heading(f"Held against: {found.title}" + (f", {found.date}" if found.date else ""))
    page.points([*found.says, *found.unlike], size=8.5)


def _poor(page: Page, record: Record, result: Result, system: str) -> None:
    """Where the crop looks poor, and whether water is the cause."""
    if result.patches:
        page.heading("Where the crop looks poor: is it water?")
        page.points([f"{patch.note or f'patch {number}'}: {patch.says}" for number, patch in
                     enumerate(result.patches, 1)], size=8.5)


def _map(page: Page, record: Record, result: Result, system: str) -> None:
    by_heads = result.floor is not None and result.floor.estimate.how == "heads"
    room = 112.0
    if page.will_page_break(room + 16):
        page.add_page()
    page.heading(f"Depth on the ground, by {'the pattern of the heads' if by_heads else 'the cans'}")
    top, width = page.get_y(), 0.52 * page.epw
    view = PlanView(page, (page.l_margin, top, width, room), (record.floor.width.si, record.floor.length.si))
    dots = _drawn(view, record, result, by_heads)
    bottom = max(view.bottom + 8, page.get_y())
    left, sheet = page.l_margin, page.page_no()
    page.l_margin = page.l_margin + width + 4
    page.set_xy(page.l_margin, top)
    _beside_the_map(page, result, system, by_heads, dots)
    suspects = [meanings.suspect_means(head, system) for head in result.heads if head.suspect][:MOST_SPOTS]
    beside = not page.will_page_break(page.points_height(suspects, size=8) + 6)
    if beside:
        _stand_out(page, suspects)
    page.l_margin = left
    page.set_y((max(bottom, page.get_y()) if page.page_no() == sheet else page.get_y()) + 2)
    if not beside:  # below the map, over the whole width
        _stand_out(page, suspects)


def _stand_out(page: Page, suspects: list[str]) -> None:
    if suspects:
        if page.will_page_break(16):  # its title does not stand alone
            page.add_page()
        page.para("Heads that stand out:", size=8.5, bold=True)
        page.points(suspects, size=8)


def _whose_mean(result: Result, by_heads: bool) -> tuple[str, float]:
    """Whose mean is 100 % on the map, as on the dashboard's: of the whole floor on a map of the heads' pattern [mm]."""
    if by_heads and result.whole_floor is not None:
        return "the whole floor", result.whole_floor.mean_mm.value
    return "the cans", result.catch.mean_mm


def _drawn(view: PlanView, record: Record, result: Result, by_heads: bool) -> bool:
    """Draw the map; tells whether some can is only a dot."""
    seen = result.floor if by_heads else result.surface
    _, mean = _whose_mean(result, by_heads)
    if seen is not None:
        x, y, part = _coarse(np.asarray(seen.x), np.asarray(seen.y), np.asarray(seen.depth_mm, float) / mean)
        view.cells(x, y, part, PART_OF_MEAN)
    view.frame()
    view.lines([(line.name, line.x.si, head_places(line)) for line in record.lines or []])
    suspects = [head for head in result.heads if head.suspect]
    places = view.values(can_values(result, mean), taken=[(head.x_m, head.y_m, _RING) for head in suspects])
    view.marks([(head.x_m, head.y_m, str(head.number)) for head in suspects], size=6.5, ring=_RING, bold=True)
    return None in places


def can_values(result: Result, mean_mm: float) -> list[tuple[float, float, str]]:
    """Write the cans' depths in percent of a mean."""
    cans, used = result.cans, result.cans.counted
    order = sorted(zip(cans.depth_mm[used], cans.x[used], cans.y[used], strict=True))
    return [(float(across), float(along), f"{100 * value / mean_mm:.0f}") for value, across, along in order]


def _beside_the_map(page: Page, result: Result, system: str, by_heads: bool, dots: bool) -> None:
    whose, mean = _whose_mean(result, by_heads)
    limit = f"{100 * PART_OF_MEAN:.0f} %"
    page.para(f"100 %, for the ground and for the cans, is the mean of {whose}: "
              f"{show(mean, 'depth', system, unit='mm')}. Greyer ground is wetter; a heavy line "
              f"encloses ground under {limit}; numbers are the cans' depth in percent"
              f"{', a dot is a can whose number has no room' if dots else ''}; a ring with a number is a head "
              "that stands out. The inlet end is below.", size=8, grey=FAINT)
    page.para(f"Dry ground (under {limit} of the mean), driest first:" if result.dry_spots else
              f"No ground of {show(0.5, 'area', system)} or more under {limit} of the mean.", size=8.5, bold=True)
    page.points([f"{spot.where}: {100 * spot.of_mean:.0f} % of the mean, {show(spot.area_m2, 'area', system)}"
                 + (", mostly beyond the cans" if spot.beyond_the_cans else "")
                 for spot in result.dry_spots[:MOST_SPOTS]],
                size=8)


def _coarse(x: np.ndarray, y: np.ndarray, part: np.ndarray,
            most: int = 2600) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The map on fewer cells, so that the paper stays small."""
    step = max(1, int(np.ceil(np.sqrt(part.size / most))))
    return x[::step], y[::step], part[::step, ::step]


def _why(page: Page, record: Record, result: Result, system: str) -> None:
    page.heading("Why: what may be wrong, strongest first")
    told, _ = advice.told_causes(result.causes)
    if not told:
        page.para(advice.looked_for(result) or "Nothing stands out as a fault.", size=9)
    said: set[str] = set()
    for cause in told[:MOST_CAUSES]:
        look = "as above." if cause.check_next in said else cause.check_next
        said.add(cause.check_next)
        page.para(f"{advice.cause_title(cause)} ({advice.strength_means(cause.strength)})", size=9, bold=True)
        page.para(f"{cause.where[0].upper()}{cause.where[1:]}. {cause.says} Look next: {look}", size=8.5,
                  indent=4)
    if len(told) > MOST_CAUSES:
        page.para(f"{len(told) - MOST_CAUSES} more are in the result.", size=8.5)
    if result.unevenness is not None:
        page.para(advice.split_means(result.unevenness), size=8.5)


def _fixes(page: Page, record: Record, result: Result, system: str) -> None:
    if not result.heads:
        return
    page.heading("What would mend it")
    if not result.fixes:
        page.para("No change that was tried brings 2 points of DUlq or more.", size=9)
    elif first := advice.look_first(result.causes):
        page.para(first, size=9)
    best = [fix for fix in result.fixes if fix.largest_gain]
    others = [fix for fix in result.fixes if not fix.largest_gain]
    shown = others[:MOST_FIXES - len(best)] + best
    page.points([fix.says + (" (the largest gain)" if fix.largest_gain else "")
                 + (f" Not with this supply: {fix.why_not}" if fix.feasible is False else "")
                 for fix in shown], size=8.5)
    page.blanks(["What was done"], columns=1)


def _watering(page: Page, record: Record, result: Result, system: str) -> None:
    if result.watering is None:
        return
    page.heading("Watering plan")
    page.points(advice.watering_means(result.watering, system), size=8.5)


def _baseline(page: Page, record: Record, result: Result, system: str) -> None:
    page.heading("Baseline for the next test")
    rows = [[item.at if item.at != "line" else line_named(item.line) + (f", head {item.head}" if item.head else ""),
             item.value.text, item.height.text if item.height else ""] for item in record.pressures or []]
    if rows:
        page.ruled(["pressure at", "reading", "height of the gauge"], rows, (5, 3, 3), height=4.8, size=8)
    else:
        page.para("No pressure was read: without one a later test cannot tell a change of pressure from other faults.",
                  size=8.5)
    flows = [f"{item.volume.text} in {item.time.text} under head {item.head} of {line_named(item.line)}"
             for item in record.head_flows or []]
    if record.run.metered:
        flows.insert(0, f"{record.run.metered.text} by the meter over the run")
    if flows:
        page.points(flows, size=8.5)


def _care(page: Page, record: Record, result: Result, system: str) -> None:
    page.heading("Through the season")
    page.points(care(system), size=8.5)
    page.heading("What these figures cannot tell")
    cautions = advice.plain_cautions(record, result.cautions)
    more = len(cautions) - MOST_SPOTS
    page.points([*LIMITS, *cautions[:MOST_SPOTS], *([f"{more} more cautions are in the result."] if more > 0 else [])],
                size=8.5)


def _signed(page: Page, record: Record, result: Result, system: str) -> None:
    high = page.points_height(SAFETY, size=8) + _SIGNATURES
    if page.will_page_break(high):  # nobody signs a page on which nothing stands
        page.add_page()
    page.heading("Cautions")
    page.points(SAFETY, size=8)
    page.heading("Handed over")
    page.blanks(["Handed over by", "Taken over by", "Date and place", "Date and place"], columns=2, height=11)
