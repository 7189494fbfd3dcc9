"""What the figures of many tunnels draw: values, intervals, order, names, groups, hollow marks; maps to one scale."""

import base64
import json
import time
from dataclasses import replace

import numpy as np
import pytest
from evenfall.compare.comparison import compare_tests
from evenfall.compare.together import YARDSTICK
from evenfall.figures.depth import DEVIATIONS
from evenfall.figures.lettering import clean_text, plain_text, shortened, text_width
from evenfall.figures.look import Look
from evenfall.figures.members import MOST_TRENDS, change_rows, interval_rows, trend_lines
from evenfall.figures.small_maps import small_maps
from evenfall.store.summaries import small_map
from plotly.colors import get_colorscale

from ..compare.made import cooperative, kept
from ..machine import slowness

WIDE, NARROW = Look(), Look(narrow=True)
LONG = "Marsh Gate · Tunnel 12 by the old orchard"


def named(figure, start):
    """The one trace whose name starts so."""
    (found,) = [trace for trace in figure.data if (trace.name or "").startswith(start)]
    return found


def tops(trace):
    """Texts or values of a trace from the top down."""
    return [item for _, item in sorted(zip(trace.y, trace.text, strict=True), key=lambda pair: -pair[0])]


@pytest.fixture(scope="module")
def compared():
    tests = cooperative()
    tests.append(kept(78.0, name="odd", member="Odd", tunnel="sides", sides="open"))
    tests.append(kept(60.0, name="bare", member="Bare", tunnel="cans", floor=False, at_the_cans=58.4))
    return compare_tests(tests)


@pytest.mark.parametrize("look", [WIDE, NARROW], ids=["wide", "narrow"])
def test_rows_stand_in_their_order_with_their_values(compared, look):
    figure = interval_rows(compared.rows, compared, look)
    assert tops(named(figure, "names")) == [row.name for row in compared.rows]
    values = tops(named(figure, "values"))
    assert values[-1] == "at the cans 58 %"
    assert values[0] == (f"{compared.rows[0].figure.value:.0f} % ({compared.rows[0].figure.low:.0f} to "
                         f"{compared.rows[0].figure.high:.0f})")
    assert figure.layout.yaxis.range[0] < min(named(figure, "names").y) < max(named(figure, "names").y) < 0


@pytest.mark.parametrize("look", [WIDE, NARROW], ids=["wide", "narrow"])
def test_marks_lie_beside_their_names_with_their_intervals(compared, look):
    figure = interval_rows(compared.rows, compared, look)
    full, names = named(figure, "estimate"), named(figure, "names")
    pooled = [row for row in compared.rows if row.shrunk]
    assert len(pooled) == 12
    np.testing.assert_allclose(full.x, [row.figure.value for row in pooled])
    np.testing.assert_allclose(np.add(full.x, full.error_x.array), [row.figure.high for row in pooled])
    np.testing.assert_allclose(np.subtract(full.x, full.error_x.arrayminus), [row.figure.low for row in pooled])
    np.testing.assert_allclose(named(figure, "drawn toward").x, [row.shrunk.value for row in pooled])
    assert named(figure, "drawn toward").y == full.y
    at = {row.name: y for row, y in zip(pooled, full.y, strict=True)}
    for name, y in zip(names.text, names.y, strict=True):
        assert abs(at.get(name, y) - y) <= 22
    assert max(full.y) == full.y[0]


def test_what_is_not_pooled_is_hollow_and_what_is_not_estimated_a_cross(compared):
    figure = interval_rows(compared.rows, compared, WIDE)
    hollow, cross = named(figure, "tested unlike"), named(figure, "at the cans")
    assert list(hollow.x) == [78.0] and hollow.marker.color == "#ffffff" != hollow.marker.line.color
    assert named(figure, "estimate").marker.color == named(figure, "estimate").marker.line.color
    assert "The sides were open, in most tests closed." in hollow.text[0].replace("<br>", " ")
    assert list(cross.x) == [58.4] and cross.error_x.array is None and cross.marker.symbol == "x-thin"
    dark = named(interval_rows(compared.rows, compared, Look(dark=True)), "tested unlike")
    assert dark.marker.color == "#0e1117"


