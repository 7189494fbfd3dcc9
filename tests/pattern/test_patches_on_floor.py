"""Patches without cans, judged by the pattern of the heads."""

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.pattern.patches import judge_on_floor
from evenfall.pattern.whole_floor import estimate_floor
from evenfall.record.file import parse_record, plain_text
from evenfall.record.model import to_plain
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of
from evenfall.result.assessment import assess

from . import patches_table


@pytest.fixture(scope="module")
def floor():
    site = site_of(parse_record(sample_text("blocked-head")))
    return estimate_floor(site, read_catch(site))


def test_the_answer_is_that_of_the_draws(floor):
    left, right, start, end = 0.5, 2.5, 9.0, 11.0  # round the blocked head
    answer = judge_on_floor(floor, (left, right, start, end), 0)
    x, y = floor.cells.places.T
    inside = (x >= left) & (x <= right) & (y >= start) & (y <= end)
    depth = floor.estimate.draws
    ratio = depth[:, inside].mean(axis=1) / depth[:, ~inside].mean(axis=1)
    assert answer.ratio == pytest.approx(np.median(ratio)) and answer.answer == "drier" and answer.chance > 0.95
    assert "from the pattern of the heads" in answer.says


def test_a_patch_with_no_ground_or_all_of_it_is_left_to_the_cans(floor):
    assert judge_on_floor(floor, (0.0, 1e-3, 0.0, 1e-3), 0) is None
    assert judge_on_floor(floor, (0.0, 1e3, 0.0, 1e3), 0) is None


def test_a_patch_between_the_cans_gets_an_answer():
    plain = to_plain(parse_record(sample_text("blocked-head")))
    plain["patches"] = [{"x": ["5 ft", "6 ft"], "y": ["32 ft", "34 ft"], "note": "bare"}]
    record = parse_record(plain_text(plain))
    by_cans, by_heads = (assess(record, rivals=rivals).patches[0] for rivals in (False, True))
    assert by_cans.answer == "cannot tell" and by_heads.answer == "drier" and by_heads.chance >= 0.95


@pytest.mark.long
def test_nine_in_ten_of_the_sure_answers_are_true():
    told = [(answer, ratio) for seed in range(8) for answer, ratio in patches_table.answers(500 + seed)
            if answer.answer != "cannot tell"]
    assert len(told) > 20
    assert sum(patches_table.is_true(answer.answer, ratio) for answer, ratio in told) >= 0.9 * len(told)
