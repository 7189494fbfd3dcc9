"""What the causes look at, as plain results."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..cans.catch import Catch
from ..cans.surface import Surface
from ..cans.uniformity import Indices
from ..hydraulics.system import WorkingPoint
from ..pattern.floor import Figure
from ..pattern.overlap import average
from ..pattern.whole_floor import WholeFloor
from ..record.model import Pressure
from ..record.places import line_named
from ..record.site import Site
from ..units.shown import show


@dataclass(frozen=True)
class LineTrend:
    """One line as the estimate and the hydraulics see it.

    Attributes
    ----------
    name : str
        In the record.
    x : float [m]
        Where it runs.
    heads : array (k,) of int
        Indices of its heads.
    y : array (k,) [m]
        Their places.
    along : array (k,) [1]
        0 at the head nearest the entry of the water, 1 at the farthest.
    level : Figure [1]
        Mean trend of its heads / mean of the other lines; 1 for a single line.
    fall : Figure [1]
        How much less the farthest head gives than the nearest, by the trend.
    modelled_fall, modelled_level : float or None [1]
        The same by hydraulics; None where it is closed.
    """

    name: str
    x: float
    heads: np.ndarray
    y: np.ndarray
    along: np.ndarray
    level: Figure
    fall: Figure
    modelled_fall: float | None
    modelled_level: float | None


@dataclass(frozen=True)
class GaugeReading:
    """One gauge reading.

    Attributes
    ----------
    item : Pressure
        Of the record.
    kpa : float [kPa]
        As read.
    modelled : float or None [kPa]
        By hydraulics.
    sd : float [kPa]
        Of its error.
    """

    item: Pressure
    kpa: float
    modelled: float | None
    sd: float


@dataclass(frozen=True)
class LinearModel:
    """Cans and heads as one linear model: depth of can i = sum over heads of response[i, j] x output j.

    Attributes
    ----------
    use : array (n,) of int
        Numbers of the usable cans in the catch.
    cans : array (n, 2) [m]
        Their places.
    depth : array (n,) [1]
        Their depth / mean.
    response : array (n, m) [1]
        What a head of output 1 brings to each can.
    usual : array (n,) [1]
        Depth where every head gives its share.
    gradient : array (n, 2) [1/m]
        Slope of that.
    covariance : array (n, n) [1]
        Covariance of the departures of a sound system: readings, places, profile, manufacture, small trends.
    """

    use: np.ndarray
    cans: np.ndarray
    depth: np.ndarray
    response: np.ndarray
    usual: np.ndarray
    gradient: np.ndarray
    covariance: np.ndarray


@dataclass(frozen=True)
class DesignFloor:
    """The floor as it was designed: with every head at its share.

    Attributes
    ----------
    places : array (p, 2) [m]
        On the ground that counts.
    weight : array (p,) [1] or None
        Ground that each place stands for; None where all stand for the same.
    depth : array (p,) [1]
        Depth / mean.
    du : float [%]
        Its DUlq.
    """

    places: np.ndarray
    weight: np.ndarray | None
    depth: np.ndarray
    du: float

    def average(self, zone: np.ndarray) -> float:
        """Mean depth of a piece of the ground.

        Parameters
        ----------
        zone : array (p,) of bool
            The piece.

        Returns
        -------
        float [1]
        """
        return float(average(self.depth[zone], None if self.weight is None else self.weight[zone]))

    def missing(self, zone: np.ndarray) -> float:
        """Unevenness by what a piece of the ground lacks.

        Parameters
        ----------
        zone : array (p,) of bool
            The piece.

        Returns
        -------
        float [1]
            Root of the mean square over all the ground of what the piece lacks of the mean.
        """
        lack = np.where(zone, np.maximum(1 - self.depth, 0.0), 0.0)
        return float(np.sqrt(average(lack**2, self.weight)))


@dataclass(frozen=True)
class Evidence:
    """Everything that the causes look at.

    Attributes
    ----------
    site, catch, surface, floor : Site, Catch, Surface, WholeFloor or None
        The test.
    at_cans : Indices
        Figures of the cans.
    system : str
        Units for people.
    heads : array (m, 2) [m]
        Places; empty without heads.
    share : array (m,) [1]
        Share of each head by its nominal flow and its run time; their mean is 1.
    lines : tuple of LineSeen
        In the record's order.
    linear, design : LinearModel or None, DesignFloor or None
        None without heads.
    radius, rate : array (t,) [m], [mm/h]
        Mean profile of a head that gives its share.
    ring : Figure [1]
        Rate between 0.55 and 0.95 of the throw radius over the rate within 0.3 of it.
    flow_part : Figure or None [1]
        Flow of a head by the cans alone / its nominal flow; None where it is not known.
    water : WorkingPoint or None
        None where hydraulics is closed.
    needs : tuple of str
        Keys that would open hydraulics.
    gauges : tuple of GaugeSeen
        In the record's order.
    """

    site: Site
    catch: Catch
    surface: Surface
    floor: WholeFloor | None
    at_cans: Indices
    system: str
    heads: np.ndarray
    share: np.ndarray
    lines: tuple[LineTrend, ...]
    linear: LinearModel | None
    design: DesignFloor | None
    radius: np.ndarray
    rate: np.ndarray
    ring: Figure
    flow_part: Figure | None
    water: WorkingPoint | None
    needs: tuple[str, ...]
    gauges: tuple[GaugeReading, ...]

    @property
    def nominal_pressure(self) -> float | None:
        """Middle of what the data sheets ask for at the heads, [kPa]; None where nobody says."""
        said = self.site.heads.at[np.isfinite(self.site.heads.at)]
        return float(np.median(said)) / 1e3 if len(said) else None

    def show(self, value: float, kind: str, unit: str | None = None) -> str:
        """Write a quantity for a person.

        Parameters
        ----------
        value : float [unit]
            The quantity.
        kind, unit : str
            As of `units.shown.show`.

        Returns
        -------
        str
        """
        return show(value, kind, self.system, unit=unit)

    def kpa(self, value: float) -> str:
        """Write a pressure for a person.

        Parameters
        ----------
        value : float [kPa]
            The pressure.

        Returns
        -------
        str
        """
        return show(value, "pressure", self.system, unit="kPa")

    def head(self, number: int) -> str:
        """Say where a head is.

        Parameters
        ----------
        number : int
            Its index in the record's order.

        Returns
        -------
        str
            ``line left, head 7 (9.1 m from the inlet end)``.
        """
        line, count, _, y = self.floor.heads[number]
        return f"{line_named(line)}, head {count} ({self.show(y, 'place')} from the inlet end)"

    def gauge(self, at: str, line: str | None = None) -> GaugeReading | None:
        """Find a gauge reading.

        Parameters
        ----------
        at : str
            As in the record.
        line : str, optional
            The line it was read on.

        Returns
        -------
        GaugeSeen or None
            The first that fits.
        """
        return next((one for one in self.gauges if one.item.at == at and line in (None, one.item.line)), None)
