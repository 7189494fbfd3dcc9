"""Kinds of heads in words."""

from __future__ import annotations

from collections.abc import Sequence

from ..units.shown import show
from .site import Site
from .site_lines import FULL, SiteKind


def kind_named(site: Site, kind: SiteKind, system: str) -> str:
    """Call a kind of head by its label, else by what tells it from the others.

    Parameters
    ----------
    site : Site
        The test.
    kind : SiteKind
        One of its kinds.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        Such as ``grey spinner`` or ``25 L/h, half circle``.
    """
    if kind.label:
        return kind.label
    every = [other for line in site.lines for other in line.kinds]
    differs = {key for key in ("flow", "diameter", "head_height", "arc")
               if len({getattr(other, key) for other in every}) > 1}
    said = []
    if kind.flow and ("flow" in differs or not differs):
        said.append(show(kind.flow, "flow", system))
    if kind.diameter and "diameter" in differs:
        said.append(f"{show(kind.diameter, 'height', system)} across")
    if kind.head_height is not None and "head_height" in differs:
        said.append(f"{show(kind.head_height, 'height', system)} high")
    if "arc" in differs:
        said.append("full circle" if kind.arc >= FULL else f"arc of {show(kind.arc, 'angle', system)}")
    return ", ".join(said) or "the usual head"


def kinds_counted(site: Site, heads: Sequence[int], system: str) -> str:
    """Say of which kinds some heads are.

    Parameters
    ----------
    site : Site
        The test.
    heads : sequence of int [1]
        Heads of the site in its own order, some more than once.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        Such as ``2 of 25 L/h and 12 of 40 L/h``; empty where the site has one kind of heads.
    """
    kinds = site.heads.kind
    if not len(heads) or not kinds.any():
        return ""
    counts: dict[str, int] = {}
    for head in heads:
        name = kind_named(site, site.kind_of(int(head)), system)
        counts[name] = counts.get(name, 0) + 1
    said = [f"{count} of {name}" for name, count in counts.items()]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
