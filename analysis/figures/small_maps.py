"""The small maps of many tunnels side by side, to one scale and in one scale of colours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from ..compare.rows import Row
from ..record.ground import Array
from ..store.summaries import small_map
from ..units.shown import shown_unit, shown_value
from .depth import DEVIATIONS
from .lettering import SIZE, clean_text, hover_label, plain_text, shortened, text_width
from .look import Look

LOW, HIGH = 40.0, 160.0      # [%] as `depth_map` has it
CELLS = 52_000               # at most, of all maps together: four bytes each, and a browser paints them one by one
_WIDE, _NARROW = 640, 350    # pixels across that all maps together get nearly everywhere
_LEAST = 118                 # pixels of a column where the caller asks for many on a wide screen
_TALL, _BROAD = 250, 300     # pixels that one map is high and wide at most
_LINE = 16                   # pixels of a line of text
_GAP, _FOOT, _BOTTOM = 14, 28, 72  # pixels between maps; below them for the scale; below that for the bar of colours
_BAR_UP = 22                 # pixels from the bottom to the bar, for its numbers


@dataclass(frozen=True)
class _Place:
    """Where one map is drawn."""

    left: float  # [m] its corner at the inlet end, from the left and the bottom of the figure, and the floor's size
    base: float  # [m]
    width: float  # [m]
    length: float  # [m]
    column: int  # [1] its place among the maps, from the left and from the bottom
    line: int  # [1]
    cells: np.ndarray  # [%] the small map, first row at the inlet end


def small_maps(rows: Sequence[Row], look: Look, columns: int | None = None, first: int = 1) -> go.Figure:
    """Draw the small maps of many tunnels."""
    shown = [(number, row) for number, row in enumerate(rows, first) if row.kept.figures.floor]
    columns = max(1, min(columns or _columns(shown, look), len(shown) or 1))
    across = _NARROW / columns if look.narrow else max(_WIDE / columns, _LEAST)
    captions = [_caption(number, row, across - 8) for number, row in shown]
    high = _LINE * max((text.count("<br>") + 1 for text in captions), default=1) + 4
    places, pixels, (wide, tall) = _places([row for _, row in shown], columns, across, high)
    figure = go.Figure()
    height = int(tall * pixels + _BOTTOM)
    _heat(figure, places, columns, wide, tall)
    _outlines(figure, places, look)
    figure.add_scatter(x=[place.left + place.width / 2 for place in places],
                       y=[place.base + place.length + 3 / pixels for place in places], text=captions, mode="text",
                       textposition="top center", hoverinfo="skip", cliponaxis=False,
                       textfont={"size": SIZE, "color": look.ink})
    _scale_bar(figure, pixels, look)
    _layout(figure, wide, tall, height, look)
    return figure


def _columns(shown: Sequence[tuple[int, Row]], look: Look) -> int:
    """Fewer where floors are broader than long."""
    broad = any(row.kept.figures.width_m > row.kept.figures.length_m for _, row in shown)
    return (2 if broad else 3) if look.narrow else (3 if broad else 5)


def _caption(number: int, row: Row, room: float) -> str:
    """Name and DUlq on one line where they fit; else the name on two lines at most, and DUlq below where it must."""
    lines, words = [f"{number}."], clean_text(row.name).split()
    while words and (len(lines) < 2 or text_width(f"{lines[-1]} {words[0]}") <= room):
        if text_width(f"{lines[-1]} {words[0]}") <= room:
            lines[-1] += f" {words.pop(0)}"
        else:
            if words[0] == "·" and len(words) > 1:  # the sign between member and tunnel; the new line says as much
                del words[0]
            lines.append(words.pop(0))
    lines[-1] = shortened(" ".join([lines[-1], *words]), room - text_width(":")) + ":"
    value = f"{row.kept.figures.whole_floor.du_low_quarter.value:.0f} %"
    if text_width(f"{lines[-1]} {value}") <= room:
        lines[-1] += f" {value}"
    else:
        lines.append(value)
    return "<br>".join(map(plain_text, lines))


def _places(rows: Sequence[Row], columns: int, across: float,
            high: float) -> tuple[list[_Place], float, tuple[float, float]]:
    """Places of the maps, pixels a metre, and the size of all [m]; the first map stands at the top left."""
    size = np.array([(row.kept.figures.width_m, row.kept.figures.length_m) for row in rows] or [(1.0, 1.0)])
    pixels = min(min(across - _GAP, _BROAD) / size[:, 0].max(), _TALL / size[:, 1].max())
    pitch, lines = across / pixels, -(-len(size) // columns)
    deep = [size[line * columns : (line + 1) * columns, 1].max() + (high + _GAP) / pixels for line in range(lines)]
    tall = float(sum(deep)) + _FOOT / pixels
    places = []
    for number, row in enumerate(rows):
        line, column = divmod(number, columns)
        width, length = map(float, size[number])
        left, base = pitch * (column + 0.5) - width / 2, tall - float(sum(deep[: line + 1])) + _GAP / pixels
        floor = row.kept.figures.floor
        assert floor is not None  # see small_maps
        places.append(_Place(left, base, width, length, column, lines - 1 - line, small_map(floor)))
    return places, float(pixels), (pitch * columns, tall)


def _heat(figure: go.Figure, places: list[_Place], columns: int, wide: float, tall: float) -> None:
    """One heatmap for all: a grid of uneven cells, wide ones where there is no map."""
    lines = max((place.line for place in places), default=0) + 1
    # Cells to each map along both ways, in the proportion of the maps' own cells.
    shape = np.array([place.cells.shape for place in places] or [(1, 1)]).mean(axis=0)
    finer = np.sqrt(CELLS / (lines * columns) / shape.prod())
    x = _edges([[(place.left, place.width, place.cells.shape[1]) for place in places if place.column == column]
                for column in range(columns)], wide, int(shape[1] * finer))
    y = _edges([[(place.base, place.length, place.cells.shape[0]) for place in places if place.line == line]
                for line in range(lines)], tall, int(shape[0] * finer))
    values = np.full((len(y) - 1, len(x) - 1), np.nan, "float32")
    for place in places:
        at_x, in_x = _cells(x, place.left, place.width, place.cells.shape[1])
        at_y, in_y = _cells(y, place.base, place.length, place.cells.shape[0])
        values[np.ix_(in_y, in_x)] = place.cells[np.ix_(at_y, at_x)]
    figure.add_heatmap(
        x=x.astype("float32"), y=y.astype("float32"), z=values, zmin=LOW, zmax=HIGH, colorscale=DEVIATIONS,
        zsmooth=False, hoverongaps=False, hovertemplate="%{z:.0f} % of the mean<extra></extra>")


def _edges(groups: Any, end: float, most: int) -> Array:
    """Edges of cells [m]: exactly those of the maps where they are few, else evenly spread over each column or line."""
    edges = [np.array([0.0, end])]
    for maps in groups:
        if not maps:
            continue
        exact = np.concatenate([start + np.linspace(0, size, count + 1) for start, size, count in maps])
        exact = np.unique(np.round(exact, 4))
        if len(exact) - 1 > most:
            ends = np.unique(np.round([at for start, size, _ in maps for at in (start, start + size)], 4))
            ends = ends if 2 * len(ends) < most else ends[[0, -1]]  # where they are few each map ends at its wall
            exact = np.concatenate([ends, np.linspace(ends[0], ends[-1], max(most - len(ends), 0) + 3)[1:-1]])
        edges.append(exact)
    return np.unique(np.concatenate(edges))


def _cells(edges: Array, start: float, size: float, count: int) -> tuple[NDArray[np.int_], NDArray[np.bool_]]:
    """Which cell of a map lies at the middle of each cell of the grid, and at which ones the map lies at all."""
    at = np.floor((edges[:-1] + edges[1:] - 2 * start) / 2 / size * count).astype(int)
    inside = (at >= 0) & (at < count)
    return at[inside], inside


def _outlines(figure: go.Figure, places: list[_Place], look: Look) -> None:
    """All walls as one thin line, the inlet end walls as one thick line."""
    walls, inlets = [], []
    for place in places:
        right, top = place.left + place.width, place.base + place.length
        walls += [(place.left, place.base), (right, place.base), (right, top), (place.left, top),
                  (place.left, place.base), (None, None)]
        inlets += [(place.left, place.base), (right, place.base), (None, None)]
    for points, thick in ((walls, 1), (inlets, 4)):
        figure.add_scatter(x=[x for x, _ in points], y=[y for _, y in points], mode="lines", hoverinfo="skip",
                           line={"color": look.ink, "width": thick})


def _scale_bar(figure: go.Figure, pixels: float, look: Look) -> None:
    """How long ten metres or thirty feet are."""
    count = 10 if look.system == "metric" else 30
    start, long, height = 8 / pixels, count / shown_value(1.0, "place", look.system), 12 / pixels
    figure.add_scatter(
        x=[start, start + long], y=[height] * 2, mode="lines+markers+text", hoverinfo="skip", cliponaxis=False,
        text=["", f" {count} {shown_unit('place', look.system)}"],
        textposition="middle right", textfont={"size": SIZE, "color": look.ink}, line={"color": look.ink, "width": 2},
        marker={"symbol": "line-ns", "size": 8, "line": {"width": 2, "color": look.ink}})


def _layout(figure: go.Figure, wide: float, tall: float, height: float, look: Look) -> None:
    figure.data[0].colorbar = {
        "orientation": "h", "lenmode": "pixels", "len": 260, "x": 0.5, "xanchor": "center", "thickness": 12,
        "yref": "container", "y": _BAR_UP / height, "yanchor": "bottom", "xpad": 0, "ypad": 0,
        "tickvals": [40, 70, 100, 130, 160], "title": {"text": "% of each tunnel's mean", "side": "top"}}
    figure.update_xaxes(range=[0, wide], visible=False, fixedrange=True, constrain="domain")
    figure.update_yaxes(range=[0, tall], visible=False, fixedrange=True, scaleanchor="x", constrain="domain",
                        constraintoward="top")
    figure.update_layout(height=height, template="none", dragmode=False, showlegend=False,
                         hovermode="closest", hoverlabel=hover_label(look),
                         margin={"l": 2, "r": 2, "t": 0, "b": _BOTTOM, "autoexpand": False},
                         paper_bgcolor="rgba(0,0,0,0)", plot_bgcolor="rgba(0,0,0,0)",
                         font={"color": look.ink, "size": SIZE})
