"""JSON Schema of record and result: every sample and its result validate, and what is wrong does not."""

import datetime
import json
import tomllib

import pytest
from evenfall.cans.index_table import INDICES, Index
from evenfall.cli.command import main
from evenfall.record.file import parse_record
from evenfall.record.samples import SHOWS, sample_text
from evenfall.result.as_json import to_plain
from evenfall.result.assessment import assess
from evenfall.result.schema import record_schema, result_schema
from evenfall.result.tables import figures_rows
from evenfall.result.text import report_text
from jsonschema import Draft202012Validator

from ..conftest import GRID


def as_json(value):
    """TOML values as JSON has them: dates are texts."""
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date | datetime.time) else value


def faults(schema, value):
    Draft202012Validator.check_schema(schema)
    return [f"{error.json_path}: {error.message[:200]}" for error in Draft202012Validator(schema).iter_errors(value)]


@pytest.mark.parametrize("name", SHOWS)
def test_every_sample_and_its_result_validate(name):
    text = sample_text(name)
    assert faults(record_schema(), as_json(tomllib.loads(text))) == []
    assert faults(result_schema(), to_plain(assess(parse_record(text)))) == []


def test_what_is_wrong_does_not_validate():
    plain = as_json(tomllib.loads(GRID))
    assert faults(record_schema(), {**plain, "floor": {"width": 6, "length": "12 m"}})
    assert faults(record_schema(), {**plain, "flor": {}})
    result = to_plain(assess(parse_record(GRID), only="cans"))
    assert faults(result_schema(), result) == []
    assert faults(result_schema(), {key: value for key, value in result.items() if key != "heads"})
    assert faults(result_schema(), {**result, "at_the_cans": {**result["at_the_cans"], "cu": "82 %"}})


@pytest.mark.parametrize("name", ["record", "result"])
def test_the_command_prints_it(name, capsys):
    assert main(["schema", name]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed == json.loads(json.dumps({"record": record_schema, "result": result_schema}[name]()))


def test_fields_say_their_unit():
    properties = result_schema()["properties"]
    assert properties["catch"]["properties"]["mean_mm"]["description"].endswith("[mm]")
    assert properties["at_the_cans"]["properties"]["cu"]["description"].endswith("[%]")


def test_an_index_that_is_added_is_everywhere(monkeypatch):
    """One entry more, and JSON, schema, text, tables and the public functions have it."""
    import evenfall

    monkeypatch.setitem(INDICES, "range_of_mean", Index(
        "range_of_mean", "Range over mean", "range over mean", "%", 0,
        lambda depth, weight=None: 100 * (depth.max(axis=-1) - depth.min(axis=-1)) / depth.mean(axis=-1),
        lambda values, system: f"The cans differ by {values['range_of_mean']:.0f} % of their mean.",
        "wettest less driest can in percent of the mean", "made up for this test"))
    record = parse_record(GRID)
    result = assess(record, only="cans")
    plain = to_plain(result)
    assert plain["at_the_cans"]["range_of_mean"] == pytest.approx(100 * 5 / 3.5)
    assert faults(result_schema(), plain) == []
    assert "range_of_mean" in result_schema()["properties"]["at_the_cans"]["required"]
    assert "  Range over mean                  143 %    The cans differ by" in report_text(record, result)
    assert ["range over mean", 142.9, "%"] in figures_rows(record, result)
    assert evenfall.range_of_mean([1, 6, 3.5]) == pytest.approx(100 * 5 / 3.5)
    assert evenfall.assess(record).range_of_mean == pytest.approx(100 * 5 / 3.5)
