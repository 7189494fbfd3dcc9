"""What is planted in the simulated tunnels, one small function a cause."""

from dataclasses import dataclass, field

import numpy as np
from evenfall.pattern import shapes

SET = 222.0       # [kPa] of the regulator, at 0.5 m; heads hang at 2.1 m


@dataclass
class Build:
    """A tunnel in the making; a plant changes it."""

    width: float
    length: float
    xs: list
    ys: np.ndarray
    reach: float
    shape: str
    layout: str
    count: int
    bore: str = "26.6 mm"
    rise: float = 0.0
    static: float = 420.0
    least: float = 76.0
    output: dict = field(default_factory=dict)     # (line, head) -> factor
    drift: tuple = (0.0, 0.0)
    run_part: float = 1.0
    outlet: float = SET       # what the regulator gives
    gauges: list = field(default_factory=list)     # (at, true kPa)
    on_cans: object = None    # changes rates at the cans
    extra: str = ""


def base(rng):
    """Width, lines and heads of a tunnel that is sound by its layout."""
    lines = int(rng.choice([2, 2, 3]))
    width, length = rng.uniform(2.3, 2.9) * lines, rng.uniform(14.0, 22.0)
    spacing = rng.uniform(0.8, 1.25)
    count = int((length - 0.6) / spacing) + 1
    ys = length / 2 + (np.arange(count) - (count - 1) / 2) * spacing
    xs = [(k + 0.5) * width / lines for k in range(lines)]
    return Build(width, length, xs, ys, rng.uniform(1.5, 2.6), str(rng.choice(list(shapes.KINDS))),
                 str(rng.choice(["staggered", "dense row", "grid"])), int(rng.integers(44, 76)))


def _some(build, rng, edge=2):
    return int(rng.integers(len(build.xs))), int(rng.integers(edge, len(build.ys) - edge))


def _head(factor):
    def plant(build, rng):
        build.output[_some(build, rng)] = factor(rng)
        return build
    return plant


def line_low(build, rng):
    line, part = int(rng.integers(len(build.xs))), rng.uniform(0.6, 0.78)
    build.output = {(line, head): part for head in range(len(build.ys))}
    return build


def fall_not_explained(build, rng):
    count = len(build.ys)
    which = range(len(build.xs)) if rng.random() < 0.5 else [int(rng.integers(len(build.xs)))]
    drop = rng.uniform(0.3, 0.5)
    build.output = {(line, head): 1 - drop * (head / (count - 1)) ** 1.3 for line in which for head in range(count)}
    return build


def friction(build, rng):
    # Long lines on a thin tube: honest in the record.
    build.length = float(rng.uniform(28.0, 34.0))
    count = int((build.length - 0.6) / 0.8) + 1
    build.ys = build.length / 2 + (np.arange(count) - (count - 1) / 2) * 0.8
    build.bore, build.count = "13 mm", max(build.count, 60)
    build.static, build.least = 900.0, 60.0
    return build


def step(build, rng):
    line = int(rng.integers(len(build.xs)))
    count = len(build.ys)
    start = int(rng.integers(count // 3, count - count // 3))
    part = rng.uniform(0.45, 0.68)
    build.output = {(line, head): part for head in range(start, count)}
    return build


def end_heads(build, rng):
    line, count = int(rng.integers(len(build.xs))), len(build.ys)
    build.output = {(line, count - 1 - k): rng.uniform(0.15, 0.5) for k in range(3)}
    return build


def far_lines(build, rng):
    build.width = float(rng.uniform(1.9, 2.1) * build.reach * len(build.xs))
    build.xs = [(k + 0.5) * build.width / len(build.xs) for k in range(len(build.xs))]
    build.least = 0.0
    return build


def dry_ends(build, rng):
    keep = (build.ys > 2.4) & (build.ys < build.length - 2.4)
    build.ys, build.least = build.ys[keep], 0.0
    return build


def dry_edges(build, rng):
    extra = rng.uniform(1.7, 2.2)
    build.xs = [x + extra for x in build.xs]
    build.width += 2 * extra
    build.least = 0.0
    return build


def drift(build, rng):
    turn, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.4, 0.6)
    build.drift = (size * np.cos(turn), size * np.sin(turn))
    build.extra = 'sides = "part open"'
    return build


def kicked(build, rng):
    def change(rates, cans):
        rates[rng.integers(len(rates))] *= rng.uniform(0.1, 0.4)
        return rates
    build.on_cans = change
    return build


def system_low(build, rng):
    build.run_part = rng.uniform(0.5, 0.68)
    return build


def starved(build, rng):
    build.outlet = SET * rng.uniform(0.6, 0.75)
    build.gauges = [("regulator inlet", build.outlet + rng.uniform(8, 20)), ("supply", build.outlet + 90)]
    return build


def not_holding(build, rng):
    build.outlet = SET * rng.uniform(0.6, 0.78)
    build.gauges = [("regulator inlet", rng.uniform(320, 360))]
    return build


def loaded(build, rng):
    behind = rng.uniform(280, 310)
    build.gauges = [("filter inlet", behind + rng.uniform(48, 75)), ("filter outlet", behind)]
    return build


def wet_wall(build, rng):
    left = rng.random() < 0.5
    heavy = rng.uniform(1.0, 1.6)

    def change(rates, cans):
        away = cans[:, 0] if left else build.width - cans[:, 0]
        return rates + heavy * rates.mean() * np.exp(-away / 0.3)
    build.on_cans, build.layout, build.count = change, "at the walls", 60
    return build


def two_kinds(build, rng):
    line, long = int(rng.integers(len(build.xs))), int(rng.integers(4, 7))
    start = int(rng.integers(3, max(len(build.ys) - long - 3, 4)))
    build.output = {(line, start + k): rng.uniform(1.5, 1.7) for k in range(long)}
    return build


def slope(build, rng):
    build.rise, build.count = float(rng.uniform(5.0, 6.5)), max(build.count, 60)
    return build


def sound(build, rng):
    return build


@dataclass(frozen=True)
class Plant:
    """What is planted, and the kinds of cause that name it; inseparable ones count as named."""

    change: object
    named: tuple


PLANTS = {
    "blocked head": Plant(_head(lambda g: 0.0), ("weak head",)),
    "half head": Plant(_head(lambda g: g.uniform(0.35, 0.5)), ("weak head",)),
    "strong head": Plant(_head(lambda g: g.uniform(1.8, 2.2)), ("strong head",)),
    "one line low": Plant(line_low, ("line low",)),
    "fall, not friction": Plant(fall_not_explained, ("fall not explained",)),
    "friction": Plant(friction, ("friction",)),
    "slope": Plant(slope, ("slope",)),
    "step": Plant(step, ("step",)),
    "end heads clogged": Plant(end_heads, ("end heads", "fall not explained")),
    "lines too far apart": Plant(far_lines, ("lines too far apart", "dry edges")),
    "dry ends": Plant(dry_ends, ("dry ends",)),
    "dry edges": Plant(dry_edges, ("dry edges",)),
    "drift": Plant(drift, ("drift",)),
    "kicked can": Plant(kicked, ("can low",)),
    "system low": Plant(system_low, ("system low",)),
    "starved regulator": Plant(starved, ("starved regulator",)),
    "regulator not holding": Plant(not_holding, ("regulator not holding",)),
    "loaded filter": Plant(loaded, ("filter loaded",)),
    "wet wall": Plant(wet_wall, ("wet wall",)),
    "two kinds": Plant(two_kinds, ("two kinds",)),
}
