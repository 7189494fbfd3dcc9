"""Whether the cans hold about as much water as the heads can give, and whether their readings can be readings."""

from __future__ import annotations

from math import cos

from ..record.doubts import Doubt
from ..record.keys import path_order
from ..record.site import Site
from ..record.site_lines import HALF
from ..record.types import FLOOR_PARTS
from .catch import Catch
from .slips import find_slips

# In 300 simulated tunnels the cans held 0.3 to 1.4 times as much as is reckoned here (own measurement), and twice the
# nominal pressure gives 1.4 times the flow, a twentieth of it 0.2 times.
TOO_WET, TOO_DRY = 2.0, 0.2
_CLOSES = (*FLOOR_PARTS, "watering")


def wetness(site: Site, catch: Catch) -> float | None:
    """Hold the cans' water against what the heads can give.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.

    Returns
    -------
    float or None [1]
        Mean of the cans / (all heads' nominal flow while their lines ran, over the ground that these wet); None where
        flows or wetted diameters are not in the record. A line wets a strip as wide as the diameter (on the side that
        its arcs face) and as much longer than its heads, as far as the floor goes.
    """
    given, wet = 0.0, 0.0
    for number in site.from_the_left():
        line = site.lines[number]
        if line.flow is None or line.diameter is None:
            return None
        if any(kind.flow is None for kind in line.kinds):
            return None
        given += line.ran * (line.flow * (len(line.along) - len(line.others))
                             + sum(kind.flow or 0.0 for _, kind in line.others))
        throw = line.diameter / 2
        left, right = (throw if line.facing is None or line.arc > HALF + 0.1 or way * cos(line.facing) > -0.5 else 0.0
                       for way in (-1, 1))
        across = min(line.x + right, site.width) - max(line.x - left, 0.0)
        along = min(line.along.max() + throw, site.length) - max(line.along.min() - throw, 0.0)
        wet += max(across, 0.0) * max(along, 0.0)
    wet = min(wet, site.width * site.length)
    if not given or not wet or not catch.counted.any():
        return None
    return float(catch.read_mm[catch.counted].mean() / (given / wet * 1e3))


def all_doubts(site: Site, catch: Catch) -> list[Doubt]:
    """List every value that is hard to believe, cans that hold more or much less water than there was, and slips.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.

    Returns
    -------
    list of Doubt
        In the record's order.
    """
    found = [*site.doubts, *_out_of_balance(site, catch)]
    for slip in find_slips(site.cans.readings, catch.row, catch.column):
        found.append(_of_cans(slip.says, slip.certain))
    return sorted(found, key=lambda doubt: path_order(doubt.path))


def _out_of_balance(site: Site, catch: Catch) -> list[Doubt]:
    part = wetness(site, catch)
    if part is None or TOO_DRY <= part <= TOO_WET:
        return []
    told = f"{part:.1f} times" if part > TOO_WET else f"{part:.1g} of"
    return [_of_cans(f"received readings of {told} the water that these heads give in {site.record.run.duration.text}, "
                     "expected about as much, check the readings' unit, the cans' opening, the heads' flow and the "
                     "run's length")]


def _of_cans(says: str, closes: bool = True) -> Doubt:
    left_out = "; until then left out: whole floor, fixes, watering" if closes else ""
    return Doubt(("cans",), f"cans: {says}{left_out}.", _CLOSES if closes else ())
