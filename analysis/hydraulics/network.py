"""From a site to a system that can be solved: lines, heads and the chain of the supply."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..record.doubts import Doubt
from ..record.ground import Array
from ..record.model import Supply
from ..record.site import Site, SiteKind, SiteLine
from .chain import PASCAL, Taken, chain_or_note, plain_chain, range_of
from .defaults import default
from .friction import L_H, Law, viscosity
from .outlets import Outlets, make_outlets
from .supply import Chain

NOMINAL = "The pressure where each line begins is taken as the heads' nominal one."


class Closed(ValueError):
    """A record that says too little, or something unbelievable, for its hydraulics.

    Attributes
    ----------
    needs : tuple of str
        Keys of the record that would open it.
    """

    def __init__(self, says: str, needs: tuple[str, ...]):
        self.needs = needs
        super().__init__(says)


@dataclass(frozen=True)
class System:
    """Lines with their heads, and what feeds them. Heads in the record's order, line by line.

    Attributes
    ----------
    names : tuple of str
        Of the lines.
    run : str
        ``together`` or ``in turn``.
    line_of : array (heads,) of int
        Line of each head.
    place : array (heads,) [m]
        y of each head.
    lift : array (heads,) [m]
        Height of each head above the floor at the inlet end wall.
    outlets : Outlets
        Arrays (heads,).
    output : array (heads,) [1]
        1.0 = its share.
    bore : array (lines,) [m]
        Inside diameter of each line.
    feed : array (lines,) [m]
        Tube from the tee to each line.
    enters : array (lines,) [m]
        y where the water enters each line.
    tube : array (lines,) [m]
        Height of each tube at the inlet end wall.
    tilt : array (lines,) [1]
        Rise of each line per metre along y.
    chain : Chain
        With b = 1; where the record has no supply, a source that holds the heads' nominal pressure.
    fed : bool
        Whether the record's own supply stands behind `chain`.
    flow_error : float [1]
        Relative error of the source's timed flows.
    swing : float [m]
        How far its pump with a tank raises it over what `chain` has, from where it cuts in to where it cuts out.
    least_flow, most_flow : float [L/h]
        Range of the regulator; nan where it is not known.
    notes : tuple of str
        What was assumed.
    needs : tuple of str
        Keys of the record that would replace the assumptions.
    """

    names: tuple[str, ...]
    run: str
    line_of: NDArray[np.int_]
    place: Array
    lift: Array
    outlets: Outlets
    output: Array
    bore: Array
    feed: Array
    enters: Array
    tube: Array
    tilt: Array
    chain: Chain
    fed: bool
    flow_error: float
    swing: float
    least_flow: float
    most_flow: float
    notes: tuple[str, ...]
    needs: tuple[str, ...]


def system_of(site: Site, *, supply: str | None = None, output: Array | None = None,
              friction: str = "hazen-williams") -> System:
    """Make the system of a site.

    Parameters
    ----------
    site : Site
        Its lines and its supply.
    supply : str, optional
        Name of one of the other supplies; the site's own if left out.
    output : array (heads,) [1], optional
        Of each head in the record's order; all 1 if left out.
    friction : str
        A kind of `friction.Law`.

    Returns
    -------
    System

    Raises
    ------
    Closed
        Where keys are missing or hard to believe, in one sentence with the keys.
    """
    found = site.doubts_in("heads", "lines", "other_heads", "supply", "other_supplies")
    _believable(site, found)
    missing = _missing(site)
    if missing:
        raise Closed(f"The pressures were left out: the record does not say {', '.join(missing)}.", missing)
    taken = Taken()
    warm = default("water") if site.water_temperature is None else site.water_temperature
    law = Law(friction, default("friction constant"), default("roughness"), float(viscosity(max(warm, 0.0))))
    parts = [_line_heads(site, line, taken) for line in site.lines]
    counts = [len(part.place) for part in parts]
    outlets = make_outlets((sum(counts),), *(np.concatenate([getattr(part.heads, key) for part in parts])
                                             for key in _OF_HEADS))
    output = _outputs(output, sum(counts))
    given, chain, source = _chosen(site, supply), None, None
    if given is None:
        taken.needs.append("supply")
    else:
        chain, source = chain_or_note(given, _path_of(site, supply), found, law, taken)
    fed = chain is not None
    feed = np.array([part.feed for part in parts])
    if chain is None:
        taken.notes.append(NOMINAL)
        feed = np.zeros(len(parts))
        chain = plain_chain(max(part.nominal + part.tube + part.tilt * part.enters for part in parts), law)
    least, most = range_of(given) if fed else (np.nan, np.nan)
    each = {key: np.array([getattr(part, key) for part in parts]) for key in ("bore", "enters", "tube", "tilt")}
    return System(tuple(line.name for line in site.lines), "in turn" if site.in_turn else "together",
                  np.repeat(np.arange(len(parts)), counts), np.concatenate([part.place for part in parts]),
                  np.concatenate([part.lift for part in parts]), outlets, output, each["bore"], feed, each["enters"],
                  each["tube"], each["tilt"], chain, fed, source.flow_error if source else 0.0,
                  source.swing if source else 0.0, least, most, tuple(dict.fromkeys(taken.notes)),
                  tuple(dict.fromkeys(taken.needs)))


def _outputs(output: Array | None, count: int) -> Array:
    """The output of every head, checked."""
    output = np.ones(count) if output is None else np.asarray(output, float)
    if output.shape != (count,) or not np.all(output >= 0):
        raise ValueError(f"received outputs of shape {output.shape}, expected {count} numbers of 0 or more, "
                         "one for each head")
    return output


def _believable(site: Site, found: list[Doubt]) -> None:
    """Stop at a size of heads and lines that is hard to believe."""
    hung = all(len(line.along) for line in site.lines)
    for doubt in found:
        if doubt.path[0] not in ("heads", "lines", "other_heads") or not doubt.closes or doubt.path[-1] in _NO_WATER:
            continue
        if hung and doubt.path[0] == "lines" and len(doubt.path) == 2:
            continue  # a line of the record without heads, which is not among the site's
        raise Closed(f"The pressures were left out. {doubt.says}", (doubt.key,))


def _missing(site: Site) -> tuple[str, ...]:
    """Keys without which there are no pressures."""
    if not site.lines:
        return ("lines",)
    found = []
    for number, line in enumerate(site.lines, 1):
        found += [f"heads.{key}" for key in ("flow", "at") if any(getattr(kind, key) is None for kind in line.kinds)]
        if line.bore is None:
            found.append(f"lines[{number}].pipe")
    return tuple(dict.fromkeys(found))


_OF_HEADS = ("flow", "at", "exponent", "holds_flow", "opens", "closes")
_NO_WATER = ("wetted_diameter", "arc")  # keys of heads that change nothing of their pressures


@dataclass(frozen=True)
class _HeadSizes:
    """Sizes of the heads of one line, in metres and litres an hour; arrays (heads,)."""

    flow: Array
    at: Array
    exponent: Array
    holds_flow: NDArray[np.bool_]
    opens: Array
    closes: Array
    stands: Array


@dataclass(frozen=True)
class _LineHeads:
    """Sizes of one line and its heads, in metres and litres an hour."""

    place: Array
    lift: Array
    heads: _HeadSizes
    nominal: float
    bore: float
    feed: float
    tube: float
    tilt: float
    enters: float


def _line_heads(site: Site, line: SiteLine, taken: Taken) -> _LineHeads:
    """One line with what the record does not say of it."""
    low, high = _heights(site, line, line, taken)
    if line.fed_from is None:
        taken.notes.append("Lines are taken as fed from the inlet end where the record does not say.")
        taken.needs.append("lines.fed_from")
    tilt, count = line.rise / site.length, len(line.along)
    own = _kind_sizes(line, low, taken)
    heads = {key: np.full(count, value) for key, value in own.items()}
    for number, kind in line.others:
        if number <= count:
            for key, value in _kind_sizes(kind, _heights(site, line, kind, taken)[0], taken).items():
                heads[key][number - 1] = value
    assert line.bore is not None  # see _missing
    sizes = _HeadSizes(**heads)
    return _LineHeads(
        line.along, sizes.stands + tilt * line.along, sizes, float(own["at"]), line.bore, line.feed, high, tilt,
        {"near": 0.0, "far": site.length, "middle": site.length / 2}[line.fed_from or "near"])


def _kind_sizes(kind: SiteKind, stands: float, taken: Taken) -> dict[str, float | bool]:
    """One kind of head with what the record does not say of it."""
    if kind.exponent is None:
        taken.needs.append("heads.exponent")
    opens, closes = _valve(kind, taken)
    assert kind.flow is not None and kind.at is not None  # see _missing
    return {"flow": kind.flow * L_H, "at": kind.at / PASCAL,
            "exponent": default("exponent") if kind.exponent is None else kind.exponent,
            "holds_flow": kind.holds_flow, "opens": opens, "closes": closes, "stands": stands}


def _heights(site: Site, line: SiteLine, kind: SiteKind, taken: Taken) -> tuple[float, float]:
    """Heights of heads and tube [m]: each from the other, else from the regulator, else the floor."""
    head, tube = kind.head_height, line.tube_height
    if head is None or tube is None:
        taken.notes.append("Heights that are not given are taken as those of the heads, the tube or the regulator.")
        taken.needs += ["heads.height"] * (head is None) + ["lines.height"] * (tube is None)
    stands = next((height for height in (head, tube) if height is not None), None)
    if stands is None:
        stands = site.supply.height.si if site.supply and site.supply.height else 0.0
    return (stands if head is None else head), (stands if tube is None else tube)


def _valve(kind: SiteKind, taken: Taken) -> tuple[float, float]:
    """Opening and closing pressure of an anti-drip valve [m]; 0 without one."""
    opens = kind.closes_at if kind.opens_at is None else kind.opens_at
    if not opens:
        return 0.0, 0.0
    if kind.closes_at is None:
        taken.notes.append("Heads with an anti-drip valve are taken to close at two thirds of their opening pressure "
                           "(from memory).")
        taken.needs.append("heads.closes_at")
        return opens / PASCAL, opens / PASCAL * default("closing share")
    return opens / PASCAL, kind.closes_at / PASCAL


def _chosen(site: Site, name: str | None) -> Supply | None:
    """The site's supply, or one of the others by its name."""
    if name is None:
        return site.supply
    for other in site.other_supplies:
        if other.name == name:
            return other
    raise ValueError(f"received the supply '{name}', expected one of "
                     f"{', '.join(other.name for other in site.other_supplies) or 'none'}, choose one")


def _path_of(site: Site, name: str | None) -> tuple[str | int, ...]:
    """Where that supply stands in the record."""
    if name is None:
        return ("supply",)
    return "other_supplies", [other.name for other in site.other_supplies].index(name)
