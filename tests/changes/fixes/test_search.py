"""The search for fixes: its point predictions, and that a change is not lost by them."""

import numpy as np
import pytest
from evenfall.changes.change import read_changes
from evenfall.changes.fixes.candidates import deeper, line_sets, singles, together
from evenfall.changes.fixes.first import at_fault
from evenfall.changes.fixes.judge import FEW, baseline_of, pointed, sharper, weigh
from evenfall.changes.fixes.search import LEAST_GAIN, SLACK, find_fixes, hopeful
from evenfall.pattern import overlap
from evenfall.pattern.floor import TABLE_STEP, pairs_within, rates
from evenfall.pattern.many import SHARED, point_figures, point_rates
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.assessment import assess


@pytest.fixture(scope="module", params=["blocked-head", "lines-too-far-apart", "commissioning"])
def searched(request):
    """A test, its single changes, its pairs and threes, with point predictions."""
    record = parse_record(sample_text(request.param))
    floor = assess(record).floor
    site = site_of(record)
    baseline = baseline_of(site, floor)

    def of(wanted):
        return pointed(baseline, weigh(baseline, [read_changes(items) for items in wanted]))

    first = at_fault(baseline)
    assert bool(first) == bool(baseline.suspects)
    keys = [item.split("=")[0] for item in first]
    alone = of([first + items for items in singles(site, floor.estimate.profile.throw.value, baseline.water)])
    mended = of([first])[0] if first else None
    point = mended.point if mended else baseline.point
    pairs = of(together(alone, point, keys))
    return floor, baseline, mended, alone, pairs, of(deeper(pairs, alone, point, keys))


def test_changes_are_tried_three_deep(searched):
    _, _, mended, alone, pairs, threes = searched
    fault = 0 if mended is None else 1  # what is at fault is mended with each of them
    assert {len(one.change.texts) - fault for one in alone} == {1}
    assert {len(one.change.texts) - fault for one in pairs} == {2}
    assert {len(one.change.texts) - fault for one in threes} == {3}
    keys = {key for one in alone for key in one.change.texts}
    assert keys >= {"add_between", "add_at_ends", "pressure", "hose", "hose_length", "pipe", "fed_from", "flow",
                    "wetted_diameter", "run_lines"}


def test_point_predictions_are_near_those_with_draws(searched):
    _, baseline, _, alone, _, _ = searched
    now = baseline.now.du_low_quarter.value
    off = [one.point - baseline.point - (sharper(baseline, one, FEW).prediction.du_low_quarter.value - now)
           for one in alone]
    print(f"\npoint predictions of a gain: median error {np.median(np.abs(off)):.2f}, "
          f"largest {np.abs(off).max():.2f} points")
    assert np.median(np.abs(off)) <= 0.5 and np.abs(off).max() <= SLACK[0]


def test_no_change_is_lost_by_its_point_prediction(searched):
    """What all changes, predicted with draws, would offer is what the search offers."""
    floor, baseline, mended, alone, pairs, threes = searched
    now = baseline.now.du_low_quarter.value if mended is None else sharper(
        baseline, mended).prediction.du_low_quarter.value
    point = baseline.point if mended is None else mended.point
    every = sorted((sharper(baseline, one, FEW) for one in alone + pairs + threes),
                   key=lambda one: (one.work, -one.prediction.du_low_quarter.value))
    best, offered = 0.0, []
    for one in every:
        gain = one.prediction.du_low_quarter.value - now
        if one.feasible is not False and gain >= LEAST_GAIN and gain > best + 1.0:
            offered.append(one.change.texts)
            best = gain
    kept = [one.change.texts for one in hopeful(alone + pairs + threes, point)]
    assert offered and all(texts in kept for texts in offered)
    found = [fix.change for fix in find_fixes(baseline.site, floor) if fix.feasible is not False]
    if mended is not None:
        assert found.pop(0) == mended.change.texts
    assert found[-1] == offered[-1] and all(texts in offered for texts in found)


def test_lines_only_where_they_can_be_carried():
    record = parse_record(sample_text("lines-too-far-apart"))
    sets = line_sets(site_of(record))
    carriers = site_of(record).hangs_at
    assert sets and all(min(abs(x - place) for place in carriers) < 0.02 for places in sets for x in places)


def test_lines_anywhere_where_nobody_says_where_they_can_be_carried():
    record = parse_record(sample_text("lines-too-far-apart"))
    bare = site_of(record.model_copy(update={"floor": record.floor.model_copy(update={"hangs_at": None})}))
    sets = line_sets(bare, "US")
    assert {len(places) for places in sets} == {2, 3, 4}
    today = [line.x for line in bare.lines]
    assert any(set(today) < set(places) for places in sets)  # lines that hang may stay
    for places in sets:
        assert places == sorted(places) and places[0] > 0 and places[-1] < bare.width
        assert all(x in today or x / 0.1524 == pytest.approx(round(x / 0.1524)) for x in places)  # half feet


def test_candidates_side_by_side_are_the_same_as_alone():
    rng = np.random.default_rng(1)
    places = overlap.floor_grid(6.0, 15.0, 0.3)
    heads = np.column_stack([np.repeat([1.5, 4.5], 12), np.tile(np.linspace(1, 14, 12), 2)])
    table = np.maximum(1.0 - np.arange(0.0, 2.2 + TABLE_STEP, TABLE_STEP) / 2.2, 0.0)
    output, stretch = rng.uniform(0.5, 1.2, (150, 24)), rng.uniform(0.8, 1.2, (150, 24))
    stretch[:50], stretch[50] = 1.0, 1.6
    found = point_rates(places, table, heads, output, stretch)
    pairs = pairs_within(places, heads, 2.2 * 1.6)
    alone = np.vstack([rates(pairs, table[None], one[None], wide[None])
                       for one, wide in zip(output, stretch, strict=True)])
    np.testing.assert_allclose(found, alone, atol=0.012 * alone.max())
    np.testing.assert_allclose(found[:50], alone[:50], rtol=1e-5, atol=1e-6)
    together = point_figures(places, table, [heads] * 150, list(output), list(stretch))
    for number in (0, 50, 149):
        one = point_figures(places, table, [heads], [output[number]], [stretch[number]])
        assert together.du_low_quarter[number] == pytest.approx(one.du_low_quarter[0], abs=0.1)
        assert together.cu[number] == pytest.approx(one.cu[0], abs=0.1)
    assert len(output) >= SHARED


def test_pairs_are_the_same_in_any_order_of_the_places():
    rng = np.random.default_rng(2)
    places, heads = rng.uniform(0, 10, (400, 2)), rng.uniform(0, 10, (30, 2))
    apart = overlap.distances(places, heads)
    found = pairs_within(places, heads, 2.0)
    assert set(zip(found.place, found.head, strict=True)) == set(zip(*np.nonzero(apart < 2.0), strict=True))
    np.testing.assert_allclose(found.apart, apart[found.place, found.head])