@pytest.mark.parametrize("look", [WIDE, NARROW], ids=["wide", "narrow"])
def test_a_group_is_named_once_a_run_beside_its_rows(compared, look):
    figure = interval_rows(compared.rows, compared, look)
    groups = [row.group for row in compared.rows]
    runs = [group for before, group in zip([None, *groups], groups, strict=False) if group not in (None, before)]
    assert len(runs) == 2
    assert [note.text for note in figure.layout.annotations] == [f"group {group + 1}" for group in runs]
    bars = [shape for shape in figure.layout.shapes if shape.xsizemode == "pixel"]
    tied = sum(bar.y0 < y < bar.y1 for bar in bars for y in named(figure, "estimate").y)
    assert (len(bars), tied) == (len(runs), 12)
    loose = [*named(figure, "tested unlike").y, *named(figure, "at the cans").y]
    assert not any(bar.y0 < y < bar.y1 for bar in bars for y in loose)


def test_the_mean_is_a_band_and_the_yardstick_a_line_for_du_only(compared):
    figure = interval_rows(compared.rows, compared, WIDE)
    (band,) = [shape for shape in figure.layout.shapes if shape.xsizemode != "pixel"]
    assert (band.x0, band.x1) == (compared.mean.low, compared.mean.high)
    assert f"{compared.mean.value:.0f} %" in named(figure, "mean").name
    line = named(figure, "80 %")
    assert set(line.x) == {YARDSTICK.high} and YARDSTICK.says in line.name and "px" in line.line.dash
    even = compare_tests(cooperative(), "cu")
    figure = interval_rows(even.rows, even, WIDE)
    assert not [trace for trace in figure.data if YARDSTICK.says in (trace.name or "")]
    assert figure.layout.xaxis.title.text == "CU of the whole floor [%]"


def test_slices_share_one_scale_and_the_height_grows_with_the_rows(compared):
    one, all_rows = (interval_rows(rows, compared, WIDE) for rows in (compared.rows[3:4], compared.rows))
    assert one.layout.xaxis.range == all_rows.layout.xaxis.range
    key = all_rows.layout.margin.t - one.layout.margin.t
    assert all_rows.layout.height - one.layout.height - key == 30 * (len(compared.rows) - 1)
    assert interval_rows([], compared, WIDE).layout.height > 0
    low, high = all_rows.layout.xaxis.range
    assert all(low < end < high for row in compared.rows if row.figure for end in (row.figure.low, row.figure.high))


@pytest.mark.parametrize("name, drawn", [
    ("<b>fat</b>", "&lt;b&gt;fat&lt;/b&gt;"), ("a & b &amp; c", "a &amp; b &amp;amp; c"), ("$x$", "&#36;x&#36;"),
    ("two\nlines\tand\x00more", "two lines and more"), ("‮turned", "turned"), ("%{x}", "%{x}"), ("温室 3", "温室 3")])
def test_a_name_is_drawn_letter_by_letter(name, drawn):
    assert plain_text(name) == drawn
    compared = compare_tests([kept(60.0, member="M", tunnel=name)])
    for figure in (interval_rows(compared.rows, compared, WIDE), interval_rows(compared.rows, compared, NARROW)):
        assert named(figure, "names").text[0] == f"M · {drawn}"
        assert named(figure, "estimate").text[0].startswith(f"M · {drawn}<br>")
    assert small_maps(compared.rows, WIDE).data[3].text[0] == f"1. M · {drawn}: 60 %"


