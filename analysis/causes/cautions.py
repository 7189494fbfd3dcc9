"""What a reader should know before trusting a figure, and before climbing a ladder."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..cans.catch import Catch, rate_from_depth
from ..cans.outliers import odd_cans
from ..record.site import Site
from ..reference import yardsticks
from ..units.quantity import from_si
from ..units.shown import show

# The usual cautions of the trade, in own words; common practice, no source. Local codes and licensed practice
# come first.
LADDERS = "Ladders: a second person holds it, and nobody works near overhead lines or live electric parts."
FRAME = ("The frame must carry what hangs on it: ask its maker before adding a line. A tensioned cable can whip: "
         "protect your eyes.")
PRESSURE = ("Pressure: close, vent and check that the gauge reads zero before opening a filter or a fitting. With "
            "valves shut, the tube behind a regulator may rise to the full supply pressure.")
ELECTRICITY = "Water and mains electricity do not mix: wiring of pumps and valves is for licensed people."
BACKFLOW = ("Backflow: a hose line that hangs higher than its tap can push water back. Ask the water authority which "
            "device is required, and never feed chemicals without it.")
SAFETY = (
    LADDERS, FRAME, PRESSURE, ELECTRICITY, BACKFLOW,
    "No test inside a pesticide's re-entry time, nor before its label lets water touch it.",
    "Warm standing water and fine spray can carry germs: flush first and stay out of the mist. A hose in the sun "
    "can scald.",
    "Water on crops that are eaten raw must meet the local food-safety rules.",
    "Frost: drain lines, filter bowl, regulator and valves before it comes.",
    "Local codes and licensed practice come before anything this tool says.",
)

SHORT = {LADDERS: "ladders", FRAME: "the frame", PRESSURE: "pressure", ELECTRICITY: "electricity", BACKFLOW: "backflow"}


def cautions_of(site: Site, catch: Catch, system: str = "metric") -> list[str]:
    """What weakens this test.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of str
        Whole sentences; empty for a sound test.
    """
    return [says for check in (_amount, _odd, _count, _wind, _volume, _evaporation, _grid)
            for says in check(site, catch, system)]


def _amount(site: Site, catch: Catch, system: str) -> Iterator[str]:
    """More or less water than can be."""
    mean = float(np.average(catch.depth_mm[catch.counted], weights=catch.weight[catch.counted]))
    rate = float(rate_from_depth(mean, site.run_minutes))
    look = [f"run.duration ({site.record.run.duration.text})", f"the unit of the readings ({site.cans.unit})"]
    if site.cans.opening is not None:
        look.insert(1, f"the cans' opening ({site.cans.opening_text})")
    source = f"({yardsticks.USUAL_CATCH_SOURCE})"
    wrong = []
    if rate > yardsticks.MOST_RATE_MM_H:
        most = show(yardsticks.MOST_RATE_MM_H, "rate", system, unit="mm/h")
        wrong.append(f"a mean rate of {show(rate, 'rate', system, unit='mm/h')}, usual is at most {most} {source}")
    if mean > yardsticks.MOST_MEAN_MM:
        most = show(yardsticks.MOST_MEAN_MM, "depth", system, unit="mm")
        wrong.append(f"a mean catch of {show(mean, 'depth', system, unit='mm')}, usual is at most {most} {source}")
    if mean < yardsticks.LEAST_MEAN_MM:
        least = show(yardsticks.LEAST_MEAN_MM, "depth", system, unit="mm")
        wrong.append(f"a mean catch of {show(mean, 'depth', system, unit='mm')}, usual is at least {least} {source}")
    if wrong:
        yield f"Received {' and '.join(wrong)}: check {', '.join(look[:-1])} and {look[-1]}."


def _odd(site: Site, catch: Catch, system: str) -> Iterator[str]:
    """Cans far off their neighbours."""
    for can in odd_cans(site, catch):
        yield can.says


def _count(site: Site, catch: Catch, system: str) -> Iterator[str]:
    """Fewer cans than are advised."""
    used = int(catch.counted.sum())
    if used < yardsticks.LEAST_CANS:
        yield (f"{used} cans are in the figures; {yardsticks.LEAST_CANS} or more are advised "
               f"({yardsticks.LEAST_CANS_SOURCE}).")


def _wind(site: Site, catch: Catch, system: str) -> Iterator[str]:
    """More wind than a test stands."""
    wind = site.record.run.wind
    if wind and wind.to("mph") > yardsticks.MOST_WIND_MPH:
        limit = show(yardsticks.MOST_WIND_MPH, "speed", system, unit="mph")
        yield (f"The wind of {show(wind.si, 'speed', system)} is over the {limit} at which a test is still sound "
               f"({yardsticks.MOST_WIND_SOURCE}).")


def _volume(site: Site, catch: Catch, system: str) -> Iterator[str]:
    """Cans that hold too little to be read well."""
    if site.cans.opening is None:
        return
    mean = float(np.average(catch.read_mm[catch.counted])) * site.cans.opening / 10
    if mean < yardsticks.LEAST_MEAN_ML:
        held, least = (f"{from_si(ml / 1e6, 'fl oz', 'volume'):.2f} fl oz" if system == "US" else f"{ml:.0f} mL"
                       for ml in (mean, yardsticks.LEAST_MEAN_ML))
        yield (f"The mean can held {held}; {least} or more keep the reading error small "
               f"({yardsticks.LEAST_MEAN_ML_SOURCE}). Run longer.")


def _evaporation(site: Site, catch: Catch, system: str) -> Iterator[str]:
    """What was added for evaporation, and what is not known of it."""
    if not catch.corrected:
        return
    loss = show(catch.evaporation_mm, "depth", system, unit="mm")
    yield (f"Evaporation: {loss} was added to every can that held water. This raises CU and DU; both are shown.")
    dry = int((catch.read_mm[catch.counted] == 0).sum())
    if dry:
        yield (f"{dry} can{' was' if dry == 1 else 's were'} dry when read and stay{'s' if dry == 1 else ''} at 0, "
               f"though up to {loss} may have dried off.")
    if site.cans.exposed is None:
        yield ("How long water stood in the cans is not in the record (cans.exposed); the run's duration was taken "
               "for it.")


def _grid(site: Site, catch: Catch, system: str) -> Iterator[str]:
    """Figures that speak of the cans alone."""
    if site.lines and catch.row.max() > 0:
        return
    if not site.lines:
        yield ("Without heads and lines the figures speak of the cans only; a coarse grid can read far more even than "
               "the ground is. Add heads and lines to the record.")
