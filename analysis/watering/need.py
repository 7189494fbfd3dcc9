"""How much water the crop wants each time, from its daily use, the soil and the roots."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..record.site import Site
from ..reference.soils import soil_of

USED_PART = 0.5      # of the water that the soil holds for plants, before the next watering
USED_SOURCE = "from memory"
MOST_DAYS = 7
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
    """

    daily_mm: float
    days: int
    depth_mm: float
    holds_mm: tuple[float, float] | None


def need_of(site: Site) -> Need | None:
    """Find what the crop of a site wants each time.

    The soil may dry by `USED_PART` of what it holds for plants within the depth of the roots; the days between two
    waterings are as many as that lasts, `MOST_DAYS` at most. Where soil or roots are not known, it is watered each
    day.

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
    soil = soil_of(crop.soil)
    if soil is None or crop.root_depth is None:
        return Need(daily, 1, daily, None)
    low, high = (USED_PART * held * crop.root_depth.to("m") for held in (soil.holds_low, soil.holds_high))
    usual = low + MIDDLE * (high - low)
    days = min(max(math.floor(usual / daily), 1), MOST_DAYS)
    return Need(daily, days, days * daily, (low, high))
