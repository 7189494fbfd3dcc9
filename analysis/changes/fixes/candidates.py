"""Which changes are worth trying on this system: each alone, and then the best of them together."""

from __future__ import annotations

from collections.abc import Collection
from itertools import combinations
from math import comb
from typing import TYPE_CHECKING

import numpy as np
from scipy.constants import psi

from ...record.ground import Array
from ...record.model import Regulator
from ...record.site import Site, SiteLine
from ..change import exclude
from .water import SystemState

if TYPE_CHECKING:
    from .judge import Judged

STEPS = {"US": 5 * psi, "metric": 50e3}  # [Pa] in which regulators are sold, common practice
WIDER = {"US": 0.3048, "metric": 0.5}    # [m] in which wetted diameters of heads are told; a judgement
PLACES = {"US": 0.1524, "metric": 0.1}   # [m] to which places of lines are told
LEAST = 50e3     # [Pa] no lower setting is tried
FOOT = 0.3048    # [m]
GPM = 227.125    # [L/h] in a US gallon a minute
BORES_MM = (15.8, 20.9, 26.6, 35.1)  # of polyethylene tube by inside diameter, from memory
HOSES_MM = (12.7, 15.9, 19.0, 25.4, 31.8)
MOST_LINES = 6
FROM_WALL = 0.2  # [m] least distance of a head from an end wall, so that it waters the ground and not the film;
                 # a judgement
MOST_SETS = 3    # of places of lines, for each number of lines
PARTNERS = 12    # single changes that are tried together
A_KEY = 3        # of them with the same key
DEEPER = 10      # pairs to which a third is added
THIRDS = 6       # single changes that are tried as the third
HELPERS = ("run_lines", "filter")  # they may let the supply carry another change, whatever they bring alone


def singles(site: Site, reach: float, water: SystemState | None, system: str = "metric") -> list[list[str]]:
    """Changes to try alone, beside the mending of what is at fault.

    Parameters
    ----------
    site : Site
        With heads on lines.
    reach : float [m]
        Of the heads, as the cans show it.
    water : SystemState or None
        Today's pressures and flows; None where they are not known.
    system : str
        ``metric`` or ``US``, for the sizes.

    Returns
    -------
    list of list of str
        Each as `changes.read_changes` takes it.
    """
    lines = [site.lines[number] for number in site.from_the_left()]
    found: list[list[str]] = []
    if water is not None:
        found += _tubes(site, lines, system)
        if water.fed:
            found += _supply(site, lines, water, system)
    found += _rows([line.along for line in lines], site.length, system)
    found += [[f"wetted_diameter={_size(wide, system)}"] for wide in _wider(2 * reach, site.width, WIDER[system])]
    return found + [[f"line_x={', '.join(_size(x, system, 2) for x in places)}"] for places in line_sets(site, system)]


def _wider(today: float, width: float, step: float) -> list[float]:
    """Wetted diameters of wider heads, none wider than the floor [m]."""
    wanted = {step * round(part * today / step) for part in (1.2, 1.4)}
    return sorted(wide for wide in wanted if 1.05 * today < wide <= width)


def together(judged: list[Judged], now: float, always: Collection[str] = ()) -> list[list[str]]:
    """Two changes at once, of the best single ones.

    Parameters
    ----------
    judged : list of judge.Judged
        Single changes with point predictions.
    now : float [%]
        Point prediction of DUlq as it is, with what is at fault mended.
    always : collection of str
        Keys of what is at fault, which every change has.

    Returns
    -------
    list of list of str
        Each as `changes.read_changes` takes it.
    """
    best = _best(judged, now, PARTNERS, always)
    return [_both(one, two) for one, two in combinations(best, 2) if _fit(one, two, always)]


def deeper(pairs: list[Judged], judged: list[Judged], now: float, always: Collection[str] = ()) -> list[list[str]]:
    """A third change with the best pairs.

    Parameters
    ----------
    pairs, judged : list of judge.Judged
        Two changes at once, and single ones, with point predictions.
    now : float [%]
        Point prediction of DUlq as it is, with what is at fault mended.
    always : collection of str
        Keys of what is at fault, which every change has.

    Returns
    -------
    list of list of str
        Each as `changes.read_changes` takes it.
    """
    begun = sorted((pair for pair in pairs if pair.point > now), key=lambda pair: -pair.point)[:DEEPER]
    found = {}
    for pair in begun:
        for one in _best(judged, now, THIRDS, always):
            if _fit(pair, one, always):
                found[frozenset(_both(pair, one))] = _both(pair, one)
    return list(found.values())


