"""Records for these tests, as text."""

from evenfall.record.file import parse_record
from evenfall.record.site import site_of

FLOOR = """record = 1
[test]
title = "A test for the tests"
[floor]
width = "8 m"
length = "24 m"
[cans]
reads = "depth"
unit = "mm"
across = ["1 m", "3 m"]
along = ["1 m", "4 m"]
grid = [[10, 20], [20, 30]]
[run]
duration = "30 min"
lines = "{run}"
"""
HEADS = """[heads]
flow = "50 L/h"
at = "200 kPa"
exponent = 0.5
height = "2.1 m"
"""
LINE = """[[lines]]
name = "{name}"
x = "{x} m"
first = "0.6 m"
spacing = "0.75 m"
count = 30
height = "2.3 m"
pipe = "20.9 mm"
fed_from = "near"
feed = "4 m"
"""
SUPPLY = """[supply]
kind = "mains"
static = "400 kPa"
height = "0.5 m"
flowing = [{ pressure = "330 kPa", volume = "20 L", time = "20 s" }]
hose = { length = "15 m", inside = "25 mm" }
filter = { clean_loss = "10 kPa", at = "2 m3/h" }
regulator = { set = "200 kPa", least_flow = "300 L/h", most_flow = "5000 L/h" }
"""


def text(*, run="together", heads=HEADS, lines=("left", "right"), line=LINE, supply=SUPPLY, more=""):
    """A record's text from its sections."""
    tables = "".join(line.format(name=name, x=2 + 2 * number) for number, name in enumerate(lines))
    return FLOOR.format(run=run) + heads + tables + supply + more


def record_of(**parts):
    """The same as a record."""
    return parse_record(text(**parts))


def site_with(**parts):
    """The same as a site."""
    return site_of(record_of(**parts))
