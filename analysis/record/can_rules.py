"""Faults of the cans and their readings that only several keys together show."""

from __future__ import annotations

import math
from types import SimpleNamespace

from ..units.quantity import clip_text
from .faults import Fault
from .model import MOST_CANS, Cans, Floor
from .places import all_readings, can_places, in_beds, row_lengths, set_aside_numbers


def cans_faults(part: SimpleNamespace) -> list[Fault]:
    """Everything that is wrong with the cans.

    Parameters
    ----------
    part : namespace
        The checked sections of a record, None where one is missing or faulty.

    Returns
    -------
    list of Fault
        Empty where nothing is wrong.
    """
    cans = part.cans
    if cans is None:
        return []
    faults = _opening_faults(cans) + layout_faults(cans)
    if faults:
        return faults
    return _weight_faults(cans) + _set_aside_faults(cans) + _tare_faults(cans)


_UNITS_READ = {"volume": ("mL", "L", "fl oz"), "depth": ("mm", "cm", "in"), "weight": ("g",)}


def _opening_faults(cans: Cans) -> list[Fault]:
    faults = []
    if cans.unit not in _UNITS_READ[cans.reads]:
        faults.append(
            Fault(
                ("cans", "unit"),
                f"received unit = {clip_text(cans.unit)} with reads = '{cans.reads}'",
                f"expected {' or '.join(_UNITS_READ[cans.reads])}",
                "correct one of the two",
            )
        )
    if cans.opening is not None and cans.opening_area is not None:
        faults.append(
            Fault(
                ("cans", "opening_area"),
                "received both opening and opening_area",
                "expected one of them",
                "take one out",
            )
        )
    if cans.reads != "depth" and cans.opening is None and cans.opening_area is None:
        faults.append(
            Fault(
                ("cans", "opening"),
                "received nothing",
                'expected the diameter of the cans\' opening, such as "84 mm"',
                "measure across the rim and add it (or opening_area)",
            )
        )
    if cans.reads == "weight" and cans.tare is None:
        faults.append(
            Fault(
                ("cans", "tare"),
                "received nothing",
                'expected the weight of an empty can, such as "12 g"',
                "weigh one and add it",
            )
        )
    return faults


def layout_faults(cans: Cans) -> list[Fault]:
    """What is wrong with where the cans stand and how many readings there are.

    Parameters
    ----------
    cans : Cans
        The section.

    Returns
    -------
    list of Fault
        Empty where nothing is wrong.
    """
    given = [name for name in ("grid", "rows", "points") if getattr(cans, name) is not None]
    if not given:
        return [
            Fault(
                ("cans", "grid"), "received nothing", "expected the readings as grid, rows or points", "add one of them"
            )
        ]
    if len(given) > 1:
        return [
            Fault(
                ("cans", given[1]),
                f"received {' and '.join(given)}",
                "expected the readings in one of grid, rows or points",
                "keep one and take the others out",
            )
        ]
    faults = []
    if cans.grid is not None:
        faults = _grid_faults(cans)
    elif cans.across is not None or cans.along is not None:
        key = "across" if cans.across is not None else "along"
        faults.append(
            Fault(("cans", key), f"received {key} with {given[0]}", f"expected {key} only with grid", "take it out")
        )
    for number, row in enumerate(cans.rows or []):
        if len(row.x) != len(row.catch):
            faults.append(
                Fault(
                    ("cans", "rows", number, "catch"),
                    f"received {_count(len(row.catch), 'reading')}",
                    f"expected {len(row.x)}, one for each x",
                    "add what is missing; nan for no reading",
                )
            )
    count = sum(row_lengths(cans))
    if count > MOST_CANS:
        faults.append(
            Fault(
                ("cans", given[0]),
                f"received {count} cans",
                f"expected at most {MOST_CANS}",
                "split the test into zones",
            )
        )
    return faults


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _grid_faults(cans: Cans) -> list[Fault]:
    faults, grid = [], cans.grid or []
    for key, what in (("across", "x of each column"), ("along", "y of each row")):
        if getattr(cans, key) is None:
            faults.append(
                Fault(("cans", key), "received nothing", f'expected {what}, such as ["0.6 m", "1.9 m"]', "add it")
            )
    if cans.along is not None and len(grid) != len(cans.along):
        faults.append(
            Fault(
                ("cans", "grid"),
                f"received {_count(len(grid), 'row')}",
                f"expected {len(cans.along)}, one for each place in along",
                "add what is missing; nan for no reading",
            )
        )
    if cans.across is not None:
        for number, row in enumerate(grid):
            if len(row) != len(cans.across):
                faults.append(
                    Fault(
                        ("cans", "grid", number),
                        f"received {_count(len(row), 'reading')} in row {number + 1}",
                        f"expected {len(cans.across)}, one for each place in across",
                        "add what is missing; nan for no reading",
                    )
                )
    return faults


