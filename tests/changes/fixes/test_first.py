"""What is at fault is mended first, whatever that brings; sizes are those of the trade."""

import re

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.causes.cause import Cause
from evenfall.changes.change import ChangeError, read_changes
from evenfall.changes.fixes.candidates import singles
from evenfall.changes.fixes.first import at_fault
from evenfall.changes.fixes.judge import baseline_of
from evenfall.changes.fixes.search import find_fixes, try_change
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.assessment import assess

from ...causes import simulated


@pytest.fixture(scope="module")
def sound():
    site = site_of(parse_record(sample_text("commissioning")))
    return site, estimate_floor(site, read_catch(site))


def cause(kind, strength, *mends):
    return Cause(kind, "", "", strength, "", kind=kind, mends=mends)


def test_a_head_that_a_cause_names_is_mended_first_even_if_it_brings_nothing(sound):
    site, floor = sound
    name = site.lines[0].name
    assert not floor.estimate.suspects
    first, *others = find_fixes(site, floor, causes=[cause("weak head", 0.8, (name, 7))])
    assert first.change == {"mend": f"{name}:7"}
    assert f"clean or change line {name}, head 7" in first.says.casefold()
    assert re.search(r"the ground around what is mended from \d+ to \d+ % of the mean", first.says)
    assert not re.search(r"from (\d+) to \1 %", first.says.split(",")[0])
    assert all(fix.change["mend"] == f"{name}:7" for fix in others)
    assert "stays at" in first.says


def test_a_hint_is_not_mended(sound):
    site, floor = sound
    fixes = find_fixes(site, floor, causes=[cause("weak head", 0.3, (site.lines[0].name, 7))])
    assert not any("mend" in fix.change for fix in fixes)


def test_a_throttled_line_is_brought_back_to_what_the_others_give(sound):
    site, floor = sound
    name = site.lines[0].name
    assert at_fault(baseline_of(site, floor), [cause("line low", 0.9, (name, 0))]) == [f"mend={name}:all"]
    low = floor.estimate.samples
    heads = np.array([head[0] == name for head in floor.heads])
    weaker = type(low)(low.radius, low.rate, np.where(heads, 0.6, 1.0) * low.trend,
                       np.where(heads, 0.6, 1.0) * low.output)
    throttled = type(floor)(**(vars(floor) | {"estimate": type(floor.estimate)(
        **(vars(floor.estimate) | {"samples": weaker}))}))
    back = try_change(site, throttled, read_changes([f"mend={name}:all"])).fix
    sane = try_change(site, floor, read_changes(["mend=suspects"] if floor.estimate.suspects else
                                                [f"mend={name}:1"])).fix
    assert back.du_low_quarter.value == pytest.approx(sane.du_low_quarter.value, abs=1.5)
    assert back.rate_mm_h == pytest.approx(sane.rate_mm_h, rel=0.02)
    assert back.name == "a line mended" and "back to full flow" in back.says
    with pytest.raises(ValueError, match="expected one of the lines"):
        try_change(site, floor, read_changes(["mend=nowhere:all"]))
    with pytest.raises(ChangeError, match="a whole line such as left:all"):
        read_changes(["mend=left:most"])


def test_dirt_at_the_end_of_a_line_is_flushed(sound):
    site, floor = sound
    line = site.lines[0]
    last = len(line.along)
    ends = [(line.name, number) for number in range(last - 2, last + 1)]
    fix = find_fixes(site, floor, causes=[cause("end heads", 0.7, *ends)])[0]
    assert fix.says.startswith(f"Flush line {line.name} at its end plug, clean or change line {line.name}, heads "
                               f"{last - 2} to {last}: ")


def test_planted_faults_are_named_and_mended_first():
    """A half-closed valve and clogged last heads, from cans alone to the first fix."""
    for plant in ("one line low", "end heads clogged"):
        found = 0
        for seed in range(3):
            result = assess(parse_record(simulated.tunnel(plant, seed)[0]))
            likely = [each for each in result.causes if each.strength >= 0.5 and each.mends]
            if likely:
                first = result.fixes[0].change
                assert "mend" in first
                found += all(f"{line}:{number or 'all'}" in first["mend"] or first["mend"] == "suspects"
                             for line, number in likely[0].mends)
        assert found >= 2, plant


@pytest.mark.parametrize("system, step", [("US", 5.0), ("metric", 50.0)])
def test_regulators_are_changed_in_steps_of_the_trade(sound, system, step):
    site, floor = sound
    baseline = baseline_of(site, floor)
    found = [items[0] for items in singles(site, floor.estimate.profile.throw.value, baseline.water, system)]
    wanted = [float(item.split("=")[1].split()[0]) for item in found if item.startswith("pressure=")]
    assert len(wanted) >= 2 and all(value / step == pytest.approx(round(value / step)) for value in wanted)
    set_now = site.supply.regulator.set.to("psi" if system == "US" else "kPa")
    assert all(abs(value - set_now) > 0.04 * step for value in wanted)
    change = read_changes([f"pressure={wanted[-1]:g} {'psi' if system == 'US' else 'kPa'}"])
    fix = try_change(site, floor, change, system).fix
    assert fix.says.startswith("Change the regulator for one of")
    assert [(part.item, part.count) for part in fix.parts] == [("regulator", 1)]


@pytest.mark.parametrize("system, step", [("US", 0.3048), ("metric", 0.5)])
def test_wider_heads_come_in_plain_steps_and_no_wider_than_the_floor(sound, system, step):
    site, floor = sound
    baseline = baseline_of(site, floor)
    for reach in (1.7, 2.9, 4.1):
        found = [read_changes(items).values["wetted_diameter"] for items in singles(site, reach, baseline.water, system)
                 if items[0].startswith("wetted_diameter")]
        assert all(2 * reach < wide <= site.width and wide / step == pytest.approx(round(wide / step))
                   for wide in found)
    fix = try_change(site, floor, read_changes([f"wetted_diameter={site.width:g} m"])).fix
    assert any("past the left wall, the right wall" in text for text in fix.warnings)
