"""Lines and heads of a site: what a line does not say is taken from `[heads]`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .ground import Array
from .head_keys import Line, OtherHeads
from .model import Record
from .places import head_places, of_line
from .types import direction

HOLDS_BELOW = 0.05      # [1] an exponent under it is that of a head that holds its flow
ORIFICE = 0.5           # [1] exponent of an orifice, from Torricelli's law
FULL = 2 * np.pi        # [rad] a head that throws all around
HALF = np.pi            # [rad] an arc that only says where it faces
_OWN = ("flow", "at", "wetted_diameter", "exponent", "opens_at", "closes_at", "regulated", "arc", "faces", "label")


@dataclass(frozen=True, kw_only=True)
class SiteKind:
    """A kind of head; SI, None where nobody says.

    Attributes
    ----------
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
        Of the head above the floor, as `[heads]` or `[[other_heads]]` say.
    arc : float [rad]
        Part of a circle that it throws; a full one where nobody says.
    facing : float or None [rad]
        Where the middle of its arc points, from x towards y; None for a full circle.
    label : str
        What the person calls it; empty where nobody says.
    """

    flow: float | None
    at: float | None
    diameter: float | None
    exponent: float | None
    regulated: bool
    opens_at: float | None
    closes_at: float | None
    head_height: float | None
    arc: float = FULL
    facing: float | None = None
    label: str = ""

    @property
    def holds_flow(self) -> bool:
        """Whether it holds its flow above its nominal pressure."""
        return self.regulated or (self.exponent is not None and self.exponent < HOLDS_BELOW)

    @property
    def power(self) -> float:
        """x in q = k p^x, [1]: an orifice's where nobody says, and below its nominal pressure for a head that holds."""
        return ORIFICE if self.exponent is None or self.exponent < HOLDS_BELOW else self.exponent

    def less_flow(self, first: float, last: float) -> float:
        """How much less such a head gives at one pressure than at another.

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


@dataclass(frozen=True, kw_only=True)
class SiteLine(SiteKind):
    """A line with the kind of head that hangs on it; SI, None where nobody says.

    Attributes
    ----------
    name : str
        As in the record.
    x : float [m]
        Where it runs.
    along : array (k,) [m]
        y of its heads, nearest the inlet end wall first; empty where the record does not say.
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
    others : tuple of (int, SiteKind)
        Heads of another kind than the line's, by their number from 1.
    """

    name: str
    x: float
    along: Array
    tube_height: float | None
    bore: float | None
    fed_from: str | None
    rise: float
    feed: float
    ran: float
    others: tuple[tuple[int, SiteKind], ...] = ()

    @property
    def kinds(self) -> tuple[SiteKind, ...]:
        """The line's own kind, and those of its other heads."""
        return self, *(kind for _, kind in self.others)


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
    arc : array [rad]
        Part of a circle that it throws; 2 pi for a full one.
    facing : array [rad]
        Where the middle of its arc points, from x towards y.
    hung : array [m]
        Its height above the floor where the record gives that of the head, not only of the tube.
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
    arc: Array
    facing: Array
    hung: Array

    def __len__(self) -> int:
        return len(self.x)

    @property
    def places(self) -> Array:
        """Places, (m, 2) [m]."""
        return np.column_stack([self.x, self.y])

    @cached_property
    def kind(self) -> NDArray[np.int_]:
        """The kind of each head, (m,) [1]: what differs in flow, diameter, exponent, height or arc; 0 hangs most."""
        sizes = np.column_stack([self.flow, self.at, self.radius, self.exponent, self.holds_flow, self.hung, self.arc])
        _, number, counts = np.unique(np.nan_to_num(sizes, nan=-1.0), axis=0, return_inverse=True, return_counts=True)
        rank = np.empty(len(counts), int)
        rank[np.argsort(-counts, kind="stable")] = np.arange(len(counts))
        found: NDArray[np.int_] = rank[number.reshape(-1)]
        return found


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
    heads = record.heads
    own: dict[str, Any] = {key: of_line(record, line, key) for key in _OWN}
    own["height"] = heads.height if heads else None
    sizes = _sizes(own)
    others = tuple((number, SiteKind(**_sizes(own | _said(other)))) for other in record.other_heads or ()
                   if other.line == line.name for number in other.heads)
    return SiteLine(
        **sizes, name=line.name, x=line.x.si, along=np.array(head_places(line), float),
        tube_height=line.height.si if line.height else None, bore=line.pipe.si if line.pipe else None,
        fed_from=line.fed_from, rise=line.rise.si if line.rise else 0.0, feed=line.feed.si if line.feed else 0.0,
        ran=line.ran.si if line.ran else duration, others=tuple(dict(others).items()))


def _said(other: OtherHeads) -> dict[str, Any]:
    """What single heads say of their own."""
    return {key: value for key in (*_OWN, "height") if (value := getattr(other, key)) is not None}


def _sizes(own: dict[str, Any]) -> dict[str, Any]:
    """The fields of a kind from the keys of a record."""
    si = {key: value.si if hasattr(value, "si") else value for key, value in own.items()}
    faces = si["faces"]
    arc = (FULL if faces is None else HALF) if si["arc"] is None else si["arc"]
    whole = faces is None or arc > FULL - 1e-6
    return {"flow": si["flow"], "at": si["at"], "diameter": si["wetted_diameter"], "exponent": si["exponent"],
            "regulated": bool(si["regulated"]), "opens_at": si["opens_at"], "closes_at": si["closes_at"],
            "head_height": si["height"], "arc": FULL if whole else arc, "facing": None if whole else direction(faces),
            "label": si["label"] or ""}


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
    other = [(sum(counts[:number]) + head - 1, kind) for number, line in enumerate(lines)
             for head, kind in line.others if head <= counts[number]]

    def each(values: list[float | None]) -> Array:
        return np.repeat(np.array([np.nan if value is None else value for value in values], float), counts)

    def kinds(key: str) -> Array:
        found = each([getattr(line, key) for line in lines])
        for at, kind in other:
            value = getattr(kind, key)
            found[at] = np.nan if value is None else value
        return found

    along = [line.along for line in lines if len(line.along)]
    heights, tubes = kinds("head_height"), each([line.tube_height for line in lines])
    return SiteHeads(
        x=each([line.x for line in lines]), y=np.concatenate(along) if along else np.zeros(0),
        line=np.repeat(np.arange(len(lines)), counts),
        number=np.concatenate([np.arange(1, count + 1) for count in counts]) if counts else np.zeros(0, int),
        name=tuple(line.name for line, count in zip(lines, counts, strict=True) for _ in range(count)),
        flow=kinds("flow"), at=kinds("at"), radius=kinds("diameter") / 2, exponent=kinds("exponent"),
        holds_flow=kinds("holds_flow").astype(bool), opens_at=kinds("opens_at"), closes_at=kinds("closes_at"),
        height=np.where(np.isnan(heights), tubes, heights), ran=each([line.ran for line in lines]),
        arc=kinds("arc"), facing=kinds("facing"), hung=heights)
