"""Well-formed values that are hard to believe: they close what needs them and stop nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ..reference.soils import SOILS, soil_of
from ..units.quantity import Quantity, is_clock, parse
from ..units.shown import in_system, system_of
from .faults import key_text
from .keys import path_order
from .model import Record, Supply
from .places import Path, head_places, lines_named
from .types import FLOOR_PARTS, WATER_PARTS, Sized, Usual

# Nominal pipe sizes whose name is not their bore; the typical bores of polyethylene tube that is made
# to an inside diameter are from memory.
NOMINAL_BORES = {"1/2 in": "15.8 mm", "3/4 in": "20.9 mm", "1 in": "26.6 mm", "1 1/4 in": "35.1 mm"}


@dataclass(frozen=True)
class Doubt:
    """A value that is hard to believe, or a question about it.

    Attributes
    ----------
    path : tuple
        Keys and indices (from 0) that lead to the value.
    says : str
        One sentence for a person, with the key.
    closes : tuple of str
        Parts of the result that are left out because of it.
    """

    path: Path
    says: str
    closes: tuple[str, ...]

    @property
    def key(self) -> str:
        """The key as a person reads it, list items counted from 1."""
        return key_text(self.path)


def doubts(record: Record, sections: tuple[str, ...] | None = None) -> list[Doubt]:
    """List every value that is hard to believe.

    Parameters
    ----------
    record : Record
        Checked.
    sections : tuple of str, optional
        Only what stands in these sections; all of them if left out.

    Returns
    -------
    list of Doubt
        In the record's order; empty for a plain record.
    """
    found: list[Doubt] = []
    system = system_of(record.floor.width.text) or "metric"
    for name in sections or type(record).model_fields:
        found += _unusual((name,), getattr(record, name), system)
    for check in (_lines, _other_heads, _arcs, _readings_on_lines, _supply, _crop, _patches):
        found += [doubt for doubt in check(record) if sections is None or doubt.path[0] in sections]
    return sorted(found, key=lambda doubt: path_order(doubt.path))


def _unusual(path: Path, value: Any, system: str) -> list[Doubt]:
    if isinstance(value, list):
        return [doubt for number, item in enumerate(value) for doubt in _unusual((*path, number), item, system)]
    if not isinstance(value, BaseModel):
        return []
    found = []
    for name, usual in _usual_sizes(type(value)):
        inner = getattr(value, name)
        if inner is None:
            continue
        if isinstance(inner, BaseModel | list):
            found += _unusual((*path, name), inner, system)
        if isinstance(inner, Quantity) and inner.dimension == "time" and is_clock(inner.text):
            found.append(_doubt((*path, name), f"{inner.text.strip()} was read as hours and minutes, "
                                f"{inner.to('min'):g} min; if it is another time, write it with its unit", ()))
        if usual is not None and not _within(inner, usual):
            shown, low, high = inner, usual.low, usual.high
            if isinstance(inner, Quantity):
                low, high = (in_system(str(text), inner.dimension, system) for text in (low, high))
                shown = inner.text
            found.append(_doubt((*path, name), f"received {shown}, usual is {low} to {high} (from memory), check it",
                                usual.closes))
    return found


@lru_cache(maxsize=100)
def _usual_sizes(model: type[BaseModel]) -> list[tuple[str, Usual | None]]:
    return [(name, usual_of(field)) for name, field in model.model_fields.items()]


def _doubt(path: Path, says: str, closes: tuple[str, ...]) -> Doubt:
    left_out = f"; until then left out: {', '.join(part.replace('_', ' ') for part in closes)}" if closes else ""
    if "fixes" in closes:
        left_out += "; the causes do without it"
    return Doubt(path, f"{key_text(path)}: {says}{left_out}.", closes)


def believed(record: Record, found: list[Doubt]) -> Record:
    """A record without what is hard to believe beside floor, cans and run.

    Parameters
    ----------
    record : Record
        Checked.
    found : list of Doubt
        Its doubts.

    Returns
    -------
    Record
        Optional values that close a part are gone; where such a value is needed, what it belongs to is gone.
    """
    for doubt in reversed(found):
        if doubt.closes and doubt.path[0] in _SIDES:
            record = _without(record, doubt.path)
    return record


_SIDES = ("heads", "lines", "other_heads", "supply", "other_supplies", "pressures", "head_flows", "crop")


def _without(value: Any, path: Path) -> Any:
    """The same with nothing at this path; None where that cannot be."""
    step, *rest = path
    inner = value[step] if isinstance(step, int) else getattr(value, step)
    inner = _without(inner, tuple(rest)) if rest and inner is not None else None
    if isinstance(step, int):
        if rest and inner is None:
            return [item for place, item in enumerate(value) if place != step] or None
        return [inner if place == step else item for place, item in enumerate(value)] if rest else value
    if inner is None and type(value).model_fields[step].is_required():
        return None
    return value.model_copy(update={step: inner})


def usual_of(field: FieldInfo) -> Usual | None:
    """Find the usual sizes of a key.

    Parameters
    ----------
    field : FieldInfo
        Of a model; pydantic keeps the sizes with the field of a needed key, in the type of the others.

    Returns
    -------
    Usual or None
    """
    inside = (extra for part in get_args(field.annotation) for extra in getattr(part, "__metadata__", ()))
    told = (extra.usual if isinstance(extra, Sized) else extra for extra in (*field.metadata, *inside))
    return next((extra for extra in told if isinstance(extra, Usual)), None)


def _within(value: Quantity | float, usual: Usual) -> bool:
    if isinstance(value, Quantity):
        low, high = (_limit(str(text), value.dimension) for text in (usual.low, usual.high))
        return low - 1e-9 * abs(low) <= value.si <= high + 1e-9 * abs(high)
    return float(usual.low) <= value <= float(usual.high)


@lru_cache(maxsize=500)
def _limit(text: str, dimension: str) -> float:
    return parse(text, dimension, signed=True).si


def _lines(record: Record) -> list[Doubt]:
    found = []
    system = system_of(record.floor.width.text) or "metric"
    for number, line in enumerate(record.lines or []):
        if not head_places(line):
            found.append(_doubt(("lines", number), "received no places of heads, expected first, spacing and count, "
                                "or heads_at, add them", FLOOR_PARTS))
        if line.opens_at or line.closes_at:
            key = "closes_at" if line.closes_at else "opens_at"
            opens, closes = (record.heads.opens_at, record.heads.closes_at) if record.heads else (None, None)
            found += _valve(("lines", number, key), line.opens_at or opens, line.closes_at or closes)
    found += _named_pipes(record, system)
    if record.heads:
        found += _valve(("heads", "closes_at"), record.heads.opens_at, record.heads.closes_at)
    return found


def _valve(path: Path, opens: Quantity | None, closes: Quantity | None) -> list[Doubt]:
    if not opens or not closes or closes.si <= opens.si:
        return []
    return [_doubt(path, f"received {closes.text} to close and {opens.text} to open, expected a head to close below "
                   "the pressure that opens it, check both", WATER_PARTS)]


def nominal_bore(pipe: Quantity, system: str) -> str:
    """Ask about an inside diameter that is the name of a pipe size.

    Parameters
    ----------
    pipe : Quantity [m]
        As it was entered.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        A sentence without full stop that begins with what was entered; empty where nothing is to be asked.
    """
    bore = _bore_of(pipe)
    return f"{pipe.text} {_is_a_name(bore, system)}" if bore else ""


def _bore_of(pipe: Quantity) -> str:
    sizes = (size for size in NOMINAL_BORES if abs(pipe.si - parse(size, "length").si) < 5e-5)
    return next((NOMINAL_BORES[size] for size in sizes), "")


def _is_a_name(bore: str, system: str) -> str:
    return (f"is the name of a pipe size, and the real bore is often another (about "
            f"{in_system(bore, 'length', system)}, from memory): measure it, or say what the maker states")


def _named_pipes(record: Record, system: str) -> list[Doubt]:
    """One doubt for each text, with the names of all lines that have it where there are several lines."""
    lines = record.lines or []
    same: dict[str, tuple[Quantity, list[int]]] = {}
    for number, line in enumerate(lines):
        if line.pipe and _bore_of(line.pipe):
            same.setdefault(line.pipe.text, (line.pipe, []))[1].append(number)
    found = []
    for pipe, numbers in same.values():
        path = ("lines", numbers[0], "pipe")
        says = nominal_bore(pipe, system)
        who = lines_named(*(lines[number].name for number in numbers))
        found.append(_doubt(path, says, ()) if len(lines) == 1 else Doubt(path, f"The tube of {who}: {says}.", ()))
    return found


def _other_heads(record: Record) -> list[Doubt]:
    """Single heads that are on no line, or named twice."""
    found, known = [], set()
    counts = {line.name: len(head_places(line)) for line in record.lines or []}
    for number, item in enumerate(record.other_heads or []):
        path = ("other_heads", number)
        if item.line not in counts:
            found.append(_doubt((*path, "line"), f"received '{item.line}', expected the name of a line "
                                f"({', '.join(counts) or 'none is in the record'}), correct it", FLOOR_PARTS))
            continue
        beyond = [head for head in item.heads if head > counts[item.line]]
        if beyond and counts[item.line]:
            found.append(_doubt((*path, "heads"), f"received head {beyond[0]}, expected 1 to {counts[item.line]} on "
                                "that line, correct it", FLOOR_PARTS))
        twice = [head for head in item.heads if (item.line, head) in known]
        if twice:
            found.append(_doubt((*path, "heads"), f"received head {twice[0]} of that line a second time, expected "
                                "each head once, take one out", FLOOR_PARTS))
        known |= {(item.line, head) for head in item.heads}
    return found


def _arcs(record: Record) -> list[Doubt]:
    """Arcs that do not say where they point."""
    holders: list[tuple[Path, Any, str | None]] = [(("heads",), record.heads, None)] if record.heads else []
    general = record.heads.faces if record.heads else None
    faces = {}
    for number, line in enumerate(record.lines or []):
        holders.append((("lines", number), line, general))
        faces[line.name] = line.faces or general
    holders += [(("other_heads", number), item, faces.get(item.line))
                for number, item in enumerate(record.other_heads or [])]
    needed = not all(line.faces for line in record.lines or [])
    return [_doubt((*path, "arc"), f"received {item.arc.text} and not where it points, expected `faces` beside it "
                   "(left, right, inlet, far or an angle), add it", FLOOR_PARTS)
            for path, item, above in holders
            if item.arc and item.arc.to("deg") < 360 and not (item.faces or above) and (path != ("heads",) or needed)]


def _readings_on_lines(record: Record) -> list[Doubt]:
    found = []
    counts = {line.name: len(head_places(line)) for line in record.lines or []}
    for section in ("pressures", "head_flows"):
        for number, item in enumerate(getattr(record, section) or []):
            path = (section, number)
            if section == "pressures" and item.at == "line" and item.line is None:
                found.append(_doubt((*path, "line"), "received nothing with at = \"line\", expected the name of a "
                                    "line, add it", WATER_PARTS))
            if item.line is None:
                continue
            if item.line not in counts:
                found.append(_doubt((*path, "line"), f"received '{item.line}', expected the name of a line "
                                    f"({', '.join(counts) or 'none is in the record'}), correct it", WATER_PARTS))
            elif item.head and counts[item.line] and item.head > counts[item.line]:
                found.append(_doubt((*path, "head"), f"received head {item.head}, expected 1 to {counts[item.line]} "
                                    "on that line, correct it", WATER_PARTS))
    return found


def _supply(record: Record) -> list[Doubt]:
    found = []
    supplies: list[tuple[Path, Supply]] = [(("supply",), record.supply)] if record.supply else []
    supplies += [(("other_supplies", number), item) for number, item in enumerate(record.other_supplies or [])]
    for path, supply in supplies:
        regulator = supply.regulator
        if regulator and supply.static and regulator.set.si > supply.static.si:
            found.append(_doubt((*path, "regulator", "set"), f"received {regulator.set.text}, more than the static "
                                f"pressure of {supply.static.text}, so the regulator cannot hold it, check both", ()))
        if regulator and regulator.least_flow and regulator.most_flow:
            if regulator.least_flow.si > regulator.most_flow.si:
                found.append(_doubt((*path, "regulator", "least_flow"), "received more than most_flow, expected "
                                    "less, check both", WATER_PARTS))
        if supply.cut_in and supply.cut_out and supply.cut_in.si > supply.cut_out.si:
            found.append(_doubt((*path, "cut_in"), "received more than cut_out, expected less, check both",
                                WATER_PARTS))
    return found


def _crop(record: Record) -> list[Doubt]:
    soil = record.crop.soil if record.crop else None
    if not soil or soil_of(soil):
        return []
    names = ", ".join(one.name for one in SOILS)
    return [_doubt(("crop", "soil"), f"received '{soil}', which is not in the table of soils, expected one of {names}, "
                   "name the nearest; without it what the soil takes in and holds is not reckoned with", ())]


def _patches(record: Record) -> list[Doubt]:
    return [
        _doubt(("patches", number, key), "received a patch whose end is not beyond its beginning, expected from < to, "
               "correct it", ())
        for number, patch in enumerate(record.patches or [])
        for key in ("x", "y")
        if getattr(patch, key)[0].si >= getattr(patch, key)[1].si
    ]
