"""Lines that ran for different times: the record says so, and the cans are read by it."""

import evenfall
import numpy as np
import pytest
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.assessment import assess

TEXT = sample_text("commissioning")
NAMES = tuple(line.name for line in site_of(parse_record(TEXT)).lines)
FIRST = NAMES[0]


@pytest.fixture(scope="module", params=[("26 min", (FIRST,)), ("60 min", (FIRST,)), ("22 min", NAMES)],
                ids=["one for less", "one for more", "all for less"])
def assessed(request):
    """A sound tunnel whose lines ran for other times than the run's."""
    time, lines = request.param
    text = TEXT
    for line in lines:
        text = text.replace(f'name = "{line}"', f'name = "{line}"\nran = "{time}"')
    record = evenfall.simulate(parse_record(text), seed=3)
    return record, assess(record, rivals=True)


def test_a_time_that_is_recorded_is_no_fault(assessed):
    _, result = assessed
    odd = {"system low", "line low", "weak head", "strong head", "two kinds", "fall not explained", "step"}
    assert [cause.kind for cause in result.causes if cause.kind in odd and cause.strength > 0.25] == []
    assert not any(head.suspect for head in result.heads)
    assert result.fit.rivals == []


def test_heads_are_told_by_what_they_give_while_they_run(assessed):
    _, result = assessed
    trend = np.array([head.trend for head in result.heads])
    first = np.array([head.line == FIRST for head in result.heads])
    assert trend[first].mean() == pytest.approx(trend[~first].mean(), abs=0.08)
    assert result.floor.estimate.profile.flow.value == pytest.approx(38.0, rel=0.25)


def test_the_depth_on_the_floor_follows_the_times(assessed):
    record, result = assessed
    site, floor = site_of(record), result.floor
    water = result.whole_floor.mean_mm.value
    flows = sum(line.ran / 3600 * len(line.along) for line in site.lines) * site.head_flow / (site.width * site.length)
    assert water == pytest.approx(flows, rel=0.3)
    samples = floor.estimate.samples
    output = samples.output.mean(axis=0)
    per_line = [output[[head[0] == line.name for head in floor.heads]].mean() for line in site.lines]
    assert per_line[0] / per_line[1] == pytest.approx(site.lines[0].ran / site.lines[1].ran, rel=0.1)


def test_water_and_cans_balance_by_the_times():
    """Half the water in half the time is no reason to doubt the readings."""
    from evenfall.cans.catch import read_catch
    from evenfall.cans.water_balance import wetness

    whole = parse_record(TEXT)
    text = TEXT
    for line in site_of(whole).lines:
        text = text.replace(f'name = "{line.name}"', f'name = "{line.name}"\nran = "10 min"')
    one, other = (wetness(site_of(record), read_catch(site_of(record))) for record in (whole, parse_record(text)))
    assert other / one == pytest.approx(site_of(whole).duration / 600)
