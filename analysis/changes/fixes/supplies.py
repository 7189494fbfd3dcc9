"""The same tunnel on other taps: what each of its other supplies would do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...hydraulics.system import KPA, Closed, Stage, System, WorkingPoint, system_of, working_point, working_range
from ...record.site import Site
from ...reference.yardsticks import LEAST_SHARE
from ...units.shown import show


@dataclass(frozen=True)
class OtherTap:
    """The working point on another tap.

    Attributes
    ----------
    name : str
        Of the tap.
    total_l_h : float or None [L/h]
        Flow at once; None where the record does not say enough of it.
    regulator_kpa : float or None [kPa]
        Behind its regulator, or where the lines begin without one.
    lowest_kpa : float or None [kPa]
        At the head that has least of its working pressure; with a tank, where its pump cuts in.
    holds : bool or None
        Whether it holds the heads' working pressure and all of them open.
    says : str
        One sentence.
    """

    name: str
    total_l_h: float | None
    regulator_kpa: float | None
    lowest_kpa: float | None
    holds: bool | None
    says: str


def other_taps(site: Site, system: str = "metric") -> list[OtherTap]:
    """Find the working point on each other supply of a site.

    Parameters
    ----------
    site : Site
        With `other_supplies`, or none.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of OtherTap
        In the record's order.
    """
    return [_one(site, other.name, system) for other in site.other_supplies]


def _one(site: Site, name: str, system: str) -> OtherTap:
    """One of them."""
    try:
        made = system_of(site, supply=name)
        if not made.fed:
            notes = [note for note in made.notes if note.startswith("The supply was left out")]
            return _unknown(name, notes[0] if notes else "Its keys do not say enough.")
        point = working_point(made)
    except Closed as closed:
        return _unknown(name, str(closed))
    except ValueError:
        return _unknown(name, "Its pressures do not settle.")
    return _told(name, made, point, system)


def _unknown(name: str, why: str) -> OtherTap:
    """A tap of which too little is known."""
    return OtherTap(name, None, None, None, None, f"On {name}, the working point is not known. {why}")


def _told(name: str, made: System, point: WorkingPoint, system: str) -> OtherTap:
    """A tap with its working point."""
    pressure, wanted = np.maximum(point.pressure, 0.0), made.outlets.head * KPA
    worst = int(np.argmin(pressure / wanted))
    lowest, closed = float(pressure[worst]), int((point.flow <= 0).sum())
    stage = max(point.stages, key=lambda each: each.flow)
    regulator = stage.pressures["regulator outlet" if stage.regulator != "none" else "tee"]
    holds = closed == 0 and lowest >= LEAST_SHARE * wanted[worst]
    return OtherTap(name, float(point.total), float(regulator), lowest, bool(holds),
                       _says(name, made, stage, worst, lowest, closed, holds, system))


def _says(name: str, made: System, stage: Stage, worst: int, lowest: float, closed: int, holds: bool,
          system: str) -> str:
    """What it does, in one sentence."""
    def kpa(value: float) -> str:
        return show(max(value, 0.0), "pressure", system, unit="kPa")

    number = int((made.line_of[: worst + 1] == made.line_of[worst]).sum())
    behind = f"{kpa(stage.pressures['regulator outlet'])} behind the regulator" if stage.regulator != "none" else (
        f"{kpa(stage.pressures['tee'])} where the lines begin")
    words = (f"On {name}: {show(stage.flow, 'flow', system, unit='L/h')} at once, {behind}, {kpa(lowest)} at the worst "
             f"head ({made.names[made.line_of[worst]]} line, head {number})")
    if made.swing:
        high = max(float(working_range(made).high.pressure[worst]), 0.0)
        words += f" where its pump cuts in, {kpa(high)} where it cuts out"
    least = kpa(LEAST_SHARE * made.outlets.head[worst] * KPA)
    if closed:
        return f"{words}: {closed} heads do not open."
    starved = " (its regulator is starved)" if stage.regulator == "starved" else ""
    if not holds:
        return f"{words}: it does not hold the heads' working pressure, which is {least} or more{starved}."
    return f"{words}: it holds the heads' working pressure ({least} or more){starved}."
