"""A record with the readings that its cans might give in a simulated tunnel."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..pattern import overlap, shapes
from ..pattern import simulate as tunnels
from ..pattern.fit import USUAL_THROW
from ..pattern.kinds import kinds_of
from ..pattern.scene import SPREAD
from ..record.checks import build
from ..record.model import Record, to_plain
from ..record.site import Site, site_of
from ..units.quantity import TABLE
from .arrays import Array

USUAL_FLOW = 50.0  # [L/h] of a head without a nominal flow, from memory
_FINEST = {"mL": 1.0, "L": 0.001, "fl oz": 0.1, "mm": 0.1, "cm": 0.01, "in": 0.01, "g": 1.0}  # as a person reads it
_AREA = 55.0  # [cm2] of cans whose depth is read; it tells nothing there


def simulate(record: Record, *, seed: int = 0) -> Record:
    """Give a record the readings of one simulated test: what its cans might read in a sound tunnel.

    Parameters
    ----------
    record : Record
        With heads on lines, cans and the duration of the run; readings that are there are replaced. One without
        readings yet is read with ``read(..., planning=True)``.
    seed : int [1]
        Each seed is another tunnel: the shape of the spray, the outputs by manufacture and along the lines, where the
        cans really stand, and errors of reading differ.

    Returns
    -------
    Record
        Its title says that the readings are simulated, and it has no `id`.

    Raises
    ------
    ValueError
        Where heads, cans, their opening or the duration of the run are missing.
    """
    _check(record)
    site = site_of(record)
    if not len(site.heads):
        raise ValueError("received a record without heads on its lines, expected [[lines]] with the places of their "
                         "heads, add them before a test is simulated")
    plain = to_plain(record)
    cans, test = plain["cans"], plain["test"]
    _write(cans, _readings(site, np.random.default_rng(seed)).tolist())
    cans.pop("evaporation", None)  # control cans that stood outside on a real day say nothing of a simulated one
    test.pop("id", None)
    test["title"] = f"{test['title'][:170]} (simulated, seed {seed})"
    return build(plain)


def _check(record: Record) -> None:
    cans, run = record.cans, record.run
    missing = [name for name, there in (
        ("lines", record.lines), ("cans", cans), ("run.duration", run is not None and run.duration),
        ("cans.opening", cans is None or cans.reads == "depth" or cans.opening or cans.opening_area)) if not there]
    if missing:
        raise ValueError(f"received a record without {', '.join(missing)}, expected them for a simulated test, "
                         "add them")


def _readings(site: Site, rng: np.random.Generator) -> Array:
    """What the cans read, in their own unit."""
    heads, cans, of_kinds = site.heads, site.cans, kinds_of(site.heads)
    flow = np.where(np.isnan(heads.flow), USUAL_FLOW, heads.flow * 3.6e6)
    usual = float(flow.mean())
    nominal = float(np.mean(np.where(np.isnan(heads.radius), USUAL_THROW, heads.radius)))
    if of_kinds:  # the profile is that of the kind that hangs most
        usual, nominal = site.head_flow or USUAL_FLOW, site.throw_radius or USUAL_THROW
        flow = np.full(len(heads), usual)
    throw = nominal * float(np.exp(rng.normal(0.0, 0.07)))  # a data sheet is a little off
    s = np.linspace(0.0, 1.0, 401)
    shape = shapes.KINDS[str(rng.choice(list(shapes.KINDS)))](s, rng)
    rate = overlap.scaled_to_flow(s * throw, shape, usual)
    share = tunnels.shares_along(heads.places, heads.line, rng, flow=usual)
    output = share * flow / usual * np.maximum(1.0 + SPREAD * rng.standard_normal(len(heads)), 0.0)
    output = output * heads.ran / site.duration
    depth = tunnels.read_cans(np.column_stack([cans.x, cans.y]), heads.places, output, s * throw, rate, rng,
                              minutes=site.duration / 60.0, area=cans.opening or _AREA, position_sd=cans.placed_within,
                              step_ml=0.0, throws=of_kinds.throws if of_kinds else None)
    return _in_unit(site, depth)


def _in_unit(site: Site, depth: Array) -> Array:
    cans = site.cans
    if cans.reads == "depth":
        value = depth / 1e3 / TABLE["length"][cans.unit][0]
    else:
        millilitres = depth * (cans.opening or _AREA) / 10.0
        grams = cans.reads == "weight"
        value = millilitres + (cans.tare or 0.0) if grams else millilitres / (TABLE["volume"][cans.unit][0] * 1e6)
    finest = _FINEST[cans.unit]
    return np.round(np.round(value / finest) * finest, 3)


def _write(cans: dict[str, Any], readings: list[float]) -> None:
    """Put readings into the plain cans of a record, in its order."""
    left = iter(readings)
    if "points" in cans:
        cans["points"] = [{**point, "catch": next(left)} for point in cans["points"]]
    elif "rows" in cans:
        cans["rows"] = [{**row, "catch": [next(left) for _ in row["x"]]} for row in cans["rows"]]
    else:
        cans["grid"] = [[next(left) for _ in row] for row in cans["grid"]]
