"""The indices as public functions: what they take, and what they refuse in a sentence."""

import evenfall
import numpy as np
import pandas as pd
import pytest
from evenfall.cans.index_table import INDICES
from evenfall.cans.uniformity import indices

GRID = np.random.default_rng(5).gamma(20.0, 0.4, (6, 5))


@pytest.mark.parametrize("key", INDICES)
def test_every_index_of_the_table_is_a_function(key):
    function, weights = getattr(evenfall, key), np.linspace(1, 2, 30)
    assert function(GRID.ravel()) == getattr(indices(GRID.ravel()), key)
    assert function(GRID.ravel(), weights) == getattr(indices(GRID.ravel(), weights), key)
    assert key in dir(evenfall) and INDICES[key].source in function.__doc__


def test_axis_says_where_the_cans_of_a_test_lie():
    assert np.array_equal(evenfall.cu(GRID), indices(GRID).cu)
    assert np.array_equal(evenfall.cu(GRID, axis=0), indices(GRID.T).cu)
    assert evenfall.cu(GRID, axis=None) == indices(GRID.ravel()).cu
    weights = np.linspace(1, 2, 30).reshape(GRID.shape)
    assert np.array_equal(evenfall.cu(GRID, weights, axis=0), indices(GRID.T, weights.T).cu)
    assert evenfall.cu(GRID, weights, axis=None) == indices(GRID.ravel(), weights.ravel()).cu


def test_a_frame_is_never_read_by_rows_in_silence():
    frame = pd.DataFrame(GRID, columns=list("abcde"))
    with pytest.raises(ValueError, match="received a frame of 6 rows and 5 columns, expected an array or one column, "
                                         r"give frame\['NAME'\]"):
        evenfall.du_low_quarter(frame)
    found = evenfall.du_low_quarter(frame, axis=0)
    assert list(found.index) == list("abcde") and found.name == "du_low_quarter"
    assert found["c"] == evenfall.du_low_quarter(frame["c"]) == indices(GRID[:, 2]).du_low_quarter


def test_nan_is_refused_unless_it_is_asked_for():
    holes = GRID.ravel().copy()
    holes[[3, 7]] = np.nan
    with pytest.raises(ValueError, match="received 2 depths that are nan, expected a number for each can"):
        evenfall.cu(holes)
    assert evenfall.cu(holes, allow_nan=True) == pytest.approx(indices(np.delete(holes, [3, 7])).cu, rel=1e-12)
    with pytest.raises(ValueError, match="received 2 depths that are nan"):
        evenfall.cu(np.ma.masked_invalid(holes))  # what a mask hides is no reading, not what lies under it


@pytest.mark.parametrize(("depths", "says"), [
    (["a", "b"], "not all numbers"), ([[1, 2], [3]], "not all numbers or not of one shape"),
    ([1, -2, 3], "received -2 among the depths, expected 0 or more"), ([1, np.inf], "received inf among the depths"),
    (3.0, "received 3, expected the depths of several cans"), ([], "expected .* n > 0"),
])
def test_what_are_no_depths_is_refused(depths, says):
    with pytest.raises(ValueError, match=says):
        evenfall.cu(depths)


def test_weights_and_axes_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="received weights of shape"):
        evenfall.cu(GRID, np.ones(4))
    with pytest.raises(ValueError, match="received weights of shape"):
        evenfall.cu(GRID, np.ones(5), axis=None)
    with pytest.raises(ValueError, match="received axis=2"):
        evenfall.cu(GRID, axis=2)


def test_another_name_is_no_index():
    with pytest.raises(AttributeError, match="evenfall has no 'quality'"):
        _ = evenfall.quality
