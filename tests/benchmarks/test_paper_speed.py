"""Papers from a finished result: within a second each, on a machine like the reference."""

import time

import pytest
from evenfall.paper.field_sheet import make_sheet
from evenfall.paper.handover import make_handover
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.result.assessment import assess

from ..machine import slowness

LIMIT_S = 1.0


@pytest.mark.parametrize("name", ["commissioning", "before-repair"])
def test_each_paper_within_a_second(name):
    record = parse_record(sample_text(name))
    result = assess(record)
    make_sheet(record)  # fonts are read once
    for kind, make in (("handover", lambda: make_handover(record, result)),
                       ("field sheet", lambda: make_sheet(record))):
        slow = slowness()
        best = min(_timed(make) for _ in range(3))
        print(f"{kind} of {name}: {best:.2f} s, machine {slow:.2f} times the reference")
        assert best < LIMIT_S * max(slow, 1.0)


def _timed(make):
    begun = time.perf_counter()
    make()
    return time.perf_counter() - begun
