"""How well the estimate does on simulated tunnels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.pattern import estimate as whole
from analysis.pattern import overlap


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
        Cans named; the simulator never kicks one.
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
    found = whole.estimate(tunnel.heads, tunnel.line_of, tunnel.cans, tunnel.depth,
                           overlap.floor_grid(tunnel.width, tunnel.length, step),
                           can_area_cm2=tunnel.can_area, duration_min=tunnel.minutes, **sheet, **options)
    named = [s.head for s in found.suspects]

    def near(head, others):
        return any(abs(head - k) <= 1 and tunnel.line_of[head] == tunnel.line_of[k] for k in others)

    blocked = [h for h, o in zip(tunnel.weak, tunnel.weak_output) if o == 0.0]
    weak = [h for h, o in zip(tunnel.weak, tunnel.weak_output) if 0.0 < o <= 0.5]
    du, cu = found.du_low_quarter, found.cu
    return Score(len(tunnel.cans), tunnel.shape, tunnel.layout, tunnel.truth.du_low_quarter, du.value,
                 du.low, du.high, float(overlap.low_quarter(tunnel.depth)), tunnel.truth.cu, cu.low, cu.high,
                 (sum(near(h, named) for h in blocked), len(blocked)),
                 (sum(near(h, named) for h in weak), len(weak)),
                 sum(not near(h, tunnel.weak) for h in named), len(found.doubtful))


def table_row(scores):
    """Coverage, error, width and suspects of some scores.

    Parameters
    ----------
    scores : list of Score
        At least one.

    Returns
    -------
    dict of str to float
        Tunnels; coverage of CU and DUlq [%]; error, the cans' error and mean width of DUlq [%];
        blocked and weak heads found [%]; false alarms and doubtful cans per tunnel [1].
    """
    def of(name):
        return np.array([getattr(s, name) for s in scores], float)

    truth = of("du_truth")
    found = {k: np.array([getattr(s, k) for s in scores]).sum(axis=0) for k in ("blocked", "weak")}
    share = {k: 100.0 * v[0] / v[1] if v[1] else float("nan") for k, v in found.items()}
    return {"tunnels": len(scores),
            "cu_held": 100.0 * np.mean((of("cu_truth") >= of("cu_low")) & (of("cu_truth") <= of("cu_high"))),
            "du_held": 100.0 * np.mean((truth >= of("du_low")) & (truth <= of("du_high"))),
            "error": float(np.sqrt(np.mean((of("du_value") - truth) ** 2))),
            "cans_error": float(np.sqrt(np.mean((of("du_cans") - truth) ** 2))),
            "width": float(np.mean(of("du_high") - of("du_low"))),
            "blocked_found": share["blocked"], "weak_found": share["weak"],
            "false_alarms": float(of("false").mean()), "doubtful": float(of("doubtful").mean())}
