"""The depth map from the cans: its choice by left-out cans, its limits, and the closed forms behind it."""

import numpy as np
import pytest
from evenfall.cans import surface as rooms
from evenfall.cans.surface import Hull, fit_surface, map_axes
from scipy.interpolate import LinearNDInterpolator, RBFInterpolator


def cans(count=60, seed=0):
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0.3, 6.7, count), rng.uniform(0.5, 19.5, count)
    return x, y, 6 + 2 * np.sin(x) + np.cos(y / 2) + rng.normal(0, 0.2, count)


def brute(name, x, y, depth, leave):
    """The value for can `leave` from a fit to all others, by scipy alone."""
    keep = np.arange(len(x)) != leave
    places, others = np.column_stack([x, y]), np.column_stack([x, y])[keep]
    at = places[leave]
    if leave in {int(np.flatnonzero((places == corner).all(1))[0]) for corner in Hull(places).corners}:
        at = Hull(others).nearest(at[None])[0]
    if name == "triangles":
        return float(LinearNDInterpolator(others, depth[keep])(at[None])[0])
    kernel, degree, smooth = rooms._KERNELS[name]
    scale = np.ptp(places, axis=0).max()
    fit = RBFInterpolator(others / scale, depth[keep], kernel=kernel, degree=degree, smoothing=smooth * len(places))
    return float(fit(at[None] / scale)[0])


@pytest.mark.parametrize("name", ["thin plate", "smoothed thin plate", "cubic", "linear kernel", "triangles"])
def test_left_out_cans_in_closed_form_are_left_out_cans(name):
    # Rippa 1999, Advances in Computational Mathematics 11:193-210, is the closed form; scipy fits to the rest.
    x, y, depth = cans(30)
    places = np.column_stack([x, y])
    order = np.lexsort((places[:, 1], places[:, 0]))
    places, depth = places[order], depth[order]
    hull = Hull(places)
    method = rooms._methods(places, depth, hull)[name]
    found = method.left_out(rooms._left_out_places(places, hull))
    for leave in range(30):
        wanted = brute(name, places[:, 0], places[:, 1], depth, leave)
        if not np.isnan(wanted):
            assert found[leave] == pytest.approx(wanted, abs=1e-6), leave


def test_the_best_of_at_least_three_methods_is_drawn():
    x, y, depth = cans()
    drawn = fit_surface(x, y, depth, 7, 20)
    assert len(drawn.errors_mm) >= 3
    assert drawn.error_mm == min(drawn.errors_mm.values()) == drawn.errors_mm[drawn.method]


def test_it_passes_near_the_cans_and_predicts_between_them():
    x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(0.5, 6.5, 8), np.linspace(0.5, 19.5, 16)))
    depth = 6 + 2 * np.sin(x) + np.cos(y / 2)
    drawn = fit_surface(x, y, depth, 7, 20)
    truth = 6 + 2 * np.sin(drawn.x)[None, :] + np.cos(drawn.y / 2)[:, None]
    assert np.abs(drawn.depth_mm - truth)[drawn.inside].max() < 0.15
    assert drawn.error_mm < 0.25


def test_never_negative():
    x, y, _ = cans()
    depth = np.where(x < 2, 0.0, 20.0)
    assert fit_surface(x, y, depth, 7, 20).depth_mm.min() == 0


def test_beyond_the_cans_is_marked_and_repeats_the_nearest_ground():
    x, y = (axis.ravel() for axis in np.meshgrid([2.0, 3.5, 5.0], [5.0, 10.0, 15.0]))
    drawn = fit_surface(x, y, x, 7, 20)
    middle = np.argmin(abs(drawn.y - 10))
    assert not drawn.inside[middle, 0] and drawn.inside[middle, drawn.inside.shape[1] // 2]
    assert drawn.depth_mm[middle, 0] == pytest.approx(2.0, abs=0.05)
    assert drawn.inside.mean() == pytest.approx(3 * 10 / (7 * 20), abs=0.02)


def test_one_row_of_cans_is_a_map_too():
    drawn = fit_surface(np.linspace(0.5, 6.5, 7), np.full(7, 10.0), np.linspace(1, 7, 7), 7, 20)
    assert np.isfinite(drawn.depth_mm).all() and not drawn.inside.any()
    assert drawn.depth_mm[5, 0] < drawn.depth_mm[5, -1]


def test_scaling_the_depths_scales_the_map():
    x, y, depth = cans()
    one, ten = fit_surface(x, y, depth, 7, 20), fit_surface(x, y, 10 * depth, 7, 20)
    assert ten.method == one.method
    assert ten.depth_mm == pytest.approx(10 * one.depth_mm, abs=1e-6)


def test_cans_at_one_place_are_averaged():
    x, y, depth = cans(20)
    both = fit_surface(np.append(x, x[0]), np.append(y, y[0]), np.append(depth, depth[0] + 2), 7, 20)
    mean = fit_surface(x, y, np.append(depth[0] + 1, depth[1:]), 7, 20)
    assert both.depth_mm == pytest.approx(mean.depth_mm, abs=1e-6)


def test_cells_are_nearly_square_and_cover_the_floor():
    x, y = map_axes(7, 20, 7500)
    assert (x[1] - x[0]) == pytest.approx(y[1] - y[0], rel=0.05)
    assert x[0] + x[-1] == pytest.approx(7) and y[0] + y[-1] == pytest.approx(20)


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize(("x", "y"), [([1, 2, 1], [1, 1, 2]), ([1, 2, 3, 1], [1, 1, 1, 2]),
                                      ([1, 2, 3, 4, 2], [1, 1, 1, 1, 3])])
def test_cans_in_a_line_but_for_one(x, y):
    # Without that one no plane is known: such a method is out of the running, and says no warning.
    drawn = fit_surface(np.array(x, float), np.array(y, float), np.arange(1.0, len(x) + 1), 6, 12)
    assert np.isfinite(drawn.depth_mm).all() and np.isfinite(list(drawn.errors_mm.values())).all()
    assert drawn.method in drawn.errors_mm and "thin plate" not in drawn.errors_mm


def test_too_few_places():
    with pytest.raises(ValueError, match="received cans at 2 places, expected at least three, add cans"):
        fit_surface([1, 2, 1], [1, 2, 1], [1, 2, 3], 7, 20)
