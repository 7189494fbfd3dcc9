"""Values that are hard to believe: a sentence each, what they close, and a result all the same."""

from functools import cache

import pytest
from evenfall.record.doubts import NOMINAL_BORES, believed, doubts
from evenfall.record.file import parse_record
from evenfall.record.model import Record
from evenfall.record.types import FLOOR_PARTS, WATER_PARTS
from evenfall.result.assessment import assess
from evenfall.units.quantity import parse

from ..record_texts import FULL, POINTS, ROWS, text_of

FLOOR_LEFT_OUT = "; until then left out: whole floor, heads, profile, fixes; the causes do without it."
WATER_LEFT_OUT = "; until then left out: fixes; the causes do without it."
LINE = '[[lines]]\nname = "a"\nx = "1 m"\nfirst = "1 m"\nspacing = "1 m"\ncount = 9\n'
USUAL = "usual is {} (from memory), check it"


@cache
def plain_result():
    """Result of the plain record alone."""
    return assess(parse_record(text_of()))


def doubts_of(text: str):
    """Doubts of a plain record with more to it, which must have a result."""
    record = parse_record(text_of(more=text))
    result = assess(record)
    found = doubts(record)
    assert result.at_the_cans.cu == pytest.approx(plain_result().at_the_cans.cu)
    assert [doubt.says for doubt in found] == result.cautions[: len(found)]
    return [(doubt.key, doubt.says, doubt.closes) for doubt in found]


