"""The indices of the table as public functions: `evenfall.cu(depths)` and its like."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np

from ..cans.index_table import INDICES, Index
from .arrays import is_frame, numbers

_CONTRACT = """{name}: {says}.

    Parameters
    ----------
    depths : array (..., n) [mm]
        What the cans of each test caught; any unit of depth serves. Leading axes are a batch of tests.
    weights : array (..., n) or (n,) [1], optional
        Ground that each can stands for; equal if left out.
    axis : int or None
        Along which the cans of a test lie; None where all of the array is one test, such as a grid of cans.
    allow_nan : bool
        Whether nan stands for a can without a reading, which is left out; else it is refused.

    Returns
    -------
    float or array (...) [{unit}]
        One for each test; a Series for a frame with ``axis=0``; nan where the mean is 0.

    Raises
    ------
    ValueError
        For a frame without ``axis=0``, nan that was not asked for, depths below zero, or weights that do not fit.

    Notes
    -----
    {source}.
    """


def index_function(key: str) -> Callable[..., Any]:
    """Make the public function of an index.

    Parameters
    ----------
    key : str
        Of `cans.index_table.INDICES`.

    Returns
    -------
    callable
        ``(depths, weights=None, axis=-1, *, allow_nan=False)``.

    Raises
    ------
    KeyError
        Where the table has no such index.
    """
    return _function(INDICES[key])


@lru_cache(maxsize=64)
def _function(index: Index) -> Callable[..., Any]:
    def function(depths: Any, weights: Any = None, axis: int | None = -1, *, allow_nan: bool = False) -> Any:
        if is_frame(depths):
            return _by_column(index, depths, weights, axis, allow_nan)
        return _of_array(index, depths, weights, axis, allow_nan)

    function.__name__ = function.__qualname__ = index.key
    function.__module__ = "evenfall"
    function.__doc__ = _CONTRACT.format(name=index.name, says=index.says, unit=index.unit or "1", source=index.source)
    return function


def _of_array(index: Index, depths: Any, weights: Any, axis: int | None, allow_nan: bool) -> Any:
    depth = numbers(depths, "depths", allow_nan=allow_nan)
    weight = None if weights is None else np.asarray(weights, float)
    if axis is None:
        if weight is not None and weight.shape not in (depth.shape, (depth.size,)):
            raise ValueError(f"received weights of shape {weight.shape}, expected {depth.shape}, give one weight for "
                             "each can")
        return index.function(depth.ravel(), None if weight is None else weight.ravel())
    if not depth.ndim:
        raise ValueError(f"received {depth:g}, expected the depths of several cans, give an array")
    if not -depth.ndim <= axis < depth.ndim:
        raise ValueError(f"received axis={axis} for depths of shape {depth.shape}, expected one of its axes, "
                         "correct it")
    if weight is not None and weight.ndim == depth.ndim > 1:
        weight = np.moveaxis(weight, axis, -1)
    return index.function(np.moveaxis(depth, axis, -1), weight)


def _by_column(index: Index, frame: Any, weights: Any, axis: int | None, allow_nan: bool) -> Any:
    """A frame is read by columns, and only where that was asked for: a row of a frame is seldom a test."""
    if axis != 0:
        raise ValueError(
            f"received a frame of {len(frame)} rows and {len(frame.columns)} columns, expected an array or one column, "
            "give frame['NAME'] for one test, axis=0 where each column is a test, or frame.to_numpy() with axis=None "
            "where all of it is one grid of cans")
    values = _of_array(index, frame.to_numpy(), weights.to_numpy() if is_frame(weights) else weights, 0, allow_nan)
    if not type(frame).__module__.startswith("pandas"):
        return values
    import pandas as pd

    return pd.Series(values, index=frame.columns, name=index.key)
