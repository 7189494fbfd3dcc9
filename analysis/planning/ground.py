"""Where heads stand and which ground counts, for a plan: from the record, else from what is usual."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..record.ground import Array, Cells
from ..record.site import Site, SiteLine
from ..units.shown import show

USUAL_DIAMETER_M = 4.8   # of a micro-sprinkler; from memory
DIAMETERS_M = (3.5, 7.0)  # between which most of them wet; from memory
USUAL_SPACING_M = 0.9    # from head to head; common practice, no source
CELLS = 900              # of the ground on which figures are worked out
_SIZES = {"wetted_diameter": "diameter", "flow": "flow"}
_M3_S = 3.6e6            # L/h in a m3/s


@dataclass(frozen=True)
class PlannedHeads:
    """One kind of head, as far as a plan needs it.

    Attributes
    ----------
    diameter : float [m]
        That one head wets.
    flow : float or None [L/h]
        Nominal, of one head; None where the record does not say.
    spacing : float [m]
        From head to head along a line.
    along : array (k,) [m]
        y of the heads of a line.
    assumed : tuple of str
        What was taken because the record does not say, one sentence each.
    needs : tuple of str
        Keys of the record that would replace it.
    """

    diameter: float
    flow: float | None
    spacing: float
    along: Array
    assumed: tuple[str, ...]
    needs: tuple[str, ...]


def described(site: Site) -> list[SiteLine]:
    """Lines of a site whose heads have their places.

    Parameters
    ----------
    site : Site
        Its test still to come or not.

    Returns
    -------
    list of SiteLine
        From the left.
    """
    return [site.lines[number] for number in site.from_the_left()]


def heads_of(site: Site, units: str = "metric") -> PlannedHeads:
    """The heads that a plan reckons with.

    Parameters
    ----------
    site : Site
        Its test still to come or not.
    units : str
        ``metric`` or ``US``, for the sentences.

    Returns
    -------
    PlannedHeads
        Sizes of the record; what it does not say is taken as usual, and said.
    """
    hard = {doubt.path[-1]: doubt.says for doubt in site.doubts_in("heads", "lines") if doubt.closes}
    assumed, needs = [hard[key] for key in _SIZES if key in hard], []
    diameter, flow = (None if key in hard else _of_heads(site, name) for key, name in _SIZES.items())
    if diameter is not None and any(diameter != line.diameter for line in site.lines if line.diameter is not None):
        assumed.append("The lines have heads that wet unlike diameters; their mean is taken.")
    if diameter is None:
        diameter = USUAL_DIAMETER_M
        low, high = (show(end, "height", units) for end in DIAMETERS_M)
        assumed.append(f"One head is taken to wet {show(diameter, 'height', units)} across, and DUlq ranges over heads "
                       f"that wet {low} to {high} (from memory): measure how far one head of yours wets, everything "
                       "here hangs on it.")
        needs.append("heads.wetted_diameter")
    if flow is None:
        needs.append("heads.flow")
    lines = described(site)
    along = lines[0].along if lines else np.zeros(0)
    if len(along) < 2:
        along = evenly_spaced(site.length, USUAL_SPACING_M)
        assumed.append(f"Heads are taken {show(USUAL_SPACING_M, 'height', units)} apart along a line, the first half "
                       "as far from the end wall (common practice, no source).")
        needs.append("lines")
    spacing = float(np.median(np.diff(along))) if len(along) > 1 else USUAL_SPACING_M
    return PlannedHeads(diameter, None if flow is None else flow * _M3_S, spacing, along, tuple(assumed), tuple(needs))


def _of_heads(site: Site, key: str) -> float | None:
    """A size of the heads: the mean of the lines, where all are known, else that of [heads]."""
    sizes = [getattr(line, key) for line in site.lines]
    if sizes and None not in sizes:
        return float(np.mean(sizes))
    own: float | None = getattr(site.bare_line, key)
    return own


def evenly_spaced(length: float, spacing: float) -> Array:
    """Heads along a line, centred on the floor.

    Parameters
    ----------
    length : float [m]
        Of the floor.
    spacing : float [m]
        From head to head.

    Returns
    -------
    array (k,) [m]
        As many as leave about half a spacing to each end wall.
    """
    count = max(1, round(length / spacing))
    return 0.5 * length + (np.arange(count) - 0.5 * (count - 1)) * spacing


def ground_of(site: Site) -> Cells:
    """The ground that counts, in some `CELLS` cells.

    Parameters
    ----------
    site : Site
        With beds, or without.

    Returns
    -------
    Cells
    """
    return site.ground.grid(float(np.sqrt(site.ground.area / CELLS)))


def line_at(like: SiteLine, name: str, x: float, along: Array) -> SiteLine:
    """A line of heads at another place.

    Parameters
    ----------
    like : SiteLine
        A line whose tube and heads it shares.
    name : str
        Its name.
    x : float [m]
        From the left edge.
    along : array (k,) [m]
        y of its heads.

    Returns
    -------
    SiteLine
        Its places to a tenth of a millimetre, as they can be written down.
    """
    return replace(like, name=name, x=float(f"{x:.4f}"), along=np.array([float(f"{y:.4f}") for y in along]))
