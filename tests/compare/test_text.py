"""A comparison in words, as text of 80 columns and as JSON."""

import json
from dataclasses import replace

import pytest
from evenfall.compare import words
from evenfall.compare.comparison import compare_tests
from evenfall.compare.text import members_json, members_rows, members_text
from evenfall.pattern.floor import Figure

from .made import cooperative, kept
from .test_over_time import two_years, years


def everything(system=None):
    return compare_tests([
        *cooperative(), kept(55, name="windy", member="M9", wind=3.0), kept(66, name="new", member="M8", floor=False),
        *years({2024: 80, 2025: 74, 2026: 69}, member="M7"), *two_years([5, 7, 6], member="M6")], system=system)


def test_the_text_has_all_parts_within_80_columns():
    text = members_text(everything())
    assert max(map(len, text.splitlines())) <= 80
    for part in ("Group 1 of", "Tested under other conditions, in no group", "The wind was 3.0 m/s.",
                 "Not estimated yet, or cannot be", "Over the years", "Against the year before",
                 "What goes with unevenness", "Water", "no estimate of the whole floor yet"):
        assert part in text, part


def test_tunnels_that_cannot_be_told_apart_get_no_ranks():
    found = compare_tests([kept(70 + number / 2, 4.0, name=f"t{number}", tunnel=f"T{number}") for number in range(6)])
    text = members_text(found)
    said = " ".join(text.split())
    assert "The tests cannot tell these 6 tunnels apart: their order means nothing." in said
    assert "One group" in text and "Group 1" not in text and "these tests show no difference between tunnels" in said


def test_odd_names_break_no_line():
    text = members_text(compare_tests([
        kept(60, name="a", member="\x1b[31mred", tunnel="line\nbreak"), kept(62, name="b", member="水" * 40),
        kept(64, name="c", member="é" * 40), kept(66, name="d", member="\u202eback")]))
    assert "\x1b" not in text and "\u202e" not in text and "red" in text and "line break" in text


def test_us_units():
    assert "US gal less a week" in " ".join(members_text(everything("US")).split())


@pytest.mark.parametrize(("figure", "said"), [
    (Figure(12.4, 3.2, 21.6), "+12 points (+3 to +22)"), (Figure(-0.02, -0.4, 0.4), "+0.0 points (-0.4 to +0.4)"),
    (Figure(-0.2, -8.0, 8.0), "+0 points (-8 to +8)"), (Figure(-3.0, -4.0, -2.0), "-3.0 points (-4.0 to -2.0)"),
])
def test_changes_have_no_more_digits_than_they_deserve(figure, said):
    assert words.signed(figure) == said


def test_the_json_holds_every_key_and_no_nan():
    found = json.loads(members_json(everything()), parse_constant=lambda name: pytest.fail(name))
    assert list(found) == ["members", "figure", "units", "tests", "waiting", "mean", "between", "tunnels", "pairs",
                           "trends", "year_before", "habits", "not_tried", "water", "says", "to_check", "left_out"]
    first = found["tunnels"][0]
    assert list(first) == ["test", "member", "site", "tunnel", "date", "cans", "whole_floor", "at_the_cans", "drawn",
                           "group", "among_lowest", "unlike", "cause"]
    assert set(first["whole_floor"]) == {"value", "low", "high"} and first["group"] == 1
    empty = json.loads(members_json(compare_tests([])))
    assert list(empty) == list(found) and empty["tunnels"] == [] and empty["mean"] is None


def test_the_spreadsheet_has_a_row_a_tunnel():
    found = everything()
    rows = members_rows(found)
    assert len(rows) == len(found.rows) + 1 and all(len(row) == len(rows[0]) for row in rows)


def test_pairs_and_trends_in_words():
    found = compare_tests([kept(50, 1.0, name="a", date="2026-04-01"),
                           kept(70, 1.0, name="b", date="2027-04-01", rechecks="a")])
    assert words.pair_words(found.pairs[0], "du_low_quarter") == [
        "HB · T1, 2026-04-01 to 2027-04-01: DUlq of the whole floor went from 50 to 70 %, +20 points (+18 to +22): "
        "more than the tests' own noise.", "At the same cans +20 points."]
    falling = compare_tests(years({2024: 80, 2025: 74, 2026: 69}))
    assert words.trend_words(falling.trends[0], "du_low_quarter").endswith("over 3 tests, 2024 to 2026: falling.")


def test_units_are_those_of_most_records_unless_asked():
    tests = [kept(60 + number, name=f"t{number}", tunnel=f"T{number}", units=units)
             for number, units in enumerate(["US", "US", "metric"])]
    dry = kept(40, 1.0, name="dry", tunnel="dry", units="metric")
    cause = {"metric": "a clogged head (at 10.1 m)", "US": "a clogged head (at 33 ft)"}
    floor = replace(dry.summary.floor, cause=cause)
    tests.append(replace(dry, summary=replace(dry.summary, floor=floor)))
    assert compare_tests(tests).system == "metric"  # as many of each
    assert compare_tests(tests[:3]).system == "US"
    for system, where in (("metric", "10.1 m"), ("US", "33 ft")):
        found = compare_tests(tests, system=system)
        assert f"a clogged head (at {where})" in members_text(found)
        assert json.loads(members_json(found))["tunnels"][0]["cause"] == f"a clogged head (at {where})"
        assert members_rows(found)[1][-2] == f"a clogged head (at {where})"


def test_a_long_name_is_whole_on_a_line_of_its_own():
    names = ("Tunnel beside the old orchard wall", "Tunnel beside the old orchard gate")
    text = members_text(compare_tests([kept(70 + number, name=f"t{number}", tunnel=name)
                                       for number, name in enumerate(names)]))
    for name in names:
        at = text.splitlines().index(f"    HB · {name}")
        assert text.splitlines()[at + 1].startswith(" " * 31 + "2027-05-01")
    assert max(map(len, text.splitlines())) <= 80
