"""Changes that somebody asks for: what is refused, what it needs, what to mind."""

import numpy as np
import pytest
from evenfall.changes.change import ChangeError, changed_site, read_changes
from evenfall.changes.fixes.parts import WORK
from evenfall.changes.fixes.search import other_taps, try_change
from evenfall.changes.fixes.words import needs_of
from evenfall.changes.rows import kept_lines
from evenfall.record.file import parse_record
from evenfall.record.places import head_places
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.as_json import to_plain
from evenfall.result.assessment import assess
from evenfall.result.text import report_text, try_text

TEXT = sample_text("lines-too-far-apart")
OTHER = """
[[other_supplies]]
name = "lower field"
static = "45 psi"
height = "20 in"
flowing = [{pressure = "30 psi", volume = "5 gal", time = "40 s"}]
hose = {length = "100 ft", inside = "0.75 in"}
regulator = {set = "27 psi"}

[[other_supplies]]
name = "standpipe"
static = "60 psi"
height = "20 in"
flowing = [{pressure = "55 psi", volume = "5 gal", time = "20 s"}]

[[other_supplies]]
name = "pond"
kind = "pump"
"""


@pytest.fixture(scope="module")
def wide():
    record = parse_record(TEXT)
    return record, assess(record)


def tried(case, *items, record=None):
    return try_change(site_of(record or case[0]), case[1].floor, read_changes(list(items))).fix


def parts(fix):
    return {part.item: part.count for part in fix.parts}


def without(text, *keys):
    return parse_record("\n".join(line for line in text.splitlines() if not line.startswith(keys)))


@pytest.mark.parametrize("record, change, says", [
    (parse_record(TEXT.split("[supply]")[0]), "pressure=30 psi", "received pressure=30 psi, expected a record with "
     ".supply. regulator, add it before this change is tried"),
    (without(TEXT, "regulator"), "pressure=30 psi", "expected a record with .supply. regulator"),
    (without(TEXT, "regulator"), "regulator_range=100 to 900 L/h", "received regulator_range=100 to 900 L/h, expected"),
    (without(TEXT, "hose"), "hose_length=3 m", "received hose_length=3 m, expected a record with .supply. hose"),
    (without(TEXT, "pipe"), "pressure=30 psi", r"from which the pressures can be worked out, add lines\[1\].pipe and"),
    (without(TEXT, "pipe"), "fed_from=middle", "received fed_from=middle, expected a record from which the pressures"),
    (without(TEXT, "static"), "pressure=30 psi", "received pressure=30 psi, expected a record whose supply is known, "
     "add supply.static"),
    (parse_record(TEXT), "mend=suspects", "received mend=suspects, expected a test in which heads stand out"),
    (parse_record(TEXT), "add_at_ends=2.9 ft", "received add_at_ends for lines whose last heads are nearer"),
])
def test_a_change_that_would_do_nothing_is_refused_in_one_sentence(wide, record, change, says):
    with pytest.raises(ChangeError, match=says) as error:
        tried(wide, change, record=record)
    assert "\n" not in str(error.value) and len(str(error.value)) < 250


def test_one_line_cannot_run_in_turn():
    record = parse_record(TEXT.replace('lines = "together"\n', "").replace(
        TEXT[TEXT.index("[[lines]]\nname = \"right\""):TEXT.index("[cans]")], "").split("[[pressures]]")[0])
    with pytest.raises(ChangeError, match="run_lines with one line, expected two lines or more, leave it out"):
        changed_site(site_of(record), read_changes(["run_lines=in turn"]))


def test_heads_of_another_flow_without_pressures_scale_the_rate(wide):
    record = without(TEXT, "pipe")
    flow = record.heads.flow.si * 3.6e6
    one = try_change(site_of(record), wide[1].floor, read_changes([f"flow={1.5 * flow:.4f} L/h"]))
    assert one.fix.rate_mm_h == pytest.approx(1.5 * one.today.rate_mm_h, rel=1e-3)


def test_heads_that_are_only_added_are_priced_as_heads(wide):
    """The first head stands at 2 ft 6 in, heads are 2.5 ft apart: half of that puts one between each two."""
    ends = parts(tried(wide, "add_at_ends=1 ft"))
    assert ends == {"head": 4}
    between = parts(tried(wide, "head_spacing=1.25 ft"))
    assert between == {"head": 58}
    near = changed_site(site_of(wide[0]), read_changes(["first=2.45 ft"]))  # 1.5 cm off: nobody moves a head for that
    np.testing.assert_allclose(near.lines[0][2], head_places(wide[0].lines[0]))


def test_heads_that_move_leave_their_holes_and_are_hung_anew(wide):
    fix = tried(wide, "first=1 ft")
    count = parts(fix)
    assert count["hole plug"] == count["head to move"] == 60 and count["head"] == 2
    assert "60 heads to move" in needs_of(fix.parts, "US") and WORK["head to move"] >= WORK["head"]


def test_hoses_are_priced(wide):
    assert parts(tried(wide, "hose_length=15 ft")) == {"fitting": 2}
    assert parts(tried(wide, "hose_length=60 ft")) == {"hose, m": 10, "fitting": 2}
    assert parts(tried(wide, "hose=1.25 in")) == {"hose, m": 10, "fitting": 2}


@pytest.mark.parametrize("today, across, kept", [
    ([2.0, 7.0], [2.0, 4.5, 7.0], [0, -1, 1]),
    ([2.0, 7.0], [1.0, 2.1], [0, 1]),
    ([1.0, 3.0, 5.0], [3.1], [1]),
    ([1.0, 3.0, 5.0], [2.9, 5.2], [1, 2]),
    ([3.0], [1.0, 3.2, 5.0], [-1, 0, -1]),
])
def test_lines_move_as_little_as_can_be(today, across, kept):
    assert [int(line) for line in kept_lines(np.array(today), np.array(across))] == kept


def test_what_to_mind_stands_with_each_fix(wide):
    def firsts(*items):
        return [text.split()[0] for text in tried(wide, *items).cautions]

    assert firsts("wetted_diameter=20 ft") == ["Ladders:"]
    assert firsts("line_x=7 ft, 15 ft, 23 ft") == ["Ladders:", "The", "Pressure:"]
    assert firsts("filter=clean") == ["Pressure:"]
    assert firsts("run_lines=in turn") == ["Pressure:", "Water", "Backflow:"]
    assert firsts("hose=1.25 in") == ["Pressure:", "Backflow:"]
    plain = to_plain(wide[1])["fixes"]
    assert plain and all(fix["cautions"] for fix in plain)
    text = report_text(*wide, "US")
    assert text.count("Ladders: a second person") == 1 and "Careful, as above: ladders" in text
    assert "Careful. Pressure:" in try_text(try_change(*_pair(wide), read_changes(["filter=clean"])), "US")


def _pair(case):
    return site_of(case[0]), case[1].floor


def test_other_supplies_are_told(wide):
    record = parse_record(TEXT + OTHER)
    lower, standpipe, pond = other_taps(site_of(record))
    assert (lower.name, lower.holds) == ("lower field", False) and "its regulator is starved" in lower.says
    assert lower.lowest_kpa < lower.regulator_kpa < 0.8 * 186
    assert standpipe.holds and standpipe.lowest_kpa > 172 and "where the lines begin" in standpipe.says
    assert pond.holds is None and pond.total_l_h is None and "is not known" in pond.says
    result = assess(record)
    assert to_plain(result)["supplies"][0]["total_l_h"] == pytest.approx(lower.total_l_h)
    assert "On its other supplies" in report_text(record, result) and other_taps(site_of(wide[0])) == []
