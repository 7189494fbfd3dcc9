"""How long to run the zone, so that the mean can catches enough and no water stands."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..pattern import overlap
from ..pattern.floor import pairs_within
from ..record.ground import Array, Cells
from ..record.running import Running
from ..record.site import Site
from ..reference.soils import soil_of
from ..reference.yardsticks import LEAST_MEAN_ML
from .families import STEPS, profiles, rates_of

USUAL_OPENING_M = 0.084  # inside diameter of a can's opening; from memory
MOST_MINUTES = 60
STEP_MINUTES = 5
WETTEST = 0.9            # the wettest tenth of the ground decides about ponding


@dataclass(frozen=True)
class RunTime:
    """The length of the run.

    Attributes
    ----------
    minutes : int [min]
        How long each line runs.
    one_after_the_other : bool
        Whether the lines run in turn, each for so long.
    opening_cm2 : float [cm2]
        Of one can.
    opening_assumed : bool
        Whether the record does not say it.
    rate, rate_low, rate_high : float [mm/h]
        Mean rate at the cans over the whole run: median, and lowest and highest family of profiles.
    catch, catch_low, catch_high : float [mL]
        What the mean can holds then.
    enough : bool
        Whether the mean can holds `LEAST_MEAN_ML` by every family within `MOST_MINUTES`.
    wettest : float [mm/h]
        Rate that nine tenths of the ground stay under while its lines run, highest family.
    intake : float or None [mm/h]
        Lower end of what the soil takes in; None where the soil is not given or not known.
    soil : str or None
        As the record says.
    """

    minutes: int
    one_after_the_other: bool
    opening_cm2: float
    opening_assumed: bool
    rate: float
    rate_low: float
    rate_high: float
    catch: float
    catch_low: float
    catch_high: float
    enough: bool
    wettest: float
    intake: float | None
    soil: str | None


def run_time(site: Site, heads: Array, flow: Array, radius: float, cans: Array, ground: Cells,
             running: Running, line_of: NDArray[np.int_]) -> RunTime:
    """Find the length of a run.

    Parameters
    ----------
    site : Site
        Its test still to come or not.
    heads : array (m, 2) [m]
        Places of the heads.
    flow : array (m,) [L/h]
        Of each head.
    radius : float [m]
        Reach of a head.
    cans : array (n, 2) [m]
        Where cans will stand.
    ground : Cells
        The ground that counts.
    running : Running
        How the lines run; where they run one after the other, each runs as long as all would together.
    line_of : array (m,) of int [1]
        Line of each head.

    Returns
    -------
    RunTime
    """
    area, assumed = opening_of(site)
    table = np.linspace(0.0, radius, STEPS)
    near_cans, near_ground = pairs_within(cans, heads, radius), pairs_within(ground.places, heads, radius)
    rates, wettest = {}, {}
    by_line = [np.where(line_of == line, flow, 0.0) for line in range(len(running.ran))]
    for name, members in profiles().items():
        closed = [overlap.scaled_to_flow(table, member, 1.0) for member in members]
        rates[name] = float(np.median([rates_of(near_cans, table, one, flow).mean() for one in closed]))
        wettest[name] = float(np.median([
            overlap.quantile(running.falls(np.array([rates_of(near_ground, table, one, each) for each in by_line])),
                             WETTEST, ground.weight) for one in closed]))
    low, middle, high = min(rates.values()), float(np.median(list(rates.values()))), max(rates.values())
    per_minute = area / 600.0  # mL a minute in one can at 1 mm/h
    needed = LEAST_MEAN_ML / (low * per_minute) if low > 0 else math.inf
    minutes = MOST_MINUTES if needed > MOST_MINUTES else max(1, math.ceil(needed / STEP_MINUTES - 1e-9)) * STEP_MINUTES
    caught = [rate * per_minute * minutes for rate in (middle, low, high)]
    soil, intake = soil_intake(site)
    over_the_run = (running.pace * rate for rate in (middle, low, high))
    return RunTime(minutes, len(running.stages) > 1, area, assumed, *over_the_run, *caught, needed <= MOST_MINUTES,
                   max(wettest.values()), intake, soil)


def opening_of(site: Site) -> tuple[float, bool]:
    """Opening of a can, and whether it is assumed.

    Parameters
    ----------
    site : Site
        Its test still to come or not.

    Returns
    -------
    area, assumed : float [cm2], bool
    """
    mouth = site.cans.mouth
    return (math.pi / 4 * (100 * USUAL_OPENING_M) ** 2, True) if mouth is None else (mouth, False)


def soil_intake(site: Site) -> tuple[str | None, float | None]:
    """The soil of a record, and the rate it takes in.

    Parameters
    ----------
    site : Site
        Its test still to come or not.

    Returns
    -------
    soil, intake : str or None, float or None [mm/h]
        The lower end of the usual range; None for a soil that is not in the table.
    """
    soil = site.crop.soil if site.crop else None
    if not soil:
        return None, None
    known = soil_of(soil)
    return soil, known.intake_low if known else None
