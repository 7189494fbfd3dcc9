"""The sample records: invented, sound, and different from each other."""

import re
import tomllib
from typing import Annotated

import pytest
from evenfall.record.doubts import doubts, usual_of
from evenfall.record.file import parse_record
from evenfall.record.head_keys import HeadKind, Heads
from evenfall.record.keys import field_of, inner_model, keys_of
from evenfall.record.kinds import choices
from evenfall.record.model import AboutTest, Record, Supply
from evenfall.record.samples import FIRST, SHOWS, folder, sample_text
from evenfall.units.quantity import TABLE
from pydantic import TypeAdapter

from ..conftest import result_of

SITES = {"Sedge End", "Quill Holding", "Teasel Yard", "Crake Meadow"}  # all invented
INVENTED = "# A sample record. The cooperative, its farms and all its numbers are invented.\n"
NOTES = "Invented for the demonstration: no such farm or tunnel exists."


def plain(name):
    return tomllib.loads(sample_text(name))


def test_every_sample_is_offered_and_there():
    assert {path.stem for path in folder().glob("*.toml")} == set(SHOWS)
    assert {path.name for path in folder().iterdir()} - {"map.png"} == {"README.md", *(
        f"{name}.toml" for name in SHOWS)}
    assert FIRST in SHOWS and next(iter(SHOWS)) == FIRST
    assert len(set(SHOWS.values())) == len(SHOWS)


def test_another_name_is_refused():
    with pytest.raises(ValueError, match="received the sample '../pyproject', expected one of blocked-head, "):
        sample_text("../pyproject")


@pytest.mark.parametrize("name", SHOWS)
def test_sound_and_without_doubt(name):
    record = parse_record(sample_text(name), f"{name}.toml")
    assert doubts(record) == []
    result = result_of(name)
    assert 0 < result.at_the_cans.du_low_quarter < 100


@pytest.mark.parametrize("name", SHOWS)
def test_it_says_that_it_is_invented(name):
    assert sample_text(name).startswith(INVENTED)
    test = plain(name)["test"]
    assert test.get("notes") == (None if name == "bare" else NOTES)
    assert {test[key] for key in ("site", "member") if key in test} <= SITES
    assert set(test) <= {"id", "title", "date", "site", "zone", "tunnel", "member", "purpose", "rechecks", "by",
                         "notes"}
    assert test.get("by") in (None, "the installer")


def test_ids_are_unique():
    ids = [test["id"] for name in SHOWS if "id" in (test := plain(name)["test"])]
    assert len(ids) == len(set(ids)) == len(SHOWS) - 1


def test_the_recheck_follows_up_the_test_before():
    before, after = parse_record(sample_text("before-repair")), parse_record(sample_text("after-repair"))
    assert after.test.rechecks == before.test.id and after.test.purpose == "recheck"
    assert after.test.date > before.test.date
    assert (after.test.tunnel, after.floor, after.lines) == (before.test.tunnel, before.floor, before.lines)
    figures = [result_of(name).at_the_cans.du_low_quarter for name in ("before-repair", "after-repair")]
    assert figures[1] > figures[0]


def test_only_the_recheck_follows_another():
    assert [name for name in SHOWS if "rechecks" in plain(name)["test"]] == ["after-repair"]


def test_bare_has_nothing_that_could_be_left_out():
    record = plain("bare")
    assert set(record) == {"record", "test", "floor", "cans", "run"}
    needed = {section: {key for key in keys_of(model) if field_of(model, key).is_required()}
              for section in ("test", "floor", "cans", "run")
              if (model := inner_model(field_of(Record, section).annotation))}
    assert set(record["test"]) == needed["test"] == {"title"}
    assert set(record["floor"]) == needed["floor"] and set(record["run"]) == needed["run"]
    assert set(record["cans"]) == needed["cans"] | {"opening_area", "across", "along", "grid"}


