"""Under which conditions a test was made, and what was unlike between two tests."""

from __future__ import annotations

from dataclasses import dataclass

from ..units.shown import show
from .model import Record
from .places import line_named

UNLIKE_WIND_M_S = 1.0  # a difference of the wind that may matter; a judgement, like the next
UNLIKE_PRESSURE = 0.1  # part of the pressure


@dataclass(frozen=True)
class Conditions:
    """What may change a test's figures beside the system itself.

    Attributes
    ----------
    lines, sides : str or None
        How the lines ran; how the sides stood.
    wind : float or None [m/s]
        At the floor.
    pressures : dict of str to float [kPa]
        Gauge readings by their place in words.
    """

    lines: str | None
    sides: str | None
    wind: float | None
    pressures: dict[str, float]


def conditions_of(record: Record) -> Conditions:
    """Gather a test's conditions.

    Parameters
    ----------
    record : Record
        Checked.

    Returns
    -------
    Conditions
    """
    run = record.run
    pressures = {}
    for item in record.pressures or []:
        place = item.at if item.at != "line" else f"{line_named(item.line)}, head {item.head}"
        pressures[place] = item.value.si / 1e3
    return Conditions(run.lines, run.sides, run.wind.si if run.wind else None, pressures)


def unlike(before: Conditions, now: Conditions, system: str = "metric") -> list[str]:
    """Say what was unlike between two tests.

    Parameters
    ----------
    before, now : Conditions
        Of the earlier and the later test.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    list of str
        Whole sentences; empty where nothing is known to differ.
    """
    said = []
    if before.lines != now.lines:
        said.append(f"The lines ran {before.lines or 'in a way that was not noted'} before and "
                    f"{now.lines or 'in a way that was not noted'} now.")
    if before.sides != now.sides:
        said.append(f"The sides were {before.sides or 'not noted'} before and {now.sides or 'not noted'} now.")
    if before.wind is not None and now.wind is not None and abs(now.wind - before.wind) > UNLIKE_WIND_M_S:
        said.append(f"The wind was {show(before.wind, 'speed', system)} before and "
                    f"{show(now.wind, 'speed', system)} now.")
    for place, value in now.pressures.items():
        was = before.pressures.get(place)
        if was and abs(value - was) > UNLIKE_PRESSURE * was:
            said.append(f"The pressure at {place} was {show(was, 'pressure', system, unit='kPa')} before and "
                        f"{show(value, 'pressure', system, unit='kPa')} now.")
    return said
