"""A plan as plain text, 80 columns wide."""

from __future__ import annotations

import re
import textwrap

from ..record.site import Site
from . import more_words, words
from .more import MoreCans
from .plan import PlannedTest

WIDTH = 80
_TIED = re.compile(r"(?<=[\d)]) (?=%|mm|mL|in\b|m\b|ft|kPa|psi|L/h|gpm|min\b|points)")


def plan_text(site: Site, plan: PlannedTest, units: str = "metric") -> str:
    """Write a plan for a terminal.

    Parameters
    ----------
    site : Site
        What the plan is for.
    plan : PlannedTest
        From `plan_of`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        No line is longer than 80 characters; reads well without colour.
    """
    blocks = [
        _wrap(f"{site.record.test.title}: a plan for its lines and its test"),
        _block("Lines", words.counts_words(plan, units), words.line_rows(plan, units),
               words.supply_words(plan, units)),
        _block("Cans", words.layout_words(plan, units), words.layout_rows(plan), []),
        _block("How many cans", [words.error_words(plan, units)], words.curve_rows(plan), []),
        _block("Where they stand (numbers as they are walked and entered: up one row, back the next)", [],
               words.walk_rows(plan, units), []),
        _block("The run", [*words.run_words(plan, units), plan.control], [], []),
        _block("Where to read pressure, while the lines run", [], words.gauge_rows(plan, units), []),
        "\n".join(["Before the run", *(_wrap(f"- {check}", "  ", "    ") for check in plan.checks)]),
        _assumed(plan),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def more_text(site: Site, found: MoreCans, units: str = "metric") -> str:
    """Write places for further cans for a terminal.

    Parameters
    ----------
    site : Site
        The test.
    found : MoreCans
        From `more_cans`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    str
        No line is longer than 80 characters.
    """
    blocks = [
        _wrap(f"{site.record.test.title}: where further cans tell most"),
        _block("What they bring", more_words.narrows_words(found), [], []),
        _block("Places, the most telling first (from the left edge, from the inlet end wall)", [],
               more_words.further_rows(found, units), []),
        _block("A bottle under these heads", [], more_words.bottle_rows(found), []) if found.bottles else "",
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _assumed(plan: PlannedTest) -> str:
    if not plan.assumed:
        return ""
    lines = ["What was assumed", *(_wrap(f"- {says}", "  ", "    ") for says in plan.assumed)]
    if plan.needs:
        lines.append(_wrap(f"The record could say: {', '.join(plan.needs)}.", "  ", "    "))
    return "\n".join(lines)


def _block(title: str, before: list[str], rows: list[dict[str, str]], after: list[str]) -> str:
    return "\n".join([_wrap(title), *(_wrap(says, "  ", "    ") for says in before), *_table(rows),
                      *(_wrap(says, "  ", "    ") for says in after)])


def _table(rows: list[dict[str, str]]) -> list[str]:
    """Columns as wide as their texts; the last one is wrapped where the line would be too long."""
    if not rows:
        return []
    keys = list(rows[0])
    wide = {key: max(len(key), *(len(row[key]) for row in rows)) for key in keys[:-1]}
    begin = 2 + sum(wide[key] + 2 for key in keys[:-1])
    lines = []
    for row in ({key: key for key in keys}, *rows):
        head = "  " + "".join(f"{row[key]:<{wide[key]}}  " for key in keys[:-1])
        tail = textwrap.wrap(_TIED.sub("\u00a0", row[keys[-1]]), WIDTH - begin) or [""]
        lines += [(head + tail[0]).rstrip(), *(" " * begin + more for more in tail[1:])]
    return [line.replace("\u00a0", " ") for line in lines]


def _wrap(text: str, first: str = "", rest: str | None = None) -> str:
    tied = _TIED.sub("\u00a0", text)  # a number and its unit stay on one line
    rest = first if rest is None else rest
    return textwrap.fill(tied, WIDTH, initial_indent=first, subsequent_indent=rest).replace("\u00a0", " ")
