"""Places for further cans."""

import json
import re

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.cli.command import main
from evenfall.planning.as_json import more_json
from evenfall.planning.more import more_cans
from evenfall.record.file import parse_record
from evenfall.record.samples import folder, sample_text
from evenfall.record.site import site_of

from . import really_added


def sample(name):
    return site_of(parse_record(sample_text(name)))


@pytest.fixture(scope="module")
def commissioning():
    return more_cans(sample("commissioning"), count=6)


def test_places_fall_on_the_tape_inside_and_off_the_cans(commissioning):
    site = sample("commissioning")
    catch = read_catch(site)
    places = np.array([(can.x_m, can.y_m) for can in commissioning.cans])
    assert places.shape == (6, 2) and site.ground.holds(*places.T).all()
    assert np.abs(places / 0.05 - np.round(places / 0.05)).max() < 1e-6
    assert np.hypot(places[:, :1] - catch.x, places[:, 1:] - catch.y).min() >= 0.3
    assert all(can.why for can in commissioning.cans)


def test_they_narrow_and_bottles_are_heads_of_the_record(commissioning):
    heads = sample("commissioning").heads
    assert 0 < commissioning.narrows.then < commissioning.narrows.now
    known = set(zip(heads.name, heads.number.tolist(), strict=True))
    assert commissioning.bottles and {(one.line, one.head) for one in commissioning.bottles} <= known


def test_the_same_test_gives_the_same_places(commissioning):
    assert more_cans(sample("commissioning"), count=6) == commissioning


def test_without_heads_cans_are_still_placed():
    found = more_cans(sample("bare"), count=4)
    assert len(found.cans) == 4 and found.bottles == () and found.narrows.then < found.narrows.now


def test_the_json_has_every_key(commissioning):
    plain = json.loads(more_json(commissioning))
    assert list(plain) == ["result", "cans", "bottles", "narrows", "enough"]
    assert list(plain["cans"][0]) == ["x_m", "y_m", "why"] and list(plain["bottles"][0]) == ["line", "head", "why"]
    assert list(plain["narrows"]) == ["now", "then"] and plain["enough"] == 0


def test_a_closed_floor_is_a_sentence(tmp_path, capsys):
    text = sample_text("commissioning").replace('duration = "', 'duration = "9')
    file = tmp_path / "odd.toml"
    file.write_text(text, "utf-8")
    assert main(["more", str(file)]) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and "The whole floor is closed" in shown.err and shown.err.count("\n") == 1


@pytest.mark.parametrize("count", [0, 41])
def test_another_number_of_cans_is_refused(count):
    with pytest.raises(ValueError, match=f"received {count} further cans, expected 1 to 40"):
        more_cans(sample("bare"), count=count)


@pytest.mark.parametrize("units", ["metric", "US"])
def test_the_text_fits_eighty_columns(units, capsys):
    assert main(["more", str(folder() / "blocked-head.toml"), "--cans", "3", "--units", units]) == 0
    shown = capsys.readouterr().out
    assert max(map(len, shown.splitlines())) <= 80 and not re.search(r"\bnan\b|\bNone\b", shown)
    assert (" ft " if units == "US" else " m ") in shown


@pytest.mark.long
def test_chosen_cans_narrow_more_than_even_ones():
    found = [one for seed in (41, 42) for kind in really_added.KINDS
             if (one := really_added.added(kind, seed)) is not None]
    contested = [one for one in found if one.now > really_added.WIDE]
    _, chosen, even = really_added.narrowed(contested)
    assert len(contested) >= 3 and chosen > 0 and chosen >= 1.5 * even
