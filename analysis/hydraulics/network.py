"""From a site to a system that can be solved: lines, heads and the chain of the supply."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..record.doubts import Doubt
from ..record.ground import Array
from ..record.model import Hose, Supply
from ..record.site import Site, SiteKind, SiteLine
from .defaults import default
from .friction import L_H, Law, viscosity
from .outlets import Outlets, make_outlets
from .supply import Chain, Source, fit_source

PASCAL = 9806.65  # in a metre of water
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
    taken = _Taken()
    warm = default("water") if site.water_temperature is None else site.water_temperature
    law = Law(friction, default("friction constant"), default("roughness"), float(viscosity(max(warm, 0.0))))
    parts = [_line_heads(site, line, taken) for line in site.lines]
    counts = [len(part.place) for part in parts]
    outlets = make_outlets((sum(counts),), *(np.concatenate([getattr(part.heads, key) for part in parts])
                                             for key in _OF_HEADS))
    output = _outputs(output, sum(counts))
    given, chain, error = _chosen(site, supply), None, 0.0
    if given is None:
        taken.needs.append("supply")
    else:
        chain, error = _chain_or_note(given, _path_of(site, supply), found, law, taken)
    fed = chain is not None
    feed = np.array([part.feed for part in parts])
    if chain is None:
        taken.notes.append(NOMINAL)
        feed = np.zeros(len(parts))
        chain = plain_chain(max(part.nominal + part.tube + part.tilt * part.enters for part in parts), law)
    least, most = _range_of(given) if fed else (np.nan, np.nan)
    each = {key: np.array([getattr(part, key) for part in parts]) for key in ("bore", "enters", "tube", "tilt")}
    return System(tuple(line.name for line in site.lines), "in turn" if site.in_turn else "together",
                  np.repeat(np.arange(len(parts)), counts), np.concatenate([part.place for part in parts]),
                  np.concatenate([part.lift for part in parts]), outlets, output, each["bore"], feed, each["enters"],
                  each["tube"], each["tilt"], chain, fed, error, least, most, tuple(dict.fromkeys(taken.notes)),
                  tuple(dict.fromkeys(taken.needs)))


@dataclass
class _Taken:
    """What was assumed on the way: sentences, and the keys that would replace it."""

    notes: list[str] = field(default_factory=list)
    needs: list[str] = field(default_factory=list)


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


def _line_heads(site: Site, line: SiteLine, taken: _Taken) -> _LineHeads:
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


def _kind_sizes(kind: SiteKind, stands: float, taken: _Taken) -> dict[str, float | bool]:
    """One kind of head with what the record does not say of it."""
    if kind.exponent is None:
        taken.needs.append("heads.exponent")
    opens, closes = _valve(kind, taken)
    assert kind.flow is not None and kind.at is not None  # see _missing
    return {"flow": kind.flow * L_H, "at": kind.at / PASCAL,
            "exponent": default("exponent") if kind.exponent is None else kind.exponent,
            "holds_flow": kind.holds_flow, "opens": opens, "closes": closes, "stands": stands}


def _heights(site: Site, line: SiteLine, kind: SiteKind, taken: _Taken) -> tuple[float, float]:
    """Heights of heads and tube [m]: each from the other, else from the regulator, else the floor."""
    head, tube = kind.head_height, line.tube_height
    if head is None or tube is None:
        taken.notes.append("Heights that are not given are taken as those of the heads, the tube or the regulator.")
        taken.needs += ["heads.height"] * (head is None) + ["lines.height"] * (tube is None)
    stands = next((height for height in (head, tube) if height is not None), None)
    if stands is None:
        stands = site.supply.height.si if site.supply and site.supply.height else 0.0
    return (stands if head is None else head), (stands if tube is None else tube)


def _valve(kind: SiteKind, taken: _Taken) -> tuple[float, float]:
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


def _range_of(given: Supply | None) -> tuple[float, float]:
    """Flows between which a supply's regulator holds [L/h]; nan where nobody says."""
    limits = given.regulator if given else None
    least, most = (limits.least_flow, limits.most_flow) if limits else (None, None)
    return (least.si * L_H if least else np.nan), (most.si * L_H if most else np.nan)


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


