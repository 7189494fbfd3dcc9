"""Several kinds of heads in one zone: exact cases of overlap, and simulated tunnels whose record declares them."""

from dataclasses import replace

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.pattern import overlap
from evenfall.pattern.floor import TABLE_STEP, pairs_within, rates
from evenfall.pattern.kinds import FLOW_SD, STRETCH_SD, STRETCH_SD_FREE, kinds_of
from evenfall.pattern.many import SHARED, point_figures, point_rates
from evenfall.pattern.prior import KNOTS
from evenfall.pattern.spans import output_matrix, spans
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record, plain_text
from evenfall.record.site import site_of

from ..families.tunnels import low_quarter, moved, read, record_text, sound

RADIUS = np.arange(0.0, 2.5, TABLE_STEP)
RATE = np.clip(1.0 - RADIUS / 2.4, 0.0, None)
FULL = 2 * np.pi


def throws(*each):
    """Throws of heads from (stretch, strength, facing, arc) of each."""
    return overlap.Throws(*(np.array(values, float) for values in zip(*each, strict=True)))


def around(head, throw, step=0.02):
    """Places of a fine grid around a head, and the area of one."""
    side = np.arange(-throw, throw, step) + step / 2
    return head + np.column_stack([np.tile(side, len(side)), np.repeat(side, len(side))]), step**2


@pytest.mark.parametrize("kind", [(1, 1, 0.3, np.pi), (1, 1, -2.0, np.pi / 2), (1.3, 1, 0.7, 1.8),
                                  (0.8, 1.4, np.nan, FULL), (1.2, 0.6, 4.0, 1.5 * np.pi)])
def test_the_water_of_a_head_falls_in_its_arc_and_none_is_lost(kind):
    head, own = np.array([[3.0, 4.0]]), throws(kind)
    places, area = around(head[0], 2.5 * kind[0])
    rate = overlap.rates_at(places, head, np.ones(1), RADIUS, RATE, own)
    assert rate.sum() * area == pytest.approx(kind[1] * overlap.volume(RADIUS, RATE), rel=2e-3)
    apart = places - head[0]
    off = np.abs((np.arctan2(apart[:, 1], apart[:, 0]) - np.nan_to_num(kind[2]) + np.pi) % FULL - np.pi)
    if kind[3] < FULL:
        assert rate[off > kind[3] / 2 + 1e-6].max() == 0


@pytest.mark.parametrize("facing", [0.0, np.pi / 2, 1.1])
def test_two_half_circles_that_mirror_each_other_are_a_full_circle(facing):
    head = np.array([[3.0, 4.0], [3.0, 4.0]])
    places = np.vstack([around(head[0], 2.5, 0.11)[0], head[:1] + [[0.0, 1.0], [1.0, 0.0], [0.0, -0.7], [0.0, 0.0]]])
    halves = overlap.rates_at(places, head, np.array([0.5, 0.5]), RADIUS, RATE,
                              throws((1, 1, facing, np.pi), (1, 1, facing + np.pi, np.pi)))
    full = overlap.rates_at(places, head[:1], np.ones(1), RADIUS, RATE)
    within = np.hypot(*(places - head[0]).T) > 1e-9  # over the head itself both arcs begin
    np.testing.assert_allclose(halves[within], full[within], rtol=1e-9, atol=1e-12)


def scattered(rng, count):
    heads = rng.uniform(0, 8, (count, 2))
    kind = throws(*((rng.uniform(0.7, 1.4), rng.uniform(0.6, 1.5), *((np.nan, FULL) if rng.random() < 0.3 else (
        rng.uniform(-4, 4), rng.uniform(1, 6)))) for _ in range(count)))
    return heads, rng.uniform(0.2, 1.5, count), kind


def test_every_way_to_sum_the_heads_agrees():
    rng = np.random.default_rng(3)
    heads, output, kind = scattered(rng, 25)
    places = rng.uniform(0, 8, (300, 2))
    expected = overlap.rates_at(places, heads, output, RADIUS, RATE, kind)
    pairs = pairs_within(places, heads, 2.5 * kind.stretch.max(), kind)
    strong = (output * kind.denser)[None]
    np.testing.assert_allclose(rates(pairs, RATE[None], strong, kind.stretch[None])[0], expected, atol=0.02)
    for many in (1, SHARED + 1):
        each = (np.repeat(values, many, 0) for values in (strong, kind.stretch[None]))
        found = point_rates(places, RATE, heads, *each, kind)
        np.testing.assert_allclose(found[0], expected, atol=0.03)
    close = spans(places, heads, 2.4, stretch=kind.stretch, facing=kind.facing, arc=kind.arc, strength=kind.strength)
    knots = np.clip(1.0 - KNOTS[:-1], 0, None)
    np.testing.assert_allclose(output_matrix(close, knots, (300, 25)) @ output, expected, atol=0.02)


def test_candidates_of_other_arcs_are_not_taken_for_one():
    heads, places = np.array([[2.0, 2.0], [2.0, 4.0]]), overlap.floor_grid(4.0, 6.0, 0.1)
    one, other = throws((1, 1, 0, np.pi), (1, 1, 0, np.pi)), throws((1, 1, np.pi / 2, np.pi), (1, 1, 0, np.pi))
    both = point_figures(places, RATE, [heads] * 2, [np.ones(2)] * 2, [np.ones(2)] * 2, None, [one, other])
    alone = [point_figures(places, RATE, [heads], [np.ones(2)], [np.ones(2)], None, [each]) for each in (one, other)]
    assert both.cu.tolist() == pytest.approx([each.cu[0] for each in alone])
    assert abs(both.cu[0] - both.cu[1]) > 1


