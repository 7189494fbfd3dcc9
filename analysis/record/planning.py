"""A record that is read before there are readings: what a plan does without, and nothing else."""

from __future__ import annotations

import copy
from typing import Any

from .faults import Fault
from .places import Path

# Missing, these stop a test and not its planning.
_NOT_YET: set[Path] = {("cans",), ("cans", "grid"), ("cans", "opening"), ("cans", "tare"), ("run",), ("run", "lines")}
_UNITS = {"volume": "mL", "depth": "mm", "weight": "g"}
_ANY_TIME = "30 min"


def filled(raw: dict[str, Any]) -> dict[str, Any]:
    """Fill what a record need not say before its test, so that all the rest can be checked as ever.

    Parameters
    ----------
    raw : dict
        Plain TOML values; they stay as they are.

    Returns
    -------
    dict
        A copy in which cans without readings read ``nan``, and a kind of reading, its unit and a duration are there.
    """
    raw = copy.deepcopy(raw)
    cans, run = raw.get("cans"), raw.get("run")
    if isinstance(run, dict):
        run.setdefault("duration", _ANY_TIME)
    if isinstance(cans, dict):
        _fill_cans(cans)
    return raw


def _fill_cans(cans: dict[str, Any]) -> None:
    reads = cans.setdefault("reads", "volume")
    if isinstance(reads, str) and reads in _UNITS:
        cans.setdefault("unit", _UNITS[reads])
    for row in cans["rows"] if isinstance(cans.get("rows"), list) else []:
        if isinstance(row, dict) and isinstance(row.get("x"), list):
            row.setdefault("catch", [float("nan")] * len(row["x"]))
    for point in cans["points"] if isinstance(cans.get("points"), list) else []:
        if isinstance(point, dict):
            point.setdefault("catch", float("nan"))
    across, along = cans.get("across"), cans.get("along")
    if not {"grid", "rows", "points"} & set(cans) and isinstance(across, list) and isinstance(along, list):
        cans["grid"] = [[float("nan")] * len(across) for _ in along]


def stops_planning(fault: Fault) -> bool:
    """Whether a fault stops a plan too.

    Parameters
    ----------
    fault : Fault
        Of a record.

    Returns
    -------
    bool
        False for what a test must have and is not there yet.
    """
    return not (fault.path in _NOT_YET and fault.received.startswith("received nothing"))


def as_given(raw: dict[str, Any], sections: dict[str, Any]) -> dict[str, Any]:
    """Take out again what `filled` put in where a plan must know that it was not said.

    Parameters
    ----------
    raw : dict
        Plain TOML values as they came.
    sections : dict
        The checked sections.

    Returns
    -------
    dict
        With ``cans`` and ``run``, None where the record has none; a duration that was not given is None.
    """
    run = sections.get("run")
    if run is not None and "duration" not in raw["run"]:
        run = run.model_copy(update={"duration": None})
    return {**sections, "cans": sections.get("cans"), "run": run}
