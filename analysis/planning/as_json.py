"""A plan as JSON (contract: sample_tests/README.md, 'A plan before the test')."""

from __future__ import annotations

import json
import math
from typing import Any

from .layouts import walk
from .lines import LineOption
from .more import MoreCans
from .plan import JudgedLayout, PlannedTest
from .water import Gauge

FORMAT = 1
DIGITS = 5  # of a number in the JSON


def plan_json(plan: PlannedTest) -> str:
    """Write a plan as JSON.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.

    Returns
    -------
    str
        Ends with a line break.
    """
    return json.dumps(_rounded(to_plain(plan)), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def more_json(found: MoreCans) -> str:
    """Write places for further cans as JSON.

    Parameters
    ----------
    found : MoreCans
        From `more_cans`.

    Returns
    -------
    str
        Ends with a line break.
    """
    plain = {
        "result": FORMAT,
        "cans": [{"x_m": can.x_m, "y_m": can.y_m, "why": can.why} for can in found.cans],
        "bottles": [{"line": bottle.line, "head": bottle.head, "why": bottle.why} for bottle in found.bottles],
        "narrows": {"now": found.narrows.now, "then": found.narrows.then}, "enough": found.enough,
    }
    return json.dumps(_rounded(plain), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def to_plain(plan: PlannedTest) -> dict[str, Any]:
    """Turn a plan into plain values.

    Parameters
    ----------
    plan : PlannedTest
        From `plan_of`.

    Returns
    -------
    dict
        Every key always there, no nan or infinity.
    """
    lines, run = plan.lines, plan.run
    return {
        "plan": FORMAT,
        "lines": {
            "wetting": lines.wetting, "even": lines.even, "advised": len(lines.advised.x),
            "ends": _option(lines.ends) if lines.ends else None, "wetted_diameter_m": lines.heads.diameter,
            "head_spacing_m": lines.heads.spacing, "today": _option(lines.today) if lines.today else None,
            "options": [_option(option) for option in lines.options],
        },
        "tested_lines": [{"line": name, "x_m": x, "heads": len(places)} for name, x, places in plan.tested],
        "lines_are_proposed": plan.proposed_lines,
        "cans": {
            "proposed": plan.proposed.layout.name, "layout": plan.proposed.layout.cans,
            "walk": [{"number": stop.number, "row": stop.row, "column": stop.column, "x_m": stop.x, "y_m": stop.y}
                     for stop in walk(plan.proposed.layout.cans)],
            "compared": [_judged(one) for one in plan.layouts], "by_number": [_judged(one) for one in plan.curve],
            "simulated": plan.tunnels,
        },
        "run": None if run is None else {
            "minutes": run.minutes, "lines": "in turn" if run.one_after_the_other else "together",
            "opening_cm2": run.opening_cm2, "opening_assumed": run.opening_assumed,
            "rate_mm_h": _span(run.rate, run.rate_low, run.rate_high),
            "mean_can_ml": _span(run.catch, run.catch_low, run.catch_high), "enough": run.enough,
            "wettest_mm_h": run.wettest, "soil": run.soil, "soil_takes_mm_h": run.intake,
        },
        "gauges": [_gauge(gauge) for gauge in plan.gauges],
        "control_cans": plan.control, "checks": list(plan.checks), "assumed": list(plan.assumed),
        "needs": list(plan.needs),
    }


def _span(value: float, low: float, high: float) -> dict[str, float]:
    return {"value": value, "low": low, "high": high}


def _option(option: LineOption) -> dict[str, Any]:
    water, even = option.water, option.du_low_quarter
    return {
        "lines": len(option.x), "x_m": list(option.x), "distance_m": option.distance, "heads": option.heads,
        "least_for": list(option.marks), "wetted": option.wetted,
        "du_low_quarter": {**_span(even.value, even.low, even.high), "by_family": even.by_family},
        "flow_l_h": water.total, "line_flow_l_h": list(water.flows.values()), "flow_from": water.how,
        "runs": water.runs, "why": list(water.why), "last_heads": [_gauge(gauge) for gauge in water.last],
    }


def _gauge(gauge: Gauge) -> dict[str, Any]:
    return {"at": gauge.at, "line": gauge.line, "head": gauge.head, "why": gauge.why,
            "expected_kpa": None if gauge.kpa is None else _span(gauge.kpa, gauge.low, gauge.high)}


def _judged(one: JudgedLayout) -> dict[str, Any]:
    layout, expected = one.layout, one.expected
    return {"layout": layout.name, "cans": expected.cans, "rows": layout.rows,
            "error": _span(expected.error, expected.low, expected.high), "error_at_the_cans": expected.at_the_cans,
            "gap_m": layout.gap, "shares_period": layout.shares_period, "covers": layout.covers}


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None
    return value
