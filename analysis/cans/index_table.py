"""The indices at the cans, an entry each: whatever computes, names, explains or hands one out reads this table.

To add an index, add an entry to `INDICES`; JSON and its schema, text, tables, papers, the dashboard and the public
functions follow.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ..units.shown import show
from .uniformity import indices

Values = Mapping[str, float | None]


@dataclass(frozen=True)
class Index:
    """One index of uniformity.

    Attributes
    ----------
    key : str
        Its name in JSON and in Python.
    name : str
        For a person, the short name last: ``Coefficient of uniformity, CU``.
    column : str
        Its name in tables that are handed out.
    unit : str
        ``%``, or empty for a plain number.
    digits : int [1]
        Digits behind the point where a person reads it.
    function : callable
        From depths (..., n) [mm] and weights [1] or None to the index (...), as those of `uniformity`.
    means : callable
        From the values of all indices of a test and ``metric`` or ``US`` to what it means, in one sentence.
    says : str
        What it is, without the values of a test.
    source : str
        Who defined it, or 'from memory'.
    main : bool
        Whether it stands with the first figures of a page or paper.
    own_row : bool
        False where another index of the table says it too, so that text and page give it no row of its own.
    """

    key: str
    name: str
    column: str
    unit: str
    digits: int
    function: Callable[..., Any]
    means: Callable[[Values, str], str]
    says: str
    source: str
    main: bool = False
    own_row: bool = True

    @property
    def short(self) -> str:
        """The last part of the name: ``CU``."""
        return self.name.rpartition(", ")[2]

    def shown(self, value: float | None, none: str = "–") -> str:
        """Write a value of this index.

        Parameters
        ----------
        value : float or None [unit of the index]
            None where it has none.
        none : str
            What is written then.

        Returns
        -------
        str
            ``73 %``.
        """
        if value is None:
            return none
        return f"{value:.{self.digits}f} {self.unit}".rstrip()


def values_of(depth: Any, weight: Any = None) -> dict[str, float | None]:
    """Compute every index of the table for one test.

    Parameters
    ----------
    depth : array (n,) [mm]
        Depths; nan without a reading.
    weight : array (n,) [1], optional
        Ground that each can stands for; equal if left out.

    Returns
    -------
    dict of str to float or None [unit of the index]
        In the order of the table; None where an index is infinite.
    """
    found = {key: float(index.function(depth, weight)) for key, index in INDICES.items()}
    return {key: None if math.isinf(value) else value for key, value in found.items()}


def _field(name: str) -> Callable[..., Any]:
    def function(depth: Any, weight: Any = None) -> Any:
        return getattr(indices(depth, weight), name)

    return function


def _number(values: Values, key: str) -> float:
    value = values[key]
    return math.nan if value is None else value


def _cu_means(values: Values, system: str) -> str:
    return f"On average a can caught {100 - _number(values, 'cu'):.0f} % more or less than the mean."


def _du_low_quarter_means(values: Values, system: str) -> str:
    du = _number(values, "du_low_quarter")
    if du < 1:
        return "The driest quarter got next to nothing: no run time will water it."
    wanted = 0.010 if system == "metric" else 0.0127
    return (f"The driest quarter got {du:.0f} % of the mean: to give it {show(wanted, 'depth', system)}, "
            f"{show(100 * wanted / du, 'depth', system)} must fall on average.")


def _du_low_half_means(values: Values, system: str) -> str:
    return f"The drier half of the cans got {_number(values, 'du_low_half'):.0f} % of the mean."


def _cv_means(values: Values, system: str) -> str:
    return f"The cans' standard deviation is {_number(values, 'cv'):.0f} % of the mean."


def _statistical_means(values: Values, system: str) -> str:
    return f"Coefficient of variation {_number(values, 'cv'):.0f} %."


def _scheduling_means(values: Values, system: str) -> str:
    coefficient = values["scheduling_coefficient"]
    if coefficient is None:
        return "At least one can stayed dry."
    return f"To bring the driest can to the mean, run {coefficient:.1f} times as long."


_CHRISTIANSEN = "Christiansen 1942, University of California Agricultural Experiment Station Bulletin 670"

INDICES: dict[str, Index] = {index.key: index for index in (
    Index("cu", "Coefficient of uniformity, CU", "CU at the cans", "%", 0, _field("cu"), _cu_means,
          "100 less the mean difference of a can from the mean, in percent of the mean; may be below zero",
          _CHRISTIANSEN, main=True),
    Index("du_low_quarter", "Low-quarter uniformity, DUlq", "DUlq at the cans", "%", 0, _field("du_low_quarter"),
          _du_low_quarter_means, "mean of the driest quarter in percent of the mean", "Merriam and Keller 1978, Farm "
          "Irrigation System Evaluation (from memory)", main=True),
    Index("du_low_half", "Low-half uniformity, DUlh", "DUlh at the cans", "%", 0, _field("du_low_half"),
          _du_low_half_means, "mean of the drier half in percent of the mean", "from memory"),
    Index("cv", "Coefficient of variation", "coefficient of variation", "%", 0, _field("cv"), _cv_means,
          "standard deviation, divisor n, in percent of the mean", "a definition of statistics", own_row=False),
    Index("statistical_uniformity", "Statistical uniformity", "statistical uniformity", "%", 0,
          _field("statistical_uniformity"), _statistical_means, "100 less the coefficient of variation",
          "Wilcox and Swailes 1947 (from memory)"),
    Index("scheduling_coefficient", "Scheduling coefficient", "scheduling coefficient, mean / driest can", "", 1,
          _field("scheduling_coefficient"), _scheduling_means, "mean / driest can; none where that is dry",
          "New Mexico State University, Soil 456 (mean / lowest)"),
)}
