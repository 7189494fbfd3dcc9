"""The site: everything about places and hardware that a record says, resolved once.

What a line does not say is taken from `[heads]`; what nobody says is None here and nan in the arrays of heads. Sizes
are SI. Rooms behind this one take a `Site`; `record` and the sections are for texts that must be said again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..units.shown import system_of
from .checks import build
from .doubts import Doubt, doubts
from .ground import Array, Ground
from .model import Cans, Crop, HeadFlow, Line, OtherSupply, Pressure, Record, Supply
from .places import all_readings, bed_edges, can_places, head_places, of_line, row_lengths, set_aside_numbers

PLACED_WITHIN = 0.05    # [m] how well cans stand where they should, where the record does not say; from memory
HOLDS_BELOW = 0.05      # [1] an exponent under it is that of a head that holds its flow
_OWN = ("flow", "at", "wetted_diameter", "exponent", "opens_at", "closes_at")


@dataclass(frozen=True)
class SiteLine:
    """A line with the kind of head that hangs on it; SI, None where nobody says.

    Attributes
    ----------
    name : str
        As in the record.
    x : float [m]
        Where it runs.
    along : array (k,) [m]
        y of its heads, nearest the inlet end wall first; empty where the record does not say.
    flow : float or None [m3/s]
        Nominal flow of one head ...
    at : float or None [Pa]
        ... at this pressure.
    diameter : float or None [m]
        That one head wets.
    exponent : float or None [1]
        x in q = k p^x; 0 for a head that holds its flow.
    regulated : bool
        Whether the record says that the flow is held.
    opens_at, closes_at : float or None [Pa]
        Of an anti-drip valve.
    head_height : float or None [m]
        Of the heads above the floor, as `[heads]` says.
    tube_height : float or None [m]
        Of the tube above the floor.
    bore : float or None [m]
        Inside diameter of the tube.
    fed_from : str or None
        ``near``, ``far`` or ``middle``.
    rise : float [m]
        Far end above inlet end; 0 where nobody says.
    feed : float [m]
        Tube from the tee to the line; 0 where nobody says.
    ran : float [s]
        How long it ran: its own time, else the run's.
    """

    name: str
    x: float
    along: Array
    flow: float | None
    at: float | None
    diameter: float | None
    exponent: float | None
    regulated: bool
    opens_at: float | None
    closes_at: float | None
    head_height: float | None
    tube_height: float | None
    bore: float | None
    fed_from: str | None
    rise: float
    feed: float
    ran: float

    @property
    def holds_flow(self) -> bool:
        """Whether its heads hold their flow above their nominal pressure."""
        return self.regulated or (self.exponent is not None and self.exponent < HOLDS_BELOW)


@dataclass(frozen=True)
class SiteHeads:
    """Every head, line by line in the record's order, number 1 nearest the inlet end wall; arrays of shape (m,).

    Attributes
    ----------
    x, y : array [m]
        Places.
    line : array of int [1]
        Its line, an index into the site's lines.
    number : array of int [1]
        Counted from 1 along its line.
    name : tuple of str
        Of each head's line.
    flow : array [m3/s]
        Nominal; nan where nobody says, as in all that follow.
    at : array [Pa]
        Pressure for that flow.
    radius : array [m]
        Throw radius.
    exponent : array [1]
        x in q = k p^x.
    holds_flow : array of bool
        Whether it holds its flow above its nominal pressure.
    opens_at, closes_at : array [Pa]
        Of its anti-drip valve.
    height : array [m]
        Above the floor.
    ran : array [s]
        How long its line ran.
    """

    x: Array
    y: Array
    line: NDArray[np.int_]
    number: NDArray[np.int_]
    name: tuple[str, ...]
    flow: Array
    at: Array
    radius: Array
    exponent: Array
    holds_flow: NDArray[np.bool_]
    opens_at: Array
    closes_at: Array
    height: Array
    ran: Array

    def __len__(self) -> int:
        return len(self.x)

    @property
    def places(self) -> Array:
        """Places, (m, 2) [m]."""
        return np.column_stack([self.x, self.y])


@dataclass(frozen=True)
class SiteCans:
    """Where the cans stand and what they are; arrays of shape (n,) in the record's order.

    Attributes
    ----------
    x, y : array [m]
        Places.
    row, column : array of int [1]
        Counted from 1; free points have row 0 and are numbered by column.
    readings : array [unit of the readings]
        As read; nan without a reading.
    set_aside : dict of int to str
        Number of a can, from 0 -> why it is left out.
    weight : array [1] or None
        As the record gives it, one for each can; None for equal weights and for the nearest area.
    by_area : bool
        Whether each can stands for the ground that is nearest to it.
    reads, unit : str
        What was read, and its unit.
    opening : float or None [cm2]
        Area of a can's opening; None where depth was read.
    opening_text : str
        The opening as a person wrote it; empty where nobody did.
    placed_within : float [m]
        How well they stand where they should.
    """

    x: Array
    y: Array
    row: NDArray[np.int_]
    column: NDArray[np.int_]
    readings: Array
    set_aside: dict[int, str]
    weight: Array | None
    by_area: bool
    reads: str
    unit: str
    opening: float | None
    opening_text: str
    placed_within: float


@dataclass(frozen=True)
class Site:
    """One zone as it was tested.

    Attributes
    ----------
    record : Record
        What a person wrote: its texts, and what is built anew from it after a change; never its places.
    ground : Ground
        The floor, and the part of it that counts.
    lines : tuple of SiteLine
        In the record's order.
    duration : float [s]
        How long each line ran that does not say its own time.
    in_turn : bool
        Whether the lines ran in turn.
    hangs_at : array (k,) [m]
        x where a line could be carried, as far as the record says.
    system : str
        ``metric`` or ``US``: the units that the record is written in.
    """

    record: Record
    ground: Ground
    lines: tuple[SiteLine, ...]
    duration: float
    in_turn: bool
    hangs_at: Array
    system: str

    @property
    def width(self) -> float:
        """Of the whole floor, across the lines, [m]."""
        return self.ground.width

    @property
    def length(self) -> float:
        """Of the whole floor, along the lines, [m]."""
        return self.ground.length

    @cached_property
    def heads(self) -> SiteHeads:
        """Every head of every line."""
        return _heads_of(self.lines)

    @cached_property
    def cans(self) -> SiteCans:
        """The cans."""
        return _cans_of(self.record.cans)

    @cached_property
    def doubts(self) -> tuple[Doubt, ...]:
        """What the record says that is hard to believe."""
        return tuple(doubts(self.record))

    @property
    def run_minutes(self) -> float:
        """How long water ran over the floor, [min]: the longest line, or the sum of lines that ran in turn."""
        times = [line.ran / 60 for line in self.lines] or [self.duration / 60]
        return sum(times) if self.in_turn else max(times)

    @property
    def supply(self) -> Supply | None:
        """Where the water comes from, as written."""
        return self.record.supply

    @property
    def other_supplies(self) -> tuple[OtherSupply, ...]:
        """Other taps of a tunnel that moves, as written."""
        return tuple(self.record.other_supplies or ())

    @property
    def gauges(self) -> tuple[Pressure, ...]:
        """Gauge readings, as written."""
        return tuple(self.record.pressures or ())

    @property
    def bottles(self) -> tuple[HeadFlow, ...]:
        """Bottles held under heads, as written."""
        return tuple(self.record.head_flows or ())

    @property
    def crop(self) -> Crop | None:
        """What grows there, as written."""
        return self.record.crop

    @property
    def metered(self) -> float | None:
        """Water meter over the run, [m3]."""
        return self.record.run.metered.si if self.record.run.metered else None

    @property
    def water_temperature(self) -> float | None:
        """Of the water, [C]."""
        return self.record.run.water.si if self.record.run.water else None

    def line(self, name: str) -> SiteLine:
        """Find a line.

        Parameters
        ----------
        name : str
            As in the record.

        Returns
        -------
        SiteLine

        Raises
        ------
        KeyError
            For a name that no line has.
        """
        for line in self.lines:
            if line.name == name:
                return line
        raise KeyError(name)

    def from_the_left(self) -> list[int]:
        """Indices of the lines that have heads, from the left; in the record's order where they hang at one place.

        Returns
        -------
        list of int [1]
        """
        hung = [number for number, line in enumerate(self.lines) if len(line.along)]
        return sorted(hung, key=lambda number: self.lines[number].x)

    def common(self, key: str) -> float | None:
        """A size of the heads where all lines have the same.

        Parameters
        ----------
        key : str
            A field of `SiteLine` that holds a number.

        Returns
        -------
        float or None [unit of the field]
            None where lines differ, or nobody says.
        """
        values = {getattr(line, key) for line in self.lines}
        return values.pop() if len(values) == 1 else None

    def rebuilt(self, sections: Mapping[str, Any]) -> Site:
        """The site of the same record with other sections, checked again.

        Parameters
        ----------
        sections : mapping of str to object
            Section -> its model, or plain values; None takes it out.

        Returns
        -------
        Site

        Raises
        ------
        RecordFaults
            For sections that stop a record.
        """
        plain = {name: getattr(self.record, name) for name in type(self.record).model_fields} | dict(sections)
        return site_of(build({name: value for name, value in plain.items() if value is not None}))

    def with_along(self, along: list[Array]) -> Site:
        """The same lines with heads at other places.

        Parameters
        ----------
        along : list of array (k,) [m]
            y of the heads of each line.

        Returns
        -------
        Site
        """
        return replace(self, lines=tuple(replace(line, along=np.asarray(ys, float))
                                         for line, ys in zip(self.lines, along, strict=True)))


def site_of(record: Record) -> Site:
    """Resolve a record.

    Parameters
    ----------
    record : Record
        Checked; its test may be still to come.

    Returns
    -------
    Site
    """
    floor, run = record.floor, record.run
    duration = run.duration.si if run and run.duration else float("nan")
    return Site(
        record, Ground(floor.width.si, floor.length.si, tuple(bed_edges(floor))),
        tuple(_line_of(record, line, duration) for line in record.lines or ()),
        duration, bool(run) and run.lines == "in turn", np.array([place.si for place in floor.hangs_at or ()]),
        system_of(floor.width.text) or "metric")


def _line_of(record: Record, line: Line, duration: float) -> SiteLine:
    own = {key: of_line(record, line, key) for key in _OWN}
    size = {key: value.si if hasattr(value, "si") else value for key, value in own.items()}
    heads = record.heads
    return SiteLine(
        line.name, line.x.si, np.array(head_places(line), float), size["flow"], size["at"], size["wetted_diameter"],
        size["exponent"], bool(of_line(record, line, "regulated")), size["opens_at"], size["closes_at"],
        heads.height.si if heads and heads.height else None, line.height.si if line.height else None,
        line.pipe.si if line.pipe else None, line.fed_from, line.rise.si if line.rise else 0.0,
        line.feed.si if line.feed else 0.0, line.ran.si if line.ran else duration)


def _heads_of(lines: tuple[SiteLine, ...]) -> SiteHeads:
    counts = [len(line.along) for line in lines]

    def each(values: list[float | None]) -> Array:
        return np.repeat(np.array([np.nan if value is None else value for value in values], float), counts)

    along = [line.along for line in lines if len(line.along)]
    heights = [line.head_height if line.head_height is not None else line.tube_height for line in lines]
    diameter = each([line.diameter for line in lines])
    return SiteHeads(
        x=each([line.x for line in lines]), y=np.concatenate(along) if along else np.zeros(0),
        line=np.repeat(np.arange(len(lines)), counts),
        number=np.concatenate([np.arange(1, count + 1) for count in counts]) if counts else np.zeros(0, int),
        name=tuple(line.name for line, count in zip(lines, counts, strict=True) for _ in range(count)),
        flow=each([line.flow for line in lines]), at=each([line.at for line in lines]), radius=diameter / 2,
        exponent=each([line.exponent for line in lines]),
        holds_flow=np.repeat(np.array([line.holds_flow for line in lines], bool), counts),
        opens_at=each([line.opens_at for line in lines]), closes_at=each([line.closes_at for line in lines]),
        height=each(heights), ran=each([line.ran for line in lines]))


def _cans_of(cans: Cans) -> SiteCans:
    places, lengths = can_places(cans), row_lengths(cans)
    if cans.points is not None:
        row, column = np.zeros(len(places), int), np.arange(1, len(places) + 1)
    else:
        row = np.repeat(np.arange(1, len(lengths) + 1), lengths)
        column = np.concatenate([np.arange(1, count + 1) for count in lengths])
    weight = None
    if isinstance(cans.weights, list):
        weight = np.concatenate([np.atleast_1d(np.asarray(part, float)) for part in cans.weights])
    told = cans.opening or cans.opening_area
    return SiteCans(
        x=np.array([place[1] for place in places]), y=np.array([place[2] for place in places]), row=row, column=column,
        readings=np.array(all_readings(cans), float), set_aside=set_aside_numbers(cans), weight=weight,
        by_area=cans.weights == "nearest area", reads=cans.reads, unit=cans.unit, opening=_opening(cans),
        opening_text=told.text if told else "",
        placed_within=cans.placed_within.si if cans.placed_within else PLACED_WITHIN)


def _opening(cans: Cans) -> float | None:
    """Area of a can's opening [cm2]; None where depth is read."""
    if cans.reads == "depth":
        return None
    if cans.opening_area:
        return cans.opening_area.to("cm2")
    return float(np.pi / 4 * cans.opening.to("cm") ** 2) if cans.opening else None
