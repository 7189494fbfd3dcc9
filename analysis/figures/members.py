"""Figures of many tunnels: one row each with its interval, lines over the years, before and after."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Sequence
from itertools import groupby
from typing import Any

import plotly.graph_objects as go

from ..changes.recheck import points, signed_whole
from ..compare.comparison import FIGURES, Comparison
from ..compare.over_time import Pair, Trend
from ..compare.rows import Row
from ..compare.together import YARDSTICK
from ..compare.words import span
from ..pattern.floor import Figure
from .lettering import clean_text, hover_label, plain_text, shortened, text_width
from .look import Look

MOST_TRENDS = 12
_SIZE = 12                        # pixels of the font
_WIDE_ROW, _NARROW_ROW = 30, 44   # pixels a row; on a phone the name stands above its interval
_WIDE_STRIP, _NARROW_STRIP = 84, 100  # pixels a line over the dates
_HEADING = 20                     # pixels of 'group 1' above its rows on a phone
_NAMES, _GROUPS = 236, 62         # pixels for names and for groups left of the rows
_PHONE = 334                      # pixels that a phone of 390 surely leaves for a row
_KEY_ROW = 20                     # pixels of one entry of the key
_AXIS = 52                        # pixels below the rows


Runs = list[tuple[int | None, int]]  # group and number of its rows


def _colour(look: Look) -> str:
    return "#9ecae1" if look.dark else "#1f4e79"


def _whole(value: float) -> str:
    return f"{round(value) + 0:d}"


def _points(change: Figure) -> str:
    return f"{signed_whole(change.value)} ({signed_whole(change.low)} to {signed_whole(change.high)})"


def interval_rows(rows: Sequence[Row], comparison: Comparison, look: Look) -> go.Figure:
    """Draw one row a tunnel with its interval, and what it is held against."""
    figure = go.Figure()
    runs = [(group, len(list(members))) for group, members in groupby(rows, key=lambda row: row.group)]
    middles, tall = _middles(runs, look)
    across = _span([end for row in comparison.rows for end in _ends(row)]
                 + ([comparison.mean.low, comparison.mean.high] if comparison.mean else [])
                 + ([YARDSTICK.high] if comparison.figure == YARDSTICK.figure else []))
    _mean_band(figure, comparison, middles, look)
    if comparison.figure == YARDSTICK.figure:
        _upright(figure, YARDSTICK.high, middles, {"color": "#e08214", "width": 2, "dash": "6px,4px"}, look,
                 f"{YARDSTICK.high:.0f} %: good, {YARDSTICK.says}")
    _row_marks(figure, rows, middles, look)
    _write(figure, [row.name for row in rows], [_row_value(row) for row in rows], middles, across, look)
    _groups(figure, runs, middles, look)
    _finish(figure, tall, across, f"{FIGURES[comparison.figure]} of the whole floor [%]", look, groups=True)
    return figure


def _ends(row: Row) -> tuple[float, ...]:
    return (row.figure.low, row.figure.high) if row.figure else (row.at_the_cans,)


def _tens(values: Sequence[float]) -> tuple[float, float]:
    low, high = 10 * (min(values, default=0.0) // 10), -10 * (-max(values, default=100.0) // 10)
    return low, max(high, low + 10)


def _span(values: Sequence[float]) -> tuple[float, float]:
    """Whole tens around all values, with a little room for marks that lie at an end."""
    low, high = _tens(values)
    return low - 0.04 * (high - low), high + 0.04 * (high - low)


def _middles(runs: Runs, look: Look) -> tuple[list[float], float]:
    """Middle of each row and the height of all [px], counted from the top; on a phone a group has a heading."""
    middles, top = [], 0.0
    high = _NARROW_ROW if look.narrow else _WIDE_ROW
    for group, count in runs:
        top += _HEADING if look.narrow and group is not None else 0
        middles += [top + high * (number + 0.5) for number in range(count)]
        top += high * count
    return middles, max(top, high)


def _mark_at(middle: float, look: Look) -> float:
    return -(middle + (11 if look.narrow else 0))


def _row_value(row: Row) -> str:
    return span(row.figure) if row.figure else f"at the cans {_whole(row.at_the_cans)} %"


def _row_hover(row: Row) -> str:
    said = [_row_value(row) + (", 90 % interval" if row.figure else ", not estimated for the whole floor")]
    if row.shrunk:
        said.append(f"drawn toward the mean: {span(row.shrunk)}")
    if row.among_lowest is not None:
        said.append(f"chance to be among the driest quarter of the tunnels: {100 * row.among_lowest:.0f} %")
    return _hover(row.name, [*said, *row.unlike])


def _hover(name: str, said: Sequence[str]) -> str:
    lines = [line for words in (clean_text(name), *map(clean_text, said)) for line in textwrap.wrap(words, 44) or [""]]
    return "<br>".join(map(plain_text, lines))


def _marks(figure: go.Figure, name: str, x: Sequence[float], y: Sequence[float], texts: Sequence[str],
           marker: dict[str, Any], look: Look, ends: Sequence[tuple[float, ...]] = ()) -> None:
    """Marks of one kind, with whiskers where `ends` has (low, high)."""
    whiskers = {"type": "data", "array": [high - at for at, (_, high) in zip(x, ends, strict=True)],
                         "arrayminus": [at - low for at, (low, _) in zip(x, ends, strict=True)],
                         "color": _colour(look), "thickness": 2, "width": 4} if ends else None
    figure.add_scatter(x=x, y=y, name=name, mode="markers", marker=marker, text=texts, error_x=whiskers,
                       hovertemplate="%{text}<extra></extra>", showlegend=bool(x))


def _value(figure: Figure | None) -> float:
    return figure.value if figure else float("nan")


def _full(look: Look) -> dict[str, Any]:
    return {"symbol": "circle", "size": 10, "color": _colour(look), "line": {"width": 2, "color": _colour(look)}}


def _hollow(look: Look) -> dict[str, Any]:
    # Filled with the colour of the page, so that the whisker does not run through it.
    return {**_full(look), "color": "#0e1117" if look.dark else "#ffffff"}


def _row_marks(figure: go.Figure, rows: Sequence[Row], middles: Sequence[float], look: Look) -> None:
    at = {id(row): _mark_at(middle, look) for row, middle in zip(rows, middles, strict=True)}

    def draw(name: str, use: Sequence[Row], value: Callable[[Row], float], marker: dict[str, Any],
             whiskers: bool = False) -> None:
        _marks(figure, name, [value(row) for row in use], [at[id(row)] for row in use], list(map(_row_hover, use)),
               marker, look, [_ends(row) for row in use] if whiskers else ())

    known = [row for row in rows if row.figure]
    draw("estimate, 90 % interval", [row for row in known if not row.unlike], lambda row: _value(row.figure),
         _full(look), True)
    draw("tested unlike most, not pooled", [row for row in known if row.unlike], lambda row: _value(row.figure),
         _hollow(look), True)
    draw("drawn toward the mean", [row for row in known if row.shrunk], lambda row: _value(row.shrunk),
         {"symbol": "diamond", "size": 8, "color": "#e08214", "line": {"width": 1, "color": "#ffffff"}})
    draw("at the cans only", [row for row in rows if not row.figure], lambda row: row.at_the_cans,
         {"symbol": "x-thin", "size": 9, "line": {"width": 2.5, "color": _colour(look)}})


def _mean_band(figure: go.Figure, comparison: Comparison, middles: Sequence[float], look: Look) -> None:
    mean = comparison.mean
    if mean is None:
        return
    shade = "rgba(150,150,150,.28)"
    figure.add_vrect(x0=mean.low, x1=mean.high, fillcolor=shade, line_width=0, layer="below")
    figure.add_scatter(x=[None], y=[None], mode="markers", name=f"mean {span(mean)}",
                       marker={"symbol": "square", "size": 14, "color": shade, "line": {"width": 1, "color": "#888"}})
    _upright(figure, mean.value, middles, {"color": look.ink, "width": 1, "dash": "dot"}, look)


def _upright(figure: go.Figure, x: float, middles: Sequence[float], line: dict[str, Any], look: Look,
             name: str | None = None) -> None:
    """A line from top to bottom; on a phone only beside the intervals, so that it crosses no name."""
    low, high = (22, 0) if look.narrow else (_WIDE_ROW / 2, _WIDE_ROW / 2)
    ends = [end for middle in middles for end in (high - middle, -low - middle, *([None] if look.narrow else []))]
    figure.add_scatter(x=[x] * len(ends), y=ends, mode="lines", line=line, name=name, hoverinfo="skip",
                       showlegend=name is not None)


def _write(figure: go.Figure, names: Sequence[str], values: Sequence[str], middles: Sequence[float],
           across: tuple[float, float], look: Look) -> None:
    """Names and values beside the rows; on a phone above them, so that the interval gets all the width."""
    room = [_PHONE - text_width(value) - 8 if look.narrow else _NAMES for value in values]
    names = [plain_text(shortened(name, wide)) for name, wide in zip(names, room, strict=True)]
    y = [-(middle - (9 if look.narrow else 0)) for middle in middles]
    sides = ("middle right", "middle left") if look.narrow else ("middle left", "middle right")
    for label, x, texts, side in (("names", across[0], names, sides[0]), ("values", across[1], values, sides[1])):
        figure.add_scatter(x=[x] * len(y), y=y, text=texts, mode="text", textposition=side, cliponaxis=False,
                           name=label, hoverinfo="skip", showlegend=False, textfont={"size": _SIZE, "color": look.ink})


def _groups(figure: go.Figure, runs: Runs, middles: Sequence[float], look: Look) -> None:
    """A bar beside each run of one group, in two greys by turns, and the group's name once a run."""
    shapes, notes, first = [], [], 0
    half = (_NARROW_ROW if look.narrow else _WIDE_ROW) / 2 - 2
    edge = (-12, -7) if look.narrow else (-_NAMES - 14, -_NAMES - 9)
    for group, count in runs:
        top, bottom = middles[first] - half, middles[first + count - 1] + half
        first += count
        if group is None:
            continue
        shapes.append({"type": "rect", "xref": "paper", "xsizemode": "pixel", "xanchor": 0, "x0": edge[0],
                       "x1": edge[1], "y0": -bottom, "y1": -top, "fillcolor": ("#767676", "#b0b0b0")[group % 2],
                       "line": {"width": 0}})
        place = ({"xanchor": "left", "xshift": -13, "y": -(top - _HEADING / 2)} if look.narrow
                 else {"xanchor": "right", "xshift": edge[0] - 2, "y": -(top + bottom) / 2})
        notes.append({"xref": "paper", "x": 0, "text": f"group {group + 1}", "showarrow": False,
                      "font": {"size": _SIZE - 1, "color": look.ink}, "yanchor": "middle", **place})
    figure.update_layout(shapes=[*figure.layout.shapes, *shapes], annotations=notes)


