"""A comparison as plain text, 80 columns wide, and as JSON."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Sequence
from typing import Any

from ..result.as_json import json_text
from . import words
from .comparison import FIGURES, Comparison
from .rows import Row

WIDTH = 80
FORMAT = 1
_NAME = 26  # columns of a tunnel's name


def members_text(found: Comparison, most: int = 60, left_out: int = 0) -> str:
    """Write a comparison for a terminal."""
    blocks = [
        _wrap(f"{words.counted(found.tests, 'test')} of {words.counted(len(found.rows), 'tunnel')}"),
        _wrap(f"{words.counted(left_out, 'fault')} in files that were left out; see the messages.") if left_out else "",
        "\n".join(_wrap(says) for says in words.all_words(found) if says),
        _block("To check in the records", _first(found.to_check, most)),
        *_table(found, most),
        _block("Before and after",
               [" ".join(words.pair_words(pair, found.figure)) for pair in found.pairs[:most]]),
        _block("Against the year before", [words.year_words(found)]),
        _block("Over the years", [words.trend_words(trend, found.figure) for trend in found.trends[:most]]),
        _block("What goes with unevenness", [words.habit_words(habit, found.figure) for habit in found.habits]
               + words.habits_caution(found)),
        _block("Water", [words.water_words(found)]),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _first(said: Sequence[str], most: int) -> list[str]:
    more = [f"... and {len(said) - most} more (--json has all)"] if len(said) > most else []
    return [*said[:most], *more]


def _table(found: Comparison, most: int) -> list[str]:
    if not found.rows:
        return []
    name = FIGURES[found.figure]
    lines = [f"{'':4}{'tunnel':{_NAME}} {'tested':10} {name:16} {'drawn':5} {'low 1/4':7} cans"]
    left = most
    for group, rows in words.row_groups(found.rows):
        if left <= 0:
            break
        lines.append(_group_name(group, found))
        lines += [line for row in rows[:left] for line in _row(row, found.system)]
        left -= len(rows)
    if len(found.rows) > most:
        lines.append(f"... and {len(found.rows) - most} more (--json has all)")
    if any(row.shrunk for row in found.rows):
        lines.append(_wrap("drawn: drawn toward the mean of all, the more the less a test knows (a wide interval calls "
                           "for another test first); low 1/4: how likely the tunnel is among the lowest quarter; cans: "
                           "cans in the figures."))
    title = (f"{name} of the whole floor with its 90 % interval, those in most need first"
             if any(row.figure for row in found.rows) else f"{name} at the cans")
    return ["\n".join([title, *lines])]


def _group_name(group: int | None, found: Comparison) -> str:
    if group == -1:
        return "Tested under other conditions, in no group"
    if group is None:
        return "Not estimated yet, or cannot be (the figure at the cans)"
    count = len({row.group for row in found.rows if row.group is not None})
    return f"Group {group + 1} of {count}" if count > 1 else "One group"


def _row(row: Row, system: str) -> list[str]:
    summary = row.kept.figures
    value = words.span(row.figure) if row.figure else f"{row.at_the_cans:.0f} % at the cans"
    drawn = f"{row.shrunk.value:.0f} %" if row.shrunk else ""
    chance = words.chance(row)
    name = _fit(row.name, WIDTH - 4).rstrip()
    lines = [] if _fit(name, _NAME).rstrip() == name else [f"    {name}"]  # a long name has a line of its own
    lines.append(f"    {_fit('' if lines else name, _NAME)} {summary.date or 'no date':10} {value:16} {drawn:5} "
                 f"{chance:7} {summary.cans:4}")
    told = list(row.unlike)
    if summary.floor and summary.floor.cause:
        told.append(f"Likeliest cause: {summary.floor.cause[system]}.")
    if told:
        lines.append(_wrap(" ".join(told), "        ", "        "))
    return lines


def _fit(name: str, width: int) -> str:
    """A name of so many columns; wide letters count twice, and no line may be broken by it."""
    plain = " ".join("".join(char if char.isprintable() else " " for char in name).split())
    out, used = "", 0
    for char in plain:
        size = 2 if unicodedata.east_asian_width(char) in "WF" else 0 if unicodedata.combining(char) else 1
        if used + size > width:
            return out[:-1] + "…" + " " * (width - used if used < width else 0)
        out, used = out + char, used + size
    return out + " " * (width - used)


def _block(title: str, says: list[str]) -> str:
    told = [_wrap(f"- {item}", "  ", "    ") for item in says if item]
    return "\n".join([title, *told]) if told else ""


def _wrap(text: str, first: str = "", rest: str = "") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def members_json(found: Comparison, left_out: Sequence[str] = ()) -> str:
    """Write a comparison as JSON (contract: guide/json.md)."""
    plain = {
        "members": FORMAT, "figure": found.figure, "units": found.system, "tests": found.tests,
        "waiting": found.waiting, "mean": found.mean, "between": found.between,
        "tunnels": [_json_row(row, found.system) for row in found.rows],
        "pairs": [{"tunnel": pair.name, "before": pair.before.test, "after": pair.after.test,
                   "du_low_quarter" if found.figure == "du_low_quarter" else "cu": pair.figure,
                   "at_the_cans": pair.at_the_cans, "unlike": pair.unlike} for pair in found.pairs],
        "trends": [{"tunnel": trend.name, "tests": [item.test for item in trend.tests], "a_year": trend.a_year,
                    "left_out": trend.left_out} for trend in found.trends],
        "year_before": found.year_before, "habits": found.habits, "not_tried": found.not_tried, "water": found.water,
        "says": [says for says in words.all_words(found) if says], "to_check": found.to_check,
        "left_out": list(left_out),
    }
    return json_text(plain)


def members_rows(found: Comparison) -> list[list[Any]]:
    """List the tunnels for a spreadsheet."""
    name = FIGURES[found.figure]
    rows: list[list[Any]] = [[
        "member", "site", "tunnel", "test", "date", "cans", f"{name} whole floor %", "low", "high", "drawn %", "group",
        "chance of lowest quarter", f"{name} at the cans %", "likeliest cause", "unlike the others"]]
    for row in found.rows:
        plain = _json_row(row, found.system)
        figure, drawn = ([None if item is None else round(getattr(item, end), 1) for end in ("value", "low", "high")]
                         if item else [None] * 3 for item in (row.figure, row.shrunk))
        chance = None if row.among_lowest is None else round(row.among_lowest, 2)
        rows.append([*(plain[key] for key in ("member", "site", "tunnel", "test", "date", "cans")), *figure, drawn[0],
                     plain["group"], chance, round(row.at_the_cans, 1), plain["cause"], " ".join(row.unlike)])
    return rows


def _json_row(row: Row, system: str) -> dict[str, Any]:
    found = row.kept.figures
    return {"test": row.kept.test, "member": found.member, "site": found.site, "tunnel": found.tunnel or found.zone,
            "date": found.date, "cans": found.cans, "whole_floor": row.figure, "at_the_cans": row.at_the_cans,
            "drawn": row.shrunk, "group": None if row.group is None else row.group + 1,
            "among_lowest": row.among_lowest, "unlike": row.unlike,
            "cause": found.floor.cause.get(system) if found.floor else None}
