"""Tunnels whose water is worked out by code that shares nothing with the estimate.

The floor is a fine raster. Each head throws by a radial curve of this file's own families, or by the measured leg
below; wind, heights, arcs and kinds change every head by itself. What the person read, and what the record says, is
made from the true tunnel afterwards, so that either can be wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

RASTER = 0.12  # [m]
# Depth caught along one leg from a single sprinkler in still air, 20 cans 0.5 m apart, radius 0.5 to 10 m: measured
# figures from the public repository jburguete/mpcotool (BSD 2-clause), folder applications/sprinkler, file 0.mea.
MEASURED_LEG = [6.21, 6.21, 7.24, 6.21, 4.14, 4.14, 4.14, 4.83, 4.14, 2.41, 4.48, 4.83, 10.34, 21.38, 37.93, 43.45,
                40.69, 0.0, 0.0, 0.0]


def curve_of(name: str, rng: np.random.Generator):
    """A curve of rate over r / reach (0 to 1), of a family, any scale."""
    a, b = rng.uniform(0.0, 1.0, 2)
    if name == "cone":
        return lambda s: np.clip(1 - s, 0, None) ** (0.7 + 0.8 * a)
    if name == "plateau":
        edge = 0.55 + 0.35 * a
        return lambda s: np.where(s < edge, 1.0, np.clip((1 - s) / (1 - edge), 0, None)) * (1 - 0.3 * b * s)
    if name == "ring":
        middle, width = 0.55 + 0.25 * a, 0.12 + 0.12 * b
        return lambda s: (0.35 + np.exp(-0.5 * ((s - middle) / width) ** 2)) * np.clip(8 * (1 - s), 0, 1)
    if name == "two humps":
        bump = lambda s, middle, width: np.exp(-0.5 * ((s - middle) / width) ** 2)  # noqa: E731
        return lambda s: ((0.6 + a) * bump(s, 0.0, 0.22) + (0.4 + b) * bump(s, 0.7, 0.15)) * np.clip(6 * (1 - s), 0, 1)
    if name == "bell":
        return lambda s: np.exp(-0.5 * (s / (0.34 + 0.16 * a)) ** 2) * np.clip(5 * (1 - s), 0, 1)
    if name == "measured leg":
        place = np.concatenate([[0.0], np.arange(0.5, 10.5, 0.5)]) / 9.0
        depth = np.concatenate([[MEASURED_LEG[0]], MEASURED_LEG])
        return lambda s: np.interp(s, place, depth, right=0.0)
    raise KeyError(name)


CURVES = ("cone", "plateau", "ring", "two humps", "bell")


@dataclass
class Head:
    """One head: place, line, flow [L/h], reach [m], curve, arc, and what the wind does to it."""

    x: float
    y: float
    line: int
    flow: float
    reach: float
    curve: object
    arc: float = 360.0      # [degrees] of its circle that it wets ...
    faces: float = 0.0      # ... around this angle, from x towards y
    drift: tuple = (0.0, 0.0)
    wind_spread: float = 0.0  # part of the drift by which far drops go further than near ones
    ours: bool = True       # False for water of a neighbour

    def rate(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Rate [mm/h] at places; flow is spread over the arc."""
        s = np.linspace(0, 1, 801)
        volume = 2 * np.pi * self.reach**2 * np.trapezoid(self.curve(s) * s, s) * self.arc / 360
        share = self.wind_spread
        dx, dy = x - self.x - self.drift[0] * (1 - share / 2), y - self.y - self.drift[1] * (1 - share / 2)
        if share:  # drops that fly far are carried further: places are taken back by a part that grows outward
            far = np.clip(np.hypot(dx, dy) / self.reach, 0, 1) ** 2
            dx, dy = dx - self.drift[0] * share * (far - 0.5), dy - self.drift[1] * share * (far - 0.5)
        s = np.hypot(dx, dy) / self.reach
        found = np.where(s < 1, self.curve(np.minimum(s, 1.0)), 0.0)
        if self.arc < 360:
            off = np.abs((np.degrees(np.arctan2(dy, dx)) - self.faces + 180) % 360 - 180)
            found = np.where(off <= self.arc / 2, found, 0.0)
        return self.flow / volume * found


@dataclass
class Tunnel:
    """The true tunnel and its test."""

    width: float
    length: float
    heads: list[Head]
    cans: np.ndarray                 # (n, 2) [m] where the person means them to stand
    shape: tuple[int, int]           # rows, columns
    minutes: float
    opening: float                   # [cm2]
    extra: object = None             # more rate [mm/h] at places, such as rain
    record: dict = field(default_factory=dict)  # what the record says, plain TOML values

    def depth(self, x: np.ndarray, y: np.ndarray, *, ours: bool = False) -> np.ndarray:
        """Depth [mm] at places after the run."""
        rate = sum(head.rate(x, y) for head in self.heads if head.ours or not ours)
        if self.extra is not None and not ours:
            rate = rate + self.extra(x, y)
        return rate * self.minutes / 60

    def floor(self) -> np.ndarray:
        """Depth [mm] on the raster (rows along y, columns along x), from all water that falls there."""
        x, y = (np.arange(RASTER / 2, size, RASTER) for size in (self.width, self.length))
        return self.depth(*np.meshgrid(x, y))


