"""The set-up's fields: in which box each stands, its label, and an example in metric and US units."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Field:
    """One field of the set-up."""

    key: str  # dotted key of the record; # stands for the number of a list's item
    label: str  # what the person reads; # for the item counted from 1
    metric: str = ""  # examples, shown while the field is empty
    us: str = ""

    def example(self, system: str) -> str:
        """The example in one system of units."""
        return self.us if system == "US" and self.us else self.metric


NEEDED, CANS, HEADS = "Needed", "Where the cans stand", "Heads and lines"
RUN, BEDS = "How it was run", "Beds: the cropped ground, if it is not the whole floor"
ABOUT, SUPPLY = "About the test", "Pressures and supply"

# Groups of fields in reading order: (box, part of it) -> fields.
GROUPS: dict[tuple[str, str], tuple[Field, ...]] = {
    (NEEDED, "first"): (
        Field("test.title", "Title of this test", "Tunnel 4 before the first planting"),
        Field("run.duration", "How long each line ran", "30 min"),
        Field("floor.width", "Width of the floor", "7.6 m", "25 ft"),
        Field("floor.length", "Length of the floor", "22 m", "72 ft"),
    ),
    (NEEDED, "reads"): (
        Field("cans.reads", "What is read from the cans"),
        Field("cans.unit", "Unit of the readings", "mL"),
    ),
    (NEEDED, "opening"): (
        Field("cans.opening", "Inside diameter of a can's opening", "84 mm", "3 1/4 in"),
        Field("cans.opening_area", "or its area", "55 cm2", "8.3 in2"),
    ),
    (NEEDED, "tare"): (Field("cans.tare", "Weight of the empty can", "12 g"),),
    (CANS, "places"): (
        Field("cans.across", "Across: each column from the left edge", "0.6 m, 1.9 m, 3.2 m", "2 ft, 6 ft, 10 ft"),
        Field("cans.along", "Along: each row from the inlet end wall", "1.2 m, 3.6 m, 6 m", "4 ft, 12 ft, 20 ft"),
        Field("cans.stagger", "Stagger: odd rows this far to the left, even rows to the right", "0.3 m", "1 ft"),
        Field("cans.placed_within", "How well the cans stand where they should", "5 cm", "2 in"),
    ),
    (HEADS, "heads"): (
        Field("heads.flow", "Flow of one head", "40 L/h", "0.18 gpm"),
        Field("heads.at", "at this pressure at the head", "200 kPa", "30 psi"),
        Field("heads.wetted_diameter", "Diameter that one head wets", "5.5 m", "18 ft"),
        Field("heads.height", "Height of the heads above the floor", "2.1 m", "7 ft"),
    ),
    (HEADS, "line"): (
        Field("lines.#.name", "Name of line #", "left"),
        Field("lines.#.x", "How far it runs from the left edge", "1.9 m", "6 ft"),
        Field("lines.#.first", "First head from the inlet end wall", "1.0 m", "3 ft"),
        Field("lines.#.spacing", "From head to head", "0.75 m", "2 ft 6 in"),
        Field("lines.#.count", "Number of heads", "27"),
        Field("lines.#.heads_at", "or each head, where they are uneven", "1.0 m, 1.8 m, 2.7 m", "3 ft, 6 ft, 9 ft"),
        Field("lines.#.fed_from", "Where water enters"),
        Field("lines.#.pipe", "Inside diameter of the tube", "20.9 mm", "0.82 in"),
    ),
    (HEADS, "turn"): (Field("run.lines", "How the lines ran"),),
    (RUN, "run"): (
        Field("run.sides", "Sides of the tunnel"),
        Field("run.wind", "Wind at the floor", "0.3 m/s", "1 mph"),
        Field("run.water", "Temperature of the water", "16 C", "61 F"),
        Field("run.metered", "Water meter over the run", "1020 L", "270 gal"),
        Field("cans.exposed", "How long water stood in the cans, on average", "55 min"),
        Field("cans.weights", "Ground each can stands for: equal, or nearest area", "equal"),
    ),
    (RUN, "control"): (
        Field("cans.evaporation.start", "Each held at the start (unit of the readings)", "50"),
        Field("cans.evaporation.end", "They held at the end", "49; 49.2; 49.1"),
        Field("cans.evaporation.time", "Time between the two", "45 min"),
    ),
    (BEDS, "bed"): (
        Field("floor.beds.#.from", "Bed #: from the left edge", "0.4 m", "16 in"),
        Field("floor.beds.#.to", "to", "1.3 m", "52 in"),
        Field("floor.beds.#.start", "begins along (empty: at the inlet end wall)", "1.2 m", "4 ft"),
        Field("floor.beds.#.end", "ends along (empty: at the far end wall)", "20.8 m", "68 ft"),
    ),
    (ABOUT, "about"): (
        Field("test.date", "Date", "2027-03-18"),
        Field("test.site", "Farm or garden"),
        Field("test.zone", "Zone"),
        Field("test.tunnel", "Tunnel, the same at every test of it", "T4"),
        Field("test.member", "Member"),
        Field("test.purpose", "What the test is for"),
        Field("test.rechecks", "Id of the test it follows up"),
        Field("test.by", "Made by"),
        Field("test.notes", "Notes"),
        Field("target.du_low_quarter", "Agreed DUlq in %", "75 %"),
    ),
    (SUPPLY, "supply"): (
        Field("supply.kind", "Supply"),
        Field("supply.static", "Pressure with nothing running", "400 kPa", "60 psi"),
        Field("supply.hose.length", "Length of the hose", "15 m", "50 ft"),
        Field("supply.hose.inside", "Inside diameter of the hose", "19 mm", "3/4 in"),
        Field("supply.regulator.set", "Regulator set to", "200 kPa", "30 psi"),
        Field("supply.height", "Height of the regulator", "0.5 m", "20 in"),
    ),
    (SUPPLY, "gauge"): (
        Field("pressures.#.at", "Gauge # was read at"),
        Field("pressures.#.value", "It read", "196 kPa", "28 psi"),
        Field("pressures.#.line", "Line", "left"),
        Field("pressures.#.head", "Beside head", "27"),
        Field("pressures.#.height", "Gauge's height", "2.1 m", "7 ft"),
    ),
}

_PLACES = {field.key: (field, box) for (box, _), fields in GROUPS.items() for field in fields}


def group(box: str, part: str, number: int = 0) -> list[Field]:
    """List the fields of a part of a box."""
    return [Field(field.key.replace("#", str(number)), field.label.replace("#", str(number + 1)),
                  field.metric, field.us)
            for field in GROUPS[box, part]]


def place_of(path: tuple) -> tuple[str, str, str] | None:
    """Find the field that shows a key: its label, box and item, such as ``line 2``; None where no field does."""
    for end in range(len(path), 0, -1):
        parts = path[:end]
        found = _PLACES.get(".".join("#" if isinstance(part, int) else part for part in parts))
        if found:
            number = next((part + 1 for part in parts if isinstance(part, int)), None)
            item = {"lines": "line", "beds": "bed", "pressures": "gauge"}
            kind = next((item[part] for part in parts if part in item), "") if number else ""
            field, box = found
            return field.label.replace("#", str(number)), box, f"{kind} {number}" if kind else ""
    return None
