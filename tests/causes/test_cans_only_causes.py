"""What the cans alone can say, and what nobody looked for."""

import numpy as np
import pytest
from evenfall.record.file import parse_record, plain_text
from evenfall.record.samples import sample_text
from evenfall.result import advice
from evenfall.result.assessment import assess
from evenfall.result.text import report_text


def read_across(across):
    """A test without heads whose cans caught these depths across, the same in each of six rows."""
    rng = np.random.default_rng(2)
    grid = np.round(np.tile(np.array(across) * 60, (6, 1)) * (1 + 0.04 * rng.standard_normal((6, len(across)))))
    return parse_record(plain_text({
        "record": 1, "test": {"title": "Edges"}, "floor": {"width": "7 m", "length": "18 m"},
        "run": {"duration": "30 min"},
        "cans": {"reads": "volume", "unit": "mL", "opening_area": "55 cm2",
                 "across": [f"{(k + 0.5) * 7 / len(across):.2f} m" for k in range(len(across))],
                 "along": [f"{1.5 + 3 * k:.1f} m" for k in range(6)], "grid": grid.tolist()}}))


@pytest.mark.parametrize("across, told", [
    ([0.3, 0.8, 1.0, 1.0, 0.8, 0.35], True),
    ([0.3, 0.8, 1.0, 1.0, 0.8, 0.8], False),   # one edge may be a line that is off
    ([0.7, 0.9, 1.0, 1.0, 0.9, 0.7], False)])
def test_both_edges_under_half_of_the_middle_are_a_cause(across, told):
    causes = assess(read_across(across)).causes
    assert any(cause.kind == "dry edges" for cause in causes) is told


def test_what_was_not_looked_for_is_said():
    record = parse_record(sample_text("bare"))
    result = assess(record)
    assert ["lines"] in [closed.needs for closed in result.not_done if closed.part == "causes"]
    said = advice.looked_for(result)
    assert "were not looked for" in said and "nothing stands out" not in report_text(record, result)
    assert " ".join(said.split()) in " ".join(report_text(record, result).split())


def test_with_heads_everything_was_looked_for():
    assert advice.looked_for(assess(parse_record(sample_text("blocked-head")))) == ""