def test_units_are_mixed_over_the_set():
    texts = " ".join(sample_text(name) for name in SHOWS)
    for unit in ("m", "cm", "mm", "ft", "in", "kPa", "bar", "psi", "L/h", "gpm", "m3/h", "mph", "m/s", "km/h", "gal",
                 "L", "mL", "cm2", "in2", "g", "min", "s", "C"):
        assert re.search(rf'"[\d.,/ ]+{unit}"', texts), unit
    assert re.search(r'"\d+,\d+ m"', texts) and re.search(r'"\d+ ft \d+ in"', texts)
    assert {plain(name)["cans"]["unit"] for name in SHOWS} >= {"mL", "fl oz", "in", "g"}
    assert {plain(name)["cans"]["reads"] for name in SHOWS} == {"volume", "depth", "weight"}


def test_over_the_set_most_of_the_format_is_shown():
    shown = {key for name in SHOWS for key in plain(name)}
    assert shown == set(keys_of(Record)) - {"other_supplies", "checked", "corrected"}
    assert {key for name in SHOWS for key in plain(name)["test"]} == set(keys_of(AboutTest))


# --- the page that describes every key -------------------------------------------------------------

README = folder() / "README.md"


def described():
    """Rows of the page's tables of keys: (section, dotted key) -> (what, example, needed, usual)."""
    rows, section = {}, None
    for line in README.read_text("utf-8").splitlines():
        heading = re.fullmatch(r"## (?:`\[+([a-z_]+)\]+`|At the top)", line)
        if line.startswith("#"):
            section = (heading[1] or "") if heading else None
        cells = [cell.strip() for cell in line.strip("|").split(" | ")] if line.startswith("| `") else []
        if section is None or not cells:
            continue
        cells += [""] * (5 - len(cells))
        key = (section, cells[0].strip("`"))
        assert key not in rows, f"{key} is described twice"
        rows[key] = tuple(cell.rstrip("|").strip() for cell in cells[1:5])
    return rows


def fields_of_the_format():
    """Every key of the model once: (section, dotted key) -> field; a section does not repeat what it takes over."""
    def walk(model, section, path, without=()):
        for key in keys_of(model):
            if key in without:
                continue
            field = field_of(model, key)
            yield (section, ".".join([*path, key])), field
            inner = inner_model(field.annotation)
            if inner:
                yield from walk(inner, section, [*path, key])

    fields = {("", "record"): Record.model_fields["record"]}
    for section in keys_of(Record)[1:]:
        model = inner_model(field_of(Record, section).annotation)
        base = {"lines": HeadKind, "other_heads": Heads, "other_supplies": Supply}.get(section)
        fields |= dict(walk(model, section, [], keys_of(base) if base else ()))
    return fields


def test_the_page_describes_every_key_once_and_no_other():
    assert set(described()) == set(fields_of_the_format())
    sections = [section for section, _ in described()]
    assert list(dict.fromkeys(sections)) == [
        "", *("test", "floor", "target", "heads", "lines", "other_heads", "cans", "run", "pressures", "head_flows",
              "supply", "other_supplies", "care", "crop", "patches", "checked", "corrected")]


@pytest.mark.parametrize("key", sorted(described()), ids=".".join)
def test_each_row_says_what_the_model_says(key):
    what, example, needed, usual = described()[key]
    field = fields_of_the_format()[key]
    assert what and example
    assert (needed == "yes") == field.is_required()
    sizes = usual_of(field)
    assert usual == (f"{sizes.low} to {sizes.high}" if sizes else "")
    value = tomllib.loads(f"value = {example.strip('`')}")["value"]
    TypeAdapter(Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation).validate_python(
        value)
    for choice in choices([*filter(None, key[:1]), *key[1].split(".")]):
        assert f"`{choice}`" in what


def test_the_page_lists_the_units_and_the_samples():
    text = README.read_text("utf-8")
    listed = {match[1]: set(re.findall(r"`([^`]+)`", match[2]))
              for match in re.finditer(r"^\| ([a-z]+) \| (`.*) \|$", text.split("## At the top")[0], re.M)}
    assert listed == {dimension: set(units) for dimension, units in TABLE.items()}
    assert dict(re.findall(r"^\| `([a-z-]+)\.toml` \| (.*) \|$", text, re.M)) == SHOWS
    assert "**They are invented**" in text and "from memory" in text and "counted from 1" in text
