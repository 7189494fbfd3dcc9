"""The floor that figures are drawn on: its frame and scale, the colour bar below it, the plan of cans and heads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

from ..units.shown import shown_unit, shown_value
from .look import Look
from .room import map_pixels, plot_height

_TOP, _BOTTOM, _BOTTOM_WITH_BAR = 20, 48, 108  # pixels around a map
_BAR_UP = 22  # pixels from the bottom to the bar, for its numbers
_PLAN = 380  # pixels that a plan is high at most


def bar(unit: str, width: float, length: float, look: Look) -> dict[str, Any]:
    """A colour bar below a map, about as wide as the map."""
    height = plot_height(width, length, look) + _TOP + _BOTTOM_WITH_BAR
    return {"orientation": "h", "lenmode": "pixels", "len": max(180, map_pixels(width, length, look)[0]), "x": 0.5,
            "xanchor": "center", "yref": "container", "y": _BAR_UP / height, "yanchor": "bottom", "xpad": 0, "ypad": 0,
            "thickness": 12, "title": {"text": unit, "side": "top"}}


def frame(figure: go.Figure, width: float, length: float, look: Look, with_bar: bool = False,
          most: float | None = None) -> None:
    """Give a figure the floor's outline, equal scales, and just the height it needs."""
    place = shown_value(1.0, "place", look.system)
    unit = shown_unit("place", look.system)
    wide, long = width * place, length * place
    figure.add_shape(type="rect", x0=0, x1=wide, y0=0, y1=long, line={"color": look.ink, "width": 2})
    margin = {"l": 52, "r": 8, "t": _TOP, "b": _BOTTOM_WITH_BAR if with_bar else _BOTTOM}
    height = min(plot_height(width, length, look), most or np.inf) + margin["t"] + margin["b"]
    figure.update_xaxes(range=[0, wide], constrain="domain", showgrid=False, zeroline=False, fixedrange=True,
                        title={"text": f"inlet end wall · from the left edge [{unit}]", "standoff": 4})
    figure.update_yaxes(range=[0, long], scaleanchor="x", constrain="domain", constraintoward="bottom", showgrid=False,
                        zeroline=False, fixedrange=True, title={"text": f"from the inlet end [{unit}]", "standoff": 4})
    # Fixed margins: plotly draws a map twice to find its own.
    figure.update_layout(height=height, margin=margin, template="none", dragmode=False, showlegend=False,
                         clickmode="event+select", hovermode="closest", paper_bgcolor="rgba(0,0,0,0)",
                         plot_bgcolor="rgba(0,0,0,0)", font={"color": look.ink, "size": 12})


def plan_sketch(record_like: Sequence[tuple[float, float]], lines: Sequence[tuple[str, float, Sequence[float]]],
                width: float, length: float, look: Look) -> go.Figure:
    """Draw where cans and heads stand, before there are readings."""
    place = shown_value(1.0, "place", look.system)
    figure = go.Figure()
    for name, x, heads in lines:
        figure.add_scatter(x=[x * place] * len(heads), y=np.array(heads) * place, mode="markers", showlegend=False,
                           marker={"symbol": "triangle-up-open", "size": 8, "color": look.ink},
                           text=[name] * len(heads), hovertemplate="line %{text}<extra></extra>")
    if len(record_like):
        cans = np.array(record_like) * place
        figure.add_scatter(x=cans[:, 0], y=cans[:, 1], mode="markers", showlegend=False, hoverinfo="skip",
                           marker={"symbol": "circle", "size": 8, "color": "#e08214"})
    frame(figure, width, length, look, most=_PLAN)
    return figure
