"""Parts of the set-up page that are more than a field."""

from __future__ import annotations

from typing import Any

import streamlit as st

from analysis.dashboard import hall
from analysis.draft_cans import cans_in
from analysis.figures import plan_sketch
from analysis.layout import evenly, heads_of
from analysis.units import QuantityError, parse


def cans_evenly(test: hall.Open, plain: dict[str, Any], units: str) -> None:
    """Offer an even grid of cans.

    Parameters
    ----------
    test : Open
        The draft.
    plain : dict
        Its plain values.
    units : str
        ``metric`` or ``US``.
    """
    with st.container(horizontal=True, vertical_alignment="bottom"):
        columns = st.selectbox("Cans across", range(2, 21), index=4, key="even_columns", width=140)
        rows = st.selectbox("Rows along", range(2, 41), index=6, key="even_rows", width=140)
        if st.button("Spread them evenly", key="even_go"):
            try:
                width, length = _floor_size(plain)
            except QuantityError:
                st.error("The width and the length of the floor are needed first.")
                return
            hall.store(test.draft, {"cans.across": ", ".join(evenly(width, columns, units)),
                                    "cans.along": ", ".join(evenly(length, rows, units))})
            for key in ("cans.across", "cans.along"):
                hall.forget_fields(test, key)
            st.rerun()


def _floor_size(plain: dict[str, Any]) -> list[float]:
    floor = plain.get("floor", {})
    return [parse(floor.get(key, ""), "length").si for key in ("width", "length")]


def take_out(test: hall.Open, plain: dict[str, Any], number: int) -> None:
    """Offer to take a line out.

    Parameters
    ----------
    test : Open
        The draft.
    plain : dict
        Its plain values.
    number : int
        The line, from 0.
    """
    if st.button("Take this line out", key=f"line_out_{number}"):
        hall.replace_list(test, "lines", [line for place, line in enumerate(plain["lines"]) if place != number])
        st.rerun()


def another(test: hall.Open, plain: dict[str, Any]) -> None:
    """Offer another line like the last one.

    Parameters
    ----------
    test : Open
        The draft.
    plain : dict
        Its plain values.
    """
    lines = plain.get("lines") or []
    if st.button("Add a line" if not lines else "Add another line like the last", key="line_add"):
        names = [name for name in ("left", "right", "middle", *(f"line {count}" for count in range(4, 70)))
                 if name not in {line.get("name") for line in lines}]
        last = {key: value for key, value in lines[-1].items() if key not in ("name", "x")} if lines else {}
        hall.replace_list(test, "lines", [*lines, {"name": names[0], **last}])
        st.rerun()


def sketch(plain: dict[str, Any], units: str) -> None:
    """Draw the plan of cans and heads as far as it is known.

    Parameters
    ----------
    plain : dict
        The draft's plain values.
    units : str
        ``metric`` or ``US``.
    """
    try:
        width, length = _floor_size(plain)
    except QuantityError:
        st.text("The plan appears when width and length of the floor are there.")
        return
    if not (width and length):
        return
    cans = [(can.x, can.y) for can in cans_in(plain) if can.x is not None and can.y is not None]
    lines = heads_of(plain)
    hall.chart(plan_sketch(cans, lines, width, length, hall.look(system=units)), "plan_sketch",
               "Plan of cans (dots) and heads (triangles)")
    st.text(f"{len(cans)} cans (dots), {sum(len(line[2]) for line in lines)} heads (triangles)")
