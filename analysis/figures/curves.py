"""Curves of a result: depth against ground, the heads' profile, caught against fitted, unevenness, run times."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from ..cans.uniformity import depth_curve
from ..causes.finding import Unevenness
from ..result import advice
from ..result.model import Result
from ..units.shown import show, shown_unit, shown_value
from ..watering.schedule import Curve, Watering
from .look import Look


def depth_share(result: Result, look: Look) -> go.Figure:
    """Draw depth against the share of the cans that got at least that depth."""
    cans = result.cans
    share, depth = depth_curve(cans.depth_mm[cans.counted], cans.weight[cans.counted])
    unit = shown_unit("depth", look.system)
    factor = shown_value(1.0, "depth", look.system, unit="mm")
    figure = go.Figure()
    colour = "#9ecae1" if look.dark else "#1f4e79"
    figure.add_scatter(x=share, y=depth * factor, mode="lines+markers",
                       line={"color": colour, "width": 2, "shape": "hv"}, marker={"size": 5}, showlegend=False,
                       hovertemplate="%{x:.0f} % of the ground gets at least %{y:.3~g} " + unit + "<extra></extra>")
    mean = result.catch.mean_mm
    for value, text in ((mean, "mean"), (mean * result.at_the_cans.du_low_quarter / 100, "mean of the driest quarter")):
        figure.add_hline(y=value * factor, line={"color": look.ink, "width": 1, "dash": "dot"},
                         annotation={"text": f"{text}: {show(value, 'depth', look.system, unit='mm')}",
                                     "font": {"color": look.ink}})
    figure.add_vrect(x0=75, x1=100, fillcolor="#888888", opacity=0.15, line_width=0)
    figure.update_xaxes(title="share of the ground, wettest first [%]", range=[0, 100], fixedrange=True)
    figure.update_yaxes(title=f"at least this depth [{unit}]", rangemode="tozero", fixedrange=True)
    _plain_layout(figure, look)
    return figure


def head_profile(result: Result, look: Look) -> go.Figure:
    """Draw the heads' radial profile with its band."""
    profile = result.profile
    assert profile is not None  # there are heads
    place, rate = shown_value(1.0, "place", look.system), shown_value(1.0, "rate", look.system, unit="mm/h")
    unit, of = shown_unit("rate", look.system), shown_unit("place", look.system)
    radius = np.array(profile.radius_m) * place
    figure = go.Figure()
    band = "rgba(120,150,180,.35)"
    figure.add_scatter(x=radius, y=np.array(profile.high) * rate, mode="lines", line={"width": 0}, hoverinfo="skip")
    figure.add_scatter(x=radius, y=np.array(profile.low) * rate, mode="lines", line={"width": 0}, fill="tonexty",
                       fillcolor=band, hoverinfo="skip")
    figure.add_scatter(x=radius, y=np.array(profile.rate_mm_h) * rate, mode="lines",
                       line={"color": "#9ecae1" if look.dark else "#1f4e79", "width": 2},
                       hovertemplate=f"%{{x:.1f}} {of}: %{{y:.3~g}} {unit}<extra></extra>")
    figure.update_xaxes(title=f"distance from a head [{of}]", rangemode="tozero", fixedrange=True)
    figure.update_yaxes(title=f"rate of one head [{unit}]", rangemode="tozero", fixedrange=True)
    _plain_layout(figure, look)
    return figure


def measured_and_fitted(result: Result, look: Look) -> go.Figure:
    """Draw what each can caught against what the estimate says there."""
    factor, unit = shown_value(1.0, "depth", look.system, unit="mm"), shown_unit("depth", look.system)
    floor = result.floor
    assert floor is not None  # there are heads
    caught, fitted = result.cans.depth_mm[floor.cans] * factor, floor.estimate.fitted * factor
    figure = go.Figure()
    top = float(max(caught.max(), fitted.max())) * 1.05
    figure.add_scatter(x=[0, top], y=[0, top], mode="lines", line={"color": look.ink, "width": 1, "dash": "dot"},
                       hoverinfo="skip")
    figure.add_scatter(x=fitted, y=caught, mode="markers", marker={"size": 7, "color": "#e08214"},
                       text=[result.cans.name(number) for number in floor.cans],
                       hovertemplate="%{text}: caught %{y:.3~g}, fitted %{x:.3~g} " + unit + "<extra></extra>")
    figure.update_xaxes(title=f"fitted [{unit}]", range=[0, top], fixedrange=True)
    figure.update_yaxes(title=f"caught [{unit}]", range=[0, top], fixedrange=True)
    _plain_layout(figure, look)
    return figure


def watering_curve(plan: Watering, look: Look, after: Curve | None = None) -> go.Figure:
    """Draw the ground that is short and the ground that drowns against the run time."""
    figure = go.Figure()
    colours = {"short": "#e08214", "drowned": "#9ecae1" if look.dark else "#1f4e79"}
    for made, word, line in ((plan.curve, "", {"width": 3}), (after, " after the fix", {"width": 1.5, "dash": "dash"})):
        for name in ("short", "drowned"):
            if made is None:
                continue
            share = 100 * np.array(getattr(made, name))
            figure.add_scatter(x=made.minutes, y=share, mode="lines", name=f"{name}{word}",
                               line={"color": colours[name], **line},
                               hovertemplate=f"%{{x:.0f}} min: %{{y:.0f}} % {name}{word}<extra></extra>")
    figure.add_vline(x=plan.chosen.minutes.value, line={"color": look.ink, "width": 1, "dash": "dot"},
                     annotation={"text": f"{plan.chosen.minutes.value:.0f} min", "font": {"color": look.ink}})
    figure.update_xaxes(title="run time [min]", rangemode="tozero", range=[0, plan.curve.minutes[-1]], fixedrange=True)
    figure.update_yaxes(title="share of the ground [%]", range=[0, 100], fixedrange=True)
    _plain_layout(figure, look)
    figure.update_layout(showlegend=True, legend={"orientation": "h", "y": 1.02, "yanchor": "bottom"},
                         margin={"l": 60, "r": 8, "t": 56, "b": 48})
    return figure


def unevenness_bar(unevenness: Unevenness, look: Look) -> go.Figure:
    """Draw the parts of the unevenness."""
    parts = advice.parts_of(unevenness)
    whole = advice.whole_parts(parts)
    figure = go.Figure()
    figure.add_bar(y=list(parts), x=list(parts.values()), orientation="h", width=0.6,
                   marker={"color": "#9ecae1" if look.dark else "#1f4e79"},
                   text=[f"{share} %" for share in whole.values()], textposition="outside", cliponaxis=False,
                   hoverinfo="skip")
    figure.update_xaxes(title="part of the variance of depth [%]", range=[0, 112], tickvals=[0, 25, 50, 75, 100],
                        showgrid=False, fixedrange=True)
    figure.update_yaxes(autorange="reversed", fixedrange=True)
    _plain_layout(figure, look)
    figure.update_layout(height=220, margin={"l": 130, "r": 8, "t": 8, "b": 48})
    return figure


def _plain_layout(figure: go.Figure, look: Look) -> None:
    figure.update_layout(height=320, margin={"l": 60, "r": 8, "t": 20, "b": 48}, template="none", dragmode=False,
                         showlegend=False, paper_bgcolor="rgba(0,0,0,0)", plot_bgcolor="rgba(0,0,0,0)",
                         font={"color": look.ink, "size": 12})
