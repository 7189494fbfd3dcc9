"""How much water the crop wants each time, from its daily use, the soil and the roots."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..record.site import Site
from ..reference.crops import MayUse, may_use
from ..reference.soils import soil_of

MOST_DAYS = 7
GIVEN = "as the record says"
MIDDLE = 0.5         # between the lower and the upper end of what a soil holds


@dataclass(frozen=True)
class Need:
    """What the crop wants.

    Attributes
    ----------
    daily_mm : float [mm]
        Used by the crop in a day.
    days : int [1]
        From one watering to the next.
    depth_mm : float [mm]
        Net depth of each watering.
    holds_mm : (float, float) or None [mm]
        Water that the root zone holds for plants between two waterings, lower and upper end; None where soil or roots
        are not known.
    may_use : MayUse
        Which part of the water that the soil holds for plants that is.
    """

    daily_mm: float
    days: int
    depth_mm: float
    holds_mm: tuple[float, float] | None
    may_use: MayUse


def need_of(site: Site) -> Need | None:
    """Find what the crop of a site wants each time.

    The soil may dry by the part of what it holds for plants within the depth of the roots that the record gives, else
    by that of its crop at its daily use (`reference.crops`); the days between two waterings are as many as that lasts,
    `MOST_DAYS` at most. Where soil or roots are not known, it is watered each day.

    Parameters
    ----------
    site : Site
        With ``crop.daily_use``, or without.

    Returns
    -------
    Need or None
        None without the daily use.
    """
    crop = site.crop
    if crop is None or crop.daily_use is None or crop.daily_use.si <= 0:
        return None
    daily = crop.daily_use.to("mm")
    soil, used = soil_of(crop.soil), may_use(crop.kind, daily)
    if crop.may_use is not None:
        used = MayUse(float(crop.may_use), True, GIVEN)
    if soil is None or crop.root_depth is None:
        return Need(daily, 1, daily, None, used)
    low, high = (used.part * held * crop.root_depth.to("m") for held in (soil.holds_low, soil.holds_high))
    usual = low + MIDDLE * (high - low)
    days = min(max(math.floor(usual / daily), 1), MOST_DAYS)
    return Need(daily, days, days * daily, (low, high), used)