def test_a_long_name_is_cut_where_it_tells_least():
    for room in range(170, 300, 7):
        cut = shortened(LONG, room)
        assert text_width(cut) <= room
        assert "12" in cut and cut[0] == "M" and cut[-1] == "d"
    assert shortened(LONG, 400) == LONG and shortened(LONG, 1) == "…"
    assert clean_text(" a  b ") == "a b"
    assert shortened("温室" * 20, 100).count("温") <= 5


def years(count, tests=4):
    return [kept(70 + 2 * place - 3 * year, 2.0, name=f"{place}-{year}", tunnel=f"T<{place}>",
                 date=f"{2023 + year}-05-01") for place in range(count) for year in range(tests)]


@pytest.mark.parametrize("look", [WIDE, NARROW], ids=["wide", "narrow"])
def test_trends_are_drawn_to_one_scale_one_below_the_other(look):
    trends = compare_tests(years(14)).trends
    assert len(trends) == 14
    figure = trend_lines(trends, "du_low_quarter", look)
    assert len(figure.data) == MOST_TRENDS
    pairs = list(zip(figure.layout.yaxis.tickvals, figure.layout.yaxis.ticktext, strict=True))
    scale = (figure.data[0].y[0] - figure.data[0].y[3]) / 9.0
    for place, (trend, line) in enumerate(zip(trends, figure.data, strict=False)):
        values = [item.summary.floor.du_low_quarter for item in trend.tests]
        np.testing.assert_allclose(np.diff(line.y), scale * np.diff([item.value for item in values]))
        np.testing.assert_allclose(line.error_y.array, [scale * (item.high - item.value) for item in values])
        assert list(line.x) == [item.summary.date for item in trend.tests]
        (low, low_text), (high, high_text) = pairs[2 * place : 2 * place + 2]
        assert low < min(line.y) and max(line.y) < high
        # The ticks are drawn 3 pixels inside the ends that they name.
        named_span = float(high_text.split()[0]) - float(low_text.split()[0])
        assert high - low + 6 == pytest.approx(scale * named_span)
        assert low - 3 + scale * (values[0].value - float(low_text.split()[0])) == pytest.approx(line.y[0])
    words = " ".join(note.text for note in figure.layout.annotations)
    last = trends[0].tests[-1].summary.floor.du_low_quarter.value
    assert trends[0].name.replace("<", "&lt;").replace(">", "&gt;") in words and f"{last:.0f} %" in words
    assert "-3 (" in words and " a year" in words
    assert trend_lines([], "cu", look).layout.height > 0


@pytest.mark.parametrize("look", [WIDE, NARROW], ids=["wide", "narrow"])
def test_changes_are_drawn_with_sign_and_interval(look):
    tests = []
    for place, (change, wind) in enumerate([(12.0, 0.2), (-9.0, 0.2), (0.3, 4.0)]):
        tests.append(kept(60.0, 2.0, name=f"b{place}", tunnel=f"T{place}", date="2026-05-01"))
        tests.append(kept(60.0 + change, 2.0, name=f"a{place}", tunnel=f"T{place}", date=f"2027-05-0{9 - place}",
                          purpose="recheck", rechecks=f"b{place}", wind=wind))
    pairs = compare_tests(tests).pairs
    figure = change_rows(pairs, "du_low_quarter", look)
    full, hollow = named(figure, "change"), named(figure, "run unlike")
    np.testing.assert_allclose(full.x, [12.0, -9.0])
    np.testing.assert_allclose(hollow.x, [0.3], atol=1e-9)
    np.testing.assert_allclose(np.add(full.x, full.error_x.array), [pair.figure.change.high for pair in pairs[:2]])
    assert hollow.marker.color != hollow.marker.line.color
    values = tops(named(figure, "values"))
    change = pairs[0].figure.change
    assert values[0] == f"+12 ({change.low:+.0f} to {change.high:+.0f})"
    assert values[1].startswith("-9 (") and values[2].startswith("0 (")
    zero = next(trace for trace in figure.data if trace.mode == "lines")
    assert set(zero.x) == {0} and figure.layout.xaxis.range[0] < 0 < figure.layout.xaxis.range[1]
    assert "60 % to 72 %, +12" in full.text[0].replace("<br>", " ")
    assert pairs[2].unlike[0][:12] in hollow.text[0].replace("<br>", " ")


