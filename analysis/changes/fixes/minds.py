"""What to mind of a change beside its supply: soil that takes in less, spray past the walls, frames that must carry."""

from __future__ import annotations

import numpy as np

from ...pattern.many import point_rates
from ...pattern.overlap import average, distances, quantile
from ...reference.soils import INTAKE_SOURCE, soak, soil_of
from ...units.shown import show
from ..predict import point_heads, samples_of
from .judge import Baseline, Judged, predicted_of, throw_of

WETTEST = 0.95  # of the ground, in order of its rate: the highest rate that counts
LEAST_RING = 0.1  # part of the water in a ring that is worth a word; a judgement
PAST_WALL = 0.25  # [m] of a head's reach past a wall that is not worth a word; a judgement


def runs_off(baseline: Baseline, judged: Judged, system: str) -> list[str]:
    """Whether the wettest ground would get water faster than its soil takes in, and how to water it then.

    The times are for as much water as the test gave.

    Parameters
    ----------
    baseline : Baseline
        The test; its crop has the soil, or not.
    judged : Judged
        A change, predicted.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of str
        One sentence, or none.
    """
    crop, rate = baseline.site.crop, predicted_of(judged).rate_mm_h.value
    soil = soil_of(crop.soil) if crop else None
    if crop is None or soil is None or not rate > 0:
        return []
    wettest = _wettest(baseline, judged)
    if wettest <= soil.intake_low:
        return []
    runs = judged.changed.site.running
    minutes = float(runs.of_lines(baseline.site.run_minutes * baseline.now.rate_mm_h.value / rate).max())
    cut = soak(wettest, minutes, soil)
    how = f"a run of {minutes:.0f} min still goes in without a pause"
    if cut.runs > 1:
        how = (f"give the test's water in {cut.runs} runs of {cut.on_min:.0f} min"
               f"{' of each line' if len(runs.stages) > 1 else ''} with pauses of {cut.pause_min:.0f} min")
    return [f"The wettest ground would get {show(wettest, 'rate', system, unit='mm/h')}, more than {crop.soil} may "
            f"take in ({show(soil.intake_low, 'rate', system, unit='mm/h')}; {INTAKE_SOURCE}): {how}."]


def may_ring(judged: Judged) -> list[str]:
    """Whether the spray may turn to a ring at the pressure that is left.

    Parameters
    ----------
    judged : Judged
        A change.

    Returns
    -------
    list of str
        One sentence, or none.
    """
    if judged.ring < LEAST_RING:
        return []
    return ["At so low a pressure the spray may turn to a ring, dry inside; the interval allows for that, and how far "
            "it goes only a test at that pressure tells."]


def past_walls(baseline: Baseline, judged: Judged, system: str) -> list[str]:
    """Whether wider heads would throw past the walls.

    Parameters
    ----------
    baseline : Baseline
        The test.
    judged : Judged
        A change.
    system : str
        ``metric`` or ``US``, for the words.

    Returns
    -------
    list of str
        One sentence that names the walls, or none.
    """
    if not np.any(np.asarray(judged.wider) > 1.0):
        return []
    layout, site = judged.layout, baseline.site
    heads = layout.heads
    reach = throw_of(baseline.floor) * judged.wider * (1.0 if layout.stretch is None else layout.stretch.mean(axis=0))
    facing = np.full(len(heads), np.nan) if layout.throws is None else layout.throws.facing
    away = {"the left wall": (heads[:, 0], np.pi), "the right wall": (site.width - heads[:, 0], 0.0),
            "the inlet end wall": (heads[:, 1], -np.pi / 2), "the far end wall": (site.length - heads[:, 1], np.pi / 2)}
    over = {wall: float(np.max(np.where(np.cos(facing - way) < -0.5, 0.0, reach) - apart))  # an arc that faces away
            for wall, (apart, way) in away.items()}
    past = {wall: far for wall, far in over.items() if far > PAST_WALL}
    if not past:
        return []
    walls = list(past)
    named = walls[0] if len(walls) == 1 else f"{', '.join(walls[:-1])} and {walls[-1]}"
    return [f"These heads would throw up to {show(max(past.values()), 'place', system)} past {named}: the film takes "
            "that water and lets it run down, which the prediction does not know."]


def around_mended(baseline: Baseline, judged: Judged) -> tuple[float, float] | None:
    """What the ground around mended heads gets, before and after.

    Parameters
    ----------
    baseline : Baseline
        The test.
    judged : Judged
        A change, predicted.

    Returns
    -------
    before, after : float [1]
        Mean depth within half a throw of these heads / mean of all the ground; None where no head is mended.
    """
    today, new, ground = baseline.today, judged.layout, baseline.floor.cells
    stays = np.flatnonzero(new.was >= 0)
    differs = np.abs(new.output[:, stays] - today.output[:, new.was[stays]]).mean(axis=0) > 0.02
    if not judged.changed.mend or not differs.any():
        return None
    near = distances(ground.places, new.heads[stays[differs]]).min(axis=1) < throw_of(baseline.floor) / 2
    if not near.any():
        return None
    weight = None if ground.weight is None else ground.weight[near]
    before, after = (float(average(depth[near], weight)) for depth in (baseline.now.depth, predicted_of(judged).depth))
    return before, after


def _wettest(baseline: Baseline, judged: Judged) -> float:
    """Rate of the wettest ground while it is watered [mm/h]; of lines in turn, only one runs at a time."""
    found, estimate, ground = predicted_of(judged), baseline.floor.estimate, baseline.floor.cells
    runs = judged.changed.site.running
    if runs.at_once:
        return found.rate_mm_h.value * float(quantile(found.depth, WETTEST, ground.weight))
    layout, rate = judged.layout, samples_of(estimate).rate.mean(axis=0) * estimate.mean_rate
    output, stretch = point_heads(layout, judged.flow, judged.pressure, judged.wider)
    each = [point_rates(ground.places, rate, layout.heads[on], output[None, on], stretch[None, on],
                        layout.throws and layout.throws.take(on))[0]
            for line in range(len(runs.ran)) for on in [layout.line_of == line]]
    return float(quantile(runs.falls(np.array(each)), WETTEST, ground.weight))