# --- from the record ------------------------------------------------------------------------------


def declared(tunnel, rng, change, other=()):
    """A site and its catch from a tunnel whose record is changed by a function of it."""
    readings = read(tunnel, rng)
    record = record_text(tunnel, readings)
    change(record)
    if other:
        record["other_heads"] = list(other)
    site = site_of(parse_record(plain_text(record)))
    return site, read_catch(site)


def test_heads_that_are_all_alike_are_no_kinds():
    rng = np.random.default_rng(1)
    site, _ = declared(sound(rng), rng, lambda record: None)
    assert kinds_of(site.heads) is None


def test_a_kind_is_what_differs_in_size_height_or_arc_not_where_it_faces():
    rng = np.random.default_rng(2)

    def change(record):
        record["lines"][0] |= {"arc": "180 deg", "faces": "right"}
        record["lines"][1] |= {"arc": "180 deg", "faces": "left"}
    site, _ = declared(sound(rng, lines=2), rng, change,
                       [{"line": "left", "heads": [2], "flow": "12 L/h"},
                        {"line": "left", "heads": [3], "height": "1 m"}])
    of_kinds = kinds_of(site.heads)
    assert site.heads.kind.max() == 2 and (site.heads.kind == 0).sum() == len(site.heads) - 2
    assert of_kinds.strength_sd.tolist() == [0, FLOW_SD, FLOW_SD]
    assert set(of_kinds.stretch_sd.tolist()) <= {0.0, STRETCH_SD, STRETCH_SD_FREE}
    np.testing.assert_allclose(np.cos(site.heads.facing), np.where(site.heads.line == 0, 1, -1), atol=1e-12)
    flow = float(site.record.heads.flow.to("L/h"))
    assert of_kinds.throws.strength[1] == pytest.approx(12 / flow)


def ends_of_another_kind(seed):
    """A tunnel in which every third head is of another kind, and every line beside a wall throws half circles."""
    rng = np.random.default_rng([seed, 7])
    tunnel = sound(rng, lines=3, curve=str(rng.choice(["cone", "plateau", "bell"])))
    wide, strong = rng.uniform(0.65, 0.8), rng.uniform(0.5, 0.7)
    place = {0: 0.5, 2: round(tunnel.width - 0.5, 2)}
    odd = {id(head) for number, head in enumerate(tunnel.heads) if number % 3 == 1}

    def hung(head):
        made = replace(head, flow=head.flow * strong, reach=head.reach * wide) if id(head) in odd else head
        if head.line == 1:
            return made
        return replace(made, x=place[head.line], arc=180.0, faces=0.0 if head.line == 0 else 180.0)

    count = sum(head.line == 0 for head in tunnel.heads)
    flow, size = (float(tunnel.record["heads"][key].split()[0]) for key in ("flow", "wetted_diameter"))
    other = [{"line": line["name"], "heads": [k + 1 for k in range(count) if (n * count + k) % 3 == 1],
              "flow": f"{flow * strong:.1f} L/h", "wetted_diameter": f"{size * wide:.2f} m"}
             for n, line in enumerate(tunnel.record["lines"])]

    def change(record):
        for line, x, way in ((0, place[0], "right"), (2, place[2], "left")):
            record["lines"][line] |= {"x": f"{x:.2f} m", "arc": "180 deg", "faces": way}
    true = moved(tunnel, hung)
    return true, *declared(true, rng, change, other)


def fine(tunnel):
    """DUlq of the true floor on a raster that no edge of an arc falls in step with."""
    x, y = (np.arange(0.013, size, 0.041) for size in (tunnel.width, tunnel.length))
    return low_quarter(tunnel.depth(*np.meshgrid(x, y)).ravel())


@pytest.mark.long
def test_declared_kinds_and_half_circles_are_estimated():
    """Heads of two kinds mixed on each line, half circles at the walls."""
    off, held = [], 0
    for seed in range(8):
        tunnel, site, catch = ends_of_another_kind(seed)
        found, truth = estimate_floor(site, catch).estimate.du_low_quarter, fine(tunnel)
        off.append(found.value - truth)
        held += found.low <= truth <= found.high
    assert np.sqrt(np.mean(np.square(off))) < 6 and held >= 6


def test_a_kind_whose_throw_is_not_known_is_found_by_the_cans():
    rng = np.random.default_rng(11)
    tunnel = sound(rng, lines=2, curve="bell", columns=8, rows=12)
    true = moved(tunnel, lambda head: replace(head, reach=head.reach * 0.75) if head.line else head)

    def change(record):
        record["lines"][1]["flow"] = f"{1.02 * float(record['heads']['flow'].split()[0]):.1f} L/h"
    site, catch = declared(true, rng, change)
    samples = estimate_floor(site, catch).estimate.samples
    wide = samples.stretch.mean(axis=0)[site.heads.line == 1].mean() / samples.stretch.mean(axis=0)[
        site.heads.line == 0].mean()
    assert wide == pytest.approx(0.75, abs=0.1)
