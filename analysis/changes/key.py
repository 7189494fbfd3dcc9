"""What is to be known of one key of a change, and a site on its way through a change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from ..record.faults import RecordFaults
from ..record.ground import Array
from ..record.head_keys import Line, OtherHeads
from ..record.model import MOST_HEADS
from ..record.site import Site
from ..units.quantity import Quantity
from .errors import ChangeError
from .rows import LEAST_GAP, HeadRow, kept_lines

if TYPE_CHECKING:
    from ..pattern.changed import Layout
    from .change import SystemChange
    from .fixes.judge import Baseline, Judged

ASKS = ("nothing", "pressures", "supply")
_NOT_CHANGED = ("pressures", "head_flows", "patches")  # readings of the test as it was


@dataclass(frozen=True)
class Asked:
    """How a person is asked for a key.

    Attributes
    ----------
    label : str
        What is asked for.
    metric, us : str
        An example in each system of units; `us` is empty where it is the same.
    choices : tuple of str
        What one chooses from; empty where a value is typed.
    """

    label: str
    metric: str = ""
    us: str = ""
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class ChangeKey:
    """A key of a change: all that is to be known of it.

    Attributes
    ----------
    key : str
        As it is typed before the ``=``.
    read : callable
        (text) -> value: SI floats, counts, words, lists. Raises `ChangeError` or `QuantityError`.
    apply : callable
        (sketch, value, text): makes it in a `Sketch`.
    name : callable
        (judged, text) -> a few words.
    says : callable
        (judged, text, system) -> what to do, as part of a sentence.
    parts : callable
        (job) -> list of (item, count), the items those of `fixes.parts.WORK`; what more, fewer and moved heads and
        lines need is counted for all keys alike.
    cautions : tuple of str
        What to mind while it is made, at least one sentence.
    asked : Asked
        How a person is asked for it.
    asks : str
        What a test must say before this key does anything: ``nothing``, ``pressures``, or a known ``supply``.
    check : callable or None
        (baseline, text): raises `ChangeError` where this test cannot say anything of it.
    against : tuple of str
        Keys that exclude it.
    on_lines : bool
        Whether its parts hang on the lines.
    renews : str or None
        ``heads`` or ``tube`` where all of them are new.
    """

    key: str
    read: Callable[[str], Any]
    apply: Callable[[Sketch, Any, str], None]
    name: Callable[[Judged, str], str]
    says: Callable[[Judged, str, str], str]
    parts: Callable[[Job], list[tuple[str, float]]]
    cautions: tuple[str, ...]
    asked: Asked = field(kw_only=True)
    asks: str = "nothing"
    check: Callable[[Baseline, str], None] | None = None
    against: tuple[str, ...] = ()
    on_lines: bool = False
    renews: str | None = None

    def __post_init__(self) -> None:
        if not self.cautions or not all(self.cautions):
            raise ValueError(f"received the key {self.key!r} of a change without a caution, expected what to mind "
                             "while it is made, add at least one sentence")
        if self.asks not in ASKS:
            raise ValueError(f"received the key {self.key!r} that asks for {self.asks!r}, expected one of "
                             f"{', '.join(ASKS)}, choose one")


@dataclass(frozen=True)
class Changed:
    """A site after a change, and where its heads come from.

    Attributes
    ----------
    site : Site
        With the new lines, from the left, heads and supply; its cans and readings are still those of the test.
    lines : list of (like, x, y) [1], [m], [m]
        For each line: the number of today's line that it is, or -1 - the number of the one that a new line takes
        after; its place; its heads' places.
    mend : list of (line, number) or "suspects"
        Heads that go back to their share.
    """

    site: Site
    lines: list[tuple[int, float, Array]]
    mend: Any


@dataclass(frozen=True)
class Job:
    """What is to be done for a change, as far as parts depend on it.

    Attributes
    ----------
    site : Site
        As it is.
    change : SystemChange
        What is changed.
    changed : Changed
        The site after it.
    today, new : Layout
        Heads before and after.
    """

    site: Site
    change: SystemChange
    changed: Changed
    today: Layout
    new: Layout

    def kept(self) -> list[tuple[int, int, Array]]:
        """Lines that stay: number after the change, number from the left today, and places of the heads [m]."""
        return [(number, like, ys) for number, (like, _, ys) in enumerate(self.changed.lines) if like >= 0]


class Sketch:
    """A site on its way through a change: where its lines go, what becomes of its rows of heads, its sections."""

    def __init__(self, site: Site) -> None:
        order = site.from_the_left()
        if not order:
            raise ChangeError("received a record without heads on lines, expected [[lines]] with the places of their "
                              "heads, add them before a change is tried")
        self.site = site
        self.today = np.array([site.lines[number].x for number in order])
        self.across: Array = self.today
        self.row_steps: list[Callable[[HeadRow], None]] = []
        self.more_at_ends = False
        self.of_line: dict[str, Any] = {}
        self.mend: Any = []
        self._rows = [site.lines[number].along for number in order]
        self._lines: list[Line] = [site.written_lines[number] for number in order]
        self._others = site.written_other_heads
        self._sections: dict[str, Any] = {}

    def section(self, name: str) -> dict[str, Any]:
        """A section of the record as plain values, to be changed and checked again."""
        if name not in self._sections:
            own = getattr(self.site.record, name)
            self._sections[name] = {} if own is None else own.model_dump(by_alias=True, exclude_none=True)
        plain: dict[str, Any] = self._sections[name]
        return plain

    def part_of_supply(self, part: str, key: str, text: str) -> dict[str, Any]:
        """A part of the supply as plain values, which a key asks for."""
        supply = self.section("supply") if self.site.supply else {}
        if not supply.get(part):
            raise ChangeError(f"received {key}={text}, expected a record with [supply] {part}, add it before this "
                              "change is tried")
        plain: dict[str, Any] = supply[part]
        return plain

    def made(self) -> Changed:
        """The site after the change, checked."""
        plan = self._plan()
        run = self.section("run")
        if len(plan) == 1:
            run.pop("lines", None)
        else:
            run.setdefault("lines", "together")
        heads = sum(len(ys) for _, _, ys in plan)
        if heads > MOST_HEADS:
            raise ChangeError(f"received a change to {heads} heads, expected at most {MOST_HEADS}, make it smaller")
        lines = [self._line(number, *line) for number, line in enumerate(plan)]
        others = [other for line, (like, _, ys) in zip(lines, plan, strict=True)
                  for other in self._other_heads(line.name, like if like >= 0 else -1 - like, ys)]
        try:
            site = self.site.rebuilt({**self._sections, **dict.fromkeys(_NOT_CHANGED), "lines": lines,
                                      "other_heads": others or None})
        except RecordFaults as error:
            fault = error.faults[0]
            raise ChangeError(f"{fault.key}: {fault.says}") from None
        return Changed(site, plan, self.mend)

    def _plan(self) -> list[tuple[int, float, Array]]:
        """Where each line comes from, its place, and the places of its heads."""
        kept = kept_lines(self.today, self.across)
        plan = []
        for x, was in zip(self.across, kept, strict=True):
            source = was if was >= 0 else self._nearest(float(x), kept)
            row = HeadRow(self._rows[source], self.site.length)
            for step in self.row_steps:
                step(row)
            plan.append((was if was >= 0 else -1 - source, float(x), row.settled()))
        if self.more_at_ends and all(len(ys) == len(self._rows[like if like >= 0 else -1 - like])
                                     for like, _, ys in plan):
            raise ChangeError(f"received add_at_ends for lines whose last heads are nearer than {LEAST_GAP:g} m to "
                              "that place, expected a place nearer to the end walls, make it smaller")
        return plan

    def _nearest(self, x: float, kept: list[int]) -> int:
        """Today's line that hangs nearest to a new one."""
        there = [at for at, line in enumerate(kept) if line >= 0]
        return kept[min(there, key=lambda at: round(abs(float(self.across[at]) - x), 3))]

    def _other_heads(self, name: str, like: int, ys: Array) -> list[OtherHeads]:
        """Heads of another kind on a line after the change: each is of the kind of the nearest of its row today."""
        nearest = 1 + np.abs(ys[:, None] - self._rows[like][None, :]).argmin(axis=1)
        own = {key: None for key in self.of_line if key in OtherHeads.model_fields}
        made = []
        for other in self._others:
            heads = [int(at) + 1 for at in np.flatnonzero(np.isin(nearest, other.heads))]
            if other.line == self._lines[like].name and heads:
                made.append(other.model_copy(update=own | {"line": name, "heads": heads}))
        return made

    def _line(self, number: int, like: int, x: float, ys: Array) -> Line:
        """A line of today at its new place with its heads; a new one is a copy of its neighbour."""
        new: dict[str, Any] = dict.fromkeys(("first", "spacing", "count")) | {
            "x": _place(x), "heads_at": [_place(y) for y in ys]}
        if like < 0:
            taken = {line.name for line in self._lines}
            new["name"] = next(name for k in range(number + 1, number + 1000) if (name := f"line {k}") not in taken)
        return self._lines[like if like >= 0 else -1 - like].model_copy(update=new | self.of_line)


def _place(y: float) -> Quantity:
    """A place to a tenth of a millimetre, with its text."""
    text = f"{y:.4f}"
    return Quantity(f"{text} m", float(text), "length")
