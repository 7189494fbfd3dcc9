"""The sample records: the first cause is what each was made to show."""

import pytest
from evenfall.causes.finding import find_causes
from evenfall.record.samples import SHOWS, sample_text

from .hand import inputs

# Kinds that may come first; None: a sound system, nothing but dry ends or edges over a half.
FIRST = {
    "blocked-head": {"weak head"}, "commissioning": None, "starved-far-end": {"starved regulator", "friction"},
    "lines-too-far-apart": {"lines too far apart"}, "before-repair": {"weak head"}, "after-repair": None,
    "staggered-rows": None, "half-circles": None, "bare": None,
}


def causes_of_sample(name):
    return find_causes(*inputs(sample_text(name)))


def test_every_sample_has_its_line():
    assert set(FIRST) == set(SHOWS)


@pytest.mark.parametrize("name", FIRST)
def test_the_first_cause_is_what_the_sample_shows(name):
    found = causes_of_sample(name)
    if FIRST[name] is None:
        assert not [each for each in found if each.strength > 0.5 and each.kind not in ("dry ends", "dry edges")]
    else:
        assert found[0].kind in FIRST[name]