def _best(judged: list[Judged], now: float, most: int, always: Collection[str]) -> list[Judged]:
    """Single changes that gain, the largest gain first, and the helpers."""
    ranked = sorted((one for one in judged if one.point > now + 0.3), key=lambda one: -one.point)
    taken = [one for one in judged if set(one.change.texts) & set(HELPERS)]
    of_key: dict[str, int] = {}
    for one in ranked:
        key = next(key for key in one.change.texts if key not in always)
        of_key[key] = of_key.get(key, 0) + 1
        if len(taken) < most and of_key[key] <= A_KEY and not any(one is other for other in taken):
            taken.append(one)
    return taken


def _both(one: Judged, two: Judged) -> list[str]:
    """Two changes as they are typed together."""
    return [f"{key}={text}" for key, text in (one.change.texts | two.change.texts).items()]


def _fit(one: Judged, two: Judged, always: Collection[str]) -> bool:
    """Whether two changes can be made together."""
    keys, others = set(one.change.texts), set(two.change.texts)
    return not keys & others - set(always) and not exclude(keys | others)


def line_sets(site: Site, system: str = "metric") -> list[list[float]]:
    """Other places for the lines: where the record says that one can be carried, or anywhere where it says nothing.

    Parameters
    ----------
    site : Site
        A line that hangs can stay where it is.
    system : str
        ``metric`` or ``US``, for the places.

    Returns
    -------
    list of list of float [m]
        For as many lines as today and one or two more, those that leave the narrowest strips first.
    """
    today = [site.lines[number].x for number in site.from_the_left()]
    if not len(site.hangs_at):
        return _anywhere(today, site.width, PLACES[system])
    carriers = sorted([*today, *(float(place) for place in site.hangs_at
                                 if min(abs(place - x) for x in today) > 0.02)])
    width = site.width
    found: list[list[float]] = []
    for count in range(len(today), min(len(today) + 2, MOST_LINES) + 1):
        if count > len(carriers) or _many(len(carriers), count):
            continue
        sets = [list(places) for places in combinations(carriers, count) if list(places) != today]
        found += sorted(sets, key=lambda places: (round(_widest(places, width), 3),
                                                  -len(set(places) & set(today))))[:MOST_SETS]
    return found


def _anywhere(today: list[float], width: float, step: float) -> list[list[float]]:
    """Lines evenly across, nearer to the walls, and today's with more of them in the widest strips [m]."""
    found: list[list[float]] = []
    kept = list(today)
    for count in range(len(today), min(len(today) + 2, MOST_LINES) + 1):
        even = [(number + 0.5) * width / count for number in range(count)]
        outer = 0.4 * width / count
        sets = [even, list(np.linspace(outer, width - outer, count)) if count > 1 else even]
        if count > len(today):
            kept = sorted([*kept, _in_widest(kept, width)])
            sets.insert(0, kept)
        for places in sets:
            told = [x if x in today else step * round(x / step) for x in places]
            same = count == len(today) and np.allclose(told, today, atol=0.02)
            if told not in found and not same and min(np.diff([0.0, *told, width])) > 0.1:
                found.append(told)
    return found


def _in_widest(places: list[float], width: float) -> float:
    """The middle of the widest strip that a line would halve [m]."""
    strips = [(2 * places[0], places[0] / 2), (2 * (width - places[-1]), (places[-1] + width) / 2),
              *((two - one, (one + two) / 2) for one, two in zip(places, places[1:], strict=False))]
    return max(strips)[1]


def _many(of: int, count: int) -> bool:
    """Whether there are too many sets to look at each."""
    return comb(of, count) > 5000


def _widest(places: list[float], width: float) -> float:
    """Width of the widest strip that a line serves alone, walls included [m]."""
    return float(max(2 * places[0], 2 * (width - places[-1]), *np.diff(places), 0.0))


def _number(value: float, decimals: int) -> str:
    """A number without zeros at its end."""
    return f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"


def _size(metres: float, system: str, decimals: int = 1) -> str:
    """A length as it is typed."""
    return f"{_number(metres / FOOT, decimals)} ft" if system == "US" else f"{_number(metres, 2)} m"


def _bore(mm: float, system: str) -> str:
    """A bore as it is typed."""
    return f"{mm / 25.4:.3f} in" if system == "US" else f"{mm:g} mm"


