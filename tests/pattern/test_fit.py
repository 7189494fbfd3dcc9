"""The non-negative minimum against a general solver, and properties of the estimate."""

import time

import numpy as np
import pytest
from evenfall.pattern import estimate, fit, overlap, simulate, spans
from evenfall.pattern.prior import KNOTS
from scipy.optimize import least_squares


def problem():
    rng = np.random.default_rng(3)
    heads = np.column_stack([np.repeat([2.0, 5.0], 30), np.tile(np.arange(30) * 0.76 + 0.5, 2)])
    cans = rng.uniform([0.0, 0.0], [7.0, 23.0], (72, 2))
    pairs = spans.spans(cans, heads, 2.6)
    phi = spans.profile_matrix(pairs, np.ones(60), 72)
    truth = np.maximum(1.0 - (KNOTS[:-1] / 0.8) ** 2, 0.0)  # zero inside the reach: bounds bind
    reading = phi @ truth * (1.0 + 0.04 * rng.standard_normal(72))
    sd = 0.04 * np.maximum(phi @ truth, 0.2)
    bend = np.diff(np.eye(phi.shape[1]), 2, axis=0) / 0.01
    return phi, reading, sd, bend, 0.05


def by_its_precision(phi, reading, sd, bend, smoothness):
    weighed = phi / sd[:, None]
    precision = weighed.T @ weighed + smoothness * (bend.T @ bend)
    target = np.linalg.solve(precision, weighed.T @ (reading / sd))
    return fit.nonnegative_minimum(np.linalg.cholesky(precision).T, target)


def by_least_squares(phi, reading, sd, bend, smoothness):
    def misfit(c):
        return np.concatenate([(phi @ c - reading) / sd, np.sqrt(smoothness) * (bend @ c)])
    return least_squares(misfit, np.full(phi.shape[1], 0.5), bounds=(0.0, np.inf), jac="2-point",
                         xtol=1e-15, ftol=1e-15, gtol=1e-12, max_nfev=500).x


def cost(c, phi, reading, sd, bend, smoothness):
    return (((phi @ c - reading) / sd) ** 2).sum() + smoothness * ((bend @ c) ** 2).sum()


def test_same_optimum_as_a_general_solver():
    case = problem()
    ours, theirs = by_its_precision(*case), by_least_squares(*case)
    assert (ours == 0.0).any()
    np.testing.assert_allclose(ours, theirs, atol=1e-5)
    assert cost(ours, *case) <= cost(theirs, *case) * (1.0 + 1e-6)
    assert cost(theirs, *case) <= cost(ours, *case) * (1.0 + 1e-6)


@pytest.mark.benchmark
def test_twenty_times_faster_than_a_general_solver():
    case = problem()

    def best_of(solver, times):
        taken = []
        for _ in range(times):
            start = time.perf_counter()
            solver(*case)
            taken.append(time.perf_counter() - start)
        return min(taken)

    assert best_of(by_its_precision, 20) * 20.0 < best_of(by_least_squares, 3)


def test_matrices_agree_with_the_overlap():
    rng = np.random.default_rng(1)
    heads, cans = rng.uniform(0.0, 8.0, (20, 2)), rng.uniform(0.0, 8.0, (30, 2))
    output, profile = rng.uniform(0.5, 1.2, 20), rng.uniform(0.0, 2.0, KNOTS.size - 1)
    pairs = spans.spans(cans, heads, 2.2)
    expected = overlap.rates_at(cans, heads, output, KNOTS * 2.2, np.append(profile, 0.0))
    np.testing.assert_allclose(spans.profile_matrix(pairs, output, 30) @ profile, expected, atol=1e-12)
    np.testing.assert_allclose(spans.output_matrix(pairs, profile, (30, 20)) @ output, expected, atol=1e-12)


def test_slope_agrees_with_differences():
    rng = np.random.default_rng(2)
    heads, cans = rng.uniform(0.0, 8.0, (20, 2)), rng.uniform(0.0, 8.0, (15, 2))
    profile = rng.uniform(0.0, 2.0, KNOTS.size - 1)
    slope = spans.gradient(spans.spans(cans, heads, 2.2), profile, np.ones(20), 15)
    table = (KNOTS * 2.2, np.append(profile, 0.0))
    for axis in (0, 1):
        step = np.eye(2)[axis] * 1e-7
        up, down = (overlap.rates_at(cans + s, heads, np.ones(20), *table) for s in (step, -step))
        np.testing.assert_allclose(slope[:, axis], (up - down) / 2e-7, atol=1e-5)


def run(tunnel, **changes):
    options = {"can_area_cm2": tunnel.can_area, "duration_min": tunnel.minutes, "draws": 60,
               "nominal_radius": tunnel.nominal_radius, "nominal_flow_l_h": tunnel.nominal_flow}
    return estimate.estimate(tunnel.heads, tunnel.line_of, tunnel.cans, changes.pop("depth", tunnel.depth),
                             overlap.floor_grid(tunnel.width, tunnel.length, 0.5), **{**options, **changes})


@pytest.fixture(scope="module")
def tunnel():
    return simulate.random_tunnel(np.random.default_rng(12), cans=72, weak=[])


@pytest.fixture(scope="module")
def found(tunnel):
    return run(tunnel)


