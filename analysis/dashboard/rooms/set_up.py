"""Set up: the floor, the heads, the lines, the cans and the run."""

import streamlit as st
from evenfall.dashboard import form, hall
from evenfall.dashboard.fields import fields
from evenfall.dashboard.frame import onward
from evenfall.dashboard.line_names import settle
from evenfall.dashboard.plain_words import problems
from evenfall.dashboard.replacing import typed
from evenfall.dashboard.set_up_parts import about_line, another, cans_evenly, section, sketch, still_needed, take_out
from evenfall.entry.to_record import plain_of

test = settle(hall.current())
hall.heading("Set up the test", test)
plain, _ = plain_of(test.values)
record, faults, unread = hall.read(test)
found = problems(faults, plain, typed(test, plain))
units = hall.choose_units(test)
still_needed(test, found)
st.markdown(
    "Stand at the inlet end wall and look along the zone: **across** is measured from the left edge, **along** from "
    "that end wall. Write sizes with their unit, such as `7.6 m`, `25 ft` or `2 ft 6 in`. Every change is kept at once."
)
boxes_with_faults = {(form.place_of(problem.path) or ("", "", ""))[1] for problem in found}


def group(box: str, part: str, number: int = 0, columns: int = 2) -> None:
    """Fields of this test."""
    fields(test, plain, faults, form.group(box, part, number), units, columns)


def closed_box(title: str):
    """A box that opens by itself where something in it is missing, and stays open."""
    return section(test, title, title in boxes_with_faults)


st.subheader(form.NEEDED)
group(form.NEEDED, "first")
group(form.NEEDED, "reads")
reads = plain.get("cans", {}).get("reads", "volume")
if reads != "depth":
    group(form.NEEDED, "opening")
if reads == "weight":
    group(form.NEEDED, "tare")

st.subheader(form.CANS)
if {"rows", "points"} & set(plain.get("cans", {})):
    st.text("This test has rows of its own or free points; their places come from its record.")
else:
    cans_evenly(test, plain, units)
    group(form.CANS, "places")
sketch(plain, units)

st.subheader(form.HEADS)
st.text("Without them there are figures and a map of the cans; with them the map shows where the heads are.")
group(form.HEADS, "heads")
lines = plain.get("lines") or []
for number in range(len(lines)):
    with st.container(border=True):
        group(form.HEADS, "line", number)
        about_line(plain, number, units)
        take_out(test, plain, number)
another(test, plain)
if len(lines) > 1 or plain.get("run", {}).get("lines"):
    group(form.HEADS, "turn")

with closed_box(form.RUN):
    group(form.RUN, "run")
    st.text("Control cans, standing outside the spray, tell what dried off:")
    group(form.RUN, "control", columns=3)
with closed_box(form.BEDS):
    for number in range(len(plain.get("floor", {}).get("beds") or []) + 1):
        group(form.BEDS, "bed", number, columns=4)
with closed_box(form.ABOUT):
    group(form.ABOUT, "about")
with closed_box(form.SUPPLY):
    st.text("Causes, fixes and the plan use what stands here at once.")
    group(form.SUPPLY, "supply")
    for number in range(len(plain.get("pressures") or []) + 1):
        group(form.SUPPLY, "gauge", number, columns=5)

onward("Go on to the readings", hall.READINGS, test)
