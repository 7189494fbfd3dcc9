"""Yardsticks: ratings and targets as cited data. They rate the figure at the cans, because they come from cans."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Yardstick:
    """A published or customary value to hold a figure against.

    Attributes
    ----------
    figure : str
        ``cu`` or ``du_low_quarter``.
    low, high : float or None [%]
        Under `low` is poor, from `high` on is good; None where the source gives only one.
    says : str
        What it is about, for a person.
    source : str
        Where it comes from, or 'from memory'.
    """

    figure: str
    low: float | None
    high: float | None
    says: str
    source: str


YARDSTICKS = (
    Yardstick("du_low_quarter", 60.0, 80.0, "overhead watering in nurseries",
              "University of Florida, IFAS Extension, publication AE194"),
    Yardstick("cu", None, 85.0, "sprinklers over vegetables", "Abdul-Ganiyu et al. 2016"),
    Yardstick("cu", None, 84.0, "high-value crops with shallow roots", "from memory"),
    Yardstick("du_low_quarter", None, 75.0, "high-value crops with shallow roots", "from memory"),
)


@dataclass(frozen=True)
class Survey:
    """What others found in the field.

    Attributes
    ----------
    figure : str
        ``du_low_quarter``.
    value : float [%]
        Mean of the systems surveyed.
    says : str
        Which systems.
    source : str
        Where it comes from.
    """

    figure: str
    value: float
    says: str
    source: str


SURVEYS = (
    Survey("du_low_quarter", 72.7, "micro-irrigation systems", "Ascough and Kiker 2002, Water SA"),
    Survey("du_low_quarter", 56.9, "semi-permanent sprinklers", "Ascough and Kiker 2002, Water SA"),
)

# What a sound test looks like; each with its source.
LEAST_CANS = 24
LEAST_CANS_SOURCE = "University of Maryland Extension"
MOST_WIND_MPH = 5.0
MOST_WIND_SOURCE = "ASAE S398.1, as cited by the Irrigation Association 2009"
LEAST_MEAN_ML = 25.0
LEAST_MEAN_ML_SOURCE = "from memory"
# Outside these a unit, the opening or the duration is more likely wrong than the heads; generous on purpose.
MOST_RATE_MM_H = 150.0
LEAST_MEAN_MM, MOST_MEAN_MM = 1.0, 100.0
USUAL_CATCH_SOURCE = "from memory"
# Rate that a soil takes in, the lower end of its range (FAO, second hand); longer names first.
INTAKE_MM_H = (("sandy loam", 20.0), ("clay loam", 5.0), ("loam", 10.0), ("clay", 1.0))


def rate(figure: str, value: float) -> tuple[str, Yardstick]:
    """Rate a figure at the cans against the first yardstick of its kind.

    Parameters
    ----------
    figure : str
        ``cu`` or ``du_low_quarter``.
    value : float [%]
        The figure.

    Returns
    -------
    word, yardstick : str, Yardstick
        ``good``, ``fair`` or ``poor``; with one limit only ``good`` or ``under it``.

    Raises
    ------
    ValueError
        For a figure without a yardstick.
    """
    yardstick = next((item for item in YARDSTICKS if item.figure == figure), None)
    if yardstick is None:
        raise ValueError(f"received the figure {figure!r}, expected cu or du_low_quarter, choose one")
    if value >= yardstick.high:
        return "good", yardstick
    if yardstick.low is None:
        return "under it", yardstick
    return ("fair" if value >= yardstick.low else "poor"), yardstick