def _finish(figure: go.Figure, tall: float, across: tuple[float, float], title: str, look: Look,
            groups: bool = False) -> None:
    """Axes, key and just the height that is needed. Fixed margins: plotly draws a figure twice to find its own."""
    entries = [trace for trace in figure.data if trace.showlegend is not False]
    # Two upright keys: a level one breaks its line by the width of the plot, which is not known here.
    columns = 1 if look.narrow else 2
    for trace in entries[1::2] if columns == 2 else ():
        trace.legend = "legend2"
    key = 8 + _KEY_ROW * -(-len(entries) // columns) if entries else 8
    margin = ({"l": 16 if groups else 8, "r": 8} if look.narrow
              else {"l": _NAMES + (_GROUPS + 14 if groups else 8), "r": 132})
    figure.update_xaxes(range=list(across), title={"text": title, "standoff": 6}, fixedrange=True, zeroline=False,
                        gridcolor="rgba(128,128,128,.25)", nticks=6, ticks="outside")
    figure.update_yaxes(range=[-tall, 0], visible=False, fixedrange=True)
    figure.update_layout(
        height=int(tall + key + _AXIS), margin={**margin, "t": key, "b": _AXIS, "autoexpand": False}, template="none",
        dragmode=False, hovermode="closest",
        hoverlabel=hover_label(look), paper_bgcolor="rgba(0,0,0,0)", plot_bgcolor="rgba(0,0,0,0)",
        font={"color": look.ink, "size": _SIZE}, showlegend=bool(entries), legend=_key(0.0, look),
        **({"legend2": _key(0.5, look)} if len(entries) > 1 and columns == 2 else {}))


def _key(x: float, look: Look) -> dict[str, Any]:
    return {"orientation": "v", "x": x, "xref": "container", "xanchor": "left", "y": 1, "yref": "container",
            "yanchor": "top", "itemclick": False, "itemdoubleclick": False, "bgcolor": "rgba(0,0,0,0)",
            "font": {"size": _SIZE, "color": look.ink}}


def trend_lines(trends: Sequence[Trend], figure: str, look: Look) -> go.Figure:
    """Draw a small line over the dates for each tunnel, one below the other on one scale."""
    drawn, trends = go.Figure(), trends[:MOST_TRENDS]
    found = [[getattr(item.figures.floor, figure) for item in trend.tests] for trend in trends]
    low, high = _tens([end for figures in found for item in figures for end in (item.low, item.high)])
    strip, line = (_NARROW_STRIP, 62) if look.narrow else (_WIDE_STRIP, 66)
    floors = [-(strip * (number + 1) - 10) for number in range(len(trends))]
    scale = line / (high - low)
    for trend, figures, floor in zip(trends, found, floors, strict=True):
        _trend_line(drawn, trend, figures, floor - low * scale, scale, look)
    days = _days(trends)
    _finish(drawn, strip * max(len(trends), 1), (0, 1), f"{FIGURES[figure]} of the whole floor over the dates", look)
    for at in floors:
        drawn.add_hrect(y0=at, y1=at + line, fillcolor="rgba(128,128,128,.10)", line_width=0, layer="below")
    _trend_words(drawn, trends, found, floors, low, scale, line, look)
    drawn.update_yaxes(visible=True, showgrid=False, zeroline=False, ticks="", tickfont={"size": 10},
                       tickvals=[end for at in floors for end in (at + 3, at + line - 3)],
                       ticktext=[f"{_whole(end)} %" for _ in floors for end in (low, high)])
    drawn.update_xaxes(type="date", range=days, nticks=5)
    drawn.update_layout(margin={"l": 44, "r": 48 if look.narrow else 300})
    return drawn


def _days(trends: Sequence[Trend]) -> list[str] | None:
    """First and last day with a little room beside them, for whiskers."""
    days = [datetime.date.fromisoformat(item.figures.date) for trend in trends for item in trend.tests
            if item.figures.date]
    if not days:
        return None
    beside = (max(days) - min(days)) * 0.02 + datetime.timedelta(days=1)
    return [(min(days) - beside).isoformat(), (max(days) + beside).isoformat()]


def _trend_line(drawn: go.Figure, trend: Trend, figures: Sequence[Figure], zero: float, scale: float,
                look: Look) -> None:
    texts = [_hover(trend.name, [f"{item.figures.date}: {span(found)}"])
             for item, found in zip(trend.tests, figures, strict=True)]
    drawn.add_scatter(
        x=[item.figures.date for item in trend.tests], y=[zero + scale * item.value for item in figures],
        error_y={"type": "data", "array": [scale * (item.high - item.value) for item in figures],
                 "arrayminus": [scale * (item.value - item.low) for item in figures], "thickness": 1.5, "width": 3,
                 "color": _colour(look)},
        mode="lines+markers", line={"color": _colour(look), "width": 2}, marker={"size": 7}, text=texts,
        cliponaxis=False, customdata=[item.value for item in figures], hovertemplate="%{text}<extra></extra>",
        showlegend=False)


def _trend_words(drawn: go.Figure, trends: Sequence[Trend], figures: Any, floors: Any, low: float, scale: float,
                 line: float, look: Look) -> None:
    """The name and the change a year at the end of the line; on a phone above it, the last value at its end."""
    notes = []

    def note(x: float, y: float, text: str, anchor: str, shift: float = 0) -> None:
        notes.append({"xref": "paper", "x": x, "y": y, "text": text, "showarrow": False, "xanchor": anchor,
                      "xshift": shift, "yanchor": "middle", "align": "left",
                      "font": {"size": _SIZE, "color": look.ink}})

    for trend, found, floor in zip(trends, figures, floors, strict=True):
        year, last = f"{_points(trend.a_year)} a year", f"{_whole(found[-1].value)} %"
        if look.narrow:
            name = plain_text(shortened(trend.name, _PHONE - text_width(year) - 8))
            note(0, floor + line + 12, name, "left", -42)
            note(1, floor + line + 12, year, "right", 46)
            note(1, floor + scale * (found[-1].value - low), last, "left", 8)
        else:
            name = plain_text(shortened(trend.name, 280))
            note(1, floor + line / 2, f"{name}<br>{last}, {_points(trend.a_year)} points a year", "left", 10)
    drawn.update_layout(annotations=notes)


def change_rows(pairs: Sequence[Pair], figure: str, look: Look) -> go.Figure:
    """Draw one row a tunnel that was tested before and after, with the change and its interval."""
    drawn = go.Figure()
    middles, tall = _middles([(None, len(pairs))], look)
    changes = [pair.figure.change for pair in pairs]
    across = _span([0.0, *(end for change in changes for end in (change.low, change.high))])
    _upright(drawn, 0, middles, {"color": look.ink, "width": 1.5}, look)
    for name, hollow in (("change, 90 % interval", False), ("run unlike the test before", True)):
        use = [(pair, middle) for pair, middle in zip(pairs, middles, strict=True) if bool(pair.unlike) == hollow]
        found = [pair.figure.change for pair, _ in use]
        _marks(drawn, name, [change.value for change in found], [_mark_at(middle, look) for _, middle in use],
               [_pair_hover(pair) for pair, _ in use], (_hollow if hollow else _full)(look), look,
               [(change.low, change.high) for change in found])
    told = [points(pair.figure, unit="") for pair in pairs]
    _write(drawn, [pair.name for pair in pairs], told, middles, across, look)
    _finish(drawn, tall, across, f"change of {FIGURES[figure]}, whole floor [points]", look)
    return drawn


def _pair_hover(pair: Pair) -> str:
    both, when = pair.figure, f"{pair.before.figures.date} to {pair.after.figures.date}"
    figures = f"{_whole(both.before)} % to {_whole(both.after)} %, {points(both)}"
    return _hover(pair.name, [f"{when}: {figures}", *pair.unlike])
