"""Plotly figures of a result. They know nothing of the page that shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import plotly.colors
import plotly.graph_objects as go

from ..catch import COUNTED, MISSING, SET_ASIDE
from ..record.model import Record
from ..record.places import head_places
from ..results import Result
from ..surface import Surface
from ..units_shown import shown_unit, shown_value
from .look import Look

LEVELS, DEVIATIONS = "Cividis", "PuOr"
_MOST_TEXTS = 130
_LEAST_GAP = 27  # pixels that a value of three digits needs


def depth_map(record: Record, result: Result, look: Look) -> go.Figure:
    """Draw the depth map with cans, heads, dry spots and patches.

    Parameters
    ----------
    record : Record
        What was tested.
    result : Result
        From `assess.assess`.
    look : Look
        How to draw it.

    Returns
    -------
    plotly Figure
        Equal aspect, inlet end wall below; the last trace holds the cans, for picking.
    """
    surface = drawn_map(result, look)
    figure = go.Figure()
    notes: list[dict] = []
    shapes: list[dict] = []
    mean = result.catch.mean_mm
    scale, low, high, colours, unit = _scale(surface, mean, look)
    place = shown_value(1.0, "place", look.system)
    figure.add_heatmap(
        x=(surface.x * place).astype("float32"), y=(surface.y * place).astype("float32"),
        z=(surface.depth_mm * scale).astype("float32"), zmin=low, zmax=high, colorscale=colours,
        hovertemplate="%{z:.3~g} " + unit + "<extra></extra>", zsmooth="fast", colorbar=_bar(unit, look),
        showscale=not look.live,
    )
    if drawn_on_cans(result, look):
        _beyond(shapes, record, surface, place, look)
    if not look.live and look.layer != "sure":
        _dry_edge(figure, surface, mean, place, look)
    _patches(notes, shapes, record, look)
    _beds(shapes, record, look)
    if look.heads:
        _heads(figure, record, result, look)
    _cans(figure, notes, result, look, (scale, low, high, colours, unit))
    _spot_numbers(notes, result, look)
    # One assignment: adding notes one by one costs a copy of all of them each time.
    figure.update_layout(annotations=notes, shapes=shapes)
    _frame(figure, record.floor.width.si, record.floor.length.si, look)
    return figure


def drawn_map(result: Result, look: Look) -> Surface:
    """Choose the map that a look asks for.

    Parameters
    ----------
    result : Result
        From `assess.assess`.
    look : Look
        Its `layer`.

    Returns
    -------
    Surface
        The surface over the cans where the pattern is not known.
    """
    floor, surface = result.floor, result.surface
    if look.layer == "cans" or floor is None:
        return surface
    values = floor.depth_mm if look.layer == "heads" else floor.sd_mm
    return replace(surface, x=floor.x, y=floor.y, depth_mm=values, inside=floor.ground)


def _scale(surface: Surface, mean: float, look: Look):
    if look.layer == "sure":
        factor = 100 / mean if look.relative else shown_value(1e-3, "depth", look.system)
        unit = "± % of mean" if look.relative else f"± {shown_unit('depth', look.system)}"
        return factor, 0.0, float(np.nanmax(surface.depth_mm)) * factor, LEVELS, unit
    if look.relative:
        return 100 / mean, 40.0, 160.0, DEVIATIONS, "% of mean"
    factor = shown_value(1e-3, "depth", look.system)
    top = max(float(np.nanmax(surface.depth_mm)), 1e-6) * factor
    return factor, 0.0, top, LEVELS, shown_unit("depth", look.system)


def _bar(unit: str, look: Look) -> dict:
    title = {"text": unit, "side": "top" if look.narrow else "right"}
    if look.narrow:
        return {"orientation": "h", "y": -0.08, "yanchor": "top", "thickness": 12, "title": title}
    return {"thickness": 14, "title": title}


def _beyond(shapes, record, surface, place, look):
    """Veil the ground beyond the cans: the floor with a hole where they stand."""
    veil = "rgba(20,20,20,.45)" if look.dark else "rgba(255,255,255,.5)"
    wide, long = record.floor.width.si * place, record.floor.length.si * place
    outline = f"M0,0 L{wide},0 L{wide},{long} L0,{long} Z"
    if len(surface.edge) > 2:
        outline += " M" + " L".join(f"{x * place:.4f},{y * place:.4f}" for x, y in surface.edge) + " Z"
    shapes.append({"type": "path", "path": outline, "fillcolor": veil, "fillrule": "evenodd", "line": {"width": 0},
                   "layer": "above"})


def _dry_edge(figure, surface, mean, place, look):
    edge = look.part_of_mean * mean
    if np.nanmin(surface.depth_mm) < edge < np.nanmax(surface.depth_mm):
        figure.add_contour(
            x=surface.x * place, y=surface.y * place, z=surface.depth_mm.astype("float32"), showscale=False,
            contours={"start": edge, "end": edge, "size": 1, "coloring": "none"}, hoverinfo="skip",
            line={"color": "#111111", "width": 2, "dash": "dash"}, showlegend=False,
        )


def _rectangle(edges, place, line) -> dict:
    left, right, start, end = (value * place for value in edges)
    return {"type": "rect", "x0": left, "x1": right, "y0": start, "y1": end, "line": line}


def _note(x, y, text, size, colour, **more) -> dict:
    return {"x": x, "y": y, "text": text, "showarrow": False, "captureevents": False,
            "font": {"size": size, "color": colour}, **more}


def _patches(notes, shapes, record, look):
    place = shown_value(1.0, "place", look.system)
    for number, patch in enumerate(record.patches or [], 1):
        edges = (patch.x[0].si, patch.x[1].si, patch.y[0].si, patch.y[1].si)
        shapes.append(_rectangle(edges, place, {"color": "#7a0177", "width": 3}))
        notes.append(_note(edges[1] * place, edges[3] * place, f"patch {number}", 12, "#ffffff", xanchor="right",
                           yanchor="top", bgcolor="#7a0177"))


def _beds(shapes, record, look):
    place = shown_value(1.0, "place", look.system)
    length = record.floor.length.si
    for bed in record.floor.beds or []:
        edges = (bed.from_.si, bed.to.si, bed.start.si if bed.start else 0.0, bed.end.si if bed.end else length)
        shapes.append(_rectangle(edges, place, {"color": "#444444", "width": 1, "dash": "dot"}))


def _heads(figure, record, result, look):
    place = shown_value(1.0, "place", look.system)
    heads = [(line.name, number, line.x.si * place, y * place) for line in record.lines or []
             for number, y in enumerate(head_places(line), 1)]
    if result.heads and not look.live:
        _heads_by_output(figure, result, place, look)
    elif heads:
        figure.add_scatter(
            x=[x for _, _, x, _ in heads], y=[y for *_, y in heads], mode="markers",
            marker={"symbol": "triangle-up-open", "size": 8, "color": "rgba(17,17,17,.6)", "line": {"width": 1.2}},
            text=[f"line {name}, head {number}" for name, number, _, _ in heads],
            hovertemplate="%{text}<extra></extra>", showlegend=False,
        )


def _heads_by_output(figure, result, place, look):
    """Suspects large and named; the others by their output, with what the cans allow."""
    for suspect, symbol, size in ((False, "triangle-up-open", 8), (True, "triangle-down", 17)):
        heads = [head for head in result.heads if head.suspect == suspect]
        figure.add_scatter(
            x=[head.x_m * place for head in heads], y=[head.y_m * place for head in heads], mode="markers",
            marker={"symbol": symbol, "size": size, "color": "#d7191c" if suspect else "rgba(17,17,17,.6)",
                    "line": {"width": 1.5 if suspect else 1.2, "color": "#ffffff" if suspect else "rgba(17,17,17,.6)"}},
            text=[f"line {head.line}, head {head.number}: {100 * head.output:.0f} % of its share "
                  f"({100 * head.low:.0f} to {100 * head.high:.0f})" for head in heads],
            hovertemplate="%{text}<extra></extra>", showlegend=False,
        )


def _cans(figure, notes, result, look, scaling):
    cans = result.cans
    scale, low, high, colours, unit = scaling
    place = shown_value(1.0, "place", look.system)
    texts = []
    for number in range(len(cans.x)):
        depth = cans.depth_mm[number]
        says = "no reading" if cans.state[number] == MISSING else f"{_digits(depth * scale, look)} {unit}"
        if cans.state[number] == SET_ASIDE:
            says += f", set aside: {cans.why[number]}"
        elif cans.state[number] != COUNTED:
            says += f", {cans.state[number]}" * (cans.state[number] != MISSING)
        texts.append(says)
    _values(figure, notes, result, look, scaling, place)
    if look.live:
        return
    figure.add_scatter(
        x=cans.x * place, y=cans.y * place, mode="markers", text=texts,
        customdata=[cans.name(number) for number in range(len(cans.x))],
        hovertemplate="%{customdata}: %{text}<extra></extra>", showlegend=False,
        marker={"size": 26 if look.narrow else 22, "symbol": "square", "color": "rgba(0,0,0,0)"},
        selected={"marker": {"color": "rgba(230,120,0,.55)"}}, unselected={"marker": {"color": "rgba(0,0,0,0)"}},
    )


def _too_close(cans, result, look) -> bool:
    """Whether values would be written over each other at the width of this screen."""
    from scipy.spatial import cKDTree

    surface = result.surface
    width = surface.x[-1] + surface.x[0]
    pixels = (230 if look.narrow else 460) / width
    flat = cKDTree(np.column_stack([cans.x, cans.y * 1.8]))  # a line of text is lower than it is wide
    return bool(np.median(flat.query(flat.data, 2)[0][:, 1]) * pixels < _LEAST_GAP)


def drawn_on_cans(result: Result, look: Look) -> bool:
    """Tell whether the map drawn is the surface over the cans.

    Parameters
    ----------
    result : Result
        From `assess.assess`.
    look : Look
        Its `layer`.

    Returns
    -------
    bool
    """
    return look.layer == "cans" or result.floor is None


def _digits(value: float, look: Look) -> str:
    return f"{value:.0f}" if look.relative else f"{value:.{1 if look.system == 'metric' else 2}f}"


def _values(figure, notes, result, look, scaling, place):
    cans = result.cans
    scale, low, high, colours, _ = scaling
    if not look.values or len(cans.x) > _MOST_TEXTS or _too_close(cans, result, look):
        # A trace for each kind of mark: marks of one kind are drawn much faster than a list of kinds.
        kinds = {MISSING: "x", SET_ASIDE: "circle-x-open"}
        marks = np.array([kinds.get(state, "circle") for state in cans.state])
        for mark in dict.fromkeys(marks):
            use = marks == mark
            figure.add_scatter(x=cans.x[use] * place, y=cans.y[use] * place, mode="markers", hoverinfo="skip",
                               showlegend=False, marker={"symbol": mark, "size": 6, "color": "#111111"})
        return
    known = np.where(np.isnan(cans.depth_mm), 0.0, cans.depth_mm) * scale
    shades = plotly.colors.sample_colorscale(colours, np.clip((known - low) / (high - low), 0, 1).tolist())
    for number, shade in enumerate(shades):
        state = cans.state[number]
        text = "×" if state == MISSING else _digits(known[number], look)
        if state == SET_ASIDE:
            text = f"({text})"
        notes.append(_note(cans.x[number] * place, cans.y[number] * place, text, 11 if look.narrow else 12,
                           ink_on(shade)))


def ink_on(shade: str) -> str:
    """Choose black or white for text on a colour, by contrast.

    Parameters
    ----------
    shade : str
        ``rgb(r, g, b)``.

    Returns
    -------
    str
        ``#000000`` or ``#ffffff``. Relative luminance and contrast: WCAG 2.2.
    """
    parts = [float(part) / 255 for part in shade[shade.index("(") + 1 : -1].split(",")[:3]]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    luminance = float(np.dot(linear, [0.2126, 0.7152, 0.0722]))
    return "#000000" if (luminance + 0.05) / 0.05 > 1.05 / (luminance + 0.05) else "#ffffff"


def _spot_numbers(notes, result, look):
    place = shown_value(1.0, "place", look.system)
    for number, spot in enumerate(result.dry_spots, 1):
        notes.append(_note(spot.x_m * place, spot.y_m * place, f"<b>dry {number}</b>", 11, "#ffffff", yshift=15,
                           bgcolor="#111111", borderpad=2))


def _frame(figure, width, length, look):
    place = shown_value(1.0, "place", look.system)
    unit = shown_unit("place", look.system)
    wide, long = width * place, length * place
    figure.add_shape(type="rect", x0=0, x1=wide, y0=0, y1=long, line={"color": look.ink, "width": 2})
    room = 300 if look.narrow else 460
    height = int(np.clip(room * length / width, 260, 760 if look.narrow else 820)) + (130 if look.narrow else 90)
    figure.update_xaxes(range=[0, wide], constrain="domain", showgrid=False, zeroline=False, fixedrange=True,
                        title={"text": f"inlet end wall · from the left edge [{unit}]", "standoff": 4})
    figure.update_yaxes(range=[0, long], scaleanchor="x", constrain="domain", showgrid=False, zeroline=False,
                        fixedrange=True, title={"text": f"from the inlet end [{unit}]", "standoff": 4})
    # Fixed margins: plotly draws a map twice to find its own.
    margin = {"l": 52, "r": 8, "t": 20, "b": 100 if look.narrow and not look.live else 48}
    figure.update_layout(height=height, margin=margin, template="none", dragmode=False, showlegend=False,
                         clickmode="event+select", hovermode="closest", paper_bgcolor="rgba(0,0,0,0)",
                         plot_bgcolor="rgba(0,0,0,0)", font={"color": look.ink, "size": 12})


def plan_sketch(record_like: Sequence[tuple[float, float]], lines: Sequence[tuple[str, float, Sequence[float]]],
                width: float, length: float, look: Look) -> go.Figure:
    """Draw where cans and heads stand, before there are readings.

    Parameters
    ----------
    record_like : sequence of (x, y) [m]
        Places of the cans.
    lines : sequence of (name, x, places) [m]
        Lines of heads.
    width, length : float [m]
        The floor.
    look : Look
        How to draw it.

    Returns
    -------
    plotly Figure
    """
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
    _frame(figure, width, length, look)
    return figure