def floor_of(item, width, length, cells):
    """The same test on another floor with another small map [%]."""
    text = base64.b64encode(cells.astype(np.uint8).tobytes()).decode()
    floor = replace(item.summary.floor, shape=cells.shape, map=text)
    return replace(item, summary=replace(item.summary, width_m=width, length_m=length, floor=floor))


def maps_of(figure):
    """Corner and size [m] of each outline, in the order of drawing."""
    walls = figure.data[1]
    x, y = (np.array(list(values), float).reshape(-1, 6)[:, :5] for values in (walls.x, walls.y))
    return [(a.min(), b.min(), np.ptp(a), np.ptp(b)) for a, b in zip(x, y, strict=True)]


def at(heat, x, y):
    """What the heatmap shows at a place; its x and y are edges of cells."""
    return float(heat.z[np.searchsorted(heat.y, y) - 1, np.searchsorted(heat.x, x) - 1])


@pytest.fixture(scope="module")
def unlike_floors():
    rng = np.random.default_rng(5)
    sizes = [(7.6, 22.0, 24, 8), (6.0, 40.0, 36, 6), (12.0, 9.0, 12, 17), (8.0, 30.0, 30, 8), (7.6, 22.0, 24, 8)]
    tests = [floor_of(kept(50.0 + place, name=f"m{place}", tunnel=f"T{place}"), width, length,
                      rng.integers(0, 254, (rows, columns)))
             for place, (width, length, rows, columns) in enumerate(sizes)]
    tests[0] = floor_of(tests[0], 7.6, 22.0, np.where(np.arange(24)[:, None] < 2, 255, 100) + np.zeros((1, 8)))
    return compare_tests([*tests, kept(40.0, name="bare", tunnel="bare", floor=False)]).rows


@pytest.mark.parametrize("look", [WIDE, NARROW], ids=["wide", "narrow"])
def test_small_maps_are_to_scale_with_the_inlet_end_below(unlike_floors, look):
    figure = small_maps(unlike_floors, look)
    rows = [row for row in unlike_floors if row.figure]
    heat, places = figure.data[0], maps_of(figure)
    assert len(rows) == len(places) == len(unlike_floors) - 1
    for row, (left, base, width, length) in zip(rows, places, strict=True):
        found, cells = row.kept.summary, small_map(row.kept.summary.floor)
        assert (width, length) == pytest.approx((found.width_m, found.length_m))
        for number, values in enumerate(cells):
            for column, value in enumerate(values):
                x, y = (column + 0.5) / cells.shape[1] * width, (number + 0.5) / len(cells) * length
                np.testing.assert_equal(at(heat, left + x, base + y), value)  # nan where ground does not count
        assert np.isnan(at(heat, left - 0.3, base + length / 2)) and np.isnan(at(heat, left + width / 2, base - 0.1))
    assert figure.layout.yaxis.scaleanchor == "x"
    inlets = np.array([y for y in figure.data[2].y if y is not None]).reshape(-1, 2)
    np.testing.assert_allclose(inlets, [[base, base] for _, base, _, _ in places])


def test_small_maps_share_the_scale_of_colours_of_the_large_map(unlike_floors):
    figure = small_maps(unlike_floors, WIDE)
    heats = [trace for trace in figure.data if trace.type == "heatmap"]
    assert len(heats) == 1 and (heats[0].zmin, heats[0].zmax) == (40.0, 160.0)
    assert [shade for _, shade in heats[0].colorscale] == [shade for _, shade in get_colorscale(DEVIATIONS)]


