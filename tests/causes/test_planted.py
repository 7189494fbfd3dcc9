"""Planted causes come first, and sound tunnels get none: a small table, printed."""

import pytest

from .simulated import PLANTS, confusion, sound_tunnels, table_text

pytestmark = pytest.mark.long

EACH, SOUND = 3, 20


def test_planted_causes_come_first():
    table = confusion(EACH, first_seed=50)
    print("\n" + table_text(table))
    right = [ok for rows in table.values() for _, ok, _ in rows]
    assert len(table) == len(PLANTS) >= 12
    assert sum(right) >= 0.85 * len(right)


def test_sound_tunnels_get_no_strong_cause():
    found = sound_tunnels(SOUND, first_seed=50)
    over = [one for one in found if one[1] > 0.5]
    print(f"\nsound: {len(over)} of {len(found)} with a cause over 0.5: {over}")
    assert len(over) <= 0.05 * SOUND
