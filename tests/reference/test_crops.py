"""Which part of the held water a crop may use."""

import pytest
from evenfall.reference.crops import may_use


@pytest.mark.parametrize("kind, part", [("spinach", 0.20), ("celery", 0.20), ("Strawberries", 0.20), ("lettuce", 0.30),
                                        ("onions", 0.30), ("pepper", 0.30), ("radish", 0.30), ("carrots", 0.35),
                                        ("Tomatoes", 0.40), ("cucumber", 0.50)])
def test_the_table_as_published(kind, part):
    """FAO-56, table 22, at 5 mm a day."""
    assert may_use(kind, 5.0).part == pytest.approx(part)
    assert may_use(kind, 5.0).source == "FAO-56, table 22" and may_use(kind, 5.0).known


def test_less_use_lets_it_use_more_and_the_ends_hold():
    assert may_use("tomato", 3.0).part == pytest.approx(0.48) and may_use("tomato", 8.0).part == pytest.approx(0.28)
    assert may_use("spinach", 9.0).part == 0.1 and may_use("cucumber", 0.1).part == pytest.approx(0.696)


@pytest.mark.parametrize("kind", ["leafy greens", "tomato and basil", "kale", "", None])
def test_another_crop_is_not_taken_by_a_part_of_its_name(kind):
    found = may_use(kind, 5.0)
    assert (found.part, found.known, found.source) == (0.30, False, "from memory")


@pytest.mark.parametrize("kind, part", [("garlic", 0.30), ("cabbage", 0.45), ("broccoli", 0.45), ("aubergine", 0.45)])
def test_what_is_from_memory_says_so(kind, part):
    assert may_use(kind, 5.0).part == pytest.approx(part) and may_use(kind, 5.0).source == "from memory"
