"""Records for the tests of the plan; farm and numbers are invented."""

import numpy as np
from evenfall.record.file import parse_record
from evenfall.record.ground import Cells
from evenfall.record.site import site_of

BARE = """record = 1
[test]
title = "A plan for the tests"
[floor]
width = "9.1 m"
length = "29 m"
"""
HEADS = BARE + """[heads]
flow = "40 L/h"
at = "200 kPa"
wetted_diameter = "4.9 m"
height = "2 m"
"""


def line(name, x, spacing="0.9 m", count=32, more=""):
    return (f'[[lines]]\nname = "{name}"\nx = "{x}"\nfirst = "0.5 m"\nspacing = "{spacing}"\ncount = {count}\n'
            f'height = "2 m"\nfed_from = "near"\npipe = "26.6 mm"\n{more}')


TWO = HEADS + line("left", "2.275 m") + line("right", "6.825 m")
SUPPLY = """[supply]
kind = "mains"
static = "420 kPa"
height = "0.5 m"
flowing = [{pressure = "330 kPa", volume = "20 L", time = "24 s"}]
hose = {length = "12 m", inside = "25 mm"}
filter = {clean_loss = "8 kPa", at = "2.0 m3/h"}
regulator = {set = "235 kPa", least_flow = "100 L/h", most_flow = "4500 L/h"}
"""


def read(text):
    return parse_record(text, planning=True)


def site(text):
    return site_of(read(text))


def equal(places):
    """Places that stand for equal parts of the ground."""
    return Cells(np.ones((1, len(places)), bool), places, np.ones(len(places)), 1.0)
