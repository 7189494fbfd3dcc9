"""Keys of a record in plain words: what a person who fills a field wants to know, and names without file wording."""

from __future__ import annotations

import re

from .keys import about_key
from .model import Record
from .places import line_named

_ITEMS = {"pressures": "gauge", "head_flows": "bottle", "patches": "patch", "beds": "bed", "other_supplies": "tap",
          "other_heads": "other heads"}
_KEY = (r"\b(?:test|run|floor|cans|heads|lines|supply|other_supplies|other_heads|pressures|"
        r"head_flows|patches|target|crop|care)"
        r"(?:(?:\[\d+\])?(?:\.[a-z_]+(?:\[\d+\])?)+|\[\d+\])")

TOLD = {
    "run.duration": "From opening the valve to closing it. Where lines ran one after the other: the time of one line.",
    "floor.width": "Across the lines, from the left edge to the right edge of the ground that is to be watered.",
    "floor.length": "Along the lines, from the inlet end wall to the far end wall.",
    "cans.reads": "Volume: what a measuring cup or syringe shows. Depth: a rain gauge, or a ruler held in the can. "
                  "Weight: the full can on a scale; the empty can's weight is taken off.",
    "cans.unit": "One unit for all readings. mL, L and fl oz are volumes; mm, cm and in are depths; g is a weight.",
    "cans.opening": "Measured inside the rim, where the water falls in, not at the foot. All cans are alike.",
    "cans.opening_area": "For cans that are not round. Give this or the diameter, not both.",
    "cans.tare": "One dry can on the same scale.",
    "cans.across": "One distance for each column of cans, from the left edge; a unit after the last serves them all.",
    "cans.along": "One distance for each row of cans, from the inlet end wall; a unit after the last serves them all.",
    "cans.stagger": "For cans set like bricks: the first, third, ... row is moved to the left by this much, the "
                    "others to the right. Leave it empty for straight rows.",
    "cans.placed_within": "How far a can may stand from its mark: about 5 cm (2 in) with a tape, more where paced. The "
                          "estimate of the whole floor allows for it.",
    "heads.flow": "From the maker's sheet, at the pressure beside it.",
    "heads.wetted_diameter": "From the maker's sheet, or measured: twice the farthest reach of the drops.",
    "lines.name": "What you call it, without colon or comma. Gauge readings refer to it.",
    "lines.spacing": "Where the heads are evenly spaced: with the first head and their number it gives all places.",
    "lines.heads_at": "The distance of every head from the inlet end wall, instead of first head, spacing and number.",
    "lines.fed_from": "Near: at the inlet end wall. Far: at the other end. Middle: at a tee half way.",
    "lines.pipe": "Measured across the inside of a cut end, or from the maker's sheet. The name of a size, such as 3/4 "
                  "in, is often not the bore.",
    "run.lines": "Together: all ran at once and shared the water. In turn: one after the other, each with all of it.",
    "run.sides": "Open sides let wind in, which carries the drops; a test of the system is made with them closed.",
    "run.wind": "As felt or measured between the cans, not outside.",
    "run.water": "Of the water in the line. It changes friction a little; leave it empty if it was not measured.",
    "run.metered": "The meter after the run less the meter before it. It is held against the nominal flow of "
                   "all heads, and against what reached the floor.",
    "cans.exposed": "From the first drops to the reading. With control cans, what dried off meanwhile is added again.",
    "cans.evaporation.end": "One reading for each control can, with a semicolon between them.",
    "cans.evaporation.time": "From filling the control cans to reading them.",
    "test.purpose": "Commissioning: a new system. Diagnosis: something looks wrong. Recheck: after a repair. Survey: "
                    "one of many.",
    "test.tunnel": "The same name at every test of this tunnel lets them be compared.",
    "test.zone": "The part of the system that one valve runs.",
    "target.du_low_quarter": "What installer and owner agreed that the test should reach, from 1 to 100, with or "
                             "without the sign. The handover says whether it was met.",
    "supply.kind": "Mains, a pump alone, a pump that fills a pressure tank, or a tank that stands higher.",
    "supply.hose.length": "All that the water runs through from the tap to the regulator, also what lies coiled.",
    "supply.static": "Read at the supply with all valves shut.",
    "supply.regulator.set": "What is stamped on it, or what it is screwed to.",
    "supply.height": "Above the floor. Every metre that heads hang higher costs about 10 kPa (1.4 psi).",
    "pressures.at": "Supply: at the tap or pump. Line: beside a head, whose line and number are asked for here.",
    "pressures.value": "While the water ran.",
    "pressures.line": "Its name as above, for a gauge that was read on a line.",
    "pressures.height": "Above the floor. Where it is far from the heads, the difference in height is allowed for.",
}


def without_keys(text: str, record: Record) -> str:
    """Write a sentence without the keys of the file, for a reader who sees neither file nor fields.

    Parameters
    ----------
    text : str
        Such as a caution of the result: ``lines[1].pipe: received 2 m, ...``.
    record : Record
        What it is about; its lines have names.

    Returns
    -------
    str
        ``The inside diameter of the tube (line left): received 2 m, ...``; a key in brackets is left out.
    """
    said = re.sub(_KEY, lambda found: _spoken(found[0], record), re.sub(rf" \({_KEY}\)", "", text))
    return said[:1].upper() + said[1:] if said != text else text


def _spoken(key: str, record: Record) -> str:
    path = [int(part) - 1 if part.isdigit() else str(part) for part in re.findall(r"[a-z_]+|\d+", key)]
    item = next((_item(str(path[at - 1]), part, record) for at, part in enumerate(path) if isinstance(part, int)), "")
    words = [part for part in path if isinstance(part, str)]
    if item and path[-1:] == [path[1]]:
        return item
    about = re.split(r",? such as |[,;(]", about_key(tuple(path)))[0].strip()
    is_name = about.startswith(("the ", "how ", "what ", "where ", "whether "))
    name = about if is_name else "the " + " of the ".join(word.replace("_", " ") for word in reversed(words))
    return f"{name} ({item})" if item else name


def _item(section: str, number: int, record: Record) -> str:
    if section == "lines" and record.lines and number < len(record.lines):
        return line_named(record.lines[number].name)
    return f"{_ITEMS.get(section, section)} {number + 1}"
