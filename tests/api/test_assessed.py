"""The public result: frames, arrays, plot, text and JSON are the same result that the command prints."""

import copy
import json
import pickle
import subprocess
import sys

import evenfall
import numpy as np
import pandas as pd
import pytest
from evenfall.cans.index_table import INDICES
from evenfall.record.samples import folder

from ..conftest import GRID


@pytest.fixture(scope="module")
def blocked():
    return evenfall.assess(evenfall.read(folder() / "blocked-head.toml"))


def printed(*words):
    command = [sys.executable, "-m", "evenfall.cli", "assess", folder() / "blocked-head.toml", "--units", "metric",
               *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout


def test_json_is_what_the_command_prints(blocked):
    text = printed("--json")
    assert blocked.to_json() == text
    assert blocked.to_dict() == json.loads(text)


def test_text_is_what_the_command_prints(blocked):
    assert blocked.text() == printed()


def test_every_index_is_an_attribute(blocked):
    plain = blocked.to_dict()["at_the_cans"]
    for key in INDICES:
        assert getattr(blocked, key) == pytest.approx(plain[key], rel=1e-5)
    with pytest.raises(AttributeError, match="an assessment has no 'quality'; its indices are cu, "):
        _ = blocked.quality


@pytest.mark.parametrize(("name", "key", "columns"), [
    ("heads", "heads", {"line": "line", "x [m]": "x_m", "output [1]": "output", "trend [1]": "trend"}),
    ("dry_spots", "dry_spots", {"where": "where", "area [m2]": "area_m2", "depth [mm]": "depth_mm"}),
    ("causes", "causes", {"cause": "cause", "strength [1]": "strength", "check next": "check_next"}),
    ("fixes", "fixes", {"name": "name", "rate [mm/h]": "rate_mm_h", "flow [L/h]": "flow_l_h"}),
])
def test_frames_hold_what_the_json_holds(blocked, name, key, columns):
    frame, plain = getattr(blocked, name), blocked.to_dict()[key]
    assert isinstance(frame, pd.DataFrame) and len(frame) == len(plain) > 0
    for column, part in columns.items():
        for ours, theirs in zip(frame[column], plain, strict=True):
            assert ours == (theirs[part] if isinstance(theirs[part], str) else pytest.approx(theirs[part], rel=1e-5))
    for column in frame:  # a number says its unit
        numbers = frame[column].dtype.kind == "f"
        assert numbers <= column.endswith("]"), column


def test_the_cans_are_a_frame(blocked):
    frame = blocked.cans
    counted = frame[frame["state"] == "counted"]
    assert len(frame) == blocked.to_dict()["catch"]["cans"]
    assert evenfall.cu(counted["depth [mm]"], counted["weight [1]"]) == pytest.approx(blocked.cu, rel=1e-12)


def test_the_floor_is_arrays(blocked):
    floor = blocked.floor
    assert floor.depth.shape == floor.sd.shape == (len(floor.y), len(floor.x))
    assert np.nanmean(floor.depth) == pytest.approx(blocked.whole_floor.mean_mm.value, rel=0.03)
    assert floor.x[0] > 0 and floor.x[-1] < blocked.record.floor.width.si


def test_plot_is_a_plotly_figure(blocked):
    import plotly.graph_objects as go

    heads, cans, sure = (blocked.plot(layer) for layer in ("heads", "cans", "sure"))
    assert all(isinstance(figure, go.Figure) for figure in (heads, cans, sure))
    assert heads.data[0].z.shape == blocked.floor.depth.shape
    assert blocked.plot().data[0].z.shape == heads.data[0].z.shape
    with pytest.raises(ValueError, match="received the layer 'head', expected heads or cans or sure"):
        blocked.plot("head")


def test_a_result_can_be_copied_and_kept(blocked):
    assert pickle.loads(pickle.dumps(blocked)).to_json() == copy.deepcopy(blocked).to_json() == blocked.to_json()


def test_a_test_without_heads_has_empty_frames_with_their_columns():
    found = evenfall.assess(evenfall.read(GRID))
    assert found.heads.empty and "output [1]" in found.heads
    assert found.fixes.empty and "DUlq [%]" in found.fixes
    assert repr(found).startswith("<Assessment of 'A test for the tests': at the cans CU ")


def test_an_earlier_test_is_held_against_it():
    before, after = (evenfall.read(folder() / f"{name}-repair.toml") for name in ("before", "after"))
    assert evenfall.assess(after).to_dict()["recheck"] is None
    assert evenfall.assess(after, earlier=before).to_dict()["recheck"]["id"] == before.test.id
    assert evenfall.assess(after, earlier=after).to_dict()["recheck"] is None  # not the one that it follows up


def test_a_change_is_tried_with_the_estimate_that_is_there(blocked):
    ours = evenfall.try_change(blocked, {"mend": "suspects"})
    again = evenfall.try_change(blocked.record, {"mend": "suspects"})
    assert ours.fix == again.fix and ours.fix.du_low_quarter.value > blocked.whole_floor.du_low_quarter.value
    assert evenfall.try_change(blocked, {"lines": 3}).fix.change == {"lines": "3"}
    with pytest.raises(ValueError, match="received the change of 'line'"):
        evenfall.try_change(blocked, {"line": "3"})


def test_a_plan_needs_no_readings():
    text = 'record = 1\n[test]\ntitle = "To come"\n[floor]\nwidth = "6 m"\nlength = "9 m"\n'
    plan = evenfall.plan(evenfall.read(text, planning=True), cans=24)
    assert plan.proposed.expected.cans == 24


@pytest.mark.parametrize(("wrong", "says"), [
    (lambda record: evenfall.assess("test.toml"), "received a str, expected a record"),
    (lambda record: evenfall.assess(record, "imperial"), "received the units 'imperial', expected metric or US"),
    (lambda record: evenfall.assess(record, part_of_mean=2), "part"),
    (lambda record: evenfall.plan(None), "received a NoneType, expected a record"),
])
def test_what_is_no_record_is_refused(wrong, says):
    with pytest.raises(ValueError, match=says):
        wrong(evenfall.read(GRID))
