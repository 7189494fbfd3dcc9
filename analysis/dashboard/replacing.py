"""Replacing the cans of a test, and putting the earlier ones back: a draft only ever grows, so nothing is lost."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from ..entry.cans import NO_READING, aside_key, cans_in, is_can_key, reading_texts
from ..entry.drafts.drafts import Drafts
from ..entry.grids.into import merge_cans, row_sizes
from ..entry.to_record import plain_of
from ..record.file import plain_text
from . import hall

_PLACES = ("across", "along", "stagger")
_CAN_KEYS = ("grid", "rows", "points", "set_aside")


@dataclass(frozen=True)
class Earlier:
    """The cans of a test before they were last replaced.

    Attributes
    ----------
    says : str
        What they were, such as ``8 rows of 6 cans with 46 readings``.
    cans : dict
        The record's ``[cans]`` of then, plain, without readings.
    texts : dict of str to str
        Its readings.
    """

    says: str
    cans: dict[str, Any]
    texts: dict[str, str]


def shape(cans: dict[str, Any]) -> str:
    """Say how the cans of a record or a table lie."""
    if cans.get("points"):
        return f"{len(cans['points'])} cans at places of their own"
    sizes = row_sizes(cans)
    if not sizes:
        return ""
    rows = f"{len(sizes)} row{'' if len(sizes) == 1 else 's'}"
    return f"{rows} of {sizes[0]}" if len(set(sizes)) == 1 else f"{rows} of different length"


def same_places(cans: dict[str, Any], new: dict[str, Any]) -> bool:
    """Whether new cans fit the places that a test has."""
    if "grid" not in new or {"rows", "points"} & set(cans) or row_sizes(cans) != [len(row) for row in new["grid"]]:
        return False
    return all(cans.get(key) == new[key] for key in _PLACES if key in new and cans.get(key))


def typed(test: hall.Open, plain: dict[str, Any]) -> int:
    """How many readings the cans of a test have."""
    texts = reading_texts(test.values)
    there = {can.key for can in cans_in(plain)} or set(texts)
    return sum(key in there and bool(text.strip()) and text.strip().casefold() not in NO_READING
               for key, text in texts.items())


def take_table(test: hall.Open, plain: dict[str, Any], new: dict[str, Any]) -> None:
    """Put the cans of a table in the place of the test's; no reading of before stays among them."""
    old = plain.get("cans", {})
    kept = {key: value for key, value in old.items() if key not in _CAN_KEYS}
    if not same_places(old, new):
        kept = {key: value for key, value in kept.items() if key not in _PLACES}
    merged = merge_cans(kept, new)
    if same_places(old, new):
        merged |= {key: old[key] for key in _PLACES if key in old and key not in merged}
    _write(test, merged, reading_texts({"base": plain_text({"cans": merged})}), {})


def spread(test: hall.Open, plain: dict[str, Any], across: list[str], along: list[str], *, keep: bool) -> None:
    """Give the cans of a test other places."""
    cans = {key: value for key, value in plain.get("cans", {}).items()
            if key not in (*_CAN_KEYS, *(() if keep else ("weights",)))}
    aside = {item: why for item, why in _asides(plain).items()} if keep else {}
    _write(test, {**cans, "across": across, "along": along}, reading_texts(test.values) if keep else {}, aside)


def another_test(plain: dict[str, Any], new: dict[str, Any]) -> str:
    """Start a new test from a table, with the floor, heads and lines of this one."""
    old = plain.get("cans", {})
    kept = {key: value for key, value in old.items() if key not in (*_CAN_KEYS, *_PLACES, "weights", "evaporation")}
    head = {key: value for key, value in plain.get("test", {}).items() if key not in ("id", "title", "rechecks")}
    title = f"{plain.get('test', {}).get('title') or 'Untitled test'}, from a table"
    copy = {"record": 1, **plain, "test": {**head, "title": title}, "cans": {**kept, **new}}
    copy.pop("patches", None)
    return hall.begin(plain_text(copy), title)


def earlier(test: hall.Open) -> Earlier | None:
    """Find the cans that were last replaced."""
    drafts = Drafts()
    replaced = drafts.history(test.draft, "cans")
    if not replaced:
        return None
    values = drafts.values_before(test.draft, replaced[-1].revision)
    plain, _ = plain_of(values)
    cans = plain.get("cans", {})
    count = typed(hall.Open(test.draft, values, 0), plain)
    lay = shape(cans)
    if not lay and not count:
        return None
    says = f"{lay or 'cans without places'} with {_readings(count)}"
    bare = {key: value for key, value in cans.items() if key not in ("grid", "set_aside")}
    return Earlier(says, bare | {"set_aside": cans["set_aside"]} if "set_aside" in cans else bare,
                   {key: text for key, text in reading_texts(values).items() if text.strip()})


def put_back(test: hall.Open, found: Earlier) -> None:
    """Put the earlier cans back; those of now become the earlier ones."""
    _write(test, {key: value for key, value in found.cans.items() if key != "set_aside"}, found.texts,
           _asides({"cans": found.cans}))


def _asides(plain: dict[str, Any]) -> dict[str, str]:
    return {aside_key(item): item["why"] for item in plain.get("cans", {}).get("set_aside") or []}


def _write(test: hall.Open, cans: dict[str, Any], texts: dict[str, str], aside: dict[str, str]) -> None:
    """One change for the cans as a whole, first, by which `earlier` finds what was before."""
    changes = {"cans": json.dumps(cans, ensure_ascii=False, allow_nan=True) if cans else ""}
    there = reading_texts(test.values)
    changes |= {key: texts.get(key, "") for key in {**there, **texts} if is_can_key(key)}
    changes |= {key: "" for key in test.values if key.startswith("aside.")}
    changes |= {f"aside.{key}": why for key, why in aside.items()}
    hall.store(test.draft, changes)


def _readings(count: int) -> str:
    return "no readings" if not count else f"{count} reading{'' if count == 1 else 's'}"


def question(plain: dict[str, Any], new: dict[str, Any], count: int) -> str:
    """Put a table beside a test in one sentence."""
    cans = plain.get("cans", {})
    here = shape(cans) or "no places yet"
    other = ""
    if shape(cans) == shape(new) and not same_places(cans, new):
        other = ", but at other distances"
    return f"The table has {shape(new)}{other}, this test has {here} with {_readings(count)}."


def needs_question(plain: dict[str, Any], new: dict[str, Any], count: int) -> bool:
    """Whether taking a table would touch anything that is there."""
    cans = plain.get("cans", {})
    return bool(count) or bool(shape(cans)) and not same_places(cans, new)