def _flow(l_h: float, system: str) -> str:
    """A flow as it is typed."""
    return f"{float(f'{l_h / GPM:.2g}'):g} gpm" if system == "US" else f"{float(f'{l_h:.2g}'):g} L/h"


def _tubes(site: Site, lines: list[SiteLine], system: str) -> list[list[str]]:
    """What pressures along the lines may gain from: wider tube, middle feed, heads of less flow."""
    wider = [bore for bore in BORES_MM if bore > min(line.bore or 0.0 for line in lines) * 1e3 + 1]
    found = [[f"pipe={_bore(bore, system)}"] for bore in wider[:2]]
    if any(line.fed_from != "middle" for line in lines):
        found.append(["fed_from=middle"])
    flow = site.common("flow")
    return found + [[f"flow={_flow(flow * 3.6e6 * part, system)}"] for part in (0.8, 0.6) if flow]


def _supply(site: Site, lines: list[SiteLine], water: SystemState, system: str) -> list[list[str]]:
    """What the supply may be changed in."""
    supply = site.supply
    if supply is None:
        return []
    found: list[list[str]] = []
    if supply.filter and supply.filter.loaded is not None and supply.filter.loaded > 1:
        found.append(["filter=clean"])
    if len(lines) > 1 and not site.in_turn:
        found.append(["run_lines=in turn"])
    if supply.regulator:
        for wanted in _settings(supply.regulator.set.si, STEPS[system]):
            if wanted > LEAST and (supply.static is None or wanted < supply.static.si):
                found.append([f"pressure={_pressure(wanted, system)}"])
        found += _range(supply.regulator, water, system)
    if supply.hose:
        wider = [bore for bore in HOSES_MM if bore > supply.hose.inside.si * 1e3 + 1]
        found += [[f"hose={_bore(bore, system)}"] for bore in wider[:2]]
        if supply.hose.length.si >= 4.0:
            found.append([f"hose_length={_size(round(supply.hose.length.si / 2), system)}"])
    return found


def _settings(today: float, step: float) -> list[float]:
    """The next two steps of the trade below and above a setting [Pa]."""
    below, above = np.ceil(today / step - 0.05) - 1, np.floor(today / step + 0.05) + 1
    return [float(step * number) for number in (below - 1, below, above, above + 1)]


def _pressure(pascal: float, system: str) -> str:
    """A pressure as it is typed."""
    return f"{pascal / psi:.0f} psi" if system == "US" else f"{pascal / 1e3:.0f} kPa"


def _range(regulator: Regulator, water: SystemState, system: str) -> list[list[str]]:
    """A regulator for today's flow, where that is beyond what today's holds, or makes it droop."""
    flow = water.flow_l_h
    low, high = water.system.least_flow, water.system.most_flow
    if not flow > 0 or not (flow > high or flow < low or (regulator.droop and regulator.most_flow)):
        return []
    texts = _flow(0.2 * flow, system), _flow(2.0 * flow, system)
    return [[f"regulator_range={texts[0].split()[0]} to {texts[1]}"]]


def _rows(along: list[Array], length: float, system: str) -> list[list[str]]:
    """Heads between, at the ends, nearer to the end walls, closer."""
    found: list[list[str]] = []
    spacing = min((float(np.median(np.diff(ys))) for ys in along if len(ys) > 1), default=None)
    first = max(max(ys[0], length - ys[-1]) for ys in along)
    ends = sorted({round(max(part * first, FROM_WALL), 2) for part in (0.2, 0.35, 0.5)})
    found += [[f"add_at_ends={_size(place, system)}"] for place in ends if first - place >= 0.15]
    if spacing is None:
        return found
    if spacing > 0.35:
        found.insert(0, ["add_between=yes"])
    begins = {round(ys[0], 2) for ys in along}
    if len(begins) == 1:  # the same row of holes, carried on towards the end walls
        on = [along[0][0] - step * spacing for step in (1, 2, 3)]
        found += [[f"first={_size(place, system)}"] for place in on if place >= FROM_WALL]
    nearer = [part * spacing for part in (0.5, 0.25) if FROM_WALL <= part * spacing < first - 0.1]
    found += [[f"first={_size(place, system)}"] for place in nearer]
    if spacing > 0.6:
        found.append([f"head_spacing={_size(0.75 * spacing, system)}"])
    return found
