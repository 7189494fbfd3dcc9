"""The cans of a site: where they stand, what was read, and what turns that into depths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .ground import Array
from .model import Cans, Evaporation
from .places import all_readings, can_places, row_lengths, set_aside_numbers

PLACED_WITHIN = 0.05    # [m] how well cans stand where they should, where the record does not say; from memory


@dataclass(frozen=True)
class SiteCans:
    """Where the cans stand and what they are; arrays of shape (n,) in the record's order.

    Attributes
    ----------
    x, y : array [m]
        Places.
    row, column : array of int [1]
        Counted from 1; free points have row 0 and are numbered by column.
    readings : array [unit of the readings]
        As read; nan without a reading.
    set_aside : dict of int to str
        Number of a can, from 0 -> why it is left out.
    weight : array [1] or None
        As the record gives it, one for each can; None for equal weights and for the nearest area.
    by_area : bool
        Whether each can stands for the ground that is nearest to it.
    reads, unit : str
        What was read, and its unit.
    opening : float or None [cm2]
        Area of a can's opening; None where depth was read.
    mouth : float or None [cm2]
        The same, whatever is read from them.
    opening_text : str
        The opening as a person wrote it; empty where nobody did.
    tare : float or None [g]
        Weight of an empty can; None where no weight was read.
    exposed : float or None [s]
        How long water stood in them; None where nobody says.
    control : Evaporation or None
        Control cans, as written.
    placed_within : float [m]
        How well they stand where they should.
    """

    x: Array
    y: Array
    row: NDArray[np.int_]
    column: NDArray[np.int_]
    readings: Array
    set_aside: dict[int, str]
    weight: Array | None
    by_area: bool
    reads: str
    unit: str
    opening: float | None
    mouth: float | None
    opening_text: str
    tare: float | None
    exposed: float | None
    control: Evaporation | None
    placed_within: float


def cans_of(cans: Cans | None) -> SiteCans:
    """Resolve the cans.

    Parameters
    ----------
    cans : Cans or None
        As written; None, or without places, where the test is still to come.

    Returns
    -------
    SiteCans
        Empty then; volume in mL where nobody says what is read.
    """
    cans = cans or Cans.model_construct(reads="volume", unit="mL")
    places, lengths = can_places(cans), row_lengths(cans)
    if cans.points is not None:
        row, column = np.zeros(len(places), int), np.arange(1, len(places) + 1)
    else:
        row = np.repeat(np.arange(1, len(lengths) + 1), lengths)
        column = np.concatenate([np.zeros(0, int), *(np.arange(1, count + 1) for count in lengths)])
    weight = None
    if isinstance(cans.weights, list):
        weight = np.concatenate([np.atleast_1d(np.asarray(part, float)) for part in cans.weights])
    told = cans.opening or cans.opening_area
    return SiteCans(
        x=np.array([place[1] for place in places]), y=np.array([place[2] for place in places]), row=row, column=column,
        readings=np.array(all_readings(cans), float), set_aside=set_aside_numbers(cans), weight=weight,
        by_area=cans.weights == "nearest area", reads=cans.reads, unit=cans.unit,
        opening=None if cans.reads == "depth" else _mouth(cans), mouth=_mouth(cans),
        opening_text=told.text if told else "",
        tare=cans.tare.to("g") if cans.reads == "weight" and cans.tare else None,
        exposed=cans.exposed.si if cans.exposed else None, control=cans.evaporation,
        placed_within=cans.placed_within.si if cans.placed_within else PLACED_WITHIN)


def _mouth(cans: Cans) -> float | None:
    """Area of a can's opening [cm2]."""
    if cans.opening_area:
        return cans.opening_area.to("cm2")
    return float(np.pi / 4 * cans.opening.to("cm") ** 2) if cans.opening else None
