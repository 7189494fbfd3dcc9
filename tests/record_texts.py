"""Records that the tests write, and what stops them."""

from evenfall.record.faults import RecordFaults
from evenfall.record.file import parse_record

# Every key of the format but those that exclude each other; farm and people are invented.
FULL = """record = 1

[test]
id = "wl-0a1b"
title = "Second tunnel, before planting"
date = 2027-02-11
site = "Wren Lea"
zone = "Tunnel 2, both lines"
tunnel = "T2"
member = "WL"
purpose = "commissioning"
rechecks = "wl-0a0f"
by = "the grower"
notes = "Invented for a test."

[floor]
width = "7.6 m"
length = "22 m"
beds = [{ from = "0.4 m", to = "3.6 m", start = "1 m", end = "21 m" }, { from = "4 m", to = "7.2 m" }]
hangs_at = ["1.9 m", "3.8 m", "5.7 m"]

[target]
du_low_quarter = 75
figure = "at the cans"

[heads]
label = "grey"
flow = "40 L/h"
at = "200 kPa"
exponent = 0.5
wetted_diameter = "5.5 m"
height = "2.1 m"
opens_at = "90 kPa"
closes_at = "60 kPa"
regulated = false
installed = 2025-04-01
arc = "360 deg"
faces = "far"

[[lines]]
name = "left"
x = "1.9 m"
first = "1.0 m"
spacing = "0.75 m"
count = 27
height = "2.3 m"
pipe = "20.9 mm"
fed_from = "near"
rise = "-0.2 m"
feed = "6.5 m"
ran = "20 min"

[[lines]]
name = "right"
x = "5.7 m"
heads_at = ["1 m", "11 m", "21 m"]
label = "black"
flow = "0.2 gpm"
at = "30 psi"
exponent = 0.45
wetted_diameter = "18 ft"
opens_at = "1 bar"
closes_at = "8 m of water"
regulated = true
installed = 2026-04-01
arc = "180 deg"
faces = "left"

[[other_heads]]
line = "left"
heads = [1, 27]
label = "end heads"
flow = "25 L/h"
at = "200 kPa"
exponent = 0.5
wetted_diameter = "4 m"
height = "1.8 m"
opens_at = "90 kPa"
closes_at = "60 kPa"
regulated = false
installed = 2025-05-01
arc = "120 deg"
faces = "-45 deg"

[cans]
reads = "volume"
unit = "mL"
opening = "84 mm"
placed_within = "5 cm"
across = ["0.6 m", "1.9 m", "4.5 m"]
along = ["1.2 m", "3.6 m"]
stagger = "0.1 m"
grid = [[31, 28, 29.5], [30, nan, 27]]
weights = "nearest area"
set_aside = [{ row = 2, column = 1, why = "kicked over" }]
exposed = "55 min"

[cans.evaporation]
start = 50.0
end = [49.0, 49.2, 49.1]
time = "45 min"

[run]
duration = "30 min"
lines = "together"
wind = "0.3 m/s"
sides = "closed"
water = "16 C"
metered = "1020 L"

[[pressures]]
at = "line"
line = "left"
head = 27
height = "0.5 m"
value = "196 kPa"

[[head_flows]]
line = "left"
head = 12
volume = "410 mL"
time = "60 s"

[supply]
kind = "pump with tank"
static = "400 kPa"
cut_in = "250 kPa"
cut_out = "400 kPa"
flowing = [{ pressure = "330 kPa", volume = "20 L", time = "26 s" }]
hose = { length = "15 m", inside = "19 mm" }
couplings = 2
valve = { loss = "5 kPa", at = "1.5 m3/h" }
filter = { clean_loss = "10 kPa", at = "1.0 m3/h", loaded = 2.5 }
regulator = { set = "200 kPa", least_flow = "150 L/h", most_flow = "2700 L/h", droop = "15 kPa" }
manifold = { length = "4 m", inside = "26.6 mm" }
riser = { length = "2 m", inside = "20.9 mm" }
height = "0.5 m"

[[other_supplies]]
name = "lower field"
kind = "gravity"
static = "2 bar"
cut_in = "1 bar"
cut_out = "2 bar"
flowing = [{ pressure = "1 bar", volume = "5 gal", time = "30 s" }]
hose = { length = "50 ft", inside = "0.8 in" }
couplings = 4
valve = { loss = "1 psi", at = "6 gpm" }
filter = { clean_loss = "1 psi", at = "5 gpm", loaded = 1 }
regulator = { set = "25 psi", least_flow = "1 gpm", most_flow = "9 gpm", droop = "2 psi" }
manifold = { length = "12 ft", inside = "1.05 in" }
riser = { length = "6 ft", inside = "1.05 in" }
height = "1 ft"

[care]
filter_cleaned = 2027-02-01
lines_flushed = 2027-02-11
heads_checked = 2027-02-11

[crop]
kind = "leafy greens"
daily_use = "4 mm"
soil = "loam"
root_depth = "250 mm"
may_use = 0.35

[[patches]]
x = ["0 m", "1.5 m"]
y = ["15 m", "22 m"]
note = "stunted"

[[checked]]
what = "line place"
where = "lines.left.x"
value = "1.9 m"
on = 2027-02-12

[[corrected]]
what = "cans.grid[1]"
was = [310, 280, 295]
why = "row times ten"
on = 2027-02-12
"""
GRID = """across = ["0.6 m", "1.9 m", "4.5 m"]
along = ["1.2 m", "3.6 m"]
stagger = "0.1 m"
grid = [[31, 28, 29.5], [30, nan, 27]]
"""
ROWS = FULL.replace(GRID, """rows = [{ y = "2 m", x = ["1 m", "2 m"], catch = [3, 4] },
    { y = "5 m", x = ["1 m", "2 m", "5 m"], catch = [5, 6, 7] }]
""").replace("start = 50.0", "start = 49.3")
POINTS = FULL.replace(GRID, """points = [{ x = "1 m", y = "2 m", catch = 41 }, { x = "1 m", y = "3 m", catch = 42 },
    { x = "5 m", y = "2 m", catch = 43.5 }, { x = "5 m", y = "3 m", catch = 44 }, { x = "5 m", y = "9 m", catch = 9 }]
""").replace("row = 2, column = 1", "point = 5").replace('"volume"\nunit = "mL"\nopening = "84 mm"',
    '"weight"\nunit = "g"\nopening_area = "55 cm2"\ntare = "12 g"').replace("catch = 9 }", "catch = 15 }")

