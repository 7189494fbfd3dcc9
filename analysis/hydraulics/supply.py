"""Where the water comes from, and what it passes on the way to the lines.

The order of the chain: source (gauge "supply"), hose with its couplings, valve, filter, regulator, manifold and
riser, tee. Pressures here are heads in metres of water at the height of the regulator; without other knowledge every
part of the chain stands at that height. Chains come in batches: every size is an array (b,), `at` works on all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from ..record.ground import Array
from .defaults import default
from .friction import Law, local_loss, loss_and_slope

PLACES = ("supply", "filter inlet", "filter outlet", "regulator inlet", "regulator outlet", "tee")


@dataclass(frozen=True)
class Source:
    """A source's pressure: `static` - `fall` x flow^`power`.

    Attributes
    ----------
    static : float [m]
        Head with nothing running.
    fall : float [m per (L/h)^power]
        0 where no bucket was timed.
    power : float [1]
        Of the flow.
    flow_error : float [1]
        Relative error of the timed flows.
    misfit : float [m]
        Largest distance of a bucket from the curve.
    swing : float [m]
        How far a pump with a tank raises it, from where it cuts in to where it cuts out.
    """

    static: float
    fall: float
    power: float
    flow_error: float
    misfit: float
    swing: float = 0.0


def fit_source(static: float | None, pressures: Sequence[float] | Array, volumes: Sequence[float] | Array,
               times: Sequence[float] | Array, kind: str | None = None) -> Source:
    """A source's curve from its static pressure and timed buckets.

    One bucket fixes the curve; several are fitted by least squares, each weighted by how well its time is known.
    An error of one second in the time is carried as the flow's relative error.

    Parameters
    ----------
    static : float or None [m]
        Head with nothing running; taken from two or more buckets where it is not known.
    pressures : array (k,) [m]
        Head held during each bucket.
    volumes : array (k,) [L]
        Of each.
    times : array (k,) [s]
        To fill it.
    kind : str, optional
        ``pump`` falls with the square of the flow, others with the power of pipe friction.

    Returns
    -------
    Source

    Raises
    ------
    ValueError
        Where buckets and static pressure contradict each other or say too little.
    """
    pressures, volumes, times = (np.asarray(v, float).ravel() for v in (pressures, volumes, times))
    if not np.all(times > 0) or not np.all(volumes > 0):
        raise ValueError("received a timed bucket of no volume or no time, expected both above 0, time it again")
    power = default("pump power" if kind == "pump" else "source power")
    flows = 3600.0 * volumes / times
    if static is None and len(np.unique(flows)) < 2:
        raise ValueError("received no static pressure and fewer than two timed buckets of different flow, expected "
                         "one or the other, read the pressure with nothing running")
    if static is not None and not len(flows):
        return Source(float(static), 0.0, power, 0.0, 0.0)
    error = default("watch") / times
    weight, term = 1.0 / error**2, flows**power
    if static is None:
        middle = np.average(term, weights=weight), np.average(pressures, weights=weight)
        fall = -np.sum(weight * (term - middle[0]) * (pressures - middle[1])) / np.sum(weight * (term - middle[0])**2)
        static = middle[1] + fall * middle[0]
    else:
        fall = np.sum(weight * term * (static - pressures)) / np.sum(weight * term**2)
    if not fall >= 0:
        raise ValueError("received a higher pressure while a bucket was filled than with less running, expected a "
                         "lower one, read both again")
    misfit = float(np.max(np.abs(static - fall * term - pressures)))
    return Source(float(static), float(fall), power, float(1.0 / np.sqrt(np.sum(1.0 / error**2))), misfit)


@dataclass(frozen=True)
class Chain:
    """Source and parts of many systems; a part that is not there has a length, loss or K of 0.

    Attributes
    ----------
    static : array (b,) [m]
        Head of the source with nothing running.
    fall : array (b,) [m per (L/h)^power]
        Of the source.
    power : array (b,) [1]
        Of the flow.
    hose, manifold, riser : array (b,) [m]
        Lengths.
    hose_bore, manifold_bore, riser_bore : array (b,) [m]
        Inside diameters.
    hose_k : array (b,) [1]
        Sum of the couplings' K.
    valve : array (b,) [m per (L/h)^2]
        Loss of the valve.
    filter : array (b,) [m per (L/h)^2]
        Loss of the clean filter.
    loaded : array (b,) [1]
        The filter's loss in times its clean loss.
    set : array (b,) [m]
        The regulator's set head; infinite without a regulator.
    margin : array (b,) [m]
        What it takes of its inlet at least; 0 without a regulator.
    droop : array (b,) [m per L/h]
        Fall of its outlet with flow.
    height : array (b,) [m]
        Of the regulator above the zero of heights.
    law : Law
        Friction.
    """

    static: Array
    fall: Array
    power: Array
    hose: Array
    manifold: Array
    riser: Array
    hose_bore: Array
    manifold_bore: Array
    riser_bore: Array
    hose_k: Array
    valve: Array
    filter: Array
    loaded: Array
    set: Array
    margin: Array
    droop: Array
    height: Array
    law: Law

    def take(self, which: NDArray[np.int_]) -> Chain:
        """Some of the systems.

        Parameters
        ----------
        which : array (m,) of int
            Numbers of systems.

        Returns
        -------
        Chain
        """
        return replace(self, **{item.name: getattr(self, item.name)[which] for item in fields(self)
                                if item.name != "law"})

    def at(self, flow: Array) -> tuple[Array, Array]:
        """Head at the tee above the zero of heights, and its slope.

        Parameters
        ----------
        flow : array (b,) [L/h]
            Drawn through the chain.

        Returns
        -------
        head : array (b,) [m]
        slope : array (b,) [m per L/h]
        """
        heads, slope = self.along(flow)
        return heads["tee"] + self.height, slope

    def along(self, flow: Array) -> tuple[dict[str, Array], Array]:
        """Pressure heads at the gauges of the chain.

        Parameters
        ----------
        flow : array (b,) [L/h]
            Drawn through the chain.

        Returns
        -------
        heads : dict of array (b,) [m]
            By the names in `PLACES`, at the height of the regulator; "supply" is before the hose.
        slope : array (b,) [m per L/h]
            Of the tee's head.
        """
        flow = np.maximum(flow, 0.0)
        steep = self.fall * flow ** (self.power - 1.0)
        supply, slope = self.static - steep * flow, -self.power * steep
        rubbed, more = loss_and_slope(self.law, flow, self.hose, self.hose_bore)
        square = local_loss(1.0, self.hose_bore, self.hose_k)
        filter_inlet = supply - rubbed - (square + self.valve) * flow**2
        slope = slope - more - 2 * (square + self.valve) * flow
        filter_outlet = filter_inlet - self.loaded * self.filter * flow**2
        slope = slope - 2 * self.loaded * self.filter * flow
        holds, starved = self.set - self.droop * flow, filter_outlet - self.margin
        outlet = np.minimum(holds, starved)
        slope = np.where(holds <= starved, -self.droop, slope)
        tee = outlet
        for length, bore in ((self.manifold, self.manifold_bore), (self.riser, self.riser_bore)):
            rubbed, more = loss_and_slope(self.law, flow, length, bore)
            tee, slope = tee - rubbed, slope - more
        heads = dict(zip(PLACES, (supply, filter_inlet, filter_outlet, filter_outlet, outlet, tee), strict=True))
        return heads, slope


def state_of(outlet: float, inlet: float, set_head: float, margin: float) -> str:
    """Say what a regulator does.

    Parameters
    ----------
    outlet, inlet : float [m]
        Heads behind and before it.
    set_head : float [m]
        What it is set to; infinite without a regulator.
    margin : float [m]
        What it takes of its inlet at least.

    Returns
    -------
    str
        ``holds``; ``droops`` (its outlet is more than 5 % below what it is set to, though its inlet suffices);
        ``starved`` (its inlet is too low); ``none``.
    """
    if not np.isfinite(set_head):
        return "none"
    if outlet >= inlet - margin - 1e-9 and outlet < set_head - 1e-6:
        return "starved"
    return "droops" if outlet < 0.95 * set_head else "holds"
