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

from ..units.quantity import Quantity
from ..units.shown import system_of
from .checks import build
from .doubts import Doubt, believed, doubts
from .ground import Array, Ground
from .head_keys import Line, OtherHeads
from .model import Crop, HeadFlow, OtherSupply, Pressure, Record, Supply
from .places import bed_edges
from .running import Running, running_of
from .said import checked_now, readings_key
from .site_cans import PLACED_WITHIN, SiteCans, cans_of
from .site_lines import SiteHeads, SiteKind, SiteLine, heads_of, line_of

__all__ = ["PLACED_WITHIN", "Site", "SiteCans", "SiteHeads", "SiteKind", "SiteLine", "site_of"]


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
        return heads_of(self.lines)

    @cached_property
    def cans(self) -> SiteCans:
        """The cans; none where the test is still to come."""
        return cans_of(self.record.cans)

    @cached_property
    def doubts(self) -> tuple[Doubt, ...]:
        """What the record says that is hard to believe."""
        return tuple(doubts(self.record))

    @property
    def run_minutes(self) -> float:
        """How long water ran over the floor, [min]: the longest line, or the sum of lines that ran in turn."""
        return self.running.minutes

    @cached_property
    def running(self) -> Running:
        """Which lines are open at the same time, and for how long."""
        return running_of(self.lines, self.duration, self.in_turn)

    @cached_property
    def checked(self) -> tuple[tuple[str, str], ...]:
        """What somebody looked at again and found right, as (what, where), while it stands as it stood then."""
        return checked_now(self.record)

    @cached_property
    def readings_key(self) -> str:
        """Where the readings stand in the record: ``cans.grid``, ``cans.rows`` or ``cans.points``."""
        return readings_key(self.record)

    @property
    def written_lines(self) -> tuple[Line, ...]:
        """The lines as written, in the record's order: what a changed site is built from."""
        return tuple(self.record.lines or ())

    @property
    def written_other_heads(self) -> tuple[OtherHeads, ...]:
        """Single heads that are unlike their line's, as written."""
        return tuple(self.record.other_heads or ())

    @property
    def written_cans(self) -> dict[str, Any] | None:
        """`[cans]` as written, as plain values; None where there are none yet."""
        cans = self.record.cans
        return cans.model_dump(by_alias=True, exclude_none=True) if cans else None

    @cached_property
    def bare_line(self) -> SiteLine:
        """A line that says nothing of its own: its kind of head is that of `[heads]`; it has no heads yet."""
        return line_of(self.record, Line.model_construct(name="", x=Quantity("0 m", 0.0, "length")), self.duration)

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
        run = self.record.run
        return run.metered.si if run and run.metered else None

    @property
    def water_temperature(self) -> float | None:
        """Of the water, [C]."""
        run = self.record.run
        return run.water.si if run and run.water else None

    def doubts_in(self, *sections: str) -> list[Doubt]:
        """What some sections of the record say that is hard to believe, without looking at the others.

        Parameters
        ----------
        *sections : str
            Names of sections.

        Returns
        -------
        list of Doubt
        """
        return doubts(self.record, sections)

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

    def kind_of(self, head: int) -> SiteKind:
        """The kind of a head.

        Parameters
        ----------
        head : int [1]
            Its index in `heads`.

        Returns
        -------
        SiteKind
        """
        line, number = self.lines[int(self.heads.line[head])], int(self.heads.number[head])
        return dict(line.others).get(number, line)

    def from_the_left(self) -> list[int]:
        """Indices of the lines that have heads, from the left; in the record's order where they hang at one place.

        Returns
        -------
        list of int [1]
        """
        hung = [number for number, line in enumerate(self.lines) if len(line.along)]
        return sorted(hung, key=lambda number: self.lines[number].x)

    def common(self, key: str) -> float | None:
        """A size of the heads where all of them have the same.

        Parameters
        ----------
        key : str
            A field of `SiteKind` that holds a number.

        Returns
        -------
        float or None [unit of the field]
            None where heads differ, or nobody says.
        """
        values = {getattr(kind, key) for line in self.lines for kind in line.kinds}
        return values.pop() if len(values) == 1 else None

    @property
    def throw_radius(self) -> float | None:
        """Of a head of the kind that hangs most, by its data sheet, [m]; None where nobody says."""
        return self._most("radius")

    @property
    def head_flow(self) -> float | None:
        """Nominal flow of a head of the kind that hangs most, [L/h]; None where nobody says."""
        flow = self._most("flow")
        return None if flow is None else flow * 3.6e6

    def _most(self, key: str) -> float | None:
        """A size of the kind that hangs most."""
        of_all: Array = getattr(self.heads, key)[self.heads.kind == 0]
        return float(of_all[0]) if len(of_all) and of_all[0] > 0 else None

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

    def believed(self, found: list[Doubt]) -> Site:
        """The site of the same record without what is hard to believe.

        Parameters
        ----------
        found : list of Doubt
            What is hard to believe in it.

        Returns
        -------
        Site
            This one where nothing is left out.
        """
        record = believed(self.record, found)
        return self if record is self.record else site_of(record)

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
        tuple(line_of(record, line, duration) for line in record.lines or ()),
        duration, bool(run) and run.lines == "in turn", np.array([place.si for place in floor.hangs_at or ()]),
        system_of(floor.width.text) or "metric")