# A plain record in named parts, so that one part can be made faulty.
PARTS = {
    "record": "record = 1\n",
    "test": '[test]\ntitle = "t"\n',
    "floor": '[floor]\nwidth = "6 m"\nlength = "12 m"\n',
    "cans": """[cans]
reads = "volume"
unit = "mL"
opening_area = "100 cm2"
across = ["1 m", "3 m", "5 m"]
along = ["1 m", "4 m", "7 m", "10 m"]
grid = [[10, 20, 30], [20, 30, 40], [30, 40, 50], [40, 50, 60]]
""",
    "run": '[run]\nduration = "30 min"\n',
    "more": "",
}


NO_GRID = ('across = ["1 m", "3 m", "5 m"]\nalong = ["1 m", "4 m", "7 m", "10 m"]\n'
           "grid = [[10, 20, 30], [20, 30, 40], [30, 40, 50], [40, 50, 60]]\n", "")
LINE = '[[lines]]\nname = "a"\nx = "1 m"\n'


def text_of(**parts):
    return "".join({**PARTS, **parts}.values())


def cans(*changes, more=""):
    text = PARTS["cans"]
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text_of(cans=text + more)


def said(text):
    """The lines that stop a text; empty for a sound record."""
    try:
        parse_record(text, "f.toml")
    except RecordFaults as error:
        assert all("\n" not in line and line.isprintable() for line in error.lines)
        assert len(error.lines) == len(error.faults)
        return list(error.lines)
    return []


def more(text):
    return text_of(more=text)
