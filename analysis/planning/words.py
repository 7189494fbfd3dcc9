"""A plan in sentences and tables that a terminal and a page share."""

from __future__ import annotations

from ..record.places import line_named
from ..reference.yardsticks import LEAST_MEAN_ML, LEAST_MEAN_ML_SOURCE
from ..units.shown import show, shown_unit
from .checks import blocked_found, opening_text, volume_text
from .layouts import tape_text, walk
from .lines import CLOSE, LineOption
from .plan import JudgedLayout, PlannedTest
from .water import Gauge


def counts_words(plan: PlannedTest, units: str) -> list[str]:
    """The two numbers of lines, each with its figure.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    list of str
        Sentences.
    """
    lines = plan.lines
    wide, diameter = show(lines.width, "height", units), show(lines.heads.diameter, "height", units)
    spacing = show(lines.heads.spacing, "height", units)
    options = {len(option.x): option for option in lines.options}
    if lines.wetting is None:
        said = [f"Heads {spacing} apart that wet {diameter} leave dry ground between them along every line: "
                "no number of lines wets every place."]
    else:
        said = [f"So that every place is wetted, {wide} take {_count(lines.wetting)} of heads that wet {diameter}, "
                f"{spacing} apart{_figure(options.get(lines.wetting))}."]
        if lines.wetting < lines.even:
            said.append("Many houses are hung like that; that every place is wetted does not make it even.")
    said.append(f"For evenness, lines no wider apart than 0.6 of the wetted diameter: {_count(lines.even)}"
                f"{_figure(options.get(lines.even))}.")
    advised = lines.advised
    if len(advised.x) != lines.even:
        said.append(f"{_count(len(advised.x)).capitalize()}{_figure(advised)} are as even as any in the table, but for "
                    f"{CLOSE:.0f} points: more of them bring nothing.")
    if lines.ends is not None:
        base = lines.today or advised
        gain = lines.ends.du_low_quarter.value - base.du_low_quarter.value
        if gain >= CLOSE:
            first = show(float(lines.ends.lines[0].along[0]), "height", units)
            said.append(f"The ends are bare: with heads up to {first} from the end walls "
                        f"{_count(len(base.x))} {'bring' if len(base.x) > 1 else 'brings'} DUlq "
                        f"{range_text(lines.ends)} % instead of {range_text(base)} %.")
    said.append("DUlq is that of all the ground that counts, with sound heads: median, and lowest to highest of eight "
                "families of spray patterns. It is a range of what patterns may do, not a measured figure.")
    shown = lines.today or options.get(lines.even)
    if shown is not None and shown.wetted < 0.995:
        said.append(f"{'Today ' if lines.today else ''}{100 * (1 - shown.wetted):.0f} % of the ground is beyond the "
                    "reach of any head; if the ends are not planted, say so with beds.")
    return said


def _count(number: int) -> str:
    return f"{number} line{'' if number == 1 else 's'}"


def _figure(option: LineOption | None) -> str:
    return "" if option is None else f" (DUlq {range_text(option)} %)"


def range_text(option: LineOption) -> str:
    """DUlq with its range over families.

    Parameters
    ----------
    option : LineOption
        Lines.

    Returns
    -------
    str
        ``66 (42 to 71)``.
    """
    figure = option.du_low_quarter
    return f"{figure.value:.0f} ({figure.low:.0f} to {figure.high:.0f})"


def line_rows(plan: PlannedTest, units: str) -> list[dict[str, str]]:
    """The table of lines: today's, then by number.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    list of dict
        Heading -> text.
    """
    options = [*([plan.lines.today] if plan.lines.today else []), *plan.lines.options]
    return [{
        "Lines": _count(len(option.x)) + (" today" if option.today else ""),
        "Apart": show(option.distance, "height", units) if option.distance else "–",
        "DUlq % (range)": range_text(option),
        "Flow at once": show(_at_once(option), "flow", units, unit="L/h"),
        "Last head": last_text(option, units),
        "Supply runs": {None: "not known", "neither": "neither way"}.get(option.water.runs, option.water.runs),
    } for option in options]


def _at_once(option: LineOption) -> float | None:
    """What the lines draw at once, as the supply runs them [L/h]."""
    flows = [flow for flow in option.water.flows.values() if flow is not None]
    return max(flows) if option.water.runs == "in turn" and flows else option.water.total