@pytest.mark.parametrize(("text", "key", "says", "closes"), [
    ('[supply]\nflowing = [{ pressure = "1 bar", volume = "2 L", time = "0 s" }]\n', "supply.flowing[1].time",
     "received 0 s, " + USUAL.format("1 s to 2 h") + WATER_LEFT_OUT, WATER_PARTS),
    (LINE + 'pipe = "2 m"\n', "lines[1].pipe",
     "received 2 m, " + USUAL.format("3 mm to 160 mm") + WATER_LEFT_OUT, WATER_PARTS),
    ("[heads]\nexponent = 5\n", "heads.exponent",
     "received 5, " + USUAL.format("0.0 to 1.2") + WATER_LEFT_OUT, WATER_PARTS),
    ('[heads]\nwetted_diameter = "90 m"\n', "heads.wetted_diameter",
     "received 90 m, " + USUAL.format("0.3 m to 30 m") + FLOOR_LEFT_OUT, FLOOR_PARTS),
    ('[heads]\nflow = "0 L/h"\n', "heads.flow",
     "received 0 L/h, " + USUAL.format("1 L/h to 2000 L/h") + FLOOR_LEFT_OUT, FLOOR_PARTS),
    (LINE + 'height = "50 ft"\n', "lines[1].height",
     "received 50 ft, " + USUAL.format("0 m to 12 m") + FLOOR_LEFT_OUT, FLOOR_PARTS),
    (LINE + 'rise = "-30 m"\n', "lines[1].rise",
     "received -30 m, " + USUAL.format("-20 m to 20 m") + WATER_LEFT_OUT, WATER_PARTS),
    ('[crop]\ndaily_use = "4 m"\n', "crop.daily_use",
     "received 4 m, " + USUAL.format("0.1 mm to 30 mm") + "; until then left out: watering.", ("watering",)),
    ("[target]\ndu_low_quarter = 400\n", "target.du_low_quarter", "received 400, " + USUAL.format("1 to 100") + ".",
     ()),
    ('[supply]\nstatic = "180 kPa"\nregulator = { set = "2 bar" }\n', "supply.regulator.set",
     "received 2 bar, more than the static pressure of 180 kPa, so the regulator cannot hold it, check both.", ()),
    ('[[other_supplies]]\nname = "b"\nstatic = "1 bar"\nregulator = { set = "2 bar" }\n',
     "other_supplies[1].regulator.set",
     "received 2 bar, more than the static pressure of 1 bar, so the regulator cannot hold it, check both.", ()),
    ('[supply]\nregulator = { set = "2 bar", least_flow = "9 gpm", most_flow = "1 gpm" }\n',
     "supply.regulator.least_flow",
     "received more than most_flow, expected less, check both" + WATER_LEFT_OUT, WATER_PARTS),
    ('[supply]\ncut_in = "3 bar"\ncut_out = "2 bar"\n', "supply.cut_in",
     "received more than cut_out, expected less, check both" + WATER_LEFT_OUT, WATER_PARTS),
    ('[heads]\nopens_at = "60 kPa"\ncloses_at = "90 kPa"\n', "heads.closes_at",
     "received 90 kPa to close and 60 kPa to open, expected a head to close below the pressure that opens it, check "
     "both" + WATER_LEFT_OUT, WATER_PARTS),
    (LINE + 'opens_at = "60 kPa"\ncloses_at = "1 bar"\n', "lines[1].closes_at",
     "received 1 bar to close and 60 kPa to open, expected a head to close below the pressure that opens it, check "
     "both" + WATER_LEFT_OUT, WATER_PARTS),
    ('[heads]\nopens_at = "90 kPa"\ncloses_at = "60 kPa"\n' + LINE + 'opens_at = "50 kPa"\n', "lines[1].opens_at",
     "received 60 kPa to close and 50 kPa to open, expected a head to close below the pressure that opens it, check "
     "both" + WATER_LEFT_OUT, WATER_PARTS),
    ('[[lines]]\nname = "a"\nx = "1 m"\n', "lines[1]",
     "received no places of heads, expected first, spacing and count, or heads_at, add them" + FLOOR_LEFT_OUT,
     FLOOR_PARTS),
    (LINE + '[[pressures]]\nat = "line"\nline = "b"\nvalue = "1 bar"\n', "pressures[1].line",
     "received 'b', expected the name of a line (a), correct it" + WATER_LEFT_OUT, WATER_PARTS),
    ('[[pressures]]\nat = "line"\nline = "b"\nvalue = "1 bar"\n', "pressures[1].line",
     "received 'b', expected the name of a line (none is in the record), correct it" + WATER_LEFT_OUT, WATER_PARTS),
    (LINE + '[[pressures]]\nat = "line"\nvalue = "1 bar"\n', "pressures[1].line",
     'received nothing with at = "line", expected the name of a line, add it' + WATER_LEFT_OUT, WATER_PARTS),
    (LINE + '[[pressures]]\nat = "line"\nline = "a"\nhead = 10\nvalue = "1 bar"\n', "pressures[1].head",
     "received head 10, expected 1 to 9 on that line, correct it" + WATER_LEFT_OUT, WATER_PARTS),
    (LINE + '[[head_flows]]\nline = "a"\nhead = 10\nvolume = "1 L"\ntime = "1 min"\n', "head_flows[1].head",
     "received head 10, expected 1 to 9 on that line, correct it" + WATER_LEFT_OUT, WATER_PARTS),
    (LINE + '[[head_flows]]\nline = "c"\nhead = 1\nvolume = "1 L"\ntime = "1 min"\n', "head_flows[1].line",
     "received 'c', expected the name of a line (a), correct it" + WATER_LEFT_OUT, WATER_PARTS),
    ('[[patches]]\nx = ["2 m", "1 m"]\ny = ["1 m", "2 m"]\n', "patches[1].x",
     "received a patch whose end is not beyond its beginning, expected from < to, correct it.", ()),
])
def test_one_doubt(text, key, says, closes):
    assert doubts_of(text) == [(key, f"{key}: {says}", closes)]


def test_a_time_with_a_colon_says_how_it_was_read():
    [doubt] = doubts(parse_record(text_of(run='[run]\nduration = "0:45"\n')))
    assert doubt.says == ("run.duration: 0:45 was read as hours and minutes, 45 min; if it is another time, write it "
                          "with its unit.")
    assert doubt.closes == ()


