"""Plotly figures of a result. They know nothing of the page that shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import plotly.colors
import plotly.graph_objects as go

from ..cans.catch import COUNTED, MISSING, SET_ASIDE, Catch
from ..cans.surface import Surface
from ..pattern.whole_floor import WholeFloor
from ..record.ground import Array
from ..record.model import Record
from ..record.places import head_places, line_named
from ..result.model import Result
from ..units.shown import shown_unit, shown_value
from .ground import bar, frame, plan_sketch
from .look import Look
from .room import Box, map_pixels, placed, text_box

__all__ = ["change_map", "depth_map", "difference_map", "drawn_map", "drawn_mean", "drawn_on_cans", "ink_on",
           "plan_sketch"]

LEVELS, DEVIATIONS = "Cividis", "PuOr"
_MOST_TEXTS = 130
_SPOT_UP = 15  # pixels of a dry spot's name above its middle
_SHIFTS = (0.0, -15.0, 15.0)  # pixels that a value may be moved to clear a head


Drawn = list[dict[str, Any]]  # notes or shapes of a figure
Scaling = tuple[float, float, float, Any, str]  # factor, lowest, highest, colours, unit


def depth_map(record: Record, result: Result, look: Look) -> go.Figure:
    """Draw the depth map with cans, heads, dry spots and patches."""
    surface = drawn_map(result, look)
    figure = go.Figure()
    notes: Drawn = []
    shapes: Drawn = []
    mean = drawn_mean(result, look)
    scale, low, high, colours, unit = _scale(surface, mean, look)
    place = shown_value(1.0, "place", look.system)
    figure.add_heatmap(
        x=(surface.x * place).astype("float32"), y=(surface.y * place).astype("float32"),
        z=(surface.depth_mm * scale).astype("float32"), zmin=low, zmax=high, colorscale=colours,
        hovertemplate="%{z:.3~g} " + unit + "<extra></extra>", zsmooth="fast",
        colorbar=bar(unit, record.floor.width.si, record.floor.length.si, look),
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
    _cans(figure, notes, record, result, look, (scale, low, high, colours, unit))
    _spot_numbers(notes, result, look)
    # One assignment: adding notes one by one costs a copy of all of them each time.
    figure.update_layout(annotations=notes, shapes=shapes)
    frame(figure, record.floor.width.si, record.floor.length.si, look, with_bar=not look.live)
    return figure


def drawn_map(result: Result, look: Look) -> Surface:
    """Choose the map that a look asks for."""
    floor, surface = result.floor, result.surface
    if look.layer == "cans" or floor is None:
        return surface
    values = floor.depth_mm if look.layer == "heads" else floor.sd_mm
    return replace(surface, x=floor.x, y=floor.y, depth_mm=values, inside=floor.ground)


def _scale(surface: Surface, mean: float, look: Look) -> Scaling:
    if look.layer == "sure":
        factor = 100 / mean if look.relative else shown_value(1.0, "depth", look.system, unit="mm")
        unit = "± % of mean" if look.relative else f"± {shown_unit('depth', look.system)}"
        return factor, 0.0, float(np.nanmax(surface.depth_mm)) * factor, LEVELS, unit
    if look.relative:
        return 100 / mean, 40.0, 160.0, DEVIATIONS, "% of mean"
    factor = shown_value(1.0, "depth", look.system, unit="mm")
    top = max(float(np.nanmax(surface.depth_mm)), 1e-6) * factor
    return factor, 0.0, top, LEVELS, shown_unit("depth", look.system)


def _beyond(shapes: Drawn, record: Record, surface: Surface, place: float, look: Look) -> None:
    """Veil the ground beyond the cans: the floor with a hole where they stand."""
    veil = "rgba(20,20,20,.45)" if look.dark else "rgba(255,255,255,.5)"
    wide, long = record.floor.width.si * place, record.floor.length.si * place
    outline = f"M0,0 L{wide},0 L{wide},{long} L0,{long} Z"
    if len(surface.edge) > 2:
        outline += " M" + " L".join(f"{x * place:.4f},{y * place:.4f}" for x, y in surface.edge) + " Z"
    shapes.append({"type": "path", "path": outline, "fillcolor": veil, "fillrule": "evenodd", "line": {"width": 0},
                   "layer": "above"})


def _dry_edge(figure: go.Figure, surface: Surface, mean: float, place: float, look: Look) -> None:
    edge = look.part_of_mean * mean
    if np.nanmin(surface.depth_mm) < edge < np.nanmax(surface.depth_mm):
        figure.add_contour(
            x=surface.x * place, y=surface.y * place, z=surface.depth_mm.astype("float32"), showscale=False,
            contours={"start": edge, "end": edge, "size": 1, "coloring": "none"}, hoverinfo="skip",
            line={"color": "#111111", "width": 2, "dash": "dash"}, showlegend=False,
        )


def _rectangle(edges: tuple[float, float, float, float], place: float, line: dict[str, Any]) -> dict[str, Any]:
    left, right, start, end = (value * place for value in edges)
    return {"type": "rect", "x0": left, "x1": right, "y0": start, "y1": end, "line": line}


def _note(x: float, y: float, text: str, size: float, colour: str, **more: Any) -> dict[str, Any]:
    return {"x": x, "y": y, "text": text, "showarrow": False, "captureevents": False,
            "font": {"size": size, "color": colour}, **more}


def _patches(notes: Drawn, shapes: Drawn, record: Record, look: Look) -> None:
    place = shown_value(1.0, "place", look.system)
    for number, patch in enumerate(record.patches or [], 1):
        edges = (patch.x[0].si, patch.x[1].si, patch.y[0].si, patch.y[1].si)
        shapes.append(_rectangle(edges, place, {"color": "#7a0177", "width": 3}))
        notes.append(_note(edges[1] * place, edges[3] * place, f"patch {number}", 12, "#ffffff", xanchor="right",
                           yanchor="top", bgcolor="#7a0177"))


def _beds(shapes: Drawn, record: Record, look: Look) -> None:
    place = shown_value(1.0, "place", look.system)
    length = record.floor.length.si
    for bed in record.floor.beds or []:
        edges = (bed.from_.si, bed.to.si, bed.start.si if bed.start else 0.0, bed.end.si if bed.end else length)
        shapes.append(_rectangle(edges, place, {"color": "#444444", "width": 1, "dash": "dot"}))


def _heads(figure: go.Figure, record: Record, result: Result, look: Look) -> None:
    place = shown_value(1.0, "place", look.system)
    heads = [(line.name, number, line.x.si * place, y * place) for line in record.lines or []
             for number, y in enumerate(head_places(line), 1)]
    if result.heads and not look.live:
        _heads_by_output(figure, result, place, look)
    elif heads:
        figure.add_scatter(
            x=[x for _, _, x, _ in heads], y=[y for *_, y in heads], mode="markers",
            marker={"symbol": "triangle-up-open", "size": 8, "color": "rgba(17,17,17,.6)", "line": {"width": 1.2}},
            text=[f"{line_named(name)}, head {number}" for name, number, _, _ in heads],
            hovertemplate="%{text}<extra></extra>", showlegend=False,
        )


def _heads_by_output(figure: go.Figure, result: Result, place: float, look: Look) -> None:
    """Suspects large and named; the others by their output, with what the cans allow."""
    for suspect, symbol, size in ((False, "triangle-up-open", 8), (True, "triangle-down", 17)):
        heads = [head for head in result.heads if head.suspect == suspect]
        figure.add_scatter(
            x=[head.x_m * place for head in heads], y=[head.y_m * place for head in heads], mode="markers",
            marker={"symbol": symbol, "size": size, "color": "#d7191c" if suspect else "rgba(17,17,17,.6)",
                    "line": {"width": 1.5 if suspect else 1.2, "color": "#ffffff" if suspect else "rgba(17,17,17,.6)"}},
            text=[f"{line_named(head.line)}, head {head.number}: {100 * head.output:.0f} % of its share "
                  f"({100 * head.low:.0f} to {100 * head.high:.0f})" for head in heads],
            hovertemplate="%{text}<extra></extra>", showlegend=False,
        )


def _cans(figure: go.Figure, notes: Drawn, record: Record, result: Result, look: Look, scaling: Scaling) -> None:
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
    _values(figure, notes, record, result, look, scaling, place)
    if look.live:
        return
    figure.add_scatter(
        x=cans.x * place, y=cans.y * place, mode="markers", text=texts,
        customdata=[cans.name(number) for number in range(len(cans.x))],
        hovertemplate="%{customdata}: %{text}<extra></extra>", showlegend=False,
        marker={"size": 26 if look.narrow else 22, "symbol": "square", "color": "rgba(0,0,0,0)"},
        selected={"marker": {"color": "rgba(230,120,0,.55)"}}, unselected={"marker": {"color": "rgba(0,0,0,0)"}},
    )


def drawn_on_cans(result: Result, look: Look) -> bool:
    """Tell whether the map drawn is the surface over the cans."""
    return look.layer == "cans" or result.floor is None


def drawn_mean(result: Result, look: Look) -> float:
    """Tell which mean is 100 % on the map drawn."""
    if drawn_on_cans(result, look) or result.whole_floor is None:
        return result.catch.mean_mm
    return result.whole_floor.mean_mm.value


def _digits(value: float, look: Look) -> str:
    return f"{value:.0f}" if look.relative else f"{value:.{1 if look.system == 'metric' else 2}f}"


def _values(figure: go.Figure, notes: Drawn, record: Record, result: Result, look: Look, scaling: Scaling,
            place: float) -> None:
    """Values of the cans where there is room for them, marks elsewhere."""
    cans = result.cans
    scale, low, high, colours, _ = scaling
    known = np.where(np.isnan(cans.depth_mm), 0.0, cans.depth_mm) * scale
    texts = ["×" if state == MISSING else f"({_digits(value, look)})" if state == SET_ASIDE else _digits(value, look)
             for state, value in zip(cans.state, known, strict=True)]
    size = 11 if look.narrow else 12
    shifts = _room_for(texts, known, record, result, look, size) if look.values and len(texts) <= _MOST_TEXTS else {}
    _marks(figure, cans, place, [number for number in range(len(texts)) if shifts.get(number) is None])
    shades = plotly.colors.sample_colorscale(colours, np.clip((known - low) / (high - low), 0, 1).tolist())
    for number, shift in shifts.items():
        if shift is not None:
            notes.append(_note(cans.x[number] * place, cans.y[number] * place, texts[number], size,
                               ink_on(shades[number]), yshift=shift, bgcolor=shades[number], borderpad=0))


def _marks(figure: go.Figure, cans: Catch, place: float, numbers: Sequence[int]) -> None:
    # A trace for each kind of mark: marks of one kind are drawn much faster than a list of kinds.
    kinds = {MISSING: "x", SET_ASIDE: "circle-x-open"}
    marks = [kinds.get(cans.state[number], "circle") for number in numbers]
    for mark in dict.fromkeys(marks):
        use = [number for number, kind in zip(numbers, marks, strict=True) if kind == mark]
        figure.add_scatter(x=cans.x[use] * place, y=cans.y[use] * place, mode="markers", hoverinfo="skip",
                           showlegend=False, marker={"symbol": mark, "size": 6, "color": "#111111"})


def _room_for(texts: Any, known: Any, record: Record, result: Result, look: Look,
              size: float) -> dict[int, float | None]:
    """How far each value is moved up [px], the odd ones first; None where there is no room."""
    cans = result.cans
    width, length = record.floor.width.si, record.floor.length.si
    across, along = map_pixels(width, length, look)
    pixels = along / length
    walls = [Box(across / 2, -54, 9999, 100), Box(across / 2, along + 54, 9999, 100)]
    heads = [Box(line.x.si * pixels, y * pixels, 9, 9) for line in (record.lines or []) if look.heads
             for y in head_places(line)]
    spots = [text_box(spot.x_m * pixels, spot.y_m * pixels + _SPOT_UP, f"dry {number}", 13)
             for number, spot in enumerate(result.dry_spots, 1)]
    middle = float(np.median(known))
    order = sorted(range(len(texts)), key=lambda number: -abs(known[number] - middle))
    wanted = [text_box(cans.x[number] * pixels, cans.y[number] * pixels, texts[number], size) for number in order]
    return dict(sorted(zip(order, placed(wanted, [*walls, *heads, *spots], _SHIFTS), strict=True)))


def ink_on(shade: str) -> str:
    """Choose black or white for text on a colour, by contrast."""
    parts = [float(part) / 255 for part in shade[shade.index("(") + 1 : -1].split(",")[:3]]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    luminance = float(np.dot(linear, [0.2126, 0.7152, 0.0722]))
    return "#000000" if (luminance + 0.05) / 0.05 > 1.05 / (luminance + 0.05) else "#ffffff"


def _spot_numbers(notes: Drawn, result: Result, look: Look) -> None:
    place = shown_value(1.0, "place", look.system)
    for number, spot in enumerate(result.dry_spots, 1):
        notes.append(_note(spot.x_m * place, spot.y_m * place, f"<b>dry {number}</b>", 11, "#ffffff", yshift=_SPOT_UP,
                           bgcolor="#111111", borderpad=2))


def change_map(floor: WholeFloor, depth: Array, heads: Array, size: tuple[float, float],
               look: Look) -> go.Figure:
    """Draw the ground as a change would leave it, or as it is, on one scale."""
    return _ground_map(floor, 100 * depth, (40.0, 160.0), "% of mean", heads, size, look)


def difference_map(floor: WholeFloor, points: Array, heads: Array, size: tuple[float, float],
                   look: Look) -> go.Figure:
    """Draw how the ground changed between two tests."""
    return _ground_map(floor, points, (-60.0, 60.0), "points", heads, size, look)


def _ground_map(floor: WholeFloor, shown: Array, span: tuple[float, float], unit: str, heads: Array,
                size: tuple[float, float], look: Look) -> go.Figure:
    place = shown_value(1.0, "place", look.system)
    values = np.full(floor.ground.shape, np.nan, "float32")
    values[floor.ground] = shown
    figure = go.Figure()
    figure.add_heatmap(
        x=(floor.x * place).astype("float32"), y=(floor.y * place).astype("float32"), z=values,
        zmin=span[0], zmax=span[1],
        colorscale=DEVIATIONS, zsmooth="fast", hovertemplate=f"%{{z:.0f}} {unit}<extra></extra>",
        colorbar=bar(unit, *size, look))
    figure.add_scatter(x=heads[:, 0] * place, y=heads[:, 1] * place, mode="markers", hoverinfo="skip",
                       marker={"symbol": "triangle-down", "size": 7, "color": look.ink})
    frame(figure, *size, look, with_bar=True)
    return figure
