"""What is wrong with a planted system is what is offered: each cause of the supply has its own right answer."""

import numpy as np
import pytest
from evenfall.changes.change import read_changes
from evenfall.changes.fixes.search import try_change
from evenfall.hydraulics.system import system_of, working_point
from evenfall.record.site import site_of
from evenfall.result.assessment import assess

from .planted import planted

SUPPLY = """[supply]
kind = "mains"
static = "{static} kPa"
height = "0.5 m"
flowing = [{{ pressure = "{flowing} kPa", volume = "40 L", time = "40 s" }}]
hose = {{ length = "{length} m", inside = "{hose} mm" }}
filter = {{ clean_loss = "{loss} kPa", at = "2 m3/h"{loaded} }}
regulator = {{ set = "220 kPa"{regulator} }}
"""
YS = np.arange(0.4, 20.0, 0.8)


def supply(static=420, flowing=390, length=10, hose=32, loss=10, loaded="", regulator=""):
    return SUPPLY.format(**locals())


def found(**parts):
    """A planted tunnel, its working point and what is offered."""
    given = {"width": 6.0, "length": 20.0, "xs": [1.5, 4.5], "ys": YS, "reach": 1.9, "supply": supply(), **parts}
    record = planted(**given)
    return record, working_point(system_of(site_of(record))).stages[0], assess(record)


def offered(result, *keys):
    """The fix with just these keys, and its place in the list."""
    for place, fix in enumerate(result.fixes):
        if set(fix.change) == set(keys):
            return place, fix
    raise AssertionError(f"{keys} not in {[fix.change for fix in result.fixes]}")


def test_a_loaded_filter_that_starves_the_regulator_is_cleaned_first():
    record, stage, result = found(supply=supply(loss=25, loaded=", loaded = 10"))
    assert stage.regulator == "starved"
    place, fix = offered(result, "filter")
    assert place == 0 and fix.parts == [] and fix.feasible
    assert fix.du_low_quarter.value > result.whole_floor.du_low_quarter.value + 5
    clean = record.supply.filter.model_copy(update={"loaded": None})
    after = record.model_copy(update={"supply": record.supply.model_copy(update={"filter": clean})})
    assert fix.flow_l_h == pytest.approx(working_point(system_of(site_of(after))).total, rel=1e-6)


def test_two_lines_that_starve_each_other_run_in_turn():
    _, stage, result = found(supply=supply(static=300, flowing=130, length=3))
    assert stage.regulator == "starved"
    place, fix = offered(result, "run_lines")
    assert place == 0 and [(part.item, part.count) for part in fix.parts] == [("valve", 2)]
    assert fix.flow_l_h < 0.75 * stage.flow


def test_a_long_thin_hose_is_shortened_or_widened():
    _, stage, result = found(supply=supply(length=25, hose=16))
    assert stage.regulator == "starved"
    keys = set(result.fixes[0].change)
    assert keys & {"hose", "hose_length"} and not keys & {"run_lines", "filter"}


def test_a_regulator_too_small_for_the_flow_is_replaced():
    _, stage, result = found(supply=supply(regulator=', most_flow = "800 L/h", droop = "60 kPa"'))
    assert stage.regulator == "droops" and stage.flow > 800
    _, fix = offered(result, "regulator_range")
    assert [(part.item, part.count) for part in fix.parts] == [("regulator", 1)]
    assert not any("up to which it holds" in text for text in fix.warnings)


def test_bare_ends_get_heads_at_the_ends_only():
    _, _, result = found(ys=np.arange(2.0, 18.1, 0.8))
    _, fix = offered(result, "first")
    assert fix.change["first"] == "0.4 m" and [(part.item, part.count) for part in fix.parts] == [("head", 8)]
    _, fix = offered(result, "add_at_ends")
    assert [(part.item, part.count) for part in fix.parts] == [("head", 4)]


def test_a_long_thin_line_is_fed_from_its_middle_or_gets_a_wider_tube():
    record, _, result = found(length=30.0, ys=np.arange(0.4, 30.0, 0.8), bore="13 mm")
    assert any(set(fix.change) & {"fed_from", "pipe"} for fix in result.fixes)
    floor = result.floor
    for change in ("fed_from=middle", "pipe=20.9 mm", "flow=27 L/h"):
        tried = try_change(site_of(record), floor, read_changes([change]))
        assert tried.fix.du_low_quarter.value > result.whole_floor.du_low_quarter.value + 1


def test_a_line_is_hung_only_where_one_can_be_carried():
    _, _, result = found(reach=1.4, more_floor='hangs_at = ["1.5 m", "3 m", "4.5 m"]')
    _, fix = offered(result, "line_x")
    assert fix.change["line_x"] == "1.5 m, 3 m, 4.5 m"
    assert {part.item: part.count for part in fix.parts}["head"] == len(YS)
    assert not any(part.item == "line to move, m" for part in fix.parts)


def test_without_carriers_a_line_anywhere_is_marked_as_such():
    from evenfall.result.text import report_text

    record, _, result = found(reach=1.4)
    lines = [fix for fix in result.fixes if "line_x" in fix.change]
    assert lines and all("(if the frame can carry one there)" in fix.says for fix in lines)
    assert "floor.hangs_at" in report_text(record, result)
    _, _, known = found(reach=1.4, more_floor='hangs_at = ["1.5 m", "3 m", "4.5 m"]')
    assert not any("(if the frame" in fix.says for fix in known.fixes)


def test_a_change_that_the_supply_cannot_carry_says_why():
    record, _, result = found(reach=1.4, supply=supply(static=260, flowing=225), more_floor='hangs_at = ["3 m"]')
    tried = try_change(site_of(record), result.floor, read_changes(["line_x=1.5 m, 3 m, 4.5 m", "add_between=yes"]))
    assert tried.fix.feasible is False and "the lowest head would be left with" in tried.fix.why_not
    turn = try_change(site_of(record), result.floor, read_changes(["line_x=1.5 m, 3 m, 4.5 m", "add_between=yes",
                                                          "run_lines=in turn"]))
    assert turn.fix.feasible is True


def test_fast_water_is_a_warning_and_no_hindrance():
    record, _, result = found(bore="13 mm", supply=supply(hose=14, length=2, static=800, flowing=700))
    tried = try_change(site_of(record), result.floor, read_changes(["fed_from=far"])).fix
    assert tried.feasible is True and any("m/s where a line or its riser begins" in text for text in tried.warnings)
    wide, _, same = found(bore="35.1 mm", supply=supply(hose=14, length=2, static=800, flowing=700))
    fast_hose = try_change(site_of(wide), same.floor, read_changes(["fed_from=far"])).fix
    assert not any("m/s" in text for text in fast_hose.warnings)
    system = system_of(site_of(wide))
    point = working_point(system)
    assert point.stages[0].velocities["hose"] > 1.5 and not any("m/s" in text for text in point.warnings)
