"""A record that is read before there are readings."""

import math

import pytest
from evenfall.record.file import parse_record

from .records import BARE, TWO, read


def test_cans_and_run_may_be_missing():
    record = read(TWO)
    assert record.cans is None and record.run is None
    with pytest.raises(ValueError, match="cans: received nothing, expected the table"):
        parse_record(TWO)


def test_cans_without_readings_keep_their_places():
    record = read(BARE + '[cans]\nacross = ["1 m", "2 m"]\nalong = ["1 m", "3 m", "5 m"]\n[run]\nwater = "14 C"\n')
    assert len(record.cans.grid) == 3 and all(math.isnan(value) for row in record.cans.grid for value in row)
    assert record.run.duration is None and record.run.water.text == "14 C"
    rows = read(BARE + '[cans]\n[[cans.rows]]\ny = "1 m"\nx = ["1 m", "2 m"]\n').cans.rows
    assert len(rows[0].catch) == 2
    points = read(BARE + '[cans]\npoints = [{x = "1 m", y = "1 m"}]\n').cans.points
    assert math.isnan(points[0].catch)


def test_what_was_given_stays():
    record = read(BARE + '[cans]\nreads = "depth"\nunit = "in"\nacross = ["1 m"]\nalong = ["1 m"]\ngrid = [[0.5]]\n'
                  '[run]\nduration = "20 min"\n')
    assert record.cans.grid == [[0.5]] and record.cans.unit == "in" and record.run.duration.text == "20 min"


@pytest.mark.parametrize("more, says", [
    ('[cans]\nacross = ["1 m", "99 m"]\nalong = ["1 m"]\n',
     r"record:8: cans.across\[2\]: received a can at x = 99.00 m, y = 1.00 m, expected a place on the floor of 9.1 m "
     "by 29 m, correct the place"),
    ('[cans]\nopening = "84"\n', "received '84' without a unit, expected a length"),
    ("[cans]\ncups = 3\n", "received the unknown key 'cups'"),
    ("[cans]\ngrid = [[1, 2]]\n", "cans.across: received nothing, expected x of each column"),
    ('[run]\nlines = "both"\n', "run.lines: received 'both', expected \"together\" or \"in turn\""),
    ('[run]\nduration = "-3 min"\n', "run.duration: received"),
    ('[[lines]]\nname = "a"\nx = "12 m"\n', r"lines\[1\].x: received '12 m', expected a place on the floor"),
    ('[floor]\nwidth = "3 m"\n', "expected TOML 1.0"),
])
def test_everything_else_is_checked_as_ever(more, says):
    with pytest.raises(ValueError, match=says):
        read(BARE + more)
