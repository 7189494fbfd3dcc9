"""Parts of the page of watering: what is wanted, the plan in words and figures, what unevenness costs."""

from __future__ import annotations

import streamlit as st

from ..figures.curves import watering_curve
from ..record.model import Record
from ..record.site import site_of
from ..result import advice
from ..result.model import Result
from ..units.quantity import QuantityError, parse
from ..units.shown import show
from ..units.table import to_si
from ..watering.schedule import GROUPS, Watering, curve_after, plan_watering
from . import hall
from .say import say

_SHARE = "a share of the ground"


def wanted(units: str) -> tuple[str, str | float]:
    """Ask how much water is wanted, as text, empty for the crop's need, and whom it should serve."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        text = st.text_input("Net depth wanted each time", key="water depth", max_chars=40, width=260,
                             placeholder=f"the crop's need, or {'8 mm' if units == 'metric' else '0.3 in'}")
        serves = st.selectbox("It should serve", (*reversed(GROUPS), _SHARE), key="water serves", width=260,
                              format_func=lambda one: one if one == _SHARE else advice.serves_means(one))
        if serves == _SHARE:
            serves = st.slider("Share of the ground that gets it at least [%]", 50, 98, 90, key="water share",
                               width=260) / 100
    return text, serves


def planned(record: Record, result: Result, text: str, serves: str | float) -> Watering | None:
    """The plan for what was asked, or a sentence that says what is missing."""
    try:
        depth = parse(text, "length", such_as=("mm", "in")).to("mm") if text.strip() else None
        plan = plan_watering(site_of(record), result.floor, result.fixes, serves=serves, depth_mm=depth)
    except QuantityError as error:
        say(f"Net depth wanted: {error}.", "error")
        return None
    except ValueError as error:
        say(f"{error}.", "error")
        return None
    if plan is None:
        st.text("Say how much is wanted each time above, or what the crop uses in a day in the set-up.")
    return plan


def the_plan(plan: Watering, units: str) -> None:
    """Show what to do."""
    with st.container(horizontal=True):
        st.metric("Run it", advice.minutes_of(plan.chosen), border=True)
        if plan.days is not None:
            st.metric("Every", f"{plan.days} day{'' if plan.days == 1 else 's'}", border=True)
        if plan.soak is not None and plan.soak.runs > 1:
            st.metric("Cut into", f"{plan.soak.runs} runs of {plan.soak.on_min:.0f} min", border=True)
            st.metric("Wait between", f"{plan.soak.pause_min:.0f} min", border=True)
        if plan.week_l is not None:
            st.metric("In a week", advice.litres(plan.week_l, units), border=True)
    for says in advice.watering_means(plan, units):
        st.text(says)


def price(plan: Watering, units: str) -> None:
    """Say what the water costs, for a price that somebody enters."""
    amount, cubic_metres = ("1000 gal", to_si(1000, "US gal", "volume")) if units == "US" else ("1 m³", 1.0)
    each = st.number_input(f"Price of {amount} of water, in your money", min_value=0.0, value=None, step=0.1,
                           key=f"water price {units}", width=260)
    if each:
        cost = advice.money(plan, each / cubic_metres)
        st.text(cost)


def costs(record: Record, result: Result, plan: Watering, units: str) -> None:
    """Show what unevenness costs."""
    best = next((fix for fix in result.fixes if fix.largest_gain and fix.feasible is not False), None)
    after = curve_after(site_of(record), result.floor, best, plan.depth_mm) if best else None
    hall.chart(watering_curve(plan, hall.look(system=units), after), "watering",
               "Share of the ground that is short and that drowns, by run time")
    st.text("Short: less than the net depth. Drowned: more than one and a half times it (a judgement).")
    if best:
        st.text(f"Dashed: after the fix of the largest gain ({best.name}).")
    rows = [{"serves": advice.serves_means(run.serves), "run time": advice.minutes_of(run),
             "water on the ground": advice.litres(run.litres, units), "short": f"{100 * run.goes.short:.0f} %",
             "missing there": show(run.goes.deficit_l, "volume", units, unit="L"),
             "drowned": f"{100 * run.goes.drowned:.0f} %",
             "over elsewhere": show(run.goes.excess_l, "volume", units, unit="L")}
            for run in plan.runs]
    st.dataframe(rows, hide_index=True)
