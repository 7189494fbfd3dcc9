"""Predictions of a change, against the truth of simulated tunnels."""

import numpy as np
import pytest
from evenfall.changes.change import changed_site, read_changes
from evenfall.changes.predict import changed_layout, predicted, today_of
from evenfall.pattern import estimate, overlap, simulate
from evenfall.pattern.changed import layout_today, mended, moved
from evenfall.pattern.floor import TABLE_STEP, pairs_within, rates
from evenfall.record.file import parse_record
from evenfall.record.ground import Ground
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.assessment import assess

from ..pattern.table import SHAPES

EACH = 19


@pytest.fixture(scope="module")
def assessed():
    record = parse_record(sample_text("lines-too-far-apart"))
    return site_of(record), assess(record).floor


def layout(site, floor, *items):
    changed = changed_site(site, read_changes(list(items)))
    today = today_of(floor, site)
    names = [line.name for line in sorted(site.lines, key=lambda line: line.x)]
    return changed_layout(today, changed, [], names, floor.estimate.shift, np.random.default_rng(0))


def test_no_change_changes_nothing(assessed):
    site, floor = assessed
    same = predicted(floor.estimate, floor.cells, today_of(floor, site))
    assert same.du_low_quarter.value == pytest.approx(floor.estimate.du_low_quarter.value, abs=0.05)
    assert same.cu.value == pytest.approx(floor.estimate.cu.value, abs=0.05)


def test_a_third_line_waters_the_dry_strip(assessed):
    site, floor = assessed
    found = predicted(floor.estimate, floor.cells, layout(site, floor, "lines=3"))
    assert found.du_low_quarter.low > floor.estimate.du_low_quarter.high + 20
    assert found.rate_mm_h.value == pytest.approx(1.5 * predicted(
        floor.estimate, floor.cells, today_of(floor, site)).rate_mm_h.value, rel=0.08)


def test_more_flow_scales_the_rate_and_not_the_evenness(assessed):
    site, floor = assessed
    today, found = today_of(floor, site), (floor.estimate, floor.cells)
    one, two = predicted(*found, today), predicted(*found, today, flow=2.0)
    assert two.rate_mm_h.value == pytest.approx(2 * one.rate_mm_h.value)
    assert two.du_low_quarter.value == pytest.approx(one.du_low_quarter.value)


def test_ground_narrower_than_a_cell_counts_by_its_own_area(assessed):
    """A prediction for a narrow bed is that of the places in it, not that of the floor around it."""
    site, floor = assessed
    narrow = Ground(site.width, site.length, ((3.0, 3.16, 0.0, site.length), (5.0, 6.0, 0.0, 4.0)))
    today = today_of(floor, site)
    coarse, fine = (predicted(floor.estimate, narrow.grid(step), today) for step in (0.3, 0.05))
    whole = predicted(floor.estimate, floor.cells, today)
    assert coarse.du_low_quarter.value == pytest.approx(fine.du_low_quarter.value, abs=1.5)
    assert coarse.rate_mm_h.value == pytest.approx(fine.rate_mm_h.value, rel=0.02)
    assert coarse.cu.value == pytest.approx(fine.cu.value, abs=1.0) and fine.cu.value > whole.cu.value + 8


def test_a_wider_pattern_holds_the_same_water():
    radius = np.arange(0.0, 3.0 + TABLE_STEP, TABLE_STEP)
    rate = np.maximum(1.0 - radius / 2.5, 0.0)[None, :]
    places = overlap.floor_grid(20.0, 20.0, 0.05)
    pairs = pairs_within(places, np.array([[10.0, 10.0]]), 6.0)
    one, two = (rates(pairs, rate, np.ones((1, 1)), np.full((1, 1), wide))[0] for wide in (1.0, 1.7))
    assert two.sum() == pytest.approx(one.sum(), rel=2e-3)
    throw = overlap.distances(places, np.array([[10.0, 10.0]]))[:, 0]
    assert throw[two > 0].max() == pytest.approx(1.7 * 2.5, abs=0.06)


def tried(number):
    """One simulated tunnel: (truth, prediction) after one more line, closer heads, and mended heads."""
    rng = np.random.default_rng(710_000 + number)
    tunnel = simulate.random_tunnel(rng, shape=SHAPES[number % len(SHAPES)], cans=int(rng.integers(36, 96)))
    ground = Ground(tunnel.width, tunnel.length, ((0.0, tunnel.width, 0.0, tunnel.length),)).grid(0.35)
    found = estimate.estimate(
        tunnel.heads, tunnel.line_of, tunnel.cans, tunnel.depth, ground.places, can_area_cm2=tunnel.can_area,
        duration_min=tunnel.minutes, nominal_radius=tunnel.nominal_radius, nominal_flow_l_h=tunnel.nominal_flow)
    today = layout_today(found.samples, tunnel.heads + found.shift, tunnel.line_of)
    lines = int(tunnel.line_of.max()) + 1
    along = [tunnel.heads[tunnel.line_of == line, 1] for line in range(lines)]
    across = [tunnel.heads[tunnel.line_of == line][0, 0] for line in range(lines)]
    more = [(line if line < lines else -lines, (line + 0.5) * tunnel.width / (lines + 1), along[min(line, lines - 1)])
            for line in range(lines + 1)]
    close = [(line, across[line], np.sort(np.append(along[line], 0.5 * (along[line][1:] + along[line][:-1]))))
             for line in range(lines)]
    same = [(line, across[line], along[line]) for line in range(lines)]
    named = [suspect.head for suspect in found.suspects]
    for name, plan, mend in (("one more line", more, []), ("closer heads", close, []), ("mended", same, named)):
        if name == "mended" and not named:
            continue
        new = moved(today, plan, np.random.default_rng(1))
        new = mended(new, [k for k, was in enumerate(new.was) if was in mend], np.random.default_rng(2))
        yield name, truth(tunnel, plan, mend, rng), predicted(found, ground, new)


def truth(tunnel, plan, mend, rng, wider=1.0):
    """True DUlq [%] after a change: heads that stay keep their output, others are sound."""
    heads, output = [], []
    for like, x, ys in plan:
        on = np.flatnonzero(tunnel.line_of == (like if like >= 0 else -1 - like))
        here = np.interp(ys, tunnel.heads[on, 1], tunnel.share[on]) * (1 + 0.05 * rng.standard_normal(len(ys)))
        if like >= 0:
            for k, y in enumerate(ys):
                same = on[np.abs(tunnel.heads[on, 1] - y) < 0.01]
                if len(same) and same[0] not in mend:
                    here[k] = tunnel.output[same[0]]
        heads.append(np.column_stack([np.full(len(ys), x), ys]))
        output.append(here)
    fine = overlap.floor_grid(tunnel.width, tunnel.length, 0.15)
    return float(overlap.low_quarter(overlap.rates_at(fine, np.vstack(heads), np.concatenate(output),
                                                      tunnel.radius * wider, tunnel.rate)))


@pytest.mark.long
def test_predictions_hold_on_simulated_tunnels():
    found = [one for number in range(EACH) for one in tried(number)]
    for name in ("one more line", "closer heads", "mended"):
        mine = [(true, got.du_low_quarter) for kind, true, got in found if kind == name]
        off = np.array([got.value - true for true, got in mine])
        held = np.mean([got.low <= true <= got.high for true, got in mine])
        print(f"\n{name}: {len(mine)} tunnels, median error of DUlq {np.median(np.abs(off)):.1f} points, "
              f"interval held {100 * held:.0f} of 100", end="")
        assert np.median(np.abs(off)) <= 3.0
        assert held >= 0.8
