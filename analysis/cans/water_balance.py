"""Whether the cans hold about as much water as the heads can give."""

from __future__ import annotations

from ..record.doubts import Doubt, doubts
from ..record.keys import path_order
from ..record.model import Record
from ..record.places import head_places, lines_from_the_left, of_line
from ..record.types import FLOOR_PARTS
from .catch import Catch

# In 300 simulated tunnels the cans held 0.3 to 1.4 times as much as is reckoned here (own measurement), and twice the
# nominal pressure gives 1.4 times the flow.
TOO_WET = 2.0


def wetness(record: Record, catch: Catch) -> float | None:
    """Hold the cans' water against what the heads can give.

    Parameters
    ----------
    record : Record
        Checked.
    catch : Catch
        Its cans.

    Returns
    -------
    float or None [1]
        Mean of the cans / (all heads' nominal flow over the ground that their lines wet); None where flows or wetted
        diameters are not in the record. A line wets a strip as wide as the diameter and as much longer than its heads,
        as far as the floor goes.
    """
    flow, wet = 0.0, 0.0
    for line in lines_from_the_left(record):
        each, wide, places = of_line(record, line, "flow"), of_line(record, line, "wetted_diameter"), head_places(line)
        if each is None or wide is None or not places:
            return None
        flow += each.si * len(places)
        across = min(line.x.si + wide.si / 2, record.floor.width.si) - max(line.x.si - wide.si / 2, 0.0)
        along = min(max(places) + wide.si / 2, record.floor.length.si) - max(min(places) - wide.si / 2, 0.0)
        wet += max(across, 0.0) * max(along, 0.0)
    wet = min(wet, record.floor.width.si * record.floor.length.si)
    if not flow or not wet or not catch.counted.any():
        return None
    given_mm = flow * record.run.duration.si / wet * 1e3
    return float(catch.read_mm[catch.counted].mean() / given_mm)


def all_doubts(record: Record, catch: Catch) -> list[Doubt]:
    """List every value that is hard to believe, and cans that hold more water than there was.

    Parameters
    ----------
    record : Record
        Checked.
    catch : Catch
        Its cans.

    Returns
    -------
    list of Doubt
        In the record's order.
    """
    found, part = doubts(record), wetness(record, catch)
    if part is not None and part > TOO_WET:
        found.append(Doubt(("cans",), (
            f"cans: received readings of {part:.1f} times the water that these heads give in "
            f"{record.run.duration.text}, expected about as much, check the readings' unit, the cans' opening, the "
            "heads' flow and the run's length; until then left out: whole floor, fixes, watering."),
            (*FLOOR_PARTS, "watering")))
    return sorted(found, key=lambda doubt: path_order(doubt.path))