def low_quarter(depth: np.ndarray) -> float:
    """DUlq [%] of depths that stand for equal areas."""
    ordered = np.sort(depth)
    return float(100 * ordered[: len(ordered) // 4].mean() / ordered.mean())


def cu(depth: np.ndarray) -> float:
    """Christiansen's CU [%]."""
    return float(100 * (1 - np.abs(depth - depth.mean()).mean() / depth.mean()))


def layout(rng, width, length, kind, columns=None, rows=None):
    """Places of cans (n, 2), rows and columns; row by row from the inlet end wall."""
    columns = columns or int(rng.integers(5, 9))
    rows = rows or int(rng.integers(7, 12))
    x = (np.arange(columns) + 0.5) * width / columns
    y = (np.arange(rows) + 0.5) * length / rows
    if kind == "random":
        x = np.sort(rng.uniform(0.2, width - 0.2, columns))
        y = np.sort(rng.uniform(0.3, length - 0.3, rows))
    across, along = np.meshgrid(x, y)
    if kind == "staggered":
        step = 0.25 * width / columns
        across = across + np.where(np.arange(rows) % 2, step, -step)[:, None]
    return np.column_stack([across.ravel(), along.ravel()]), (rows, columns)


def sound(rng, *, curve=None, layout_kind="staggered", lines=None, sheet=True, columns=None, rows=None, reach=None,
          width=None) -> Tunnel:
    """A sound tunnel: 5 % of manufacture, small differences of level and a small fall along each line."""
    lines = lines or int(rng.integers(2, 4))
    width = width or rng.uniform(2.6, 3.4) * lines
    length = rng.uniform(15, 24)
    reach = reach or rng.uniform(2.1, 2.9)
    spacing = rng.choice([0.75, 0.9, 1.0, 1.2])
    flow, shape = rng.uniform(35, 60), curve_of(curve or str(rng.choice(CURVES)), rng)
    count = int((length - 0.8) / spacing)
    first = round((length - (count - 1) * spacing) / 2, 2)
    heads = []
    for line in range(lines):
        level, fall = 1 + 0.03 * rng.standard_normal(), abs(0.05 * rng.standard_normal())
        x = round((line + 0.5) * width / lines, 2)
        for k in range(count):
            share = level * (1 - fall * k / max(count - 1, 1)) * (1 + 0.05 * rng.standard_normal())
            heads.append(Head(x, round(first + k * spacing, 3), line, flow * share, reach, shape))
    cans, size = layout(rng, width, length, layout_kind, columns, rows)
    tunnel = Tunnel(width, length, heads, cans, size, float(rng.choice([30, 45, 60])), 55.4)
    tunnel.record = described(tunnel, flow, reach, rng, sheet)
    return tunnel


def described(tunnel: Tunnel, flow: float, reach: float, rng, sheet: bool) -> dict:
    """What the record says: everything right, the data sheet off by a few percent, or no data sheet."""
    names = ["left", "middle", "right"] if max(head.line for head in tunnel.heads) == 2 else ["left", "right", "third"]
    lines = []
    for line in sorted({head.line for head in tunnel.heads}):
        on = [head for head in tunnel.heads if head.line == line]
        lines.append({"name": names[line], "x": f"{on[0].x:.2f} m", "heads_at": [f"{head.y:.3f} m" for head in on]})
    heads = {"flow": f"{flow * (1 + 0.05 * rng.standard_normal()):.1f} L/h", "at": "200 kPa",
             "wetted_diameter": f"{2 * reach * (1 + 0.04 * rng.standard_normal()):.2f} m"} if sheet else {}
    return {"record": 1, "test": {"title": "An invented tunnel"},
            "floor": {"width": f"{tunnel.width:.3f} m", "length": f"{tunnel.length:.3f} m"}, "heads": heads,
            "lines": lines, "run": {"duration": f"{tunnel.minutes:g} min",
                                    **({"lines": "together"} if len(lines) > 1 else {})}}


def read(tunnel: Tunnel, rng, *, placed=0.04, error=0.04) -> np.ndarray:
    """What the person reads [mL]: cans a little off their places, a reading error, whole millilitres."""
    stand = tunnel.cans + placed * rng.standard_normal(tunnel.cans.shape)
    depth = tunnel.depth(stand[:, 0], stand[:, 1])
    volume = depth * tunnel.opening / 10 * (1 + error * rng.standard_normal(len(depth)))
    return np.maximum(np.round(volume), 0.0)


def record_text(tunnel: Tunnel, readings: np.ndarray, **cans) -> dict:
    """The record as plain TOML values, with cans as free points in walking order of the rows."""
    rows, columns = tunnel.shape
    places, values = tunnel.cans.reshape(rows, columns, 2), readings.reshape(rows, columns)
    table = [{"y": f"{row[0, 1]:.3f} m", "x": [f"{x:.3f} m" for x in row[:, 0]], "catch": [float(v) for v in caught]}
             for row, caught in zip(places, values, strict=True)]
    made = {"reads": "volume", "unit": "mL", "opening_area": f"{tunnel.opening} cm2", "rows": table, **cans}
    return {**tunnel.record, "cans": made}


def moved(tunnel: Tunnel, change) -> Tunnel:
    """The same tunnel with every head changed by a function of it."""
    return replace(tunnel, heads=[change(head) for head in tunnel.heads])
