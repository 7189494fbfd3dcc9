"""Readings from elsewhere put into a record: what fits, what does not, and where a fault stands in their table."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from .table import GridError, count_of


def merge_cans(kept: dict[str, Any], new: dict[str, Any]) -> dict[str, Any]:
    """Put new readings in the place of old ones."""
    gone = {"grid", "rows", "points", "set_aside"}
    if "grid" not in new:
        gone |= {"across", "along"}
    if "grid" not in new or any(key in new and kept.get(key) != new[key] for key in ("across", "along")):
        gone.add("stagger")
    if isinstance(kept.get("weights"), list):
        gone.add("weights")
    return {**{key: value for key, value in kept.items() if key not in gone}, **new}


def shape_of(cans: dict[str, Any]) -> str:
    """Say how cans lie."""
    points = cans.get("points")
    if isinstance(points, list) and points:
        return f"{count_of(len(points), 'can')} anywhere"
    sizes = row_sizes(cans)
    if len(set(sizes)) == 1:
        return f"{count_of(len(sizes), 'row')} of {count_of(sizes[0], 'can')}"
    if len(sizes) > 8:
        return f"{count_of(len(sizes), 'row')} of {min(sizes)} to {max(sizes)} cans"
    return f"rows of {', '.join(map(str, sizes[:-1]))} and {sizes[-1]} cans" if sizes else ""


def row_sizes(cans: dict[str, Any]) -> list[int]:
    """Tell how many cans stand in each row."""
    across, along = cans.get("across"), cans.get("along")
    if isinstance(cans.get("rows"), list) and cans["rows"]:
        return [len(row.get("x") or row.get("catch") or ()) for row in cans["rows"] if isinstance(row, dict)]
    if isinstance(across, list) and isinstance(along, list):
        return [len(across)] * len(along)
    return [len(row) for row in cans.get("grid") or [] if isinstance(row, list)]


def check_fit(kept: dict[str, Any], new: dict[str, Any]) -> None:
    """Refuse readings that would stand at places that are not theirs."""
    here, there = shape_of(kept), shape_of(new)
    placed = {"grid", "across", "along"} <= new.keys() or all(
        "x" in row and "y" in row for row in new.get("rows", [{}]))
    if not here or here == there or "points" in new or placed:
        return
    raise GridError(
        f"received a table of {there}", f"expected {here} as in the record",
        "correct the table, or write the distances of its columns and rows beside the readings (first row and first "
        "column) if it is another layout",
    )


def replaced(kept: dict[str, Any], new: dict[str, Any]) -> str:
    """Say what new cans take the place of; empty where the record has no readings and no other layout."""
    here, there, count = shape_of(kept), shape_of(new), _readings_in(kept)
    if not here or not count and here == there:
        return ""
    old = f"{here} with {count_of(count, 'reading') if count else 'no readings'}"
    return f"The record has {old}: {there if there != here else 'these'} take their place."


def _readings_in(cans: dict[str, Any]) -> int:
    held = [row.get("catch") for key in ("rows", "points") for row in cans.get(key) or [] if isinstance(row, dict)]
    rows = [row if isinstance(row, list) else [row] for row in cans.get("grid") or held]
    return sum(isinstance(value, int | float) and not math.isnan(value) for row in rows for value in row)


def fault_place(path: tuple[str | int, ...], new: dict[str, Any],
                where: Callable[[int, int | None], str]) -> str | None:
    """Name the cell of the table in which a fault of the new cans stands."""
    if len(path) < 2 or path[0] != "cans" or path[1] not in new or path[1] in ("reads", "unit", "opening"):
        return None
    numbers = [part for part in path[2:] if isinstance(part, int)]
    if path[1] == "across":
        return f"distance over column {numbers[0] + 1}" if numbers else "the distances across"
    if path[1] == "along":
        return f"distance beside row {numbers[0] + 1}" if numbers else "the distances along"
    if not numbers:
        return "the table"
    if len(numbers) > 1:
        return where(*numbers[:2])
    return where(numbers[0], 0 if path[1] == "points" else None)
