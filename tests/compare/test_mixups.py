"""Slips among many tests are told, and names that only look alike are not."""

from dataclasses import replace

import pytest
from evenfall.compare.comparison import compare_tests
from evenfall.compare.mixups import _one_apart, mixups
from evenfall.compare.text import members_json, members_text

from .made import kept


def at(site, **more):
    item = kept(70, **more)
    return replace(item, summary=replace(item.summary, site=site))


def test_a_day_after_the_saving_is_told():
    late = replace(kept(70, name="late", date="2031-05-01"), saved_at="2027-05-02T08:00:00+00:00")
    near = replace(kept(70, name="near", tunnel="T2", date="2027-05-03"), saved_at="2027-05-02T23:00:00+00:00")
    (said,) = mixups([late, near])
    assert said == ("late is dated 2031-05-01, but was saved on 2027-05-02: while the day stands, it counts as the "
                    "newest test of its tunnel. Correct test.date.")
    assert mixups([replace(late, saved_at="")]) == []  # an example that was never saved


def test_a_day_of_long_ago_is_told():
    assert mixups([kept(70, name="old", date="0207-05-01")]) == [
        "old is dated 0207-05-01: correct test.date if that is a slip."]


@pytest.mark.parametrize("one, two, slip", [
    ("heron", "herom", True), ("heron", "hern", True), ("heron", "hheron", True), ("heron", "ehron", True),
    ("heron", "hreno", False), ("heron", "heath", False), ("east", "west", False), ("heron", "h", False)])
def test_one_slip_is_a_letter_more_less_other_or_two_changed_over(one, two, slip):
    assert _one_apart(one, two) is slip and _one_apart(two, one) is slip


def test_a_misspelt_site_is_told_once():
    (said,) = mixups([at("Heron Reach", name="a"), at("Heron Raech", name="b"),
                      at("Heron Reach", name="c", date="2028-05-01")])
    assert said == ("HB · T1 (Heron Raech) and HB · T1 (Heron Reach) count as two tunnels: if one name is a slip, "
                    "correct it (b, a).")


@pytest.mark.parametrize("one, two", [
    ({"tunnel": "Tunnel 1"}, {"tunnel": "Tunnel 2"}), ({"tunnel": "Tunnel A"}, {"tunnel": "Tunnel B"}),
    ({"tunnel": "Tunnel II"}, {"tunnel": "Tunnel III"}), ({"member": "M17"}, {"member": "M18"}),
    ({"member": "HB", "tunnel": "Hazel"}, {"member": "TH", "tunnel": "Hazle"}),
    ({"tunnel": "East"}, {"tunnel": "West"}), ({"tunnel": "Bay 10 north"}, {"tunnel": "Bay 11 north"})])
def test_names_that_number_tunnels_are_not_slips(one, two):
    assert mixups([kept(70, name="a", **one), kept(70, name="b", **two)]) == []


def test_a_missing_site_or_member_is_told_unless_it_could_be_any():
    named, without = at("Heron Reach", name="a"), at(None, name="b")
    assert mixups([named, without]) == ["HB · T1 and HB · T1 (Heron Reach) count as two tunnels: if they are one, "
                                        "name the site in b too (test.site)."]
    assert mixups([named, without, at("Otter Mead", name="c")]) == []
    other = replace(without, summary=replace(without.summary, site="Heron Reach", member=None))
    assert mixups([named, other])[0].endswith("name the member in b too (test.member).")


def test_one_test_under_two_names_is_told():
    one, two = kept(70, name="a"), kept(70, name="b")
    assert mixups([one, two]) == ["a and b have the same readings of one tunnel and day: if it is one test, take one "
                                  "of them off the list."]
    assert mixups([one, kept(71, name="b")]) == [] == mixups([one, kept(70, name="b", date="2027-06-01")])


def test_the_comparison_says_them_in_text_and_json():
    found = compare_tests([at("Heron Reach", name="a"), at("Heron Raech", name="b")])
    assert len(found.to_check) == 1
    assert "To check in the records\n  - HB · T1 (Heron Raech)" in members_text(found)
    assert found.to_check[0] in members_json(found)
    assert "To check" not in members_text(compare_tests([kept(70)]))
