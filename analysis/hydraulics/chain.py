"""The chain of a supply, put together from what a record says of its parts."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ..record.doubts import Doubt
from ..record.model import Bucket, Hose, Supply
from .defaults import default
from .friction import L_H, Law
from .supply import Chain, Source, fit_source

PASCAL = 9806.65  # in a metre of water


def range_of(given: Supply | None) -> tuple[float, float]:
    """Flows between which a supply's regulator holds.

    Parameters
    ----------
    given : Supply or None
        Of a record.

    Returns
    -------
    least, most : float [L/h]
        nan where nobody says.
    """
    limits = given.regulator if given else None
    least, most = (limits.least_flow, limits.most_flow) if limits else (None, None)
    return (least.si * L_H if least else np.nan), (most.si * L_H if most else np.nan)


@dataclass
class Taken:
    """What was assumed on the way.

    Attributes
    ----------
    notes : list of str
        Whole sentences.
    needs : list of str
        Keys of the record that would replace it.
    """

    notes: list[str] = field(default_factory=list)
    needs: list[str] = field(default_factory=list)


def chain_or_note(given: Supply, path: tuple[str | int, ...], found: list[Doubt], law: Law,
                  taken: Taken) -> tuple[Chain | None, Source | None]:
    """The chain of a supply and its source, or why not.

    Parameters
    ----------
    given : Supply
        Of a record.
    path : tuple
        Where it stands in the record.
    found : list of Doubt
        What is hard to believe in the record.
    law : Law
        Friction.
    taken : Taken
        Gets what is assumed, or a note that says why there is no chain.

    Returns
    -------
    chain, source : Chain or None, Source or None
    """
    tank = _tank_of(given)
    ours = [d for d in found if d.path[: len(path)] == path and d.closes and (tank or d.path[-1] != "cut_in")]
    if ours:
        taken.notes.append(f"The supply was left out. {ours[0].says}")
        taken.needs.append(ours[0].key)
        return None, None
    key = str(path[0])
    buckets = given.flowing or []
    static = tank[0] if tank else given.static.si / PASCAL if given.static else None
    if static is None and len(buckets) < 2:
        taken.notes.append("The supply was left out: its pressure with nothing running is not known.")
        taken.needs.append(f"{key}.static")
        return None, None
    try:
        source = fit_source(static, [_held(bucket, tank) for bucket in buckets],
                            [b.volume.si * 1e3 for b in buckets], [b.time.si for b in buckets], given.kind)
    except ValueError as fault:
        taken.notes.append(f"The supply was left out: {fault}.")
        taken.needs.append(f"{key}.flowing")
        return None, None
    if tank:
        source = replace(source, swing=tank[1] - tank[0])
        low, high = (round(end * PASCAL / 1000) for end in tank)
        taken.notes.append(f"The pump of the tank lets the pressure swing between {low} and {high} kPa: everything is "
                           f"worked out for {low} kPa, where it cuts in.")
    _assumed_of(given, key, source, taken)
    return chain_of(given, source, law), source


def _tank_of(given: Supply) -> tuple[float, float] | None:
    """Where the pump of a tank cuts in and out [m]; without the upper end the pressure with nothing running."""
    if given.kind not in (None, "pump with tank") or given.cut_in is None:
        return None
    top = given.cut_out or given.static
    low = given.cut_in.si / PASCAL
    return low, max(top.si / PASCAL if top else low, low)


def _held(bucket: Bucket, tank: tuple[float, float] | None) -> float:
    """Pressure held while a bucket was filled [m]; what the tank's swing explains is no fall by flow."""
    held = bucket.pressure.si / PASCAL
    return held if tank is None else min(held, tank[0])


def _assumed_of(given: Supply, key: str, source: Source, taken: Taken) -> None:
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
