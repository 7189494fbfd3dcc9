"""A tunnel with a known system: its cans are what its own pressures make them."""

import numpy as np
from evenfall.hydraulics.system import system_of, working_point
from evenfall.pattern import overlap
from evenfall.record.file import parse_record
from evenfall.record.site import site_of

AREA = 55.0  # [cm2] of a can
RADIUS_POWER = 0.2  # of the reach, with pressure


def text_of(*, width, length, xs, ys, reach, supply, cans, catch, bore="26.6 mm", flow=45.0, at=200.0, run="together",
            fed="near", more_floor="", more=""):
    """The record of a tunnel as TOML."""
    lines = "".join(
        f'[[lines]]\nname = "{name}"\nx = "{x:.3f} m"\n'
        f'heads_at = [{", ".join(f"{chr(34)}{y:.3f} m{chr(34)}" for y in ys)}]'
        f'\nheight = "2.3 m"\npipe = "{bore}"\nfed_from = "{fed}"\nfeed = "3 m"\n'
        for name, x in zip(("A", "B", "C", "D"), xs, strict=False))
    points = ", ".join(f'{{ x = "{x:.3f} m", y = "{y:.3f} m", catch = {ml:.0f} }}'
                       for (x, y), ml in zip(cans, catch, strict=True))
    together = f'lines = "{run}"' if len(xs) > 1 else ""
    return f"""record = 1
[test]
title = "planted"
[floor]
width = "{width} m"
length = "{length} m"
{more_floor}
[heads]
flow = "{flow} L/h"
at = "{at} kPa"
exponent = 0.5
wetted_diameter = "{2 * reach} m"
height = "2.1 m"
{lines}
[cans]
reads = "volume"
unit = "mL"
opening_area = "{AREA} cm2"
points = [{points}]
[run]
duration = "40 min"
{together}
{supply}
{more}"""


def planted(*, width, length, ys, reach, seed=0, **parts):
    """The record of a tunnel whose heads throw a parabola; its reach follows the pressure.

    Parameters
    ----------
    width, length, ys, reach : float, or array [m]
        The floor, places of the heads along each line, reach at nominal pressure.
    seed : int
        Of the reading error of 3 %.
    parts : dict
        What else `text_of` takes.

    Returns
    -------
    Record
    """
    rng = np.random.default_rng(seed)
    rows = (np.arange(12) + 0.5) * length / 12
    cans = np.array([(x, y) for row, y in enumerate(rows)
                     for x in (np.arange(6) + 0.35 + 0.3 * (row % 2)) * width / 6])
    given = {"width": width, "length": length, "ys": ys, "reach": reach, "cans": cans, **parts}
    bare = parse_record(text_of(catch=np.full(len(cans), 50.0), **given))
    point = working_point(system_of(site_of(bare)))
    heads = np.array([(x, y) for x in parts["xs"] for y in ys])
    radius = np.linspace(0.0, 1.0, 60)
    rate = np.zeros(len(cans))
    for head, pressure, flow in zip(heads, point.pressure, point.flow, strict=True):
        wide = radius * reach * (max(pressure, 1.0) / parts.get("at", 200.0)) ** RADIUS_POWER
        profile = overlap.scaled_to_flow(wide, 1.0 - radius**2 + 1e-9, max(flow, 1e-6))
        rate += overlap.profile_at(np.hypot(*(cans - head).T), wide, profile)
    catch = rate * 40 / 60 * AREA / 10 * (1 + 0.03 * rng.standard_normal(len(cans)))
    return parse_record(text_of(catch=np.maximum(catch, 0.0), **given))
