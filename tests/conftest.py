"""What the tests share."""

import os
from functools import cache
from pathlib import Path

import pytest
from evenfall.record.file import parse_record
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadFileScheduling

from .kept import keep_results

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


def pytest_addoption(parser):
    """How many spoilt inputs are tried."""
    parser.addoption("--fuzz", type=int, default=2000, metavar="N", help="spoilt inputs of each kind (default 2000)")


@pytest.fixture
def cases(request):
    """How many spoilt inputs a test tries."""
    return request.config.getoption("--fuzz")


def pytest_xdist_auto_num_workers(config):
    """A worker for each core up to four; none for a single file, which is not divided."""
    if len(config.args) == 1 and ".py" in config.args[0]:
        return 0
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(cores, 4)


class ByFile(LoadFileScheduling):
    """A file goes to one worker as a whole, and all that need a browser to one: it starts once, and two that draw at
    the same time keep each other waiting."""

    def _split_scope(self, nodeid):
        return "tests/browser" if nodeid.startswith("tests/browser/") else super()._split_scope(nodeid)


def pytest_xdist_make_scheduler(config, log):
    """Files in the order in which they stand, which begins with the browser's, the longest of all."""
    return ByFile(config, log) if config.option.dist == "loadfile" else None


def pytest_itemcollected(item):
    """A test of the benchmarks is marked by its folder, so that none is forgotten."""
    if item.path.parent.name == "benchmarks":
        item.add_marker("benchmark")


# A machine that is busy with other work makes no property false.
settings.register_profile("patient", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("patient")


@cache
def result_of(name):
    """Result of a sample record, made once for all tests of a worker that only read it."""
    from evenfall.record.samples import sample_text
    from evenfall.result.assessment import assess

    return assess(parse_record(sample_text(name)))


@pytest.fixture
def record():
    """A plain record of twelve cans; 10 mL are 1 mm."""
    return parse_record(GRID)


@pytest.fixture(autouse=True)
def worked_out_once(request, monkeypatch):
    """Where tests look at how a result is shown, the same estimate is not made again for each of them."""
    if request.path.relative_to(ROOT / "tests").parts[0] in ("api", "cli", "dashboard", "paper"):
        keep_results(monkeypatch)


@pytest.fixture(autouse=True)
def own_data(tmp_path, monkeypatch):
    """No test touches the data folder of whoever runs it."""
    monkeypatch.setenv("EVENFALL_DATA", str(tmp_path / "data"))
