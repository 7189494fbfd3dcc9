"""How a person's screen wants figures."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Look:
    """How a map is drawn.

    Attributes
    ----------
    system : str
        ``metric`` or ``US``.
    layer : str
        ``cans``: the surface over the cans; ``heads``: the pattern of the heads, where it is known; ``sure``: the
        standard deviation of the pattern.
    relative : bool
        Percent of the mean instead of depth.
    part_of_mean : float [1]
        Where the edge of dry ground is drawn.
    values : bool
        Whether the cans' values are written.
    heads : bool
        Whether heads are drawn.
    live : bool
        For a map that follows every reading and is drawn fast: no colour bar, edge of dry ground or picking.
    narrow : bool
        For a phone: colour bar below, larger marks.
    dark : bool
        For a dark page.
    """

    system: str = "metric"
    layer: str = "cans"
    relative: bool = True
    part_of_mean: float = 0.75
    values: bool = True
    heads: bool = True
    live: bool = False
    narrow: bool = False
    dark: bool = False

    @property
    def ink(self) -> str:
        """Colour of lines and words on the page."""
        return "#f2f2f2" if self.dark else "#1d1d1d"
