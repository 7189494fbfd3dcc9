"""Made-up tests for comparing: summaries without records."""

import base64

import numpy as np
from evenfall.pattern.floor import Figure
from evenfall.record.conditions import Conditions
from evenfall.store.kept import Kept
from evenfall.store.summaries import FloorSummary, Habits, Summary

NINETY = 1.645


def kept(du, sd=3.0, *, name="t", member="HB", tunnel="T1", date="2027-05-01", cu=None, seed=0, cans=48, sides="closed",
         lines="together", wind=0.2, floor=True, **more):
    """One test whose whole-floor DUlq has a standard error of `sd` [points]."""
    cells = 100 + 40 * (1 - du / 100) * np.random.default_rng(seed).standard_normal(24 * 8)
    found = FloorSummary(
        "heads", Figure(cu or du + 8, (cu or du + 8) - NINETY * sd, (cu or du + 8) + NINETY * sd),
        Figure(du, du - NINETY * sd, du + NINETY * sd), Figure(5.0, 4.6, 5.4), 0, {}, (24, 8),
        base64.b64encode(np.clip(cells, 0, 254).astype(np.uint8).tobytes()).decode())
    summary = Summary(
        id=name, title=f"Test {name}", date=date, site="Heron Bank", zone="both lines", tunnel=tunnel, member=member,
        purpose=more.pop("purpose", "survey"), rechecks=more.pop("rechecks", None), cans=cans,
        can_places=more.pop("can_places", "p"), cu=du + 10, du_low_quarter=more.pop("at_the_cans", du + 3),
        conditions=Conditions(lines, sides, wind, {}), habits=Habits(**more.pop("habits", {})), width_m=7.6,
        length_m=22.0, area_m2=167.0, daily_use_mm=more.pop("daily_use_mm", 4.0), target=None,
        floor=found if floor else None, units=more.pop("units", "metric"), closed=())
    assert not more, more
    return Kept(name, 1, f"{date}T10:00:00+00:00", name.ljust(64, "0"), summary)


def cooperative(count=12, low=(45.0, 50.0, 52.0), rest=78.0, sd=3.0, seed=1):
    """A few dry tunnels among alike ones, three a member."""
    rng = np.random.default_rng(seed)
    truth = [*low, *[rest] * (count - len(low))]
    return [kept(value + sd * rng.standard_normal(), sd, name=f"t-{place}", member=f"M{place // 3}",
                 tunnel=f"T{place % 3 + 1}", seed=place) for place, value in enumerate(truth)]
