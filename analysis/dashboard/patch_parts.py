"""Patches where the crop looks poor: drawn or typed, and what the water says."""

from __future__ import annotations

import streamlit as st

from ..entry.to_record import plain_of
from ..figures.look import Look
from ..record.model import Record
from ..result.model import Result
from ..units.quantity import QuantityError, parse
from ..units.shown import SHOWN, shown_unit
from . import hall
from .say import say


def offer_patch(test: hall.Open, boxes: list[dict], look: Look) -> None:
    """Offer a rectangle drawn on the map as a patch."""
    unit = shown_unit("place", look.system)
    if not boxes:
        st.text("Drag a rectangle on the map.")
        return
    x, y = (sorted(max(0.0, value) for value in boxes[0][axis]) for axis in ("x", "y"))
    st.text(f"Drawn: {x[0]:.1f} to {x[1]:.1f} {unit} across, {y[0]:.1f} to {y[1]:.1f} {unit} along.")
    note = _ask_note("drawn_note")
    if st.button("Add this patch", key="drawn_add"):
        add_patch(test, [f"{value:.2f} {unit}" for value in x], [f"{value:.2f} {unit}" for value in y], note)
        st.rerun()


def _ask_note(key: str) -> str:
    return st.text_input("What is seen there", key=key, max_chars=200, placeholder="stunted")


def add_patch(test: hall.Open, x: list[str], y: list[str], note: str) -> None:
    """Add a patch to the draft, cut at the edges of the floor."""
    plain, _ = plain_of(test.values)
    cut = []
    for ends, key in ((x, "width"), (y, "length")):
        most = parse(plain["floor"][key], "length")
        cut.append([most.text if parse(end, "length").si > most.si else end for end in ends])
    new = {"x": cut[0], "y": cut[1], **({"note": note.strip()} if note.strip() else {})}
    hall.replace_list(test, "patches", [*(plain.get("patches") or []), new])


def patches(test: hall.Open, record: Record, result: Result, units: str) -> None:
    """Where the crop looks poor: is it drier there?"""
    st.subheader("Where the crop looks poor")
    for number, patch in enumerate(result.patches, 1):
        with st.container(border=True, horizontal=True, vertical_alignment="center"):
            st.text(f"patch {number}, {patch.note or 'no note'}\n{patch.says}")
            if st.button("Take it out", key=f"patch_out_{number}"):
                plain, _ = plain_of(test.values)
                kept = [item for place, item in enumerate(plain.get("patches") or [], 1) if place != number]
                hall.replace_list(test, "patches", kept)
                st.rerun()
    with st.expander("Add a patch by its distances" if result.patches else
                     "Does the crop look poor somewhere? Say where, and see whether water is the cause"):
        unit = SHOWN[units]["place"][1]
        columns = st.columns(4)
        labels = ("From the left edge", "to", "From the inlet end", "to")
        texts = [column.text_input(label, key=f"patch_{place}", placeholder=f"{place} {unit}" if place else f"0 {unit}")
                 for place, (column, label) in enumerate(zip(columns, labels, strict=True))]
        note = _ask_note("patch_note")
        if st.button("Add this patch", key="patch_add"):
            try:
                quantities = [parse(text, "length") for text in texts]
                if quantities[0].si >= quantities[1].si or quantities[2].si >= quantities[3].si:
                    raise QuantityError("received an end that is not beyond its beginning", "expected from < to",
                                        "correct the distances")
                add_patch(test, texts[:2], texts[2:], note)
            except QuantityError as error:
                say(f"{error}.", "error")
            else:
                st.rerun()