def last_text(option: LineOption, units: str) -> str:
    """Lowest pressure among the last heads.

    Parameters
    ----------
    option : LineOption
        Lines.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        With its range where the timed buckets leave one; a dash where it is not known.
    """
    known = [gauge for gauge in option.water.last if gauge.kpa is not None]
    return pressure_text(min(known, key=lambda gauge: gauge.kpa), units) if known else "–"


def pressure_text(gauge: Gauge, units: str) -> str:
    """An expected gauge reading.

    Parameters
    ----------
    gauge : Gauge
        With or without a pressure.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        ``196 kPa`` or ``105 (103 to 106) kPa``; a dash where it is not known.
    """
    if gauge.kpa is None:
        return "–"
    value, low, high = (show(kpa, "pressure", units, unit="kPa", with_unit=False)
                        for kpa in (gauge.kpa, gauge.low, gauge.high))
    unit = shown_unit("pressure", units)
    return f"{value} {unit}" if low == high else f"{value} ({low} to {high}) {unit}"


def supply_words(plan: PlannedTest, units: str) -> list[str]:
    """What the lines that are tested draw, and whether the supply runs them together.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    list of str
        Sentences.
    """
    option = tested_option(plan)
    water, said = option.water, []
    if water.total is None:
        said.append("What the lines draw is not known: say what one head gives, at which pressure.")
    else:
        each = ", ".join(f"{name} {show(flow, 'flow', units, unit='L/h')}" for name, flow in water.flows.items())
        how = "from the pressures" if water.how == "pressures" else "nominal flow times the heads"
        said.append(f"All lines together draw {show(water.total, 'flow', units, unit='L/h')} ({how}); as they are run: "
                    f"{each}.")
    said.append({
        "together": "The supply runs all lines together.",
        "in turn": f"The supply does not run all lines together; it runs them in turn, one line at a time, which takes "
                   f"{len(option.x)} valves.",
        "neither": "The supply holds the heads' pressure neither together nor in turn.",
        None: "Whether the supply runs them together is not known: describe the supply.",
    }[water.runs])
    return [*said, *water.why]


def tested_option(plan: PlannedTest) -> LineOption:
    """The lines that the test is planned for.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.

    Returns
    -------
    LineOption
    """
    named = len(plan.tested)
    return plan.lines.today or next(option for option in plan.lines.options if len(option.x) == named)


def layout_words(plan: PlannedTest, units: str) -> list[str]:
    """Which layout of cans is proposed, and why.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    list of str
        Sentences.
    """
    one = plan.proposed
    layout, count = one.layout, one.expected.cans
    name = f"{layout.rows} {layout.name}" if "staggered" in layout.name else layout.name
    said = []
    if plan.proposed_lines:
        said.append(f"The record has no lines with heads; the test is planned for {_count(len(plan.tested))}, "
                    "evenly across.")
    said.append(f"Proposed: {count} cans, {name}. Expected error of DUlq of the whole floor about ±{error_text(one)}.")
    gap = "" if layout.gap is None else (" Among the distances from the nearest line no gap is wider than "
                                         f"{show(layout.gap, 'height', units)}.")
    said.append(("Cans stand near both edges and both ends" if layout.covers else "Cans miss an edge or an end")
                + (", and all rows stand alike to the heads." if layout.shares_period else
                   ", and the rows do not fall into step with the heads.") + gap)
    found = blocked_found(count)
    if found is not None:
        said.append(f"With so many cans the estimate named {found} of 100 blocked heads in simulated tunnels"
                    + (f"; with 36 cans or more {blocked_found(36)} or more." if found < blocked_found(36) else "."))
    return said


def error_text(one: JudgedLayout) -> str:
    """An expected error with its interval.

    Parameters
    ----------
    one : JudgedLayout
        A layout.

    Returns
    -------
    str
        ``1.3 points (1.0 to 1.6)``.
    """
    found = one.expected
    return f"{found.error:.1f} points ({found.low:.1f} to {found.high:.1f})"


