"""A page with nothing but the entry of readings, for the browser tests.

Its address says what is laid out: ``?draft=ID&rows=6&columns=8&lay=grid``; `lay` is
grid, staggered (rows of two lengths) or points.
"""

import streamlit as st
from evenfall.dashboard.entry.component import Can, draft_entry
from evenfall.entry.drafts.drafts import Drafts


def grid(rows, columns, lengths=(0,), shift=(0.0,)):
    """Cans in walking order: first row left to right, second right to left."""
    cans = []
    for i in range(rows):
        count = columns + lengths[i % len(lengths)]
        places = range(count) if i % 2 == 0 else range(count - 1, -1, -1)
        for j in places:
            x = (j + 0.5 + shift[i % len(shift)]) / (columns + 0.5)
            y = (i + 0.5) / rows
            label = f"Row {i + 1}, can {j + 1} - {7.6 * x:.1f} m across, {22 * y:.1f} m along"
            cans.append(Can(f"r{i + 1}c{j + 1}", i + 1, j + 1, label, x, y))
    return cans


def points(count):
    """Free points along a winding way."""
    across = [i * 0.37 % 7 for i in range(count)]
    labels = [f"Can {i + 1} - {across[i]:.1f} m across, {i * 0.9:.1f} m along" for i in range(count)]
    return [Can(f"p{i + 1}", 0, 0, labels[i], across[i] / 7, i / count) for i in range(count)]


asked = st.query_params
drafts = Drafts()
draft = asked.get("draft", "")
if not drafts.exists(draft):
    draft = drafts.start(title="Entry")
    st.query_params["draft"] = draft
rows, columns = int(asked.get("rows", 6)), int(asked.get("columns", 8))
cans = {
    "grid": lambda: grid(rows, columns),
    "staggered": lambda: grid(rows, columns, lengths=(0, -1), shift=(0.0, 0.5)),
    "points": lambda: points(rows * columns),
}[asked.get("lay", "grid")]()


@st.fragment
def entry():
    """The component alone, so that a reading does not run the page."""
    entered = draft_entry(drafts, draft, cans, decimal=asked.get("decimal", "."), key="readings")
    if entered.fault:
        st.error(entered.fault)
    for clash in drafts.clashes(draft, entered.device):
        st.text(clash.says)


shown = st.toggle("Enter readings", value=True, key="shown")
if shown:
    entry()