def test_small_maps_stand_apart_in_the_order_of_their_rows(unlike_floors):
    for look, columns, expected in ((WIDE, None, 3), (NARROW, None, 2), (WIDE, 4, 4), (NARROW, 3, 3)):
        places = maps_of(small_maps(unlike_floors, look, columns))
        bases = [base for _, base, _, _ in places]
        assert bases.count(bases[0]) == expected
        assert bases == sorted(bases, reverse=True)
        for number, one in enumerate(places):
            for other in places[number + 1 :]:
                beside = one[0] + one[2] < other[0] or other[0] + other[2] < one[0]
                below = one[1] > other[1] + other[3]
                assert beside or below
    long = compare_tests(cooperative()).rows
    assert len({round(left, 6) for left, *_ in maps_of(small_maps(long, NARROW))}) == 3
    assert len({round(left, 6) for left, *_ in maps_of(small_maps(long, WIDE))}) > 3


def test_a_small_map_tells_name_and_du():
    rows = compare_tests([kept(52.4, member="HB", tunnel="T4"), kept(70.0, name="u", member="Marsh Gate",
                          tunnel="Tunnel 12 by the old orchard"), kept(30.0, name="v", tunnel="x", floor=False)]).rows
    assert small_maps(rows, WIDE).data[3].text == ("1. HB · T4: 52 %", f"2. {LONG}:<br>70 %")
    found = small_maps(rows, NARROW, columns=3, first=31).data[3].text
    assert found[0] == "31. HB · T4: 52 %" and found[1].startswith("32. Marsh Gate") and found[1].endswith("70 %")
    assert all(text_width(line) <= 350 / 2 - 8 for text in found for line in text.split("<br>"))


def test_no_map_at_all_is_an_empty_figure():
    figure = small_maps(compare_tests([kept(30.0, floor=False)]).rows, WIDE)
    assert np.isnan(figure.data[0].z).all() and not figure.data[1].x
    json.loads(figure.to_json())


def sixty(seed):
    """Sixty tunnels of sixty sizes: the worst case, no edges in common."""
    rng = np.random.default_rng(seed)
    tests = []
    for place in range(60):
        one = kept(60 + 20 * rng.random(), name=f"n{place}", member=f"Marsh Gate {place // 4}",
                   tunnel=f"Tunnel {place}, old side")
        shape = int(rng.integers(20, 40)), int(rng.integers(5, 12))
        tests.append(floor_of(one, rng.uniform(5, 10), rng.uniform(15, 60), rng.integers(40, 160, shape)))
    return compare_tests(tests).rows


@pytest.mark.benchmark
@pytest.mark.parametrize("look", [WIDE, NARROW], ids=["wide", "narrow"])
def test_sixty_maps_are_made_fast_and_are_small(look):
    rows = sixty(2)
    small_maps(rows[:2], look)
    start = time.perf_counter()
    figure = small_maps(rows, look)
    assert time.perf_counter() - start < 0.3 * slowness()
    assert len(figure.to_json()) < 400_000
    heat = figure.data[0]
    for row, (left, base, width, length) in zip(rows, maps_of(figure), strict=True):
        # No edges in common: each cell of the grid shows what lies at its middle.
        across, along = ((edges[:-1] + edges[1:]) / 2 - start for edges, start in ((heat.x, left), (heat.y, base)))
        in_x, in_y = (across > 0) & (across < width), (along > 0) & (along < length)
        cells = small_map(row.kept.summary.floor)
        assert min(abs(heat.y - base - length)) < 1e-3  # it ends at its wall all the same
        down, right = along[in_y] / length * len(cells), across[in_x] / width * cells.shape[1]
        # Middles that lie on an edge of the map's own cells may fall to either side.
        sure = np.outer(np.abs(down - np.rint(down)) > 1e-3, np.abs(right - np.rint(right)) > 1e-3)
        shown, there = heat.z[np.ix_(in_y, in_x)], cells[np.ix_(down.astype(int), right.astype(int))]
        assert sure.mean() > 0.5
        np.testing.assert_array_equal(shown[sure], there[sure])
