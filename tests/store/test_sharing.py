"""What is told without names: bands for a member, a table for outside; small groups are refused."""

import csv
import io
import json
import time
from dataclasses import replace
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from evenfall.store import OWNER, StoreError, Viewer
from evenfall.store.alike_enough import enough_alike
from evenfall.store.many import add_many
from evenfall.store.rows import StoredText, digest_of
from evenfall.store.sharing import (
    COLUMNS,
    FEWEST_IN_BAND,
    FEWEST_MEMBERS,
    FIGURES,
    HABITS,
    HANDING_ON,
    bands,
    without_names,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from ..compare.made import kept

ME = Viewer("me", "M0")


def fill(store, tests):
    pairs = []
    for item in tests:
        text = f"text of {item.test}"
        pairs.append((StoredText(item.test, text, digest_of(text), item.summary.member.casefold()), item.summary))
    add_many(store, OWNER, pairs, "b")


def members(count, tunnels=3, **more):
    return [kept(30 + 5 * member + tunnel, 2.0, name=f"{more.get('date', '')}m{member}-{tunnel}", member=f"M{member}",
                 tunnel=f"Secretplum {tunnel}", **more) for member in range(count) for tunnel in range(tunnels)]


def test_others_are_told_in_bands_of_three_members_or_more(store):
    fill(store, members(10))
    found = bands(store, ME)
    assert sum(band.tunnels for band in found) == 27, "all of the others, none of one's own"
    assert found[0].low == 0 and found[-1].high == 100
    assert all(one.high == other.low for one, other in zip(found, found[1:], strict=False))
    for band in found:
        inside = {member for member in range(1, 10) for tunnel in range(3)
                  if band.low <= 30 + 5 * member + tunnel < band.high}
        assert len(inside) >= FEWEST_IN_BAND
    assert "Secretplum" not in repr(found) and "M1" not in repr(found)


def test_too_few_others_are_not_told_of(store):
    fill(store, members(5))
    assert bands(store, ME) == []
    fill(store, members(6))
    assert sum(band.tunnels for band in bands(store, ME)) == 15


def test_only_the_newest_test_of_a_tunnel_is_in_a_band(store):
    fill(store, members(8, date="2026-05-01") + members(8, date="2027-05-01"))
    assert sum(band.tunnels for band in bands(store, ME)) == 21


def test_a_band_at_the_top_that_is_too_small_joins_the_one_below(store):
    fill(store, [kept(45, name=f"l{member}", member=f"M{member}", tunnel="T") for member in range(1, 7)]
         + [kept(95, name="h", member="M9", tunnel="T")])
    assert [(band.low, band.high, band.tunnels) for band in bands(store, ME)] == [(0, 100, 7)]


def test_the_table_has_no_names_places_dates_or_links(store):
    fill(store, members(6, habits={"head_spacing": 0.1234, "last_head_kpa": 147.3, "heads_days": 1000.0}))
    table, says = without_names(store, OWNER)
    rows = list(csv.DictReader(io.StringIO(table)))
    assert says == f"18 tests without names. {HANDING_ON}" and len(rows) == 18 and tuple(rows[0]) == COLUMNS
    for word in ("M1", "Secretplum", "Heron Bank", "2027-05", "m1-0", "Test m", "both lines"):
        assert word not in table, word
    assert {row["year"] for row in rows} == {"2027"}
    assert [rows[0][name] for name in ("head_spacing_of_diameter", "last_head_kpa", "heads_years")] == [
        "0.1", "150", "2 to 4"]
    order = [int(row["du_low_quarter_percent"]) for row in rows]
    assert order != sorted(order) and sorted(order)[0] == 30


def test_a_year_with_few_members_is_left_out(store):
    fill(store, members(6, date="2026-05-01") + members(3, date="2027-05-01"))
    table, says = without_names(store, OWNER)
    assert says == ("18 tests without names. 9 left out: in their year fewer than 5 members were tested, and a member "
                    f"could be recognised. {HANDING_ON}")
    assert "2027" not in table


def test_a_small_store_and_a_member_are_refused(store):
    fill(store, members(4))
    with pytest.raises(StoreError, match="tests of 4 members with whole floors in one year, expected 5 or more"):
        without_names(store, OWNER)
    fill(store, members(6))
    with pytest.raises(StoreError, match="from a member, expected the coordinator, ask them"):
        without_names(store, ME)


def test_nothing_of_others_is_in_what_a_member_reads(store):
    fill(store, members(8))
    seen = json.dumps([repr(store.tests(ME)), repr(list(store.texts(ME))), repr(bands(store, ME))])
    assert "m0-0" in seen and not any(f"m{number}-" in seen for number in range(1, 8))


def test_spellings_of_one_member_are_one_member(store):
    spelt = ["A b", "A  b", "a B", "\u00c9l", "E\u0301l ", " \u00e9L"]
    fill(store, [kept(50 + number, name=f"s{number}", member=member, tunnel=f"T{number}")
                 for number, member in enumerate(spelt)])
    assert bands(store, ME) == []
    with pytest.raises(StoreError, match="received tests of 2 members"):
        without_names(store, OWNER)


def test_one_who_is_unlike_all_others_is_not_betrayed_by_the_only_empty_place(store):
    fill(store, members(6, habits={"last_head_kpa": 150.0}) + [
        kept(60, name="odd", member="M0", tunnel="T9", lines="in turn", habits={"last_head_kpa": 33.0})])
    table, says = without_names(store, OWNER)
    rows = list(csv.DictReader(io.StringIO(table)))
    for name, value in (("lines_ran", "together"), ("last_head_kpa", "150")):
        assert sorted({row[name] for row in rows}) == ["", value] and sum(row[name] == "" for row in rows) == 5
    assert ("10 of 95 values beside the figures are left empty, so that every row looks like those of 5 members or "
            "more.") in says


# -- which values are shown, on its own


def shown(rows, members, keys=None, fewest=FEWEST_MEMBERS, worth=None):
    return enough_alike(rows, members, keys or [str(number) for number in range(len(rows))], fewest,
                        worth or [1] * len(rows[0]))


def fewest_alike(rows, members):
    """Members of the smallest group of rows that look alike, empty places included, as pandas counts them."""
    frame = pd.DataFrame([[repr(value) for value in row] for row in rows]).assign(member=members)
    return int(frame.groupby(list(range(len(rows[0])))).member.nunique().min())


def test_a_rare_combination_of_common_values_is_not_shown():
    """Each value is shared by nine members or more, but one alone has spring lines that run in turn."""
    rows = [("together", "spring")] * 9 + [("in turn", "autumn")] * 9 + [("in turn", "spring")]
    members = [f"M{number}" for number in range(19)]
    found = shown(rows, members)
    assert fewest_alike(rows, members) == 1 and fewest_alike(found, members) >= 5
    assert found[-1] != rows[-1]
    gone = sum(value is None for row in found for value in row)
    # One place alone would betray itself, so five must look alike: the odd one and four of nine. No fewer than five
    # places can be empty (the odd row must lose one, in a group of five that all lose the same).
    assert gone == 5 and found.count(("together", "spring")) + found.count(("in turn", "autumn")) == 14


def test_a_member_with_many_tests_is_one_member():
    rows = [("open",)] * 20 + [("closed",)] * 5
    members = ["M0"] * 17 + ["M1", "M2", "M3", *(f"N{number}" for number in range(5))]
    assert shown(rows, members) == [(None,)] * 25, "four members have theirs open; closed would then be a group of five"
    members[16] = "M4"
    assert shown(rows, members) == rows


def test_where_no_group_can_spare_rows_the_smallest_goes():
    rows = [("b",)] * 5 + [("a",)] * 7 + [(None,)]
    members = [f"M{number}" for number in range(13)]
    assert shown(rows, members) == [(None,)] * 5 + [("a",)] * 7 + [(None,)]


def test_a_value_that_is_worth_more_is_kept_first():
    rows = [(left, right) for left in "ab" for right in "cd" for _ in range(3)]  # only one column can be shown
    members = [f"M{number}" for number in range(12)]
    for worth, column in (((3, 2), 0), ((2, 3), 1), ((1, 1), 0)):
        found = shown(rows, members, worth=worth)
        assert all(row[column] is not None and row[1 - column] is None for row in found)


def test_too_few_members_in_all_are_refused():
    with pytest.raises(ValueError, match="received rows of 4 members, expected 5 or more, leave them all out"):
        shown([("a",)] * 9, ["M0", "M1", "M2", "M3"] * 2 + ["M0"])
    assert enough_alike([], [], [], 5, [1, 1]) == []


VALUES = (st.sampled_from(["together", "in turn", None]), st.sampled_from([0.5, 0.55, 0.6, None]),
          st.integers(0, 6), st.sampled_from(["survey", "recheck"]))


@st.composite
def tables(draw):
    rows = draw(st.lists(st.tuples(st.integers(0, 11), *VALUES), min_size=5, max_size=80))
    members = [f"M{row[0]}" if at >= 5 else f"M{at}" for at, row in enumerate(rows)]  # five members at least
    return [row[1:] for row in rows], members, draw(st.permutations(range(len(rows))))


@settings(max_examples=200, deadline=None)
@given(tables())
def test_every_row_looks_like_those_of_five_members_whatever_the_order(made):
    rows, members, order = made
    found = shown(rows, members)
    assert fewest_alike(found, members) >= 5
    for columns in (some for count in (1, 2, 3) for some in combinations(range(4), count)):
        assert fewest_alike([[row[column] for column in columns] for row in found], members) >= 5
    assert all(value in (None, was) for row, old in zip(found, rows, strict=True)
               for value, was in zip(row, old, strict=True)), "no value is changed"
    again = shown([rows[at] for at in order], [members[at] for at in order], [str(at) for at in order])
    assert again == [found[at] for at in order]


@settings(max_examples=30, deadline=None)
@given(st.tuples(*VALUES), st.integers(5, 9))
def test_nothing_is_left_empty_where_all_are_alike(row, count):
    assert shown([row] * count, [f"M{number}" for number in range(count)]) == [row] * count


# -- a whole cooperative


class Told:
    """A store that only lists tests."""

    def __init__(self, tests):
        self.made = tests

    def tests(self, viewer):
        return self.made


def cooperative(members=40, tests=6, years=("2027",), seed=1):
    """Each member has their own spacings, pressure and way to run lines; CU and DUlq tell every test apart."""
    rng, made = np.random.default_rng(seed), []
    for member in range(members):
        head, line = rng.choice([0.4, 0.45, 0.5, 0.5, 0.5, 0.55, 0.6]), rng.choice([0.45, 0.5, 0.5, 0.55, 0.6, 0.7])
        pressure, age, gauge = rng.normal(180, 25), rng.uniform(0, 6 * 365), rng.random() < 0.7
        lines, cans = rng.choice(["together", "in turn"], p=[0.8, 0.2]), rng.choice([30, 48, 64], p=[0.25, 0.6, 0.15])
        for test in range(tests):
            number = member * tests + test
            habits = {"head_spacing": float(head * rng.uniform(0.97, 1.03)), "heads_days": float(age // 1),
                      "line_spacing": float(line * rng.uniform(0.97, 1.03)),
                      "last_head_kpa": float(pressure + rng.normal(0, 10)) if gauge else None}
            made.append(kept(
                30 + number % 60, 2.0, cu=40 + number // 60, name=f"t{number}", member=f"M{member}",
                tunnel=f"T{test}", date=f"{years[test % len(years)]}-05-01", lines=str(lines), cans=int(cans),
                habits=habits,
                sides=rng.choice(["closed", "part open", "open", None], p=[0.65, 0.15, 0.08, 0.12]),
                purpose=rng.choice(["survey", "recheck", "commissioning", "diagnosis", None],
                                   p=[0.5, 0.15, 0.08, 0.15, 0.12])))
    return made


def read(tests):
    """The table, with the member of each row, whom its figures tell here."""
    table, says = without_names(Told(tests), OWNER)
    whose = {(str(round(item.summary.floor.cu.value)), str(round(item.summary.floor.du_low_quarter.value))):
             item.summary.member for item in tests}
    frame = pd.read_csv(io.StringIO(table), dtype=str, keep_default_na=False)
    return frame, [whose[pair] for pair in zip(frame.cu_percent, frame.du_low_quarter_percent, strict=True)], says


def as_noted(tests):
    """The table with nothing left empty: every test five times, by other members each time."""
    frame, _, says = read([replace(item, test=f"{item.test} {copy}", summary=replace(item.summary, member=f"N{copy}"))
                           for item in tests for copy in range(5)])
    assert "left empty, so" not in says, "what five members share to the last value is all shown"
    return frame.drop_duplicates(["cu_percent", "du_low_quarter_percent"])


def best_whole_columns(noted, members):
    """Values left if a column were shown in all rows or in none: the best of all choices."""
    noted = noted.assign(member=members)
    return max((int((noted[list(some)] != "").to_numpy().sum())
                for count in range(1, len(HABITS) + 1) for some in combinations(HABITS, count)
                if noted.groupby(["year", *some]).member.nunique().min() >= FEWEST_MEMBERS), default=0)


@pytest.mark.parametrize(("years", "useful"), [(("2027",), 3 / 8), (("2025", "2026", "2027"), 2 / 8)])
def test_a_cooperative_of_forty_gets_a_useful_table(years, useful):
    """Forty members make at most eight groups of five, too few to show all that is a member's own (two spacings, the
    pressure, the heads' age, how the lines run): no rule can show most of it. Useful is here: a row shows three of its
    eight values (two where each year has a third of the tests), and the table twice what showing or hiding whole
    columns would leave."""
    tests = cooperative(years=years)
    frame, members, says = read(tests)
    pairs = ["cu_percent", "du_low_quarter_percent"]
    noted = frame[pairs].merge(as_noted(tests), on=pairs, validate="1:1")
    assert len(frame) == 240 and frame.assign(member=members).groupby(["year", *HABITS]).member.nunique().min() >= 5
    was, now = noted[list(HABITS)].to_numpy(), frame[list(HABITS)].to_numpy()
    assert (noted[["year", *FIGURES]].to_numpy() == frame[["year", *FIGURES]].to_numpy()).all(), "all figures are left"
    assert ((now == was) | (now == "")).all()
    known, left = (was != "").sum(), (now != "").sum()
    print(f"\n{left / known:.0%} of the values are left", {
        name: f"{(frame[name] != '').sum() / (noted[name] != '').sum():.0%}" for name in HABITS})
    assert left >= useful * known and left >= 2 * best_whole_columns(noted, members)
    assert f" {known - left} of {known} values beside the figures are left empty" in says


def test_the_order_in_which_tests_were_saved_changes_nothing():
    tests = cooperative(12, 4)
    assert without_names(Told(tests), OWNER) == without_names(Told(tests[::-1]), OWNER)


def test_a_year_that_is_over_stays_as_it_was_when_another_year_grows():
    tests = cooperative(12, 6, years=("2026", "2027"))
    first, later = (read(some)[0] for some in (tests[:-1], tests))
    assert len(later) == len(first) + 1
    of = [frame[frame.year == "2026"].reset_index(drop=True) for frame in (first, later)]
    assert len(of[0]) == 36 and of[0].equals(of[1])


def test_what_is_left_empty_does_not_depend_on_the_figures():
    tests = cooperative(12, 4)
    other = [replace(item, summary=replace(item.summary, floor=tests[-1 - at].summary.floor))
             for at, item in enumerate(tests)]
    beside = [sorted(map(tuple, read(some)[0][list(HABITS)].to_numpy())) for some in (tests, other)]
    assert beside[0] == beside[1]


@pytest.mark.benchmark
def test_ten_thousand_tests_take_no_longer_than_it_takes_to_say_so():
    tests = cooperative(200, 50)
    start = time.perf_counter()
    table, _ = without_names(Told(tests), OWNER)
    took = time.perf_counter() - start
    print(f"\n10,000 tests: {took:.2f} s")
    assert table.count("\r\n") == 10_001 and took < 5, "about 0.3 s on an idle machine; a slip to squares takes minutes"
