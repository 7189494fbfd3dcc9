"""Set up: the floor, the heads, the lines, the cans and the run."""

import streamlit as st

from analysis.dashboard import hall
from analysis.dashboard.fields import fields
from analysis.dashboard.set_up_parts import another, cans_evenly, sketch, take_out
from analysis.draft_record import plain_of

test = hall.current()
hall.heading("Set up the test", test)
st.markdown(
    "Stand at the inlet end wall and look along the zone: **across** is measured from the left edge, **along** from "
    "that end wall. Write sizes with their unit, such as `7.6 m`, `25 ft` or `2 ft 6 in`. Every change is kept at once."
)
plain, _ = plain_of(test.values)
record, faults, unread = hall.read(test)
units = hall.choose_units(test)


def group(*wanted: tuple[str, str, str], columns: int = 2) -> None:
    """Fields of this test."""
    fields(test, plain, faults, list(wanted), columns)


st.subheader("Needed")
group(
    ("test.title", "Title of this test", "Tunnel 4 before the first planting"),
    ("run.duration", "How long each line ran", "30 min"),
    ("floor.width", "Width of the floor", "7.6 m"),
    ("floor.length", "Length of the floor", "22 m"),
)
reads = plain.get("cans", {}).get("reads", "volume")
group(
    ("cans.reads", "What is read from the cans", ""),
    ("cans.unit", "Unit of the readings", "mL"),
)
if reads != "depth":
    group(("cans.opening", "Inside diameter of a can's opening", "84 mm"),
          ("cans.opening_area", "or its area", "55 cm2"))
if reads == "weight":
    group(("cans.tare", "Weight of the empty can", "12 g"))

st.subheader("Where the cans stand")
if {"rows", "points"} & set(plain.get("cans", {})):
    st.text("This test has rows of its own or free points; their places come from its record.")
else:
    cans_evenly(test, plain, units)
    group(
        ("cans.across", "Across: each column from the left edge", "0.6 m, 1.9 m, 3.2 m"),
        ("cans.along", "Along: each row from the inlet end wall", "1.2 m, 3.6 m, 6 m"),
        ("cans.stagger", "Stagger: odd rows this far to the left, even rows to the right", "0.3 m"),
        ("cans.placed_within", "How well the cans stand where they should", "5 cm"),
    )

st.subheader("Heads and lines")
st.text("Without them there are figures and a map of the cans; with them the map shows where the heads are.")
group(
    ("heads.flow", "Flow of one head", "40 L/h"),
    ("heads.at", "at this pressure at the head", "200 kPa"),
    ("heads.wetted_diameter", "Diameter that one head wets", "5.5 m"),
    ("heads.height", "Height of the heads above the floor", "2.1 m"),
)
for number in range(len(plain.get("lines") or [])):
    with st.container(border=True):
        at = f"lines.{number}"
        group(
            (f"{at}.name", f"Name of line {number + 1}", "left"),
            (f"{at}.x", "How far it runs from the left edge", "1.9 m"),
            (f"{at}.first", "First head from the inlet end wall", "1.0 m"),
            (f"{at}.spacing", "From head to head", "0.75 m"),
            (f"{at}.count", "Number of heads", "27"),
            (f"{at}.heads_at", "or each head, where they are uneven", "1.0 m, 1.8 m, 2.7 m"),
            (f"{at}.fed_from", "Where water enters", ""),
            (f"{at}.pipe", "Inside diameter of the tube", "20.9 mm"),
        )
        take_out(test, plain, number)
another(test, plain)

with st.expander("How it was run"):
    group(
        ("run.lines", "Lines ran", ""),
        ("run.sides", "Sides of the tunnel", ""),
        ("run.wind", "Wind at the floor", "0.3 m/s"),
        ("run.water", "Temperature of the water", "16 C"),
        ("run.metered", "Water meter over the run", "1020 L"),
        ("cans.exposed", "How long water stood in the cans, on average", "55 min"),
        ("cans.weights", "Ground each can stands for: equal, or nearest area", "equal"),
    )
    st.text("Control cans, standing outside the spray, tell what dried off:")
    group(
        ("cans.evaporation.start", "Each held at the start (unit of the readings)", "50"),
        ("cans.evaporation.end", "They held at the end", "49; 49.2; 49.1"),
        ("cans.evaporation.time", "Time between the two", "45 min"),
        columns=3,
    )
with st.expander("Beds: the cropped ground, if it is not the whole floor"):
    beds = plain.get("floor", {}).get("beds") or []
    for number in range(len(beds) + 1):
        at = f"floor.beds.{number}"
        group(
            (f"{at}.from", f"Bed {number + 1}: from the left edge", "0.4 m"), (f"{at}.to", "to", "1.3 m"),
            (f"{at}.start", "begins along", "the inlet end wall"), (f"{at}.end", "ends along", "the far end wall"),
            columns=4,
        )
with st.expander("About the test"):
    group(
        ("test.date", "Date", "2027-03-18"), ("test.site", "Farm or garden", ""), ("test.zone", "Zone", ""),
        ("test.tunnel", "Tunnel, the same at every test of it", "T4"), ("test.member", "Member", ""),
        ("test.purpose", "What the test is for", ""), ("test.rechecks", "Id of the test it follows up", ""),
        ("test.by", "Made by", ""), ("test.notes", "Notes", ""), ("target.du_low_quarter", "Agreed DUlq in %", "75"),
    )
with st.expander("Pressures and supply (kept in the record for later)"):
    group(
        ("supply.kind", "Supply", ""), ("supply.static", "Pressure with nothing running", "400 kPa"),
        ("supply.hose.length", "Length of the hose", "15 m"),
        ("supply.hose.inside", "Inside diameter of the hose", "19 mm"),
        ("supply.regulator.set", "Regulator set to", "200 kPa"), ("supply.height", "Height of the regulator", "0.5 m"),
    )
    pressures = plain.get("pressures") or []
    for number in range(len(pressures) + 1):
        at = f"pressures.{number}"
        group(
            (f"{at}.at", f"Gauge {number + 1} was read at", ""), (f"{at}.value", "It read", "196 kPa"),
            (f"{at}.line", "Line", "left"), (f"{at}.head", "Beside head", "27"),
            (f"{at}.height", "Gauge's height", "2.1 m"),
            columns=5,
        )

st.subheader("Plan")
sketch(plain, units)
hall.show_faults([fault for fault in faults if fault.path[:2] not in (("cans", "grid"), ("cans", "points"))], [])
st.page_link(hall.READINGS, label="Go on to the readings", query_params={"draft": test.draft})