def _weight_faults(cans: Cans) -> list[Fault]:
    if not isinstance(cans.weights, list):
        return []
    nested = [isinstance(row, list) for row in cans.weights]
    shape = row_lengths(cans)
    if cans.points is not None or not any(nested):
        fits = not any(nested) and len(cans.weights) == sum(shape) and cans.points is not None
    else:
        fits = all(nested) and [len(row) for row in cans.weights] == shape
    flat = _flat_weights(cans)
    if not fits:
        return [
            Fault(
                ("cans", "weights"),
                "received weights in another shape",
                "expected one number for each reading, in the shape of the readings",
                "correct the weights",
            )
        ]
    heavy = sum(number > 0 for number in flat)
    if heavy < 4:
        return [
            Fault(
                ("cans", "weights"),
                f"received {_count(heavy, 'weight')} above 0",
                "expected at least four",
                "correct the weights",
            )
        ]
    return []


def _flat_weights(cans: Cans) -> list[float]:
    if not isinstance(cans.weights, list):
        return [1.0] * sum(row_lengths(cans))
    return [number for row in cans.weights for number in (row if isinstance(row, list) else [row])]


def _set_aside_faults(cans: Cans) -> list[Fault]:
    faults = []
    shape = row_lengths(cans)
    for number, item in enumerate(cans.set_aside or []):
        path = ("cans", "set_aside", number)
        if cans.points is not None:
            wrong = item.point is None or item.row is not None or item.column is not None or item.point > shape[0]
            expected = f"expected point = 1 to {shape[0]}"
        else:
            wrong = (
                item.row is None
                or item.column is None
                or item.point is not None
                or item.row > len(shape)
                or item.column > shape[item.row - 1]
            )
            expected = f"expected row = 1 to {len(shape)} and a column of that row"
        if wrong:
            given = {key: value for key in ("row", "column", "point") if (value := getattr(item, key)) is not None}
            faults.append(Fault(path, f"received {clip_text(given)}", expected, "name a can of this record"))
    return faults


def _tare_faults(cans: Cans) -> list[Fault]:
    if cans.reads != "weight" or cans.tare is None:
        return []
    tare = cans.tare.to("g")
    light = [reading for reading in all_readings(cans) if reading < tare - 1]
    if not light:
        return []
    return [
        Fault(
            ("cans", "tare"),
            f"received a reading of {min(light):g} g under the tare of {tare:g} g",
            "expected no can lighter than an empty one",
            "correct the tare or the reading",
        )
    ]


def reading_faults(part: SimpleNamespace) -> list[Fault]:
    """What is wrong with the readings themselves: too few, all dry, or a loss that cannot be.

    Parameters
    ----------
    part : namespace
        The checked sections of a record, None where one is missing or faulty.

    Returns
    -------
    list of Fault
        Empty where nothing is wrong.
    """
    cans = part.cans
    if cans is None or cans_faults(part):
        return []
    key = next(name for name in ("grid", "rows", "points") if getattr(cans, name) is not None)
    usable = _usable(cans, part.floor)
    if len(usable) < 4:
        where = " in the beds" if part.floor is not None and part.floor.beds else ""
        return [
            Fault(
                ("cans", key),
                f"received {_count(len(usable), 'usable can')}{where}",
                "expected at least four",
                "add readings or bring back cans that were set aside",
            )
        ]
    if max(usable) <= 0:
        return [
            Fault(
                ("cans", key),
                "received 0 in every can",
                "expected at least one can that caught water",
                "check that the zone ran and the unit is right",
            )
        ]
    return _evaporation_faults(part, sum(usable) / len(usable))


def _usable(cans: Cans, floor: Floor | None) -> list[float]:
    """Readings that count, without the weight of the can."""
    aside, places, weights = set_aside_numbers(cans), can_places(cans), _flat_weights(cans)
    tare = cans.tare.to("g") if cans.reads == "weight" and cans.tare else 0.0
    return [
        reading - tare
        for number, reading in enumerate(all_readings(cans))
        if not math.isnan(reading)
        and number not in aside
        and weights[number] > 0
        and (floor is None or in_beds(floor, *places[number][1:]))
    ]


def _evaporation_faults(part: SimpleNamespace, mean: float) -> list[Fault]:
    cans, control = part.cans, part.cans.evaporation
    if control is None:
        return []
    path = ("cans", "evaporation")
    end = sum(control.end) / len(control.end)
    if math.isnan(end + control.start):
        return [
            Fault(
                path,
                "received nan",
                "expected a reading of every control can",
                "write the readings, or take the table out",
            )
        ]
    if end > control.start:
        return [
            Fault(
                (*path, "end"),
                f"received control cans that gained water ({control.start:g} to {end:g} {cans.unit})",
                "expected a loss",
                "check whether spray or rain reached them, or take the table out",
            )
        ]
    exposed = cans.exposed or (part.run.duration if part.run else control.time)
    loss = (control.start - end) / control.time.si * exposed.si
    if loss > mean:
        return [
            Fault(
                (*path, "end"),
                f"received a loss of {loss:.3g} {cans.unit} with a mean catch of {mean:.3g} {cans.unit}",
                "expected a loss smaller than the catch",
                "check the readings and times",
            )
        ]
    return []
