"""Fixes in words that a person can act on."""

from __future__ import annotations

from ...record.kind_words import kinds_counted
from ...record.site import Site
from ..predict import from_the_left
from ..table import KEYS
from .candidates import FOOT
from .judge import Baseline, Judged, predicted_of
from .minds import around_mended
from .parts import Part

_PLURAL = {"head": "heads", "tube hanger": "tube hangers", "tee": "tees", "end plug": "end plugs",
           "hole plug": "plugs for holes", "clamp": "clamps", "fitting": "fittings", "valve": "valves",
           "regulator": "regulators", "head to mend": "heads to clean or change", "head to move": "heads to move"}
_SINGULAR = {"hole plug": "plug for a hole", "head to mend": "head to clean or change"}
_METRES = {"tube, m": "of tube", "hose, m": "of hose", "line to move, m": "of line to hang elsewhere"}


def name_of(judged: Judged) -> str:
    """A few words for a change.

    Parameters
    ----------
    judged : judge.Judged
        The change.

    Returns
    -------
    str
    """
    return ", ".join(dict.fromkeys(KEYS[key].name(judged, text) for key, text in judged.change.texts.items()))


def of_the_frame(site: Site) -> list[str]:
    """What the record does not say of the frame.

    Parameters
    ----------
    site : Site
        The test.

    Returns
    -------
    list of str
        One sentence where it does not say where a line could be carried.
    """
    if len(site.hangs_at):
        return []
    return ["Lines were looked for anywhere: the record does not say where one could be carried (floor.hangs_at). Ask "
            "the maker of the frame. Any change can be tried."]


def says_of(baseline: Baseline, judged: Judged, system: str) -> str:
    """One sentence: what to do, what it brings, what it needs.

    Parameters
    ----------
    baseline : judge.Baseline
        The test.
    judged : judge.Judged
        The change.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
    """
    actions = [KEYS[key].says(judged, text, system) for key, text in judged.change.texts.items()]
    todo = " and ".join([", ".join(actions[:-1]), actions[-1]] if len(actions) > 1 else actions)
    found, now = predicted_of(judged).du_low_quarter, baseline.now.du_low_quarter.value
    brings = (f"DUlq of the whole floor {'stays at' if round(now) == round(found.value) else f'from {now:.0f} to'} "
              f"{found.value:.0f} % ({found.low:.0f} to {found.high:.0f})")
    if around := around_mended(baseline, judged):
        before, after = (f"{100 * part:.0f}" for part in around)
        brings += f", the ground around what is mended from {before} to {after} % of the mean"
    needs = needs_of(judged.parts, system)
    kinds = _new_kinds(baseline, judged, system)
    needs = f"{needs} (new heads: {kinds})" if kinds and needs else needs
    return f"{todo[0].upper()}{todo[1:]}: {brings}" + (f"; needs {needs}." if needs else ".")


def _new_kinds(baseline: Baseline, judged: Judged, system: str) -> str:
    """Of which kinds new heads are, where there are several; each is of the kind that hangs nearest."""
    if any(KEYS[key].renews == "heads" for key in judged.change.texts):
        return ""
    order, new = from_the_left(baseline.site)[0], judged.layout.was < 0
    return kinds_counted(baseline.site, order[judged.layout.like[new]].tolist(), system)


def needs_of(parts: list[Part], system: str) -> str:
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
    """A length of tube or hose."""
    return f"{metres / FOOT:.0f} ft" if system == "US" else f"{metres:.0f} m"
