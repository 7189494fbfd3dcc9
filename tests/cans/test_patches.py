"""Patches: the four answers, and intervals that hold on simulated tunnels."""

import numpy as np
import pytest
from evenfall.cans.patches import judge_patch
from evenfall.record.ground import Ground

SIZE = (7.6, 22.0)
GROUND = Ground(*SIZE, ((0.0, 7.6, 0.0, 22.0),))


def grid(nx=6, ny=10):
    x, y = np.meshgrid((np.arange(nx) + 0.5) * SIZE[0] / nx, (np.arange(ny) + 0.5) * SIZE[1] / ny)
    return x.ravel(), y.ravel()


def judged(inside, outside=8.0, patch=(0, 2.53, 11, 19.8), noise=0.03, seed=0):
    x, y = grid()
    rng = np.random.default_rng(seed)
    within = (x >= patch[0]) & (x <= patch[1]) & (y >= patch[2]) & (y <= patch[3])
    depth = np.where(within, inside, outside) * (1 + rng.normal(0, noise, x.size))
    return judge_patch(x, y, depth, patch, GROUND, "stunted")


def test_drier():
    answer = judged(4.0)
    assert answer.answer == "drier" and answer.high < 1 and answer.ratio == pytest.approx(0.5, abs=0.1)
    assert answer.says.startswith("Drier: ") and "Water is a likely cause here." in answer.says


def test_wetter_stunts_too():
    answer = judged(14.0)
    assert answer.answer == "wetter" and answer.low > 1
    assert "Too much water stunts a crop too." in answer.says


def test_alike_shows_the_interval():
    answer = judged(8.0)
    assert answer.answer == "alike" and answer.low > 0.85 and answer.high < 1.15
    interval = f"{100 * answer.low:.0f} to {100 * answer.high:.0f} %"
    assert answer.chance > 0.9 and "in 100, so not short of water" in answer.says
    assert f"({interval}, from {answer.cans_inside} cans inside)" in answer.says


def test_the_chance_is_that_of_the_answer():
    chances = [judged(depth).chance for depth in (4.0, 6.0, 14.0)]
    assert min(chances) >= 0.95
    unsure = judged(7.0, patch=(0, 2.2, 12, 17), noise=0.35)
    assert unsure.chance < 0.95 and "likeliest" in unsure.says


def test_one_can_cannot_tell():
    answer = judged(4.0, patch=(0, 1.2, 12, 14))
    assert answer.cans_inside == 1
    assert answer.answer == "cannot tell" and "from 1 can inside" in answer.says


def test_noise_cannot_tell():
    assert judged(7.0, patch=(0, 2.2, 12, 17), noise=0.35).answer == "cannot tell"


def test_a_patch_over_everything_has_nothing_to_compare():
    x, y = grid()
    answer = judge_patch(x, y, np.ones_like(x), (0, 7.6, 0, 22), GROUND)
    assert answer.answer == "cannot tell" and answer.ratio is None
    assert "nothing to compare it with" in answer.says


def test_a_patch_the_wrong_way_round():
    x, y = grid()
    assert "correct the patch" in judge_patch(x, y, np.ones_like(x), (3, 1, 0, 22), GROUND).says


def test_scale_does_not_matter():
    x, y = grid()
    depth = np.random.default_rng(3).gamma(20, 0.4, x.size)
    one, ten = (judge_patch(x, y, depth * factor, (0, 3, 5, 12), GROUND) for factor in (1, 10))
    assert (ten.ratio, ten.low, ten.high) == pytest.approx((one.ratio, one.low, one.high))


def simulated(seed):
    """A tunnel under lines of heads, cans on a grid, and a patch; with the true ratio."""
    rng = np.random.default_rng(seed)
    lines = [[1.9, 5.7], [3.8], [1.3, 3.8, 6.3]][seed % 3]
    heads = np.arange(1, 21, rng.uniform(0.8, 1.5))
    reach, fall = rng.uniform(2, 3), rng.choice([0, 0.25, 0.5])
    outputs = {line: 1 - fall * heads / 22 + rng.normal(0, 0.05, heads.size) for line in lines}
    if seed % 5 == 0:
        outputs[lines[0]][rng.integers(heads.size)] = 0

    def rate(x, y):
        total = np.zeros(np.shape(x))
        for line in lines:
            r = np.hypot(x[..., None] - line, y[..., None] - heads) / reach
            shape = np.sqrt(np.clip(1 - r**2, 0, None)) if seed % 2 else np.clip(1 - r, 0, None)
            total += shape @ outputs[line]
        return total

    x, y = grid(rng.integers(5, 8), rng.integers(6, 12))
    depth = np.maximum(rate(x + rng.normal(0, 0.04, x.size), y + rng.normal(0, 0.04, x.size)), 0)
    depth *= 1 + rng.normal(0, 0.04, x.size)
    left, start = rng.uniform(0, 5), rng.uniform(0, 14)
    patch = (left, left + rng.uniform(1.8, 2.6), start, start + rng.uniform(4, 8))
    fine_x, fine_y = np.meshgrid((np.arange(76) + 0.5) / 10, (np.arange(220) + 0.5) / 10)
    truth = rate(fine_x, fine_y)
    inside = (fine_x > patch[0]) & (fine_x < patch[1]) & (fine_y > patch[2]) & (fine_y < patch[3])
    return judge_patch(x, y, depth, patch, GROUND), truth[inside].mean() / truth[~inside].mean()


@pytest.mark.long
def test_intervals_hold_on_simulated_tunnels():
    held, wrong, told = 0, 0, 0
    count = 60
    for seed in range(1000, 1000 + count):
        answer, truth = simulated(seed)
        held += answer.low <= truth <= answer.high
        told += answer.answer != "cannot tell"
        wrong += {"drier": truth > 1, "wetter": truth < 1, "alike": abs(truth - 1) > 0.2}.get(answer.answer, False)
    print(f"\npatches: interval holds in {held} of {count}, an answer in {told}, wrong in {wrong}")
    assert held >= 0.83 * count  # nominal 90, with the luck of 60 tunnels
    assert wrong <= 2 and told >= count / 3
