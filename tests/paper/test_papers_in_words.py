"""What somebody reads on the papers: one basis for a number, whole words, their own units, plain names of keys."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
from evenfall.causes.cautions import SAFETY
from evenfall.figures.depth import drawn_mean
from evenfall.figures.look import Look
from evenfall.paper import PlanView, new_page, to_bytes
from evenfall.paper.field_sheet import make_sheet, own_unit
from evenfall.paper.handover import _signed, can_values, make_handover
from evenfall.pattern.floor import Figure
from evenfall.record.doubts import doubts
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.result import advice, meanings
from evenfall.result.assessment import assess
from evenfall.units.quantity import parse
from evenfall.units.shown import show

from .test_papers import flat, pieces, read, squeezed

LEFT, RIGHT = "the line by the packing shed side nearest the door", "the line by the packing shed side nearest the road"
METRIC = re.compile(r"\d (?:kPa|bar|mm|cm|m|m²|m³|mL|L|L/h|mm/h|m/s|°C)(?![\w/])")


def with_long_names(**more):
    """The sample in US units with long names, cans at the walls and off whole feet."""
    text = sample_text("blocked-head").replace('"left"', f'"{LEFT}"').replace('"right"', f'"{RIGHT}"')
    for old, new in {'across = ["1 ft"': 'across = ["4 in"', '"17 ft", "19 ft"]': '"17 ft 3 in", "19 ft 9 in"]',
                     '"44 ft", "51 ft"': '"42 ft 3 in", "51 ft"', '"63 ft"]': '"65 ft 8 in"]',
                     "[run]\n": '[run]\nmetered = "390 gallons"\n', **more}.items():
        assert old in text
        text = text.replace(old, new, 1)
    return parse_record(text)


@pytest.fixture(scope="module")
def tested():
    record = with_long_names()
    return record, assess(record, system="US")


@pytest.fixture(scope="module")
def handed(tested):
    return read(make_handover(*tested, "US", "Letter"))


@pytest.fixture(scope="module")
def sheet():
    return read(make_sheet(with_long_names(), "US", "Letter"))


def with_notes(length):
    words = " ".join(f"word{number}" for number in range(length))[:length].rsplit(" ", 1)[0]
    text = re.sub(r"^notes = .*$", f'notes = "{words}"', sample_text("blocked-head"), count=1, flags=re.M)
    return words, parse_record(text)


def test_the_map_counts_in_percent_of_the_same_mean_as_the_page(tested, handed):
    _, result = tested
    reader, pages = handed
    mean = drawn_mean(result, Look(layer="heads"))
    assert mean == result.whole_floor.mean_mm.value != pytest.approx(result.catch.mean_mm, rel=0.03)
    page = next(number for number, text in enumerate(pages) if "Depth on the ground" in text)
    shown = pieces(reader.pages[page])
    used = result.cans.depth_mm[result.cans.counted]
    wanted = [f"{100 * depth / mean:.0f}" for depth in used]
    assert sorted(text for *_, text in can_values(result, mean)) == sorted(wanted)
    missing = sum(max(wanted.count(text) - shown.count(text), 0) for text in set(wanted))
    said = flat(pages)
    assert missing <= 3 and (missing > 0) == ("a dot is a can whose number has no room" in said)
    assert ("100 %, for the ground and for the cans, is the mean of the whole floor: "
            + show(mean / 1e3, "depth", "US")) in said


def test_without_heads_the_map_counts_in_percent_of_the_mean_of_the_cans():
    record = parse_record(sample_text("bare"))
    result = assess(record)
    said = flat(read(make_handover(record, result))[1])
    assert f"is the mean of the cans: {show(result.catch.mean_mm / 1e3, 'depth', 'metric')}" in said


def test_numbers_on_a_map_stay_within_the_walls_and_off_each_other():
    page = new_page("A4", "t", "k")
    view = PlanView(page, (20.0, 30.0, 34.0, 112.0), (6.0, 20.0))
    edges = [(0.0, 0.0, "119"), (6.0, 0.0, "119"), (0.0, 20.0, "119"), (6.0, 20.0, "119")]
    row = [(0.6 + 0.6 * number, 10.0, "119") for number in range(9)]
    places = view.values([*edges, *row], size=5.2, taken=[(3.0, 10.0, 2.2)])
    page.type(0.8 * 5.2)  # the smallest type it may choose
    wide, high = page.get_string_width("119"), 0.8 * 5.2 * 0.3
    (left, top), (right, low) = view.at(0.0, 20.0), view.at(6.0, 0.0)
    found = np.array([place for place in places if place])
    assert len(found) >= 10 and None not in places[:4]
    assert found[:, 0].min() - wide / 2 > left and found[:, 0].max() + wide / 2 < right
    assert found[:, 1].min() - high / 2 > top and found[:, 1].max() + high / 2 < low
    apart = np.abs(found[:, None] - found[None])
    touch = (apart[..., 0] < wide - 0.01) & (apart[..., 1] < high)
    assert touch.sum() == len(found)  # each only itself
    x, y = view.at(3.0, 10.0)
    assert not ((np.abs(found[:, 0] - x) < 2.2) & (np.abs(found[:, 1] - y) < 2.2)).any()


def test_a_number_without_room_is_a_dot():
    page = new_page("A4", "t", "k")
    view = PlanView(page, (20.0, 30.0, 34.0, 112.0), (6.0, 20.0))
    places = view.values([(3.0, 10.0, "75")] * 5)
    assert [place is None for place in places] == [False, False, False, True, True]


@pytest.mark.parametrize("length", [680, 4000])
def test_notes_are_printed_whole(length):
    words, record = with_notes(length)
    _, pages = read(make_handover(record, assess(record, only="cans"), "US", "Letter"))
    said = "\n".join(re.sub(r"^Handover ·.*$|^Evenfall ·.*$", "", text, flags=re.M) for text in pages)
    assert squeezed(words) in squeezed(said)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nobody_signs_a_page_on_which_nothing_else_stands(paper):
    counts = set()
    for height in range(20, 260, 30):  # how far the page is full before
        page = new_page(paper, "t", "k")
        page.set_y(height)
        _signed(page, None, None, "US")
        _, pages = read(to_bytes(page))
        counts.add(len(pages))
        assert squeezed(SAFETY[0]) in squeezed(pages[-1]) and "Taken over by" in pages[-1]
    assert counts == {1, 2}


def test_a_gauge_beside_each_head_of_a_line_with_a_long_name(sheet, handed):
    for pages in (sheet[1], handed[1]):
        said = squeezed(pages)
        for line, head in ((LEFT, 1), (LEFT, 13), (RIGHT, 13)):
            beside = "beside " if pages is sheet[1] else ""
            assert squeezed(f"{line}, {beside}head {head}") in said
    assert "nearest the door" in flat(sheet[1][0]) and "nearest the road" in flat(sheet[1][0])  # on the plan


def test_heads_that_stand_out_stay_with_their_title(tested, handed):
    suspects = [head for head in tested[1].heads if head.suspect]
    page = next(text for text in handed[1] if "Heads that stand out:" in text)
    assert suspects and all(squeezed(meanings.suspect_means(head, "US")) in squeezed(page) for head in suspects)


def test_a_sheet_goes_in_the_order_of_the_work_and_every_blank_has_its_unit(sheet):
    said = flat(sheet[1])
    parts = ["Before the run", "Pressures, read while the water runs", "Control cans", "Readings (", "Notes"]
    assert sorted(parts, key=said.index) == parts
    for blank in ("Water on at, clock", "Water temperature, °F", "Meter before, US gal", "Meter after, US gal",
                  "height of the gauge, ft", "reading, psi", "Start (all), fl oz", "End, can 3, fl oz"):
        assert blank in said, blank
    assert "Ran for 50 min" in said and "Wind at the floor 1 mph" in said  # filled in, the value brings its unit


def test_what_the_meter_counted_over_the_run_is_no_reading_of_the_meter(sheet):
    said = flat(sheet[1])
    assert "Passed in the run 390 gallons" in said and said.count("390") == 1


@pytest.mark.parametrize("floor", ["40 ft 6 in", "14 ft"])
def test_a_sheet_for_a_wide_and_a_narrow_floor_begins_with_what_comes_before(floor):
    text = (f'record = 1\n[test]\ntitle = "to come"\n[floor]\nwidth = "{floor}"\nlength = "45 ft"\n'
            '[heads]\nat = "200 kPa"\n[cans]\nreads = "depth"\nunit = "in"\nopening = "3 in"\n'
            'across = ["4 ft", "12 ft 3 in"]\nalong = ["2 ft", "16 ft 9 in"]\n')
    _, pages = read(make_sheet(parse_record(text, planning=True), "US", "Letter"))
    said = flat(pages)
    assert ("Before the run" in pages[0]) == (floor == "14 ft")
    assert said.index("Before the run") < said.index("Pressures") and "reading, kPa" in said  # the record's own unit
    assert "Ran for, min" in said and "Wind at the floor, mph" in said and "Passed in the run, US gal" in said


def test_places_are_in_feet_and_inches_as_on_a_tape(sheet, handed):
    said = flat(sheet[1])
    assert "17 ft 3 in / 42 ft 3 in" in said and "4 in / 65 ft 8 in" in said and not re.search(r"\d\.\d ft /", said)
    assert re.search(r"1 in here is \d+\.\d ft", said) and "1 cm" not in said
    record = with_long_names(**{'width = "20 ft"': 'width = "20 ft 9 in"'})
    assert "20 ft 9 in by 66 ft" in flat(read(make_handover(record, assess(record, only="cans"), "US"))[1])


@pytest.mark.parametrize(("texts", "dimension", "kind", "system", "unit"), [
    (["30 psi"], "pressure", "pressure", "metric", "psi"), ([None, "2.1bar"], "pressure", "pressure", "US", "bar"),
    (["7 ft 6 in"], "length", "height", "metric", "ft"), (["390 gallons"], "volume", "volume", "metric", "US gal"),
    (["3 m3"], "volume", "volume", "US", "m3"), (["68 F"], "temperature", "temperature", "metric", "°F"),
    ([], "pressure", "pressure", "US", "psi"), ([None], "pressure", "pressure", "metric", "kPa")])
def test_the_unit_in_which_somebody_reads(texts, dimension, kind, system, unit):
    quantities = [parse(text, dimension, signed=True) if text else None for text in texts]
    assert own_unit(quantities, kind, system) == unit


def test_a_record_in_us_units_gets_papers_in_us_units(sheet, handed):
    assert not METRIC.findall(flat(sheet[1])) and not METRIC.findall(flat(handed[1]))
    assert "takes about 4 psi more" in flat(handed[1])
    record = parse_record(sample_text("blocked-head").replace('unit = "fl oz"', 'unit = "mL"'))  # 25 times too little
    little = assess(record, only="cans", system="US").cautions
    assert any(re.search(r"The mean can held 0\.0\d fl oz; 0\.85 fl oz or more", caution) for caution in little)


def a_target(wanted, figure, cans, whole):
    record = SimpleNamespace(target=SimpleNamespace(du_low_quarter=wanted, figure=figure) if wanted else None)
    floor = SimpleNamespace(du_low_quarter=Figure(*whole)) if whole else None
    return advice.target_words(record, SimpleNamespace(at_the_cans=SimpleNamespace(du_low_quarter=cans),
                                                       whole_floor=floor))


@pytest.mark.parametrize(("given", "says"), [
    ((None, None, 77, (70, 68, 73)), []),
    ((75, "at the cans", 77, (70, 68, 73)), ["Agreed: DUlq of 75 % at the cans.", "At the cans it is 77 %: met.",
                                             "Over the whole floor it is 70 % (68 to 73): not met."]),
    ((70, "whole floor", 69, (70, 68, 73)), [
        "Agreed: DUlq of 70 % over the whole floor.",
        "Over the whole floor it is 70 % (68 to 73): open, 70 % lies within the 90 % interval.",
        "At the cans it is 69 %: not met."]),
    ((60, None, 77, (70, 68, 73)), ["Agreed: DUlq of 60 %; for which figure is not said.",
                                    "At the cans it is 77 %: met.",
                                    "Over the whole floor it is 70 % (68 to 73): met."]),
    ((75, "at the cans", 74.96, None), [
        "Agreed: DUlq of 75 % at the cans.", "At the cans it is 74.96 %: not met.",
        "The whole floor is not estimated in this test, so the target cannot be held against it."]),
])
def test_a_target_is_held_against_the_cans_and_the_whole_floor(given, says):
    assert a_target(*given) == says


def test_the_handover_says_both(tested):
    record = with_long_names(**{"[supply]\n": "[target]\ndu_low_quarter = 71\n[supply]\n"})
    said = squeezed(read(make_handover(record, tested[1], "US"))[1])
    words = advice.target_words(record, tested[1])
    assert len(words) == 3 and all(squeezed(sentence) in said for sentence in words)


def doubted(text):
    record = parse_record(text)
    return record, [doubt.says for doubt in doubts(record)]


def test_a_doubt_names_no_key_and_says_the_same_of_several_lines_once():
    record, found = doubted(sample_text("blocked-head").replace('feed = "8 ft"', 'feed = "1200 ft"'))
    assert [says.split(":")[0] for says in found] == ["lines[1].feed", "lines[2].feed"]
    said = advice.plain_cautions(record, found)
    assert len(said) == 1
    assert said[0].startswith("The tube from the tee to the line (line left and line right): received 1200 ft, usual")
    unlike = sample_text("blocked-head").replace('feed = "8 ft"', 'feed = "1200 ft"', 1)
    unlike = unlike.replace('feed = "8 ft"', 'feed = "1300 ft"')
    assert len(advice.plain_cautions(*doubted(unlike))) == 2  # unlike doubts stay apart


@pytest.mark.parametrize(("caution", "says"), [
    ("supply.hose.length: received 0 m, check it.", "The length of the hose of the supply: received 0 m, check it."),
    ("pressures[2].value: received 900 psi, check it.", "The gauge reading (gauge 2): received 900 psi, check it."),
    ("heads.flow: received 9 gpm, check it.", "The nominal flow of one head: received 9 gpm, check it."),
    ("lines[2]: received no places of heads, expected first, spacing and count, or heads_at, add them.",
     "Line right: received no places of heads, expected first, spacing and count, or a list of its heads, add "
     "them."),
    ("check run.duration (50 min) and the unit.", "Check how long the zone ran (50 min) and the unit."),
    ("is not in the record (cans.exposed); so", "Is not in the record; so"),
    ("Can 3 reads 0. Lines run in turn.", "Can 3 reads 0. Lines run in turn."),
])
def test_keys_in_words(caution, says):
    record = parse_record(sample_text("blocked-head"))
    assert advice.plain_cautions(record, [caution]) == [says]


def test_no_key_is_left_in_a_handover():
    record = parse_record(sample_text("blocked-head").replace('feed = "8 ft"', 'feed = "1200 ft"'))
    said = flat(read(make_handover(record, assess(record, only="cans"), "US"))[1])
    assert "received 1200 ft" in said and said.count("received 1200 ft") == 1
    assert not re.search(r"\b[a-z_]+\[\d+\]|\b(?:run|cans|heads)\.[a-z]", said)
