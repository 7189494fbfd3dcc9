"""Assessing a record: the result as figures, frames, arrays, a plot, text and JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ..cans.dry_spots import PART_OF_MEAN
from ..record.checks import build
from ..record.model import Record, to_plain
from ..result.model import AtTheCans, NotDone, Result, WholeFloorFigures
from .arrays import Array

if TYPE_CHECKING:
    import pandas as pd

    from ..changes.fixes.search import TriedChange
    from ..planning.plan import PlannedTest

SYSTEMS = ("metric", "US")
LAYERS = ("heads", "cans", "sure")


@dataclass(frozen=True)
class FloorMap:
    """The estimate for all the ground as arrays.

    Attributes
    ----------
    x : array (c,) [m]
        Middles of the columns, across from the left edge.
    y : array (r,) [m]
        Middles of the rows, along from the inlet end wall.
    depth : array (r, c) [mm]
        Depth; nan on ground that does not count.
    sd : array (r, c) [mm]
        Its standard deviation.
    """

    x: Array
    y: Array
    depth: Array
    sd: Array


@dataclass(frozen=True, repr=False)
class Assessment:
    """Everything that an assessment says about one test; frames and arrays are metric, sentences in `system`.

    Every index at the cans is an attribute: ``cu``, ``du_low_quarter`` and the others of the table [%] or [1].

    Attributes
    ----------
    record : Record
        What was tested.
    result : Result
        The same as dataclasses, as the JSON has it.
    system : str
        ``metric`` or ``US``: units in sentences.
    part_of_mean : float [1]
        Ground under this part of the mean is a dry spot.
    """

    record: Record
    result: Result = field(repr=False)
    system: str = "metric"
    part_of_mean: float = PART_OF_MEAN

    @property
    def at_the_cans(self) -> AtTheCans:
        """The indices of the cans themselves."""
        return self.result.at_the_cans

    @property
    def whole_floor(self) -> WholeFloorFigures | None:
        """The estimates for all the ground with their 90 % intervals; None where `not_done` says why."""
        return self.result.whole_floor

    @property
    def cautions(self) -> list[str]:
        """What to mind before the figures are trusted."""
        return self.result.cautions

    @property
    def not_done(self) -> list[NotDone]:
        """Parts that are closed, each with the keys of the record that would open it."""
        return self.result.not_done

    @property
    def cans(self) -> pd.DataFrame:
        """The cans, one a row, in the record's order."""
        from .frames import cans_frame

        return cans_frame(self.result)

    @property
    def heads(self) -> pd.DataFrame:
        """The heads with their outputs, in the record's order; empty without heads in the record."""
        from .frames import HEADS, frame_of

        return frame_of(self.result.heads, HEADS)

    @property
    def dry_spots(self) -> pd.DataFrame:
        """Dry ground, driest first."""
        from .frames import DRY_SPOTS, frame_of

        return frame_of(self.result.dry_spots, DRY_SPOTS)

    @property
    def causes(self) -> pd.DataFrame:
        """What may be wrong, strongest first; hypotheses."""
        from .frames import CAUSES, frame_of

        return frame_of(self.result.causes, CAUSES)

    @property
    def fixes(self) -> pd.DataFrame:
        """What would mend it: what is at fault, then the cheapest first."""
        from .frames import FIXES, frame_of

        return frame_of(self.result.fixes, FIXES)

    @property
    def floor(self) -> FloorMap | None:
        """The estimate for all the ground on its map; None where `not_done` says why."""
        floor = self.result.floor
        return None if floor is None else FloorMap(floor.x, floor.y, floor.depth_mm, floor.sd_mm)

    def plot(self, layer: str | None = None, *, relative: bool = True) -> Any:
        """Draw the depth map with cans, heads, dry ground and patches.

        Parameters
        ----------
        layer : str, optional
            ``heads``: the estimate for all the ground; ``sure``: its standard deviation; ``cans``: the map of the cans
            alone. The first that there is if left out.
        relative : bool
            Percent of the mean instead of depth.

        Returns
        -------
        plotly.graph_objects.Figure

        Raises
        ------
        ValueError
            For another layer, or one that this test does not have.
        """
        from ..figures.depth import depth_map
        from ..figures.look import Look

        known = self.result.floor is not None
        layer = layer or ("heads" if known else "cans")
        if layer not in LAYERS or (layer != "cans" and not known):
            have = " or ".join(LAYERS if known else ("cans",))
            raise ValueError(f"received the layer {layer!r}, expected {have}, choose one that this test has")
        return depth_map(self.record, self.result, Look(system=self.system, layer=layer, relative=relative,
                                                        part_of_mean=self.part_of_mean))

    def text(self) -> str:
        """Write it as `evenfall assess` does, in 80 columns.

        Returns
        -------
        str
        """
        from ..result.text import report_text

        return report_text(self.record, self.result, self.system, self.part_of_mean)

    def to_json(self) -> str:
        """Write it as `evenfall assess --json` does.

        Returns
        -------
        str
        """
        from ..result.as_json import to_json

        return to_json(self.result)

    def to_dict(self) -> dict[str, Any]:
        """The JSON as plain values.

        Returns
        -------
        dict
        """
        plain: dict[str, Any] = json.loads(self.to_json())
        return plain

    def __getattr__(self, name: str) -> float | None:
        if name.startswith("_") or name in ("record", "result"):  # asked for while a copy is made
            raise AttributeError(name)
        values = self.result.at_the_cans.values
        if name not in values:
            raise AttributeError(f"an assessment has no {name!r}; its indices are {', '.join(values)}")
        return values[name]

    def __repr__(self) -> str:
        whole = self.whole_floor
        floor = "" if whole is None else (f"; whole floor DUlq {whole.du_low_quarter.value:.0f} % "
                                          f"({whole.du_low_quarter.low:.0f} to {whole.du_low_quarter.high:.0f})")
        return (f"<Assessment of {self.record.test.title!r}: at the cans CU {self.at_the_cans.cu:.0f} %, DUlq "
                f"{self.at_the_cans.du_low_quarter:.0f} %{floor}>")


