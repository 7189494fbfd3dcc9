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
    low : float or None [%]
        Under it is poor; None where the source gives only one limit.
    high : float [%]
        From it on is good.
    says : str
        What it is about, for a person.
    source : str
        Where it comes from, or 'from memory'.
    """

    figure: str
    low: float | None
    high: float
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
# Part of its working pressure that the lowest head must keep for the supply to be said to hold; from memory.
LEAST_SHARE = 0.8


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


@dataclass(frozen=True)
class Limit:
    """A value beyond which a cause is likely, with where it comes from.

    Attributes
    ----------
    value : float [unit]
        The limit.
    unit : str
        Its unit; ``1`` for a plain number.
    says : str
        What it is about, for a person.
    source : str
        Where it comes from, 'from memory' or 'common practice, no source'.
    """

    value: float
    unit: str
    says: str
    source: str


_MEMORY = "from memory"
_TEXTS = "a rule of the trade, as read in teaching texts"

# Gauges: the smallest of these scales that a reading fills to three quarters at most is taken for its gauge; from
# memory.
GAUGE_SCALES_KPA = (160.0, 250.0, 400.0, 600.0, 1000.0, 1600.0)
GAUGE_SHARE = 0.03  # of the full scale, limit of error
# Level and slope (at the ends of the line) that sound lines show beside each other, as standard deviations; a
# judgement, not measured.
SOUND_LEVEL, SOUND_SLOPE = 0.03, 0.03

LIMITS = {
    "flow spread": Limit(0.10, "1", "largest less smallest flow over the largest, heads of one set", _TEXTS),
    "line spacing": Limit(0.60, "1", "distance of lines / wetted diameter, heads in a triangle, still air",
                          "teaching slides after a landscape text"),
    "regulator margin": Limit(34.474, "kPa", "what a regulator takes of its inlet pressure at least (5 psi)", _MEMORY),
    "filter loaded": Limit(27.6, "kPa", "loss over the clean one at which a filter is cleaned (4 psi; 3 to 5 psi)",
                           "University of California, Agriculture and Natural Resources"),
    "velocity": Limit(1.5, "m/s", "in hoses and tubes", _TEXTS),
    "mist": Limit(300.0, "kPa", "pressure at the head above which the reach grows no more", _MEMORY),
    "working pressure": Limit(0.75, "1", "pressure at the head / pressure of its data sheet, below which the pattern "
                              "turns to a ring", "a judgement, not measured"),
    "flow of a head": Limit(0.82, "1", "flow by the cans / nominal flow that is still usual", _MEMORY),
    "regulator holds": Limit(0.08, "1", "outlet under the set pressure that is still usual, part of it", _MEMORY),
    "layout": Limit(0.17, "1", "unevenness (root mean square of what is missing / mean) that one fault of the layout "
                    "may bring", "a judgement, not measured"),
    "dry between": Limit(0.75, "1", "depth midway between two lines / mean, below which dry edges have the same reason",
                         "a judgement, not measured"),
    "swing": Limit(0.25, "1", "cut-out less cut-in pressure over their mean, without a regulator", _MEMORY),
}


def limit(name: str) -> float:
    """A limit's value.

    Parameters
    ----------
    name : str
        A key of `LIMITS`.

    Returns
    -------
    float [unit of the limit]
    """
    return LIMITS[name].value