def test_usual_sizes_in_the_units_of_the_floor():
    text = text_of(floor='[floor]\nwidth = "24 ft"\nlength = "60 ft"\n', more='[heads]\nwetted_diameter = "300 ft"\n')
    [doubt] = doubts(parse_record(text))
    assert "received 300 ft, usual is 11.8 in to 98.4 ft (from memory)" in doubt.says


@pytest.mark.parametrize("text", ["3/4 in", "19.05 mm", "0.75 in", "1,905 cm"])
def test_a_nominal_size_is_asked_about(text):
    text = text.replace("1,905", "1.905")
    [(key, says, closes)] = doubts_of(LINE + f'pipe = "{text}"\n')
    assert key == "lines[1].pipe" and closes == ()
    assert says == (f"lines[1].pipe: {text} is the name of a pipe size, and the real bore is often another (about "
                    "20.9 mm, from memory): measure it, or say what the maker states.")


def test_every_nominal_size_is_asked_about_and_no_bore_is():
    for size, bore in NOMINAL_BORES.items():
        assert len(doubts_of(LINE + f'pipe = "{size}"\n')) == 1
        assert doubts_of(LINE + f'pipe = "{bore}"\n') == []
        assert parse(bore, "length").si > parse(size, "length").si


@pytest.mark.parametrize("text", [
    LINE + 'pipe = "3 mm"\nheight = "12 m"\nrise = "20 m"\n',
    LINE + 'pipe = "160 mm"\nheight = "0 m"\nrise = "-20 m"\n',
    "[heads]\nexponent = 0\n", "[heads]\nexponent = 1.2\n", '[heads]\nwetted_diameter = "30 m"\n',
    '[supply]\nstatic = "2 bar"\nregulator = { set = "200 kPa" }\n',
    '[heads]\nopens_at = "60 kPa"\ncloses_at = "60 kPa"\n',
    LINE + '[[pressures]]\nat = "line"\nline = "a"\nhead = 9\nvalue = "1600 kPa"\n',
])
def test_the_edge_of_the_usual_is_not_doubted(text):
    assert doubts_of(text) == []


@pytest.mark.parametrize("text", [FULL, ROWS, POINTS])
def test_plain_records_raise_none(text):
    assert doubts(parse_record(text)) == []


def test_all_of_them_in_the_order_of_the_format():
    found = doubts_of('[[patches]]\nx = ["2 m", "1 m"]\ny = ["1 m", "2 m"]\n[supply]\nstatic = "99 bar"\n'
                      + LINE + 'pipe = "3/4 in"\nheight = "40 m"\n[heads]\nexponent = 5\n')
    assert [key for key, _, _ in found] == [
        "heads.exponent", "lines[1].height", "lines[1].pipe", "supply.static", "patches[1].x"]


def test_doubts_name_parts_of_the_result():
    known = {"whole_floor", "heads", "profile", "fixes", "watering"}
    assert set(FLOOR_PARTS) | set(WATER_PARTS) <= known
    assert isinstance(parse_record(FULL), Record)


def test_what_is_not_believed_is_gone_and_the_rest_stays():
    record = parse_record(text_of(more=LINE + 'pipe = "2 m"\n[heads]\nflow = "45 L/h"\nexponent = 5\n'
                                  '[[pressures]]\nat = "supply"\nvalue = "9000 kPa"\n'
                                  '[[pressures]]\nat = "regulator outlet"\nvalue = "200 kPa"\n'
                                  '[[head_flows]]\nline = "a"\nhead = 1\nvolume = "1 L"\ntime = "0 s"\n'
                                  '[supply]\nstatic = "400 kPa"\n'
                                  'flowing = [{ pressure = "1 bar", volume = "2 L", time = "0 s" }]\n'))
    left = believed(record, doubts(record))
    assert left.lines[0].pipe is None and left.heads.exponent is None and left.heads.flow == record.heads.flow
    assert [item.at for item in left.pressures] == ["regulator outlet"] and left.head_flows is None
    assert left.supply.flowing is None and left.supply.static == record.supply.static
    assert record.lines[0].pipe is not None
