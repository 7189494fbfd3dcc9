"""What the tests share."""

from pathlib import Path

import pytest
from evenfall.record.file import parse_record

ROOT = Path(__file__).parents[1]

GRID = """record = 1
[test]
title = "A test for the tests"
[floor]
width = "6 m"
length = "12 m"
[cans]
reads = "volume"
unit = "mL"
opening_area = "100 cm2"
across = ["1 m", "3 m", "5 m"]
along = ["1 m", "4 m", "7 m", "10 m"]
grid = [[10, 20, 30], [20, 30, 40], [30, 40, 50], [40, 50, 60]]
[run]
duration = "30 min"
"""


@pytest.fixture
def record():
    """A plain record of twelve cans; 10 mL are 1 mm."""
    return parse_record(GRID)


@pytest.fixture(autouse=True)
def own_data(tmp_path, monkeypatch):
    """No test touches the data folder of whoever runs it."""
    monkeypatch.setenv("EVENFALL_DATA", str(tmp_path / "data"))
