"""How a person's screen wants figures."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Look:
    """How a map is drawn."""

    system: str = "metric"  # ``metric`` or ``US``
    # ``cans``: the surface over the cans; ``heads``: the pattern of the heads, where it is known; ``sure``: the
    # standard deviation of the pattern
    layer: str = "cans"
    relative: bool = True  # percent of the mean instead of depth
    part_of_mean: float = 0.75  # [1] where the edge of dry ground is drawn
    values: bool = True  # whether the cans' values are written
    heads: bool = True  # whether heads are drawn
    # for a map that follows every reading and is drawn fast: no colour bar, edge of dry ground or picking
    live: bool = False
    narrow: bool = False  # for a phone: colour bar below, larger marks
    dark: bool = False  # for a dark page

    @property
    def ink(self) -> str:
        """Colour of lines and words on the page."""
        return "#f2f2f2" if self.dark else "#1d1d1d"