def _chain_or_note(given: Supply, path: tuple[str | int, ...], found: list[Doubt], law: Law,
                   taken: _Taken) -> tuple[Chain | None, float]:
    """The chain of a supply and the error of its timed flows, or None with a note that says why not."""
    ours = [d for d in found if d.path[: len(path)] == path and d.closes and d.path[-1] != "cut_in"]
    if ours:
        taken.notes.append(f"The supply was left out. {ours[0].says}")
        taken.needs.append(ours[0].key)
        return None, 0.0
    key = str(path[0])
    static = given.static.si / PASCAL if given.static else None
    buckets = given.flowing or []
    if static is None and len(buckets) < 2:
        taken.notes.append("The supply was left out: its pressure with nothing running is not known.")
        taken.needs.append(f"{key}.static")
        return None, 0.0
    try:
        source = fit_source(static, [b.pressure.si / PASCAL for b in buckets], [b.volume.si * 1e3 for b in buckets],
                            [b.time.si for b in buckets], given.kind)
    except ValueError as fault:
        taken.notes.append(f"The supply was left out: {fault}.")
        taken.needs.append(f"{key}.flowing")
        return None, 0.0
    _assumed_of(given, key, source, taken)
    return chain_of(given, source, law), source.flow_error


def _assumed_of(given: Supply, key: str, source: Source, taken: _Taken) -> None:
    """Note what is assumed of a supply that is known."""
    if not given.flowing:
        taken.notes.append("The source is taken to hold its pressure at any flow, because no bucket was timed.")
        taken.needs.append(f"{key}.flowing")
    if given.regulator and given.regulator.droop and not given.regulator.most_flow:
        taken.notes.append("The regulator's droop was left out, because the largest flow at which it holds is not "
                           "given.")
        taken.needs.append(f"{key}.regulator.most_flow")
    if given.height is None:
        taken.notes.append("The regulator is taken to stand on the floor, because its height is not given.")
        taken.needs.append(f"{key}.height")
    if source.misfit > 0.1 * max(source.static, 1e-9):
        taken.notes.append(f"The timed buckets lie up to {source.misfit * PASCAL / 1000:.0f} kPa off one curve; "
                           "time them again.")


def chain_of(given: Supply, source: Source, law: Law) -> Chain:
    """Put the parts of a supply in a row.

    Parameters
    ----------
    given : Supply
        Of a record, believable.
    source : Source
        Its curve.
    law : Law
        Friction.

    Returns
    -------
    Chain
        With b = 1.
    """
    hose, manifold, riser = (_tube(part) for part in (given.hose, given.manifold, given.riser))
    couplings = default("couplings") if given.couplings is None else given.couplings
    loaded = given.filter.loaded if given.filter and given.filter.loaded is not None else default("filter loaded")
    regulator = given.regulator
    droop, most = (regulator.droop, regulator.most_flow) if regulator else (None, None)
    values = {
        "static": source.static, "fall": source.fall, "power": source.power,
        "hose": hose[0], "hose_bore": hose[1], "manifold": manifold[0], "manifold_bore": manifold[1],
        "riser": riser[0], "riser_bore": riser[1], "hose_k": couplings * default("coupling"),
        "valve": _square(given.valve.loss.si, given.valve.at.si) if given.valve else 0.0,
        "filter": _square(given.filter.clean_loss.si, given.filter.at.si) if given.filter else 0.0, "loaded": loaded,
        "set": regulator.set.si / PASCAL if regulator else np.inf,
        "margin": default("regulator margin") * 1000 / PASCAL if regulator else 0.0,
        "droop": droop.si / PASCAL / (most.si * L_H) if droop and most else default("regulator droop"),
        "height": given.height.si if given.height else 0.0,
    }
    return Chain(**{key: np.array([float(value)]) for key, value in values.items()}, law=law)


def _tube(part: Hose | None) -> tuple[float, float]:
    """Length and bore of a tube that may be missing [m]."""
    return (part.length.si, part.inside.si) if part else (0.0, 0.02)


def _square(loss: float, at: float) -> float:
    """A loss [Pa] at a flow [m3/s] as metres for the square of litres an hour."""
    return loss / PASCAL / (at * L_H) ** 2


def plain_chain(head: float, law: Law, height: float = 0.0) -> Chain:
    """A chain of nothing but a source that holds its head.

    Parameters
    ----------
    head : float [m]
        Pressure head at `height`.
    law : Law
        Friction.
    height : float [m]
        Above the floor.

    Returns
    -------
    Chain
        With b = 1.
    """
    sizes = dict.fromkeys(("fall", "hose", "manifold", "riser", "hose_k", "valve", "filter", "margin", "droop"), 0.0)
    sizes |= {"static": head, "power": 2.0, "hose_bore": 0.02, "manifold_bore": 0.02, "riser_bore": 0.02,
              "loaded": 1.0, "set": np.inf, "height": height}
    return Chain(**{key: np.array([float(value)]) for key, value in sizes.items()}, law=law)
