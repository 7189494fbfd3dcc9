"""How well the estimate does on simulated tunnels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from evenfall.pattern import estimate as whole
from evenfall.pattern import fit, model, overlap, spans, suspects
from evenfall.pattern import scene as scales
from evenfall.pattern.floor import figure
from evenfall.pattern.prior import KNOTS
from evenfall.pattern.whole_floor import MOST, WIDEN_SCHEDULING, driest_window


@dataclass(frozen=True)
class Score:
    """One simulated tunnel, judged.

    Attributes
    ----------
    cans : int [1]
        Number of cans.
    shape, layout : str
        Profile family and can layout.
    du_truth, du_value, du_low, du_high, du_cans : float [%]
        DUlq of the floor, its estimate and interval, and the figure at the cans.
    cu_truth, cu_low, cu_high : float [%]
        CU of the floor and the interval.
    blocked, weak : tuple (found, present) [1]
        Heads that give nothing, and heads that give up to half but something.
    false : int [1]
        Suspects that are not within one place of any weak head.
    doubtful : int [1]
        Cans named.
    best_blocked, best_weak : tuple (found, present) [1]
        The same as `blocked` and `weak`, found by one who knows the true profile and everything but the faults.
    best_false : int [1]
        False suspects of that one.
    outputs : tuple (held, present) [1]
        Named weak heads whose interval holds their true output, and named weak heads.
    scheduling : tuple (truth, low, high) [1]
        Scheduling coefficient of the floor, and the interval as `whole_floor` makes it.
    """

    cans: int
    shape: str
    layout: str
    du_truth: float
    du_value: float
    du_low: float
    du_high: float
    du_cans: float
    cu_truth: float
    cu_low: float
    cu_high: float
    blocked: tuple
    weak: tuple
    false: int
    doubtful: int
    best_blocked: tuple
    best_weak: tuple
    best_false: int
    outputs: tuple
    scheduling: tuple


def judge(tunnel, *, step=0.3, nominal=True, **options):
    """Run the estimate on a tunnel and compare it with the truth.

    Parameters
    ----------
    tunnel : simulate.Tunnel
        The tunnel.
    step : float [m]
        Cell of the floor's grid.
    nominal : bool
        Whether the data sheet's reach and flow are given.
    options
        Passed to `estimate`.

    Returns
    -------
    Score
        The judgement.
    """
    sheet = {}
    if nominal:
        sheet = {"nominal_radius": tunnel.nominal_radius, "nominal_flow_l_h": tunnel.nominal_flow}
    x, y = (middles(size, step) for size in (tunnel.width, tunnel.length))
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    found = whole.estimate(tunnel.heads, tunnel.line_of, tunnel.cans, tunnel.depth, places,
                           can_area_cm2=tunnel.can_area, duration_min=tunnel.minutes, **sheet, **options)
    named, best = [s.head for s in found.suspects], with_known_profile(tunnel)

    def near(head, others):
        return any(abs(head - k) <= 1 and tunnel.line_of[head] == tunnel.line_of[k] for k in others)

    def hits(heads, others):
        return sum(near(h, others) for h in heads), len(heads)

    blocked = [h for h, o in zip(tunnel.weak, tunnel.weak_output, strict=True) if o == 0.0]
    weak = [h for h, o in zip(tunnel.weak, tunnel.weak_output, strict=True) if 0.0 < o <= 0.5]
    part = {h: tunnel.output[h] / tunnel.share[h] for h in tunnel.weak}
    right = [s for s in found.suspects if s.head in part]
    held = sum(s.output.low <= part[s.head] <= s.output.high for s in right)
    ground = np.ones((len(y), len(x)), bool)
    truth = overlap.rates_at(places, tunnel.blown, tunnel.output, tunnel.radius, tunnel.rate)
    window = figure(driest_window(found.draws.reshape(-1, *ground.shape), ground), widen=WIDEN_SCHEDULING,
                    lowest=1.0, highest=MOST)
    scheduling = (float(driest_window(truth.reshape(1, *ground.shape), ground)[0]), window.low, window.high)
    du, cu = found.du_low_quarter, found.cu
    return Score(len(tunnel.cans), tunnel.shape, tunnel.layout, tunnel.truth.du_low_quarter, du.value,
                 du.low, du.high, float(overlap.low_quarter(tunnel.depth)), tunnel.truth.cu, cu.low, cu.high,
                 hits(blocked, named), hits(weak, named), sum(not near(h, tunnel.weak) for h in named),
                 len(found.doubtful), hits(blocked, best), hits(weak, best),
                 sum(not near(h, tunnel.weak) for h in best), (held, len(right)), scheduling)


def middles(size, step):
    """Middles of cells that fill a length evenly [m]."""
    count = max(4, round(size / step))
    return (np.arange(count) + 0.5) * size / count


MOST_NAMED, HEAD_PAYS = 6, 3.0  # of the one who knows the profile


def around(gain, line_of):
    """Log of the summed evidence of each head and its neighbours on the line."""
    same = line_of[1:] == line_of[:-1]
    total = gain.copy()
    total[1:] = np.where(same, np.logaddexp(total[1:], gain[:-1]), total[1:])
    total[:-1] = np.where(same, np.logaddexp(total[:-1], gain[1:]), total[:-1])
    return total


def with_known_profile(tunnel):
    """Suspects found by one who knows the true profile: what the cans allow at best.

    The readings' errors, the spread of sound heads and the lines' trends are still unknown, and the rule by which a
    suspect is named is the tool's own.

    Parameters
    ----------
    tunnel : simulate.Tunnel
        The tunnel.

    Returns
    -------
    list of int [1]
        Heads.
    """
    mean_rate = float(tunnel.depth.mean()) * 60.0 / tunnel.minutes
    scene = model.Scene(tunnel.cans, tunnel.blown, tunnel.line_of, tunnel.depth * 60.0 / tunnel.minutes / mean_rate,
                        model.trend_columns(tunnel.heads, tunnel.line_of), scales.SPREAD, scales.READING_ERROR, 0.04,
                        10.0 / tunnel.can_area * 60.0 / tunnel.minutes / mean_rate, None, scales.FLOW_ERROR)
    throw = float(tunnel.radius[-1])
    pairs = spans.spans(scene.cans, scene.heads, throw)
    profile = np.interp(KNOTS[:-1] * throw, tunnel.radius, tunnel.rate) / mean_rate
    sure = 1e-4 * np.diag(profile + 1e-3)
    variance, named, output = np.full(len(scene.heads), scene.spread ** 2), [], np.ones(len(scene.heads))
    for _ in range(MOST_NAMED):
        state = model.solve_cell(scene, pairs, profile, sure, profile, np.maximum(output, 0.0), variance,
                                 np.zeros(len(scene.reading)))
        gain = around(suspects.gains(scene, state).heads, scene.line_of)
        gain[named] = -np.inf
        if gain.max() < HEAD_PAYS:
            break
        named.append(int(np.argmax(gain)))
        variance[named] = fit.FAULT_SD ** 2
        output = state.output
    return named


def table_row(scores):
    """Coverage, error, width and suspects of some scores.

    Parameters
    ----------
    scores : list of Score
        At least one.

    Returns
    -------
    dict of str to float
        Tunnels; coverage of CU, DUlq, named heads' outputs and scheduling coefficient [%]; error, the cans' error
        and mean width of DUlq [%]; blocked and weak heads found, and what the cans allow at best [%]; false alarms
        and doubtful cans per tunnel [1].
    """
    def of(name):
        return np.array([getattr(s, name) for s in scores], float)

    truth = of("du_truth")
    kinds = ("blocked", "weak", "best_blocked", "best_weak", "outputs")
    found = {k: np.array([getattr(s, k) for s in scores]).sum(axis=0) for k in kinds}
    share = {k: 100.0 * v[0] / v[1] if v[1] else float("nan") for k, v in found.items()}
    window, low, high = of("scheduling").T
    return {"tunnels": len(scores),
            "cu_held": 100.0 * np.mean((of("cu_truth") >= of("cu_low")) & (of("cu_truth") <= of("cu_high"))),
            "du_held": 100.0 * np.mean((truth >= of("du_low")) & (truth <= of("du_high"))),
            "scheduling_held": 100.0 * np.mean((window >= low) & (window <= high)),
            "outputs_held": share["outputs"],
            "error": float(np.sqrt(np.mean((of("du_value") - truth) ** 2))),
            "cans_error": float(np.sqrt(np.mean((of("du_cans") - truth) ** 2))),
            "width": float(np.mean(of("du_high") - of("du_low"))),
            "blocked_found": share["blocked"], "weak_found": share["weak"],
            "best_blocked": share["best_blocked"], "best_weak": share["best_weak"],
            "false_alarms": float(of("false").mean()), "best_false": float(of("best_false").mean()),
            "doubtful": float(of("doubtful").mean())}


COLUMNS = (("tunnels", "tunnels", 0), ("CU held", "cu_held", 0), ("DUlq held", "du_held", 0),
           ("DUlq error", "error", 1), ("at the cans", "cans_error", 1), ("width", "width", 1),
           ("blocked found", "blocked_found", 0), ("at best", "best_blocked", 0),
           ("half or less found", "weak_found", 0), ("at best", "best_weak", 0), ("false alarms", "false_alarms", 2))
CAN_COUNTS = ((18, 36), (36, 60), (60, 72), (72, 200))


def table(scores):
    """A table by can count, as the guide shows it.

    Parameters
    ----------
    scores : list of Score
        At least one.

    Returns
    -------
    str
        Markdown. `at best` is one who knows the true profile.
    """
    lines = ["| cans | " + " | ".join(name for name, _, _ in COLUMNS) + " |", "|---" * (len(COLUMNS) + 1) + "|"]
    for low, high in CAN_COUNTS:
        some = [s for s in scores if low <= s.cans < high]
        if some:
            row = table_row(some)
            cells = ["–" if row[key] != row[key] else f"{row[key]:.{digits}f}" for _, key, digits in COLUMNS]
            lines.append(f"| {low} to {high - 1} | " .replace("to 199", "and more") + " | ".join(cells) + " |")
    return "\n".join(lines)
