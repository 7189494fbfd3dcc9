"""Numbers as they come from outside, checked once: arrays, columns of frames, quantities."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def is_frame(values: Any) -> bool:
    """Tell whether something is a table with named columns, of whatever library.

    Parameters
    ----------
    values : object
        Anything.

    Returns
    -------
    bool
    """
    return hasattr(values, "columns") and hasattr(values, "to_numpy")


def numbers(values: Any, what: str, *, allow_nan: bool) -> Array:
    """Read an array of numbers that are 0 or more.

    Parameters
    ----------
    values : array or nested lists
        Anything that numpy reads as numbers; what a masked array hides is nan.
    what : str
        What they are, in the plural, for a message.
    allow_nan : bool
        Whether nan may stand for a can without a reading.

    Returns
    -------
    array [unit of the values]

    Raises
    ------
    ValueError
        For texts, numbers below zero or infinite, and nan where it was not asked for.
    """
    try:
        if isinstance(values, np.ma.MaskedArray):
            values = np.ma.filled(values.astype(float), np.nan)
        found = np.asarray(values, float)
    except (TypeError, ValueError):
        raise ValueError(f"received {what} that are not all numbers or not of one shape, expected numbers, look for "
                         "texts, empty cells or rows of different length") from None
    missing = np.isnan(found)
    if missing.any() and not allow_nan:
        raise ValueError(f"received {int(missing.sum())} {what} that are nan, expected a number for each can, write "
                         "the missing readings or ask with allow_nan=True to leave these cans out")
    wrong = found[~missing & ((found < 0) | np.isinf(found))]
    if wrong.size:
        raise ValueError(f"received {wrong.flat[0]:g} among the {what}, expected 0 or more, correct it")
    return found


def column(frame: Any, name: Any, what: str, *, allow_nan: bool) -> Array:
    """Take one column out of a frame.

    Parameters
    ----------
    frame : frame or mapping
        With named columns.
    name : object
        Of the column.
    what : str
        What it holds, in the plural, for a message.
    allow_nan : bool
        See `numbers`.

    Returns
    -------
    array (n,) [unit of the values]

    Raises
    ------
    ValueError
        For a column that is not there, is there twice, or holds no numbers.
    """
    names = list(frame.columns if hasattr(frame, "columns") else frame)
    if name not in names:
        raise ValueError(f"received a frame without the column {name!r}, expected the {what} in it, name one of "
                         f"{', '.join(map(repr, names[:20]))}")
    found = numbers(frame[name], what, allow_nan=allow_nan)
    if found.ndim != 1:
        raise ValueError(f"received a frame with the column {name!r} {found.shape[-1]} times, expected it once, rename "
                         "the others")
    return found


def quantity(value: Any, unit: str) -> str:
    """Write a number as a quantity of a record.

    Parameters
    ----------
    value : float or str [unit]
        A text is taken as it stands, with a unit of its own.
    unit : str
        Of a number.

    Returns
    -------
    str
        ``7.6 m``.

    Raises
    ------
    ValueError
        For what is neither a finite number nor a text.
    """
    if isinstance(value, str):
        return value
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = np.nan
    if isinstance(value, bool) or not np.isfinite(number):
        raise ValueError(f"received {value!r}, expected a number of {unit} or a text with its unit, correct it")
    return f"{number:.6f}".rstrip("0").rstrip(".") + f" {unit}"
