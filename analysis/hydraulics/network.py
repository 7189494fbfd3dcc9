"""From a record to a system that can be solved: lines, heads and the chain of the supply."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from ..record.doubts import Doubt, doubts
from ..record.model import Line, Record, Supply
from ..record.places import head_places, of_line
from .defaults import default
from .friction import L_H, Law, viscosity
from .outlets import Outlets, make_outlets
from .supply import Chain, fit_source

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
    line_of: np.ndarray
    place: np.ndarray
    lift: np.ndarray
    outlets: Outlets
    output: np.ndarray
    bore: np.ndarray
    feed: np.ndarray
    enters: np.ndarray
    tube: np.ndarray
    tilt: np.ndarray
    chain: Chain
    fed: bool
    flow_error: float
    least_flow: float
    most_flow: float
    notes: tuple[str, ...]
    needs: tuple[str, ...]


def system_of(record: Record, *, supply: str | None = None, output=None, friction: str = "hazen-williams") -> System:
    """Read a system from a record.

    Parameters
    ----------
    record : Record
        Checked.
    supply : str, optional
        Name of one of the other supplies; the record's own if left out.
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
    found = doubts(record, ("heads", "lines", "supply", "other_supplies"))
    _believable(found, ("heads", "lines"))
    notes: list[str] = []
    needs: list[str] = []
    warm = record.run.water.si if record.run.water else default("water")
    law = Law(friction, default("friction constant"), default("roughness"), float(viscosity(max(warm, 0.0))))
    lines = record.lines or []
    missing = _missing(record)
    if missing:
        raise Closed(f"The pressures were left out: the record does not say {', '.join(missing)}.", missing)
    parts = [_line_heads(record, line, notes, needs) for line in lines]
    counts = [len(head_places(line)) for line in lines]
    join = lambda key: np.concatenate([np.broadcast_to(part[key], count)  # noqa: E731
                                       for part, count in zip(parts, counts, strict=True)])
    outlets = make_outlets((sum(counts),), *(join(key) for key in ("flow", "at", "exponent", "regulated", "opens",
                                                                   "closes")))
    output = np.ones(sum(counts)) if output is None else np.asarray(output, float)
    if output.shape != (sum(counts),) or not np.all(output >= 0):
        raise ValueError(f"received outputs of shape {output.shape}, expected {sum(counts)} numbers of 0 or more, "
                         "one for each head")
    each = {key: np.array([part[key] for part in parts]) for key in ("bore", "feed", "enters", "tube", "tilt")}
    given, number = _chosen(record, supply)
    chain, error = None, 0.0
    if given is None:
        needs.append("supply")
    else:
        path = ("supply",) if number is None else ("other_supplies", number)
        chain, error = _chain_or_note(given, path, found, law, notes, needs)
    fed = chain is not None
    if chain is None:
        inlet = [part["at"] + part["tube"] + part["tilt"] * part["enters"] for part in parts]
        notes.append(NOMINAL)
        each["feed"] = np.zeros(len(lines))
        chain = plain_chain(max(inlet), law)
    limits = given.regulator if fed and given.regulator else None
    flow = lambda key: getattr(limits, key).si * L_H if limits and getattr(limits, key) else np.nan  # noqa: E731
    return System(tuple(line.name for line in lines), record.run.lines or "together",
                  np.repeat(np.arange(len(lines)), counts), join("place"), join("lift"), outlets, output,
                  each["bore"], each["feed"], each["enters"], each["tube"], each["tilt"], chain, fed, error,
                  flow("least_flow"), flow("most_flow"), tuple(dict.fromkeys(notes)), tuple(dict.fromkeys(needs)))


def _believable(found: list[Doubt], sections: tuple[str, ...]) -> None:
    for doubt in found:
        if doubt.path[0] in sections and doubt.closes and doubt.path[-1] != "wetted_diameter":
            raise Closed(f"The pressures were left out. {doubt.says}", (doubt.key,))


def _missing(record: Record) -> tuple[str, ...]:
    if not record.lines:
        return ("lines",)
    found = []
    for number, line in enumerate(record.lines):
        for key in ("flow", "at"):
            if of_line(record, line, key) is None:
                found.append(f"heads.{key}")
        if line.pipe is None:
            found.append(f"lines[{number + 1}].pipe")
    return tuple(dict.fromkeys(found))


