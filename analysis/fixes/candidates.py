"""Which changes are worth trying on this system."""

from __future__ import annotations

import numpy as np
from scipy.constants import psi

from ..record.model import Record
from ..record.places import head_places, lines_from_the_left

STEP = 5 * psi   # [Pa] of a regulator's usual settings, from memory
LEAST = 50e3     # [Pa] no lower setting is tried
FOOT = 0.3048    # [m]
BORES_MM = (15.8, 20.9, 26.6, 35.1)  # of polyethylene tube by inside diameter, from memory
HOSES_MM = (12.7, 15.9, 19.0, 25.4, 31.8)
MOST_LINES = 6


def candidates(record: Record, reach: float, weak: bool, wet: bool, system: str = "metric") -> list[list[str]]:
    """Changes to try, alone and together.

    Parameters
    ----------
    record : Record
        With heads on lines.
    reach : float [m]
        Of the heads, as the cans show it.
    weak : bool
        Whether any head gives too little.
    wet : bool
        Whether the supply is known, so that pressures can be predicted.
    system : str
        ``metric`` or ``US``, for the sizes.

    Returns
    -------
    list of list of str
        Each as `changes.read_changes` takes it.
    """
    lines = lines_from_the_left(record)
    along = [np.array(head_places(line)) for line in lines]
    width, count = record.floor.width.si, len(lines)
    mend = ["mend=suspects"] if weak else []
    cheap = _cheap(record, lines, wet, system)
    shape = _rows(along, record.floor.length.si, system)
    spread = [[f"lines={count + more}"] for more in (1, 2) if count + more <= MOST_LINES]
    even = [(number + 0.5) * width / count for number in range(count)]
    if max(abs(line.x.si - x) for line, x in zip(lines, even, strict=True)) > 0.1:
        spread.append([f"lines={count}"])
    spread += [[f"line_x={', '.join(_size(x, system) for x in places)}"] for places in _places(width, count)]
    other = [[f"wetted_diameter={_size(2 * reach * part, system)}"] for part in (1.2, 1.4)]
    other += [[*other[0], *one] for one in spread[:1]]
    single = [mend] * weak + cheap + shape + other + spread
    pairs = [[*one, *two] for one in spread for two in (mend, *shape[:2]) if two]
    pairs += [[*one, *mend] for one in (*shape, *cheap) if mend]
    pairs += [[*one, *two] for one in shape for two in shape if _join(one, two)]
    triples = [[*one, *two, *mend] for one in spread for two in shape[:2] if mend]
    return single + pairs + triples


def _size(metres: float, system: str) -> str:
    return f"{metres / FOOT:.1f} ft" if system == "US" else f"{metres:.2f} m"


def _bore(mm: float, system: str) -> str:
    return f"{mm / 25.4:.3f} in" if system == "US" else f"{mm:g} mm"


def _join(one: list[str], two: list[str]) -> bool:
    keys = [item.split("=")[0] for item in (*one, *two)]
    return keys == ["add_between", "first"] or keys == ["head_spacing", "first"]


def _cheap(record: Record, lines: list, wet: bool, system: str) -> list[list[str]]:
    if not wet:
        return []
    supply, found = record.supply, []
    if supply.filter and (supply.filter.loaded or 1) > 1:
        found.append(["filter=clean"])
    if len(lines) > 1 and record.run.lines == "together":
        found.append(["run_lines=in turn"])
    if supply.regulator:
        for steps in (-2, -1, 1, 2):
            wanted = supply.regulator.set.si + steps * STEP
            if wanted > LEAST and (supply.static is None or wanted < supply.static.si):
                shown = f"{wanted / psi:.0f} psi" if system == "US" else f"{wanted / 1e3:.0f} kPa"
                found.append([f"pressure={shown}"])
    if supply.hose:
        wider = [bore for bore in HOSES_MM if bore > supply.hose.inside.si * 1e3 + 1]
        found += [[f"hose={_bore(bore, system)}"] for bore in wider[:2]]
    if all(line.pipe for line in lines):
        wider = [bore for bore in BORES_MM if bore > min(line.pipe.si for line in lines) * 1e3 + 1]
        found += [[f"pipe={_bore(bore, system)}"] for bore in wider[:1]]
    if any(line.fed_from in ("near", "far") for line in lines):
        found.append(["fed_from=middle"])
    return found


def _rows(along: list[np.ndarray], length: float, system: str) -> list[list[str]]:
    found = []
    spacing = min((float(np.median(np.diff(ys))) for ys in along if len(ys) > 1), default=None)
    first = max(max(ys[0], length - ys[-1]) for ys in along)
    if spacing is not None:
        nearer = sorted({round(part * spacing, 2) for part in (0.25, 0.5) if part * spacing < first - 0.1},
                        reverse=True)
        found += [[f"first={_size(place, system)}"] for place in nearer]
        if spacing > 0.35:
            found.insert(0, ["add_between=yes"])
        if spacing > 0.6:
            found.append([f"head_spacing={_size(0.75 * spacing, system)}"])
    return found


def _places(width: float, count: int) -> list[list[float]]:
    """Places for as many lines as today, symmetric and nearer to or farther from the walls."""
    if count < 2:
        return []
    even = (np.arange(count) + 0.5) / count - 0.5
    return [[float(x) for x in width * (0.5 + even * part)] for part in (0.85, 0.93, 1.07, 1.15, 1.25)
            if abs(even[0] * part) < 0.47]
