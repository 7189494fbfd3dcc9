"""Before and after: a test beside the one that it follows up."""

from __future__ import annotations

import numpy as np
import streamlit as st

from ..changes.recheck import relative
from ..figures.depth import change_map, difference_map
from ..record.model import Record
from ..result.model import Result
from . import hall


def before_and_after(record: Record, result: Result, units: str) -> None:
    """Show what changed since the test that this one follows up; nothing where there is none."""
    if any(closed.part == "rechecks" for closed in result.not_done):
        st.text(f"The test that this one follows up ({record.test.rechecks}) is not among the saved ones, or its floor "
                "cannot be estimated: open its record and save it to see both beside each other.")
    found = result.recheck
    if found is None:
        return
    st.subheader("Before and after")
    st.text(f"Held against: {', '.join(part for part in (found.title, found.date) if part)}.")
    for says in (*found.says, *found.unlike):
        st.text(says)
    look, size = hall.look(system=units), (record.floor.width.si, record.floor.length.si)
    floors = (found.floor, result.floor)
    like = all(np.array_equal(getattr(found.floor, axis), getattr(result.floor, axis)) for axis in ("x", "y", "ground"))
    if not like:
        st.text("The floors of the two tests differ, so their maps are not drawn beside each other.")
        return
    places = [np.array([head[2:] for head in floor.heads], float).reshape(-1, 2) for floor in floors]
    depth = [relative(floor) for floor in floors]
    columns = st.columns(3)
    for place, name, floor, part, heads in zip(columns, ("before", "now"), floors, depth, places, strict=False):
        with place:
            st.text(f"The ground {name}")
            hall.chart(change_map(floor, part, heads, size, look), f"recheck {name}", f"The ground {name}")
    with columns[2]:
        st.text("What changed")
        hall.chart(difference_map(result.floor, 100 * (depth[1] - depth[0]), places[1], size, look), "recheck change",
                   "Change of the ground in points of the mean")
