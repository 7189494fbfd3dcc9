"""Changes: read from text, refused in one sentence, and applied to a record."""

import numpy as np
import pytest
from evenfall.changes.change import ChangeError, changed_site, read_changes
from evenfall.record.file import parse_record
from evenfall.record.places import head_places
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of


@pytest.fixture(scope="module")
def record():
    """Two lines in a tunnel 9.14 m wide and 23.8 m long."""
    return parse_record(sample_text("lines-too-far-apart"))


@pytest.mark.parametrize("items, says", [
    (["lines"], "expected KEY=VALUE"),
    (["line=3"], "did you mean lines"),
    ([], "received no change"),
    (["lines=3", "lines=4"], "received lines twice"),
    (["lines=3", "line_x=1 m"], "lines together with line_x"),
    (["head_spacing=1 m", "add_between=yes"], "head_spacing together with add_between"),
    (["lines=0"], "a whole number from 1 to 12"),
    (["lines=2.5"], "a whole number from 1 to 12"),
    (["head_spacing=0.6"], "head_spacing: received"),
    (["head_spacing=0 m"], "more than zero"),
    (["pressure=3 m"], "pressure: received"),
    (["fed_from=top"], "expected near or far or middle"),
    (["filter=new"], "expected clean"),
    (["regulator_range=2700 L/h"], "two flows such as"),
    (["regulator_range=2700 to 150 L/h"], "the smaller flow first"),
    (["mend=7"], "heads such as left:7"),
])
def test_what_cannot_be_understood_is_said(items, says):
    with pytest.raises(ChangeError, match=says):
        read_changes(items)


def test_the_text_is_kept_as_typed():
    change = read_changes(["regulator_range=150 to 2700 L/h", " head_spacing = 2 ft"])
    assert change.texts == {"regulator_range": "150 to 2700 L/h", "head_spacing": "2 ft"}
    assert change.values["head_spacing"] == pytest.approx(0.6096)
    assert change.values["regulator_range"] == ("150 L/h", "2700 L/h")


def applied(record, *items):
    return changed_site(site_of(record), read_changes(list(items)))


def test_more_lines_stand_evenly_and_a_new_one_takes_after_its_neighbour(record):
    made = applied(record, "lines=3")
    width = record.floor.width.si
    assert [like for like, _, _ in made.lines] == [0, -1, 1]  # the lines of today move least
    np.testing.assert_allclose([x for _, x, _ in made.lines], np.array([1, 3, 5]) * width / 6)
    assert len({line.name for line in made.site.lines}) == 3
    np.testing.assert_allclose(made.site.lines[1].along, head_places(record.lines[0]), atol=1e-3)


def test_places_of_lines(record):
    made = applied(record, "line_x=6 m, 1.5 m")
    np.testing.assert_allclose([x for _, x, _ in made.lines], [1.5, 6.0])
    with pytest.raises(ChangeError, match="a line at 12 m, expected places on a floor"):
        applied(record, "line_x=12 m")


def test_closer_heads_stay_as_near_their_ends_as_the_spacing_allows(record):
    before = np.array(head_places(record.lines[0]))
    _, _, ys = applied(record, "head_spacing=0.5 m").lines[0]
    np.testing.assert_allclose(np.diff(ys), 0.5)
    assert abs(ys[0] - before[0]) <= 0.25 and abs(ys[-1] - before[-1]) <= 0.25
    assert ys[0] + ys[-1] == pytest.approx(before[0] + before[-1])


def test_heads_between(record):
    before = np.array(head_places(record.lines[0]))
    _, _, ys = applied(record, "add_between=yes").lines[0]
    assert len(ys) == 2 * len(before) - 1
    np.testing.assert_allclose(ys[::2], before)


def test_a_first_head_nearer_the_wall(record):
    spacing = np.diff(head_places(record.lines[0]))[0]
    _, _, ys = applied(record, "first=0.3 m").lines[0]
    length = record.floor.length.si
    assert ys[0] == pytest.approx(0.3) and length - ys[-1] >= 0.3 - 1e-9
    assert length - ys[-1] < 0.3 + spacing
    with pytest.raises(ChangeError, match="at most half the length"):
        applied(record, "first=20 m")


def test_heads_supply_and_run(record):
    made = applied(record, "wetted_diameter=6 m", "flow=55 L/h", "pipe=26.6 mm", "fed_from=middle",
                   "run_lines=in turn").site
    assert made.record.heads.wetted_diameter.si == pytest.approx(6.0)
    assert all(line.wetted_diameter is None and line.flow is None for line in made.record.lines)
    assert made.common("diameter") == pytest.approx(6.0) and made.common("flow") == pytest.approx(55 / 3.6e6)
    assert all(line.bore == pytest.approx(0.0266) and line.fed_from == "middle" for line in made.lines)
    assert made.in_turn


def test_what_the_record_has_not_cannot_be_changed():
    bare = parse_record(sample_text("bare"))
    with pytest.raises(ChangeError, match="without heads on lines"):
        applied(bare, "lines=3")
    plain = parse_record(sample_text("lines-too-far-apart").split("[supply]")[0])
    with pytest.raises(ChangeError, match="with .supply. filter"):
        applied(plain, "filter=clean")


def test_a_head_beyond_the_floor_is_no_change(record):
    with pytest.raises(ChangeError, match="at most 1000"):
        applied(record, "head_spacing=1 cm")
