"""Soils: what they take in and hold, and how to water in several short runs where the rate is over the intake."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Soil:
    """A kind of soil, as ranges.

    Attributes
    ----------
    name : str
        As people write it.
    intake_low, intake_high : float [mm/h]
        Rate that it takes in when wet (FAO, second hand).
    holds_low, holds_high : float [mm/m]
        Water that plants can draw from a metre of it (UC Davis).
    """

    name: str
    intake_low: float
    intake_high: float
    holds_low: float
    holds_high: float


_PER_FOOT = 25.4 / 0.3048  # mm/m in 1 in/ft


def _alike(intake: tuple[float, float], holds: tuple[float, float], *names: str) -> tuple[Soil, ...]:
    """Soils of one row of the table of what they hold [in/ft], with the intake of its plainest [mm/h]."""
    return tuple(Soil(name, *intake, holds[0] * _PER_FOOT, holds[1] * _PER_FOOT) for name in names)


# The rows of UC Davis; which other soils stand in a row with a named one, and their intake, is from memory. An upper
# end for the intake of sand (50 mm/h) and plain silt are from memory too.
SOILS = (
    *_alike((30.0, 50.0), (0.75, 1.25), "sand", "coarse sand", "fine sand", "loamy sand"),
    *_alike((20.0, 30.0), (1.25, 1.75), "sandy loam", "fine sandy loam"),
    *_alike((10.0, 20.0), (1.50, 2.30), "loam", "very fine sandy loam", "silt loam", "silt"),
    *_alike((5.0, 10.0), (1.75, 2.50), "clay loam", "silty clay loam", "sandy clay loam"),
    *_alike((1.0, 5.0), (1.60, 2.50), "clay", "sandy clay", "silty clay"),
)
_WORDS = ("sand", "sandy", "silt", "silty", "loam", "loamy", "clay", "clayey", "peat", "muck", "gravel", "rock")
INTAKE_SOURCE = "FAO, second hand"
HOLDS_SOURCE = "UC Davis"
# How fast intake falls towards its final rate, and how much water stands on a level bed before it runs off.
DECAY_PER_H = 2.0
STANDS_MM = 2.0
SOAK_SOURCE = "from memory"
LEAST_RUN_MIN = 1.0


@dataclass(frozen=True)
class Soak:
    """A watering cut into runs with pauses.

    Attributes
    ----------
    runs : int [1]
        How many; 1 where one run goes in without a pause.
    on_min, pause_min : float [min]
        Length of each run, and of the pause after it.
    """

    runs: int
    on_min: float
    pause_min: float


def soil_of(text: str | None) -> Soil | None:
    """Find a soil by what somebody wrote.

    Parameters
    ----------
    text : str or None
        Such as ``Sandy loam, some stones``: a name of the table, and after a comma or in brackets what is no soil.

    Returns
    -------
    Soil or None
        None for anything else: a soil is never taken by a part of what was written.
    """
    name, *rest = re.split(r"[,;(]", (text or "").casefold(), maxsplit=1)
    if any(word.rstrip("s") in _WORDS for word in re.findall(r"[a-z]+", "".join(rest))):
        return None  # two soils: which of them holds the roots is not said
    plain = " ".join(re.findall(r"[^\s-]+", name)).rstrip("s.")
    return next((soil for soil in SOILS if soil.name == plain), None)


def hours_to_ponding(rate: float, first: float, final: float, decay: float) -> float:
    """How long a soil takes in a steady rate before water stands.

    Intake falls from `first` to `final` as water goes in (Horton): t = (f0 - P + fc ln((f0 - fc) / (P - fc))) / (P b),
    Hung and Krinik 1995.

    Parameters
    ----------
    rate : float [mm/h]
        Rate of the water, P.
    first, final : float [mm/h]
        Intake of the dry and of the wet soil, f0 and fc.
    decay : float [1/h]
        How fast it falls, b.

    Returns
    -------
    float [h]
        0 from `first` on, infinite up to `final`.
    """
    if rate <= final:
        return math.inf
    if rate >= first:
        return 0.0
    return (first - rate + final * math.log((first - final) / (rate - final))) / (rate * decay)


def soak(rate: float, minutes: float, soil: Soil) -> Soak:
    """Cut a watering into runs that go in.

    A run may last until water stands, and until no more stands than a level bed holds; the pause lets that go in.

    Parameters
    ----------
    rate : float [mm/h]
        Where it is highest.
    minutes : float [min]
        Length of the whole watering.
    soil : Soil
        The soil; the lower end of its intake is taken for the wet soil, the upper for the dry one.

    Returns
    -------
    Soak
    """
    final = soil.intake_low
    if rate <= final:
        return Soak(1, minutes, 0.0)
    hours = hours_to_ponding(rate, soil.intake_high, final, DECAY_PER_H) + STANDS_MM / (rate - final)
    runs = max(1, math.ceil(minutes / max(60 * hours, LEAST_RUN_MIN) - 1e-9))
    if runs == 1:
        return Soak(1, minutes, 0.0)
    on = minutes / runs
    return Soak(runs, on, on * (rate / final - 1))
