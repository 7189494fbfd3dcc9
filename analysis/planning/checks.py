"""What to check before the run, where control cans stand, and what a blocked head asks of the cans."""

from __future__ import annotations

from ..record.site import Site
from ..reference.yardsticks import MOST_WIND_MPH, MOST_WIND_SOURCE
from ..units.shown import show

LEAST_OPENING_SOURCE = "University of Maryland Extension"
_FL_OZ_ML, _IN2_CM2 = 29.5735, 6.4516
CONTROL_CANS = 3  # from memory
# Blocked heads that the estimate names, of 100, by the number of cans: the guide's 266 simulated tunnels.
BLOCKED_FOUND = ((72, 94), (60, 88), (36, 87), (18, 50))


def checks(site: Site, units: str) -> tuple[str, ...]:
    """List what to check before the cans are set out and while the zone starts.

    Parameters
    ----------
    site : Site
        Its test still to come or not.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    tuple of str
        In the order of the work, one sentence each.
    """
    supply, care = site.supply, site.record.care
    cleaned = care.filter_cleaned if care else None
    said = ["Walk the lines while they run: every head turns, none drips at a fitting, no line is kinked.",
            f"The filter is clean{f' (last cleaned {cleaned})' if cleaned else ''}: shut, vent and check for zero "
            "pressure before it is opened.",
            "Each line is flushed at its far end until the water is clear.",
            "The arrow on the regulator points the way the water flows.",
            "No leak at hose, couplings, tees or end plugs, looked for under pressure.",
            "Nobody else draws from this supply during the run."]
    if supply and supply.kind == "pump with tank":
        said.append("Write down when the pump starts and stops: its pressure swings in between.")
    said += ["The sides are closed, or as they are when you water; write down which.",
             f"Wind at the floor at most {show(MOST_WIND_MPH, 'speed', units, unit='mph')} ({MOST_WIND_SOURCE}).",
             f"All cans are alike, with an opening of {show(0.0508, 'bore', units)} or more ({LEAST_OPENING_SOURCE}), "
             "level, their rims above the crop and nothing dripping into them.",
             "No test inside a pesticide's re-entry time, nor before its label lets water touch it."]
    return tuple(said)


def volume_text(ml: float, units: str, with_unit: bool = True) -> str:
    """Write what a can holds.

    Parameters
    ----------
    ml : float [mL]
        Volume.
    units : str
        ``metric`` or ``US``.
    with_unit : bool
        Whether the unit follows.

    Returns
    -------
    str
        In mL, or fl oz to a tenth.
    """
    number, unit = (f"{ml / _FL_OZ_ML:.1f}", "fl oz") if units == "US" else (f"{ml:.0f}", "mL")
    return f"{number} {unit}" if with_unit else number


def opening_text(cm2: float, units: str) -> str:
    """Write a can's opening.

    Parameters
    ----------
    cm2 : float [cm2]
        Its area.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        ``55 cm²`` or ``8.6 in²``.
    """
    return f"{cm2 / _IN2_CM2:.1f} in²" if units == "US" else f"{cm2:.0f} cm²"


def control_words(minutes: float, catch_ml: float, units: str) -> str:
    """Where control cans stand and what goes into them.

    Parameters
    ----------
    minutes : float [min]
        Length of the run.
    catch_ml : float [mL]
        What the mean can is expected to hold.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        Two sentences.
    """
    level = volume_text(max(10, round(catch_ml / 5) * 5), units)
    return (f"Control cans: {CONTROL_CANS} of the same cans (from memory), each with {level}, in the air of the tunnel "
            "and beyond the spray: behind the end wall, or under a board that lets air pass. Note the clock when they "
            f"are filled and when they are read, at the earliest after {minutes:.0f} min: what they lose, the other "
            "cans lose too.")


def blocked_found(cans: int) -> int | None:
    """How many of 100 blocked heads so many cans let the estimate name.

    Parameters
    ----------
    cans : int [1]
        How many.

    Returns
    -------
    int or None [1]
        None for fewer cans than were simulated.
    """
    return next((found for least, found in BLOCKED_FOUND if cans >= least), None)
