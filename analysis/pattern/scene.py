"""A test in the scale in which it is fitted."""

from __future__ import annotations

from . import model

READING_ERROR = 0.045  # relative standard deviation of a reading
SPREAD = 0.05          # standard deviation of sound heads' outputs by manufacture
FLOW_ERROR = 0.15      # relative standard deviation of a nominal flow
STEEPEST = 1.6         # [1/m] of the mean reading: see `model.Scene.steepest`


def scene_of(heads, line_of, cans, depth, duration_min, step_mm, position_sd, nominal_flow_l_h):
    """A test in its own scale.

    Parameters
    ----------
    heads, cans : array (m, 2), (n, 2) [m]
        Places.
    line_of : array (m,) [1]
        Line of each head.
    depth : array (n,) [mm]
        What the cans caught.
    duration_min : float [min]
        Run time.
    step_mm : float [mm]
        Step of the readings.
    position_sd : float [m]
        How well the cans stand where they should.
    nominal_flow_l_h : float or None [L/h]
        Flow of a head from a data sheet.

    Returns
    -------
    scene : model.Scene
        The test.
    mean_rate : float [mm/h]
        Its scale, the mean rate of the cans.
    """
    to_rate = 60.0 / duration_min
    mean_rate = float(depth.mean()) * to_rate
    flow = None if nominal_flow_l_h is None else nominal_flow_l_h / mean_rate
    return model.Scene(cans, heads, line_of, depth * to_rate / mean_rate, model.trend_columns(heads, line_of), SPREAD,
                       READING_ERROR, position_sd, step_mm * to_rate / mean_rate, flow, FLOW_ERROR,
                       steepest=STEEPEST), mean_rate
