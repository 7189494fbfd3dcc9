"""Evidence made by hand: one line of ten heads over cans that see two heads each."""

from dataclasses import replace

import numpy as np
from evenfall.cans.catch import read_catch
from evenfall.cans.surface import fit_surface
from evenfall.cans.uniformity import indices
from evenfall.causes.finding import gather
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record
from evenfall.record.site import site_of

LINES = """
[[lines]]
name = "left"
x = "1.5 m"
first = "0.6 m"
spacing = "1.2 m"
count = 10
height = "2.3 m"
pipe = "26.6 mm"
fed_from = "near"

[[lines]]
name = "right"
x = "4.5 m"
first = "0.6 m"
spacing = "1.2 m"
count = 10
height = "2.3 m"
pipe = "26.6 mm"
fed_from = "near"
"""


def text(more="", *, heads="", supply="", lines=LINES):
    """A record of 60 even cans under two lines."""
    rows = ", ".join(["[40, 40, 40, 40, 40]"] * 12)
    across = ", ".join(f'"{x} m"' for x in (0.6, 1.8, 3.0, 4.2, 5.4))
    along = ", ".join(f'"{0.5 + k} m"' for k in range(12))
    return f"""record = 1
[test]
title = "by hand"
[floor]
width = "6 m"
length = "12 m"
[heads]
flow = "45 L/h"
at = "200 kPa"
exponent = 0.5
wetted_diameter = "4.4 m"
height = "2.1 m"
{heads}
{lines}
[cans]
reads = "volume"
unit = "mL"
opening_area = "55 cm2"
across = [{across}]
along = [{along}]
grid = [{rows}]
[run]
duration = "36 min"
lines = "together"
{more}
{supply}
"""


def evidence(text_, system="metric", floor=False):
    """Evidence of a record; with the estimate only where it is asked for."""
    site, *rest = inputs(text_, floor)
    return gather(site, *rest, None, system)


def inputs(text_, floor=True):
    """Site, catch, figures, surface and floor, as the door takes them."""
    site = site_of(parse_record(text_))
    catch = read_catch(site)
    use = catch.usable
    surface = fit_surface(catch.x[use], catch.y[use], catch.depth_mm[use], site.width, site.length)
    figures = indices(catch.depth_mm[catch.counted], catch.weight[catch.counted])
    return site, catch, figures, surface, estimate_floor(site, catch) if floor else None


def departed(even, output, *, noise=0.0):
    """The same evidence with cans that saw these outputs (m,) [1], and 4 % of reading error drawn anew."""
    linear = even.linear
    rng = np.random.default_rng(1)
    depth = linear.response @ np.asarray(output, float)
    depth = depth * (1 + noise * rng.standard_normal(len(depth)))
    return replace(even, linear=replace(linear, depth=depth))
