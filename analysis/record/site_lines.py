"""Lines and heads of a site: what a line does not say is taken from `[heads]`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .ground import Array
from .model import Line, Record
from .places import head_places, of_line

HOLDS_BELOW = 0.05      # [1] an exponent under it is that of a head that holds its flow
ORIFICE = 0.5           # [1] exponent of an orifice, from Torricelli's law
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

    @property
    def power(self) -> float:
        """x in q = k p^x, [1]: an orifice's where nobody says, and below its nominal pressure for a head that holds."""
        return ORIFICE if self.exponent is None or self.exponent < HOLDS_BELOW else self.exponent

    def less_flow(self, first: float, last: float) -> float:
        """How much less a head of this line gives at one pressure than at another.

        Parameters
        ----------
        first, last : float [Pa]
            The two pressures; below 0 counts as 0.

        Returns
        -------
        float [1]
            Below 0 where it gives more; 0 for a head that holds its flow at both, and where the first is not above 0.
        """
        if first <= 0:
            return 0.0
        if not self.holds_flow:
            return float(1 - max(last / first, 0.0) ** self.power)
        if self.at is None:
            return 0.0
        one, other = (min(max(pressure / self.at, 0.0), 1.0) ** self.power for pressure in (first, last))
        return float(1 - other / one)


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


def line_of(record: Record, line: Line, duration: float) -> SiteLine:
    """Resolve a line.

    Parameters
    ----------
    record : Record
        Checked.
    line : Line
        One of its lines.
    duration : float [s]
        How long it ran where it does not say so itself.

    Returns
    -------
    SiteLine
    """
    own = {key: of_line(record, line, key) for key in _OWN}
    size = {key: value.si if hasattr(value, "si") else value for key, value in own.items()}
    heads = record.heads
    return SiteLine(
        line.name, line.x.si, np.array(head_places(line), float), size["flow"], size["at"], size["wetted_diameter"],
        size["exponent"], bool(of_line(record, line, "regulated")), size["opens_at"], size["closes_at"],
        heads.height.si if heads and heads.height else None, line.height.si if line.height else None,
        line.pipe.si if line.pipe else None, line.fed_from, line.rise.si if line.rise else 0.0,
        line.feed.si if line.feed else 0.0, line.ran.si if line.ran else duration)


def heads_of(lines: tuple[SiteLine, ...]) -> SiteHeads:
    """List the heads of lines.

    Parameters
    ----------
    lines : tuple of SiteLine
        In the record's order.

    Returns
    -------
    SiteHeads
    """
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
