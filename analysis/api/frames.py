"""The lists of a result as frames, an entry a column: its name with the unit, and where it comes from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from ..result.model import Result

Columns = Mapping[str, Callable[[Any], Any]]



HEADS: Columns = {
    "line": lambda head: head.line, "number": lambda head: head.number, "x [m]": lambda head: head.x_m,
    "y [m]": lambda head: head.y_m, "output [1]": lambda head: head.output, "low [1]": lambda head: head.low,
    "high [1]": lambda head: head.high, "trend [1]": lambda head: head.trend, "suspect": lambda head: head.suspect,
    "or": lambda head: tuple(head.or_),
}
DRY_SPOTS: Columns = {
    "where": lambda spot: spot.where, "x [m]": lambda spot: spot.x_m, "y [m]": lambda spot: spot.y_m,
    "area [m2]": lambda spot: spot.area_m2, "depth [mm]": lambda spot: spot.depth_mm,
    "of mean [1]": lambda spot: spot.of_mean, "low [1]": lambda spot: spot.interval[0] if spot.interval else None,
    "high [1]": lambda spot: spot.interval[1] if spot.interval else None, "kind": lambda spot: spot.kind,
    "beyond the cans": lambda spot: spot.beyond_the_cans, "map": lambda spot: spot.map,
}
CAUSES: Columns = {
    "cause": lambda cause: cause.cause, "where": lambda cause: cause.where, "says": lambda cause: cause.says,
    "strength [1]": lambda cause: cause.strength, "check next": lambda cause: cause.check_next,
    "kind": lambda cause: cause.kind, "group": lambda cause: tuple(cause.group),
}
FIXES: Columns = {
    "name": lambda fix: fix.name, "says": lambda fix: fix.says, "change": lambda fix: dict(fix.change),
    "DUlq [%]": lambda fix: fix.du_low_quarter.value, "DUlq low [%]": lambda fix: fix.du_low_quarter.low,
    "DUlq high [%]": lambda fix: fix.du_low_quarter.high, "CU [%]": lambda fix: fix.cu.value,
    "CU low [%]": lambda fix: fix.cu.low, "CU high [%]": lambda fix: fix.cu.high,
    "rate [mm/h]": lambda fix: fix.rate_mm_h, "flow [L/h]": lambda fix: fix.flow_l_h,
    "feasible": lambda fix: fix.feasible, "why not": lambda fix: fix.why_not,
    "largest gain": lambda fix: fix.largest_gain, "warnings": lambda fix: tuple(fix.warnings),
    "parts": lambda fix: {part.item: part.count for part in fix.parts}, "cautions": lambda fix: tuple(fix.cautions),
}


def frame_of(items: Sequence[Any], columns: Columns) -> pd.DataFrame:
    """Make a frame with one item a row.

    Parameters
    ----------
    items : sequence
        Of a result.
    columns : dict of str to callable
        Name of each column -> its value in an item.

    Returns
    -------
    pandas.DataFrame
        With all the columns where there is no item.
    """
    import pandas as pd

    return pd.DataFrame({name: [value(item) for item in items] for name, value in columns.items()})


def cans_frame(result: Result) -> pd.DataFrame:
    """Make a frame with one can a row, in the record's order.

    Parameters
    ----------
    result : Result
        Of a test.

    Returns
    -------
    pandas.DataFrame
    """
    import pandas as pd

    cans = result.cans
    return pd.DataFrame({
        "can": [cans.name(number) for number in range(len(cans.x))], "x [m]": cans.x, "y [m]": cans.y,
        "as read [mm]": cans.read_mm, "depth [mm]": cans.depth_mm, "weight [1]": cans.weight,
        "state": list(cans.state), "why": list(cans.why)})
