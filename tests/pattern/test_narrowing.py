"""Further readings, against cases that can be worked out by hand."""

import numpy as np
import pytest
from evenfall.pattern.narrowing import Ensemble, most_telling, worth

DRAWS = 4000


@pytest.fixture
def ensemble():
    """An answer that the second of three readings tells well, the first a little, the third not at all."""
    rng = np.random.default_rng(5)
    answer, other, third = rng.standard_normal((3, DRAWS))
    readings = np.column_stack([0.5 * answer + other, 2.0 * answer, third])
    return Ensemble(readings, np.array([0.1, 1.0, 0.1]), answer[:, None])


def test_the_most_telling_comes_first_and_chance_is_left_out(ensemble):
    assert most_telling(ensemble, 3, np.eye(3, dtype=bool), np.ones(1))[0] == 1
    assert 2 not in most_telling(ensemble, 3, np.eye(3, dtype=bool), np.ones(1))


def test_what_is_left_is_that_of_a_normal_law(ensemble):
    one, two = worth(ensemble, [1, 0])
    # y = 2 a + e with variance 1: a keeps 1 / (1 + 4); then y = a / 2 + o + e with variance 1.1
    assert one.left[0] == pytest.approx(np.sqrt(1 / 5), rel=0.05)
    assert two.left[0] == pytest.approx(np.sqrt(1 / (5 + 0.25 / 1.1)), rel=0.05)
    assert one.share[0] == pytest.approx(0.8, abs=0.02)


def test_readings_that_stand_too_near_are_not_both_taken(ensemble):
    assert most_telling(ensemble, 3, np.ones((3, 3), bool), np.ones(1)) == [1]


def test_weights_count(ensemble):
    half = np.repeat([1.0, 0.0], DRAWS // 2)
    weighed = Ensemble(ensemble.readings, ensemble.noise, ensemble.answers, half)
    some = worth(ensemble.part(slice(0, DRAWS // 2)), [1])[0].left[0]
    assert worth(weighed, [1])[0].left[0] == pytest.approx(some, rel=1e-3)


def test_draws_that_had_no_part_in_the_choice_see_through_chance():
    rng = np.random.default_rng(6)
    noise = Ensemble(rng.standard_normal((60, 400)), np.full(400, 0.01), rng.standard_normal((60, 1)))
    chosen = most_telling(noise.part(slice(0, 30)), 5, np.eye(400, dtype=bool), np.ones(1))
    assert len(chosen) == 5 and worth(noise.part(slice(30, 60)), chosen)[-1].left[0] > 0.8