def assess(record: Record, system: str = "metric", *, part_of_mean: float = PART_OF_MEAN,
           earlier: Record | None = None) -> Assessment:
    """Assess one test.

    Parameters
    ----------
    record : Record
        From `read`, `from_grid`, `from_frame` or `simulate`.
    system : str
        ``metric`` or ``US``: units in sentences.
    part_of_mean : float [1]
        Ground under this part of the mean is a dry spot, 0.05 to 1.
    earlier : Record, optional
        The test that this one `rechecks`.

    Returns
    -------
    Assessment

    Raises
    ------
    ValueError
        For what is no record with readings, another system of units, or a part of the mean outside its limits.
    """
    from ..result.assessment import assess as assess_record

    record = with_readings(record, system)
    found = assess_record(record, part_of_mean=part_of_mean, system=system,
                          earlier=None if earlier is None else {earlier.test.id: earlier}.get,
                          rivals=True)
    return Assessment(record, found, system, part_of_mean)


def try_change(record: Record | Assessment, change: Mapping[str, Any], system: str = "metric") -> TriedChange:
    """Predict what a change would bring.

    Parameters
    ----------
    record : Record or Assessment
        With heads on lines; an assessment saves the time to estimate the whole floor again.
    change : dict of str to str
        Keys and values as `evenfall try` takes them: ``{"lines": "3", "first": "0.4 m"}``.
    system : str
        ``metric`` or ``US``: units in sentences.

    Returns
    -------
    TriedChange
        With `today`, `fix` (what it would bring) and `supply`.

    Raises
    ------
    ValueError
        For a change that is unknown, contradicts another or does not fit, or where heads or lines are missing.
    """
    from ..cans.catch import read_catch
    from ..causes.explained import floor_today
    from ..changes.change import changed_site, read_changes
    from ..changes.fixes.search import try_change as try_read
    from ..record.site import site_of

    asked = read_changes([f"{key}={value}" for key, value in change.items()])
    known = record if isinstance(record, Assessment) else None
    checked = with_readings(record if known is None else known.record, system)
    if not checked.lines:
        raise ValueError("received a record without lines, expected [[lines]] with the places of their heads, add them "
                         "before a change is tried")
    site = site_of(checked)
    changed_site(site, asked)  # a change that does not fit is said before the work begins
    floor = known.result.floor if known is not None else None
    return try_read(site, floor or floor_today(site, read_catch(site)), asked, system)


def plan(record: Record, cans: int | None = None, system: str = "metric") -> PlannedTest:
    """Plan a test, and how many lines the floor takes, before there are readings.

    Parameters
    ----------
    record : Record
        With a floor; read it with ``read(..., planning=True)`` while there are no cans or readings.
    cans : int, optional
        How many cans there are; as many as are enough if left out.
    system : str
        ``metric`` or ``US``: units in sentences, and the marks of the tape on which cans fall.

    Returns
    -------
    PlannedTest

    Raises
    ------
    ValueError
        For a number of cans outside the limits, or a floor that takes too many heads for one zone.
    """
    from ..planning.plan import plan_of
    from ..record.site import site_of

    _check(record, system)
    return plan_of(site_of(record), cans=cans, units=system)


def _check(record: Any, system: str) -> None:
    if not isinstance(record, Record):
        raise ValueError(f"received a {type(record).__name__}, expected a record, make one with evenfall.read, "
                         "from_grid or from_frame")
    if system not in SYSTEMS:
        raise ValueError(f"received the units {system!r}, expected {' or '.join(SYSTEMS)}, choose one")


def with_readings(record: Any, system: str = "metric") -> Record:
    """Check a record that was read for planning, or changed by hand, as a test must be.

    Parameters
    ----------
    record : object
        What was handed in.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    Record

    Raises
    ------
    ValueError
        For what is no record with readings, or another system of units.
    """
    _check(record, system)
    return build(to_plain(record))
