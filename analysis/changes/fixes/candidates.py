"""Which changes are worth trying on this system: each alone, and then the best of them together."""

from __future__ import annotations

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

STEP = 5 * psi   # [Pa] of a regulator's usual settings, from memory
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


def singles(site: Site, reach: float, weak: bool, water: SystemState | None,
            system: str = "metric") -> list[list[str]]:
    """Changes to try alone.

    Parameters
    ----------
    site : Site
        With heads on lines.
    reach : float [m]
        Of the heads, as the cans show it.
    weak : bool
        Whether any head stands out.
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
    found = [["mend=suspects"]] if weak else []
    if water is not None:
        found += _tubes(site, lines, system)
        if water.fed:
            found += _supply(site, lines, water, system)
    found += _rows([line.along for line in lines], site.length, system)
    found += [[f"wetted_diameter={_size(2 * reach * part, system)}"] for part in (1.2, 1.4)]
    return found + [[f"line_x={', '.join(_size(x, system, 2) for x in places)}"] for places in line_sets(site)]


def together(judged: list[Judged], now: float) -> list[list[str]]:
    """Two changes at once, of the best single ones.

    Parameters
    ----------
    judged : list of judge.Judged
        Single changes with point predictions.
    now : float [%]
        Point prediction of DUlq as it is.

    Returns
    -------
    list of list of str
        Each as `changes.read_changes` takes it.
    """
    best = _best(judged, now, PARTNERS)
    return [_items(one) + _items(two) for one, two in combinations(best, 2) if _fit(one, two)]


def deeper(pairs: list[Judged], judged: list[Judged], now: float) -> list[list[str]]:
    """A third change with the best pairs.

    Parameters
    ----------
    pairs, judged : list of judge.Judged
        Two changes at once, and single ones, with point predictions.
    now : float [%]
        Point prediction of DUlq as it is.

    Returns
    -------
    list of list of str
        Each as `changes.read_changes` takes it.
    """
    begun = sorted((pair for pair in pairs if pair.point > now), key=lambda pair: -pair.point)[:DEEPER]
    found = {}
    for pair in begun:
        for one in _best(judged, now, THIRDS):
            if _fit(pair, one):
                found[frozenset(_items(pair) + _items(one))] = _items(pair) + _items(one)
    return list(found.values())


def _best(judged: list[Judged], now: float, most: int) -> list[Judged]:
    """Single changes that gain, the largest gain first, and the helpers."""
    ranked = sorted((one for one in judged if one.point > now + 0.3), key=lambda one: -one.point)
    taken = [one for one in judged if set(one.change.texts) & set(HELPERS)]
    of_key: dict[str, int] = {}
    for one in ranked:
        key = next(iter(one.change.texts))
        of_key[key] = of_key.get(key, 0) + 1
        if len(taken) < most and of_key[key] <= A_KEY and not any(one is other for other in taken):
            taken.append(one)
    return taken


def _items(judged: Judged) -> list[str]:
    """A change as it is typed."""
    return [f"{key}={text}" for key, text in judged.change.texts.items()]


def _fit(one: Judged, two: Judged) -> bool:
    """Whether two changes can be made together."""
    keys, others = set(one.change.texts), set(two.change.texts)
    return not keys & others and not exclude(keys | others)


def line_sets(site: Site) -> list[list[float]]:
    """Other places for the lines, only where the record says that a line can be carried.

    Parameters
    ----------
    site : Site
        With `hangs_at`; a line that hangs can stay where it is.

    Returns
    -------
    list of list of float [m]
        For as many lines as today and one or two more, those that leave the narrowest strips first.
    """
    today = [site.lines[number].x for number in site.from_the_left()]
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
        for steps in (-2, -1, 1, 2):
            wanted = supply.regulator.set.si + steps * STEP
            if wanted > LEAST and (supply.static is None or wanted < supply.static.si):
                found.append([f"pressure={_pressure(wanted, system)}"])
        found += _range(supply.regulator, water, system)
    if supply.hose:
        wider = [bore for bore in HOSES_MM if bore > supply.hose.inside.si * 1e3 + 1]
        found += [[f"hose={_bore(bore, system)}"] for bore in wider[:2]]
        if supply.hose.length.si >= 4.0:
            found.append([f"hose_length={_size(round(supply.hose.length.si / 2), system)}"])
    return found


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
