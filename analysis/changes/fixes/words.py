"""Fixes in words that a person can act on."""

from __future__ import annotations

from ...record.model import Record
from ...units.shown import show
from .candidates import FOOT

_PLURAL = {"head": "heads", "tube hanger": "tube hangers", "tee": "tees", "end plug": "end plugs",
           "hole plug": "plugs for holes", "clamp": "clamps", "fitting": "fittings", "valve": "valves",
           "regulator": "regulators", "head to mend": "heads to clean or change", "head to move": "heads to move"}
_SINGULAR = {"hole plug": "plug for a hole", "head to mend": "head to clean or change"}
_METRES = {"tube, m": "of tube", "hose, m": "of hose", "line to move, m": "of line to hang elsewhere"}


def name_of(judged) -> str:
    """A few words for a change.

    Parameters
    ----------
    judged : judge.Judged
        The change.

    Returns
    -------
    str
    """
    count = len(judged.changed.lines)
    hung = sum(like >= 0 for like, _, _ in judged.changed.lines)
    words = {
        "lines": f"{count} line{'s' if count > 1 else ''}, evenly across",
        "line_x": f"{count} lines" if count > hung else "lines moved",
        "head_spacing": "other spacing of the heads" if _moves(judged) else "heads between",
        "add_between": "a head between each two",
        "first": "heads nearer the end walls" if _moves(judged) else "more heads at the ends",
        "add_at_ends": "more heads at the ends", "pressure": "another pressure", "wetted_diameter": "wider heads",
        "flow": "heads of another flow", "pipe": "wider tube", "hose": "another hose", "hose_length": "another hose",
        "filter": "filter cleaned", "regulator_range": "a regulator that fits the flow",
        "fed_from": f"lines fed from the {judged.change.texts.get('fed_from')}",
        "run_lines": f"lines {judged.change.texts.get('run_lines')}", "mend": "weak heads mended",
    }
    return ", ".join(dict.fromkeys(words[key] for key in judged.change.texts))


def not_searched(record: Record) -> list[str]:
    """What the search had to leave out.

    Parameters
    ----------
    record : Record
        The test.

    Returns
    -------
    list of str
        One sentence where the record does not say where a line could be carried.
    """
    if record.floor.hangs_at:
        return []
    return ["More or moved lines were not looked for: the record does not say where a line could be carried "
            "(floor.hangs_at). Any change can still be tried."]


def _moves(judged) -> bool:
    """Whether heads leave their holes."""
    return any(part.item == "head to move" for part in judged.parts)


def says_of(site, judged, system: str) -> str:
    """One sentence: what to do, what it brings, what it needs.

    Parameters
    ----------
    site : judge.Site
        The test.
    judged : judge.Judged
        The change.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
    """
    actions = [_action(key, site, judged, system) for key in judged.change.texts]
    todo = " and ".join([", ".join(actions[:-1]), actions[-1]] if len(actions) > 1 else actions)
    found, now = judged.prediction.du_low_quarter, site.now.du_low_quarter.value
    brings = (f"DUlq of the whole floor from {now:.0f} to {found.value:.0f} % "
              f"({found.low:.0f} to {found.high:.0f})")
    needs = needs_of(judged.parts, system)
    return f"{todo[0].upper()}{todo[1:]}: {brings}" + (f"; needs {needs}." if needs else ".")


def needs_of(parts: list, system: str) -> str:
    """Parts as a list in words.

    Parameters
    ----------
    parts : list of parts.Part
        What a change needs.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        Empty without parts.
    """
    words = []
    for part in parts:
        if part.item in _METRES:
            words.append(f"{_whole(part.count, system)} {_METRES[part.item]}")
        else:
            singular = _SINGULAR.get(part.item, part.item)
            words.append(f"{part.count} {singular if part.count == 1 else _PLURAL[part.item]}")
    return ", ".join(words)


def _whole(metres: float, system: str) -> str:
    return f"{metres / FOOT:.0f} ft" if system == "US" else f"{metres:.0f} m"


def _places(lines, system: str) -> str:
    places = [show(x, "place", system) for _, x, _ in lines]
    return places[0] if len(places) == 1 else f"{', '.join(places[:-1])} and {places[-1]}"


def _action(key: str, site, judged, system: str) -> str:
    change, lines = judged.change, judged.changed.lines
    value, text = change.values[key], change.texts[key]
    if key in ("lines", "line_x"):
        new = sum(like < 0 for like, _, _ in lines)
        begin = f"hang {new} more line{'s' if new > 1 else ''}, so that" if new else "hang the lines so that"
        return f"{begin} they run {_places(lines, system)} from the left edge"
    if key == "mend":
        which = ("the heads that stand out" if value == "suspects"
                 else ", ".join(f"{line} line, head {number}" for line, number in value))
        return f"clean or change {which}"
    return {
        "head_spacing": lambda: (f"set the heads {text} apart" if _moves(judged)
                                 else f"add heads between those that hang, {text} apart"),
        "add_between": lambda: "add a head between each two",
        "first": lambda: (f"set the first heads {text} from the end walls" if _moves(judged)
                          else f"add heads at the ends of the lines, the first {text} from the end walls"),
        "add_at_ends": lambda: ("hang one more head at each end of a line that has room for it, "
                                f"{text} from the end wall"),
        "pressure": lambda: f"set the regulator to {text}",
        "wetted_diameter": lambda: f"take heads that wet {text} across",
        "flow": lambda: f"take heads of {text}",
        "pipe": lambda: f"take tube of {text} inside for the lines",
        "hose": lambda: f"take a hose of {text} inside",
        "hose_length": lambda: f"take a hose of {text}",
        "filter": lambda: "clean the filter (close, vent and check for zero pressure first)",
        "regulator_range": lambda: f"take a regulator that holds over {text}",
        "fed_from": lambda: "feed each line from " + ("its middle" if text == "middle" else f"the {text} end"),
        "run_lines": lambda: {"in turn": "run the lines one after the other"}.get(text, "run the lines together"),
    }[key]()