def _line_heads(record: Record, line: Line, notes: list[str], needs: list[str]) -> dict:
    """Sizes of one line and its heads, in metres and litres an hour."""
    own = partial(of_line, record, line)
    place = np.array(head_places(line))
    length = record.floor.length.si
    head_height = record.heads.height if record.heads else None
    low, high = head_height or line.height, line.height or head_height
    if head_height is None or line.height is None:
        notes.append("Heights that are not given are taken as those of the heads, the tube or the regulator.")
        needs += ["heads.height"] * (head_height is None) + ["lines.height"] * (line.height is None)
    if low is None:
        stand = record.supply.height if record.supply and record.supply.height else None
        low = high = stand
    if line.fed_from is None:
        notes.append("Lines are taken as fed from the inlet end where the record does not say.")
        needs.append("lines.fed_from")
    tilt = (line.rise.si if line.rise else 0.0) / length
    exponent = own("exponent")
    if exponent is None:
        needs.append("heads.exponent")
    opens = own("opens_at") or own("closes_at")
    opens = opens.si / PASCAL if opens else 0.0
    shuts = own("closes_at")
    if opens and shuts is None:
        notes.append("Heads with an anti-drip valve are taken to close at two thirds of their opening pressure "
                     "(from memory).")
        needs.append("heads.closes_at")
    return {
        "flow": own("flow").si * L_H, "at": own("at").si / PASCAL,
        "exponent": default("exponent") if exponent is None else exponent, "regulated": bool(own("regulated")),
        "opens": opens, "closes": shuts.si / PASCAL if shuts else opens * default("closing share"),
        "place": place, "lift": (low.si if low else 0.0) + tilt * place, "bore": line.pipe.si,
        "feed": line.feed.si if line.feed else 0.0, "tube": high.si if high else 0.0, "tilt": tilt,
        "enters": {"near": 0.0, "far": length, "middle": length / 2}[line.fed_from or "near"],
    }


def _chosen(record: Record, name: str | None) -> tuple[Supply | None, int | None]:
    if name is None:
        return record.supply, None
    others = record.other_supplies or []
    for number, other in enumerate(others):
        if other.name == name:
            return other, number
    raise ValueError(f"received the supply '{name}', expected one of {', '.join(o.name for o in others) or 'none'}, "
                     "choose one")


def _chain_or_note(given, path, found, law, notes, needs):
    """The chain of a supply, or None with a note that says why not."""
    ours = [d for d in found if d.path[: len(path)] == path and d.closes and d.path[-1] != "cut_in"]
    if ours:
        notes.append(f"The supply was left out. {ours[0].says}")
        needs.append(ours[0].key)
        return None, 0.0
    key = ".".join(str(part) for part in path[:1])
    static = given.static.si / PASCAL if given.static else None
    buckets = given.flowing or []
    if static is None and len(buckets) < 2:
        notes.append("The supply was left out: its pressure with nothing running is not known.")
        needs.append(f"{key}.static")
        return None, 0.0
    try:
        source = fit_source(static, [b.pressure.si / PASCAL for b in buckets], [b.volume.si * 1e3 for b in buckets],
                            [b.time.si for b in buckets], given.kind)
    except ValueError as fault:
        notes.append(f"The supply was left out: {fault}.")
        needs.append(f"{key}.flowing")
        return None, 0.0
    if not buckets:
        notes.append("The source is taken to hold its pressure at any flow, because no bucket was timed.")
        needs.append(f"{key}.flowing")
    if given.regulator and given.regulator.droop and not given.regulator.most_flow:
        notes.append("The regulator's droop was left out, because the largest flow at which it holds is not given.")
        needs.append(f"{key}.regulator.most_flow")
    if given.height is None:
        notes.append("The regulator is taken to stand on the floor, because its height is not given.")
        needs.append(f"{key}.height")
    if source.misfit > 0.1 * max(source.static, 1e-9):
        notes.append(f"The timed buckets lie up to {source.misfit * PASCAL / 1000:.0f} kPa off one curve; "
                     "time them again.")
    return chain_of(given, source, law), source.flow_error


def chain_of(given: Supply, source, law: Law) -> Chain:
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
    tube = lambda part: (part.length.si, part.inside.si) if part else (0.0, 0.02)  # noqa: E731
    square = lambda loss, at: loss.si / PASCAL / (at.si * L_H) ** 2  # noqa: E731
    hose, manifold, riser = tube(given.hose), tube(given.manifold), tube(given.riser)
    couplings = given.couplings or default("couplings")
    loaded = (given.filter and given.filter.loaded) or default("filter loaded")
    regulator = given.regulator
    droop, most = (regulator.droop, regulator.most_flow) if regulator else (None, None)
    values = {
        "static": source.static, "fall": source.fall, "power": source.power,
        "hose": hose[0], "hose_bore": hose[1], "manifold": manifold[0], "manifold_bore": manifold[1],
        "riser": riser[0], "riser_bore": riser[1], "hose_k": couplings * default("coupling"),
        "valve": square(given.valve.loss, given.valve.at) if given.valve else 0.0,
        "filter": square(given.filter.clean_loss, given.filter.at) if given.filter else 0.0, "loaded": loaded,
        "set": regulator.set.si / PASCAL if regulator else np.inf,
        "margin": default("regulator margin") * 1000 / PASCAL if regulator else 0.0,
        "droop": droop.si / PASCAL / (most.si * L_H) if droop and most else default("regulator droop"),
        "height": given.height.si if given.height else 0.0,
    }
    return Chain(**{key: np.array([float(value)]) for key, value in values.items()}, law=law)


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
