"""Names of lines as people read them."""

import pytest
from evenfall.record.places import line_named, lines_named


@pytest.mark.parametrize("name, said", [
    ("left", "line left"), ("line 4", "line 4"), ("Line 4", "Line 4"), ("line4", "line4"), ("linen", "line linen"),
    ("", "line"), (None, "line")])
def test_a_line_is_called_a_line_once(name, said):
    assert line_named(name) == said


def test_two_lines_are_called_lines_once():
    assert lines_named("left", "right") == "lines left and right"
    assert lines_named("line 4", "right") == "line 4 and line right"
