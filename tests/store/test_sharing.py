"""What is told without names: bands for a member, a table for outside; small groups are refused."""

import csv
import io
import json

import pytest

from analysis.store import OWNER, StoreError, Viewer
from analysis.store.many import add_many
from analysis.store.rows import Entry, digest_of
from analysis.store.sharing import COLUMNS, FEWEST_IN_BAND, bands, without_names

from ..compare.made import kept

ME = Viewer("me", "M0")


def fill(store, tests):
    pairs = []
    for item in tests:
        text = f"text of {item.test}"
        pairs.append((Entry(item.test, text, digest_of(text), item.summary.member.casefold()), item.summary))
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
    assert says == "18 tests without names." and len(rows) == 18 and tuple(rows[0]) == COLUMNS
    for word in ("M1", "Secretplum", "Heron Bank", "2027-05", "m1-0", "Test m", "both lines"):
        assert word not in table, word
    assert {row["year"] for row in rows} == {"2027"}
    assert (rows[0]["head_spacing_of_diameter"], rows[0]["last_head_kpa"], rows[0]["heads_years"]) == ("0.1", "150", "2")
    order = [int(row["du_low_quarter_percent"]) for row in rows]
    assert order != sorted(order) and sorted(order)[0] == 30


def test_a_year_with_few_members_is_left_out(store):
    fill(store, members(6, date="2026-05-01") + members(3, date="2027-05-01"))
    table, says = without_names(store, OWNER)
    assert says == ("18 tests without names. 9 left out: in their year fewer than 5 members were tested, and a member could "
                    "be recognised.")
    assert "2027" not in table


def test_a_small_store_and_a_member_are_refused(store):
    fill(store, members(4))
    with pytest.raises(StoreError, match="received tests of 4 members with whole floors in one year, expected 5 or more"):
        without_names(store, OWNER)
    fill(store, members(6))
    with pytest.raises(StoreError, match="from a member, expected the coordinator, ask them"):
        without_names(store, ME)


def test_nothing_of_others_is_in_what_a_member_reads(store):
    fill(store, members(8))
    seen = json.dumps([repr(store.tests(ME)), repr(list(store.texts(ME))), repr(bands(store, ME))])
    assert "m0-0" in seen and not any(f"m{number}-" in seen for number in range(1, 8))


def test_spellings_of_one_member_are_one_member(store):
    spelt = ["A b", "A  b", "a B", "C", "C ", " c"]
    fill(store, [kept(50 + number, name=f"s{number}", member=member, tunnel=f"T{number}")
                 for number, member in enumerate(spelt)])
    assert bands(store, ME) == []
    with pytest.raises(StoreError, match="received tests of 2 members"):
        without_names(store, OWNER)


def test_what_few_members_share_beside_the_figures_is_left_empty(store):
    fill(store, members(6, habits={"last_head_kpa": 150.0}) + [
        kept(60, name="odd", member="M0", tunnel="T9", lines="in turn", habits={"last_head_kpa": 33.0})])
    table, _ = without_names(store, OWNER)
    rows = list(csv.DictReader(io.StringIO(table)))
    assert {row["lines_ran"] for row in rows} == {"together", ""} and "30" not in {row["last_head_kpa"] for row in rows}
    assert sum(row["lines_ran"] == "" for row in rows) == 1