def test_the_same_seed_gives_the_same_figures(tunnel, found):
    again = run(tunnel)
    assert again.cu == found.cu and again.du_low_quarter == found.du_low_quarter
    np.testing.assert_array_equal(again.draws, found.draws)


def test_nothing_is_negative(found):
    assert found.draws.min() >= 0.0 and found.output.min() >= 0.0
    assert found.profile.low.min() >= 0.0 and found.fitted.min() >= 0.0
    assert found.profile.rate[-1] == 0.0


def test_a_longer_run_changes_only_the_depth(tunnel, found):
    twice = run(tunnel, depth=2.0 * tunnel.depth, duration_min=2.0 * tunnel.minutes,
                reading_step_mm=20.0 / tunnel.can_area)
    assert twice.du_low_quarter.value == pytest.approx(found.du_low_quarter.value, abs=1e-6)
    assert twice.mean.value == pytest.approx(2.0 * found.mean.value, rel=1e-9)


def test_water_under_the_profile_closes(tunnel, found):
    shown = found.profile.flow
    assert shown.low <= overlap.volume(tunnel.radius, tunnel.rate) <= shown.high


def test_a_kicked_can_is_named_and_does_not_bend_the_map(tunnel, found):
    depth = tunnel.depth.copy()
    depth[30] *= 0.2
    kicked = run(tunnel, depth=depth)
    assert kicked.doubtful == (30,)
    assert kicked.suspects == ()
    assert kicked.du_low_quarter.value == pytest.approx(found.du_low_quarter.value, abs=1.5)


def test_a_blocked_head_is_named():
    blocked = simulate.random_tunnel(np.random.default_rng(14), shape="parabola", cans=90, weak=[0.0],
                                     layout="staggered")
    named = run(blocked).suspects
    assert len(named) == 1 and abs(named[0].head - blocked.weak[0]) <= 1
    assert named[0].output.low < 0.1 and named[0].output.high < 0.6


def test_heads_beyond_every_can_keep_their_share(tunnel):
    near = tunnel.cans[:, 1] < 0.5 * tunnel.length
    half = estimate.estimate(tunnel.heads, tunnel.line_of, tunnel.cans[near], tunnel.depth[near],
                             overlap.floor_grid(tunnel.width, tunnel.length, 0.5), draws=200,
                             can_area_cm2=tunnel.can_area, duration_min=tunnel.minutes)
    far = tunnel.heads[:, 1] > 0.5 * tunnel.length + 4.0
    assert half.silent[far].all()
    np.testing.assert_allclose(half.output[far], 1.0, atol=0.02)


def test_a_shift_by_draft_is_found():
    rng = np.random.default_rng(4)
    still = simulate.random_tunnel(rng, shape="parabola", cans=80, weak=[], layout="staggered")
    blown = still.heads + np.array([0.25, 0.1])
    depth = simulate.read_cans(still.cans, blown, still.output, still.radius, still.rate, rng,
                               minutes=still.minutes, area=still.can_area)
    np.testing.assert_allclose(run(still, depth=depth).shift, [0.25, 0.1], atol=0.06)
    assert not run(still).shift.any()


def test_a_blocked_head_does_not_hide_a_draft():
    rng = np.random.default_rng(9)
    site = simulate.SimulatedSite(7.0, 20.0, *simulate.lines_of_heads(7.0, 20.0, 2, 1.4))
    tunnel = simulate.tunnel_at(rng, site, simulate.can_places(7.0, 20.0, 70, "staggered"), shape="parabola",
                                throw=2.2, flow=50.0, weak=[0.0], upsets=simulate.Upsets(drift=0.25))
    found = run(tunnel)
    np.testing.assert_allclose(found.shift, tunnel.blown[0] - tunnel.heads[0], atol=0.08)
    assert any(abs(suspect.head - tunnel.weak[0]) <= 1 for suspect in found.suspects)
    assert abs(found.du_low_quarter.value - tunnel.truth.du_low_quarter) < 4.0


def test_evidence_counts_less_where_the_model_fits_badly(tunnel, found):
    rng = np.random.default_rng(8)
    torn = run(tunnel, depth=tunnel.depth * np.exp(rng.normal(0.0, 0.35, len(tunnel.depth))))
    def width(one):
        return one.du_low_quarter.high - one.du_low_quarter.low
    assert width(torn) > 2.0 * width(found)


@pytest.mark.parametrize("spoil, text", [
    (lambda a: a.update(depth=a["depth"][:-1]), "72 cans and 71 depths|cans and .* depths, expected as many"),
    (lambda a: a.update(depth=a["depth"] * 0.0), "missing, negative or all zero"),
    (lambda a: a.update(line_of=a["line_of"][1:]), "line numbers, expected as many"),
    (lambda a: a.update(duration_min=0.0), "run of 0.0 min, expected at least one place and a time"),
])
def test_faults_are_said_in_one_sentence(tunnel, spoil, text):
    given = {"heads_xy": tunnel.heads, "line_of": tunnel.line_of, "cans_xy": tunnel.cans,
             "depth": tunnel.depth, "floor_points": np.array([[1.0, 1.0]]), "can_area_cm2": 55.0,
             "duration_min": 30.0}
    spoil(given)
    with pytest.raises(ValueError, match=text):
        estimate.estimate(**given)