def error_words(plan: PlannedTest, units: str) -> str:
    """What the expected error is, and is not.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    str
    """
    within = "2 in" if units == "US" else "5 cm"  # expect.PLACED
    return (f"Expected error: root mean square over {plan.tunnels} simulated tunnels with these heads; the brackets "
            f"are its 90 % interval by that number. Readings to 4 %, cans within {within}, sound heads, "
            "still air: drift, tilted heads or kicked cans make it larger.")


def layout_rows(plan: PlannedTest) -> list[dict[str, str]]:
    """The layouts beside each other.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.

    Returns
    -------
    list of dict
        Heading -> text.
    """
    return [{
        "Layout": one.layout.name + (" (proposed)" if number == plan.best else ""),
        "Cans": str(one.expected.cans),
        "Expected error of DUlq": error_text(one),
        "At the cans off by": f"{one.expected.at_the_cans:.0f} points",
    } for number, one in enumerate(plan.layouts)]


def curve_rows(plan: PlannedTest) -> list[dict[str, str]]:
    """Number of cans against expected error.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.

    Returns
    -------
    list of dict
        Heading -> text.
    """
    return [{"Cans": str(one.expected.cans), "Expected error of DUlq": f"±{error_text(one)}"} for one in plan.curve]


def walk_rows(plan: PlannedTest, units: str) -> list[dict[str, str]]:
    """Where the cans go, row by row in walking order.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    list of dict
        Heading -> text.
    """
    rows: dict[float, list] = {}
    for stop in walk(plan.proposed.layout.cans):
        rows.setdefault(stop.y, []).append(stop)
    return [{
        "Along": tape_text(y, units), "Cans": f"{stops[0].number} to {stops[-1].number}" if len(stops) > 1
        else str(stops[0].number), "Across, in walking order": ", ".join(tape_text(stop.x, units) for stop in stops),
    } for y, stops in rows.items()]


def run_words(plan: PlannedTest, units: str) -> list[str]:
    """How long to run, and whether water will stand.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    list of str
        Sentences.
    """
    run = plan.run
    if run is None:
        return ["How long to run cannot be said: the flow of a head is not known."]
    each = f"each line {run.minutes} min, one after the other" if run.one_after_the_other else f"{run.minutes} min"
    opening = opening_text(run.opening_cm2, units) + (" (from memory)" if run.opening_assumed else "")
    rate = [show(value, "rate", units, unit="mm/h", with_unit=False)
            for value in (run.rate, run.rate_low, run.rate_high)]
    said = [f"Run {each}: at {rate[0]} {shown_unit('rate', units)} ({rate[1]} to {rate[2]} by pattern) the mean can of "
            f"{opening} catches {volume_text(run.catch, units)} ({volume_text(run.catch_low, units, False)} to "
            f"{volume_text(run.catch_high, units, False)}); {volume_text(LEAST_MEAN_ML, units)} are wanted "
            f"({LEAST_MEAN_ML_SOURCE})."]
    if not run.enough:
        said.append("An hour may not be enough for that: take wider cans, or read a finer scale.")
    wettest = show(run.wettest, "rate", units, unit="mm/h")
    if run.soil is None:
        said.append(f"The wettest tenth of the ground gets up to {wettest} and more; name the soil to hear "
                    "whether it takes it.")
    elif run.intake is None:
        said.append(f"The wettest tenth of the ground gets up to {wettest} and more; how fast '{run.soil}' takes "
                    "water is not known here.")
    elif run.wettest <= run.intake:
        said.append(f"No water should stand: the wettest tenth gets up to {wettest}, {run.soil} takes "
                    f"{show(run.intake, 'rate', units, unit='mm/h')} or more (FAO, second hand).")
    else:
        said.append(f"Water may stand: the wettest tenth gets {wettest}, {run.soil} takes "
                    f"{show(run.intake, 'rate', units, unit='mm/h')} or more (FAO, second hand). Set the cans on "
                    "boards; where water stands, pause, and count only the minutes that the zone ran.")
    return said


def gauge_rows(plan: PlannedTest, units: str) -> list[dict[str, str]]:
    """Where to read pressure.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    list of dict
        Heading -> text.
    """
    return [{
        "Gauge": gauge.at if gauge.line is None else f"{line_named(gauge.line)}, head {gauge.head}",
        "Expected": pressure_text(gauge, units), "What for": gauge.why,
    } for gauge in plan.gauges]
