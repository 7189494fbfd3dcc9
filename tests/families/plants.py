"""Families of trouble: each is a tunnel as it truly is, and a record that may not know it.

A plant says what is true (depth on the floor, heads that give nothing), which rival explanation is the right one, and
which kinds of causes are not wrong to name. Numbers of sizes stand beside each.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from .tunnels import Tunnel, curve_of, moved, read, record_text, sound

INCHES, FLUID_OUNCE = 2.54, 29.5735  # cm; mL


@dataclass(frozen=True)
class Plant:
    """One test with the truth beside it."""

    record: dict                       # plain TOML values
    floor: np.ndarray                  # true depth [mm] on the raster
    rival: str = ""                    # the right explanation; empty where the record is right
    allowed: tuple[str, ...] = ()      # kinds of causes that are not wrong to name
    blocked: tuple[tuple[str, int], ...] = ()  # heads (line, number) that give nothing
    weak: tuple[tuple[str, int], ...] = ()     # these and all others that give clearly too little
    slip: bool = False                 # the record or the readings are wrong, not the tunnel


FAMILIES: dict[str, Callable[[np.random.Generator], Plant]] = {}
SOUND = []


def family(name: str, *, is_sound: bool = False):
    """Register a family."""
    def put(make):
        FAMILIES[name] = make
        if is_sound:
            SOUND.append(name)
        return make
    return put


def as_read(tunnel: Tunnel, rng, **truth) -> Plant:
    """The plain test of a tunnel."""
    return Plant(record_text(tunnel, read(tunnel, rng)), tunnel.floor(), **truth)


def any_tunnel(rng, **more) -> Tunnel:
    """A sound tunnel of any curve, cans in rows that are staggered or not."""
    return sound(rng, layout_kind=str(rng.choice(["grid", "staggered"])), **more)


for _curve in ("cone", "plateau", "ring", "two humps", "bell"):
    family(f"sound, {_curve}", is_sound=True)(lambda rng, curve=_curve: as_read(any_tunnel(rng, curve=curve), rng))


@family("sound, no data sheet", is_sound=True)
def _no_sheet(rng):
    return as_read(sound(rng, sheet=False, columns=7, rows=10), rng)


@family("water of a neighbour's line")
def _outside(rng):
    tunnel = any_tunnel(rng)
    side = rng.choice([-1, 1])
    x = -0.6 if side < 0 else tunnel.width + 0.6
    first = [head for head in tunnel.heads if head.line == 0]
    mean = np.mean([head.flow for head in tunnel.heads])
    more = [replace(head, x=x, line=9, ours=False, flow=mean * (1 + 0.05 * rng.standard_normal())) for head in first]
    return as_read(replace(tunnel, heads=tunnel.heads + more), rng, rival="outside water", allowed=("wet wall",))


@family("rain")
def _rain(rng):
    tunnel = any_tunnel(rng)
    mean = tunnel.floor().mean() / tunnel.minutes * 60
    rate = rng.uniform(0.3, 0.6) * mean
    return as_read(replace(tunnel, extra=lambda x, y: np.full(np.shape(x), rate)), rng, rival="rain")


@family("a drip line that ran too")
def _drip_line(rng):
    tunnel = any_tunnel(rng)
    x0 = rng.uniform(0.3, 0.7) * tunnel.width
    mean = tunnel.floor().mean() / tunnel.minutes * 60
    extra = lambda x, y: 1.2 * mean * np.exp(-0.5 * ((x - x0) / 0.15) ** 2)  # noqa: E731
    return as_read(replace(tunnel, extra=extra), rng, rival="drip line", allowed=("can high",))


def _in_record(plant_tunnel: Tunnel, rng, change, **truth) -> Plant:
    """A right tunnel whose record says something else."""
    plant = as_read(plant_tunnel, rng, **truth)
    record = copy.deepcopy(plant.record)
    change(record)
    return replace(plant, record=record)


@family("one line 40 cm off")
def _line_off(rng):
    tunnel = any_tunnel(rng)
    line = int(rng.integers(0, max(head.line for head in tunnel.heads) + 1))
    off = 0.4 * rng.choice([-1, 1])
    true = moved(tunnel, lambda head: replace(head, x=head.x + off) if head.line == line else head)
    return as_read(true, rng, rival="line place", slip=True)


@family("first head 20 cm off")
def _first_off(rng):
    off = 0.2 * rng.choice([-1, 1])
    true = moved(any_tunnel(rng), lambda head: replace(head, y=head.y + off))
    return as_read(true, rng, rival="first head", slip=True)


@family("heads closer than the record says")
def _spacing(rng):
    def change(record):
        for line in record["lines"]:
            along = [float(text.split()[0]) for text in line["heads_at"]]
            step, count = along[1] - along[0], len(along)
            line["heads_at"] = [f"{along[0] + 0.1 * step * k:.3f} m" for k in range(count)]
    return _in_record(any_tunnel(rng), rng, change, rival="head spacing", slip=True)


@family("wetted radius for diameter")
def _radius(rng):
    def change(record):
        size = float(record["heads"]["wetted_diameter"].split()[0])
        record["heads"]["wetted_diameter"] = f"{size / 2:.2f} m"
    return _in_record(any_tunnel(rng), rng, change, rival="wetted radius", slip=True)


def _readings(rng, change, *, allowed=(), tunnel=None, **truth) -> Plant:
    """A right tunnel whose table of readings came out wrong."""
    tunnel = tunnel or any_tunnel(rng)
    table = read(tunnel, rng).reshape(tunnel.shape)
    return Plant(record_text(tunnel, np.asarray(change(table), float).ravel()), tunnel.floor(), slip=True,
                 allowed=allowed, **truth)


def _uneven(rng, **more) -> Tunnel:
    """A tunnel with a fall along its lines and one weak head, so that order can be told."""
    tunnel = sound(rng, **more)
    longest = max(head.y for head in tunnel.heads)
    true = moved(tunnel, lambda head: replace(head, flow=head.flow * (1 - 0.25 * head.y / longest)))
    weak = int(rng.integers(2, len(true.heads) // 3))
    true.heads[weak] = replace(true.heads[weak], flow=0.1 * true.heads[weak].flow)
    return true


@family("rows reversed")
def _reversed(rng):
    return _readings(rng, lambda table: table[::-1], tunnel=_uneven(rng), rival="rows reversed",
                     allowed=("fall", "weak head", "fall not explained", "friction"))


@family("columns mirrored")
def _mirrored(rng):
    return _readings(rng, lambda table: table[:, ::-1], tunnel=_uneven(rng), rival="columns mirrored",
                     allowed=("fall", "weak head", "fall not explained", "friction", "line low"))


@family("walk not undone")
def _walk(rng):
    def change(table):
        table = table.copy()
        table[1::2] = table[1::2, ::-1]
        return table
    return _readings(rng, change, tunnel=_uneven(rng, layout_kind="staggered"), rival="walk not undone",
                     allowed=("fall", "weak head", "fall not explained", "friction"))


@family("shifted by one can")
def _shifted(rng):
    by = rng.choice([-1, 1])
    return _readings(rng, lambda table: np.roll(table.ravel(), by).reshape(table.shape), rival="shifted by one",
                     tunnel=_uneven(rng), allowed=("fall", "weak head", "fall not explained", "friction"))


@family("one row times ten")
def _row_ten(rng):
    def change(table):
        table = table.copy()
        table[rng.integers(0, len(table))] *= 10
        return table
    return _readings(rng, change, rival="times ten")


@family("one reading times ten")
def _one_ten(rng):
    def change(table):
        table = table.copy()
        table[rng.integers(0, table.shape[0]), rng.integers(0, table.shape[1])] *= 10
        return table
    return _readings(rng, change, rival="times ten", allowed=("can high", "strong head"))


@family("fluid ounces for mL")
def _unit(rng):
    return _readings(rng, lambda table: np.round(table / FLUID_OUNCE, 1), rival="factor")


@family("opening in inches for cm")
def _opening(rng):
    tunnel = any_tunnel(rng)
    across = np.sqrt(4 * tunnel.opening / np.pi)
    plant = as_read(tunnel, rng, rival="factor", slip=True)
    cans = {key: value for key, value in plant.record["cans"].items() if key != "opening_area"}
    return replace(plant, record={**plant.record, "cans": {**cans, "opening": f"{across / INCHES:.2f} cm"}})


@family("45 h for 45 min")
def _hours(rng):
    return _in_record(any_tunnel(rng), rng, lambda record: record["run"].update(duration="45 h"), rival="factor",
                      slip=True)


@family("cans of two sizes")
def _two_cans(rng):
    def change(table):
        half = table.shape[1] // 2
        table = table.copy()
        table[:, half:] = np.round(table[:, half:] * 0.82)
        return table
    return _readings(rng, change, rival="two can sizes")


@family("a column of missing cans as 0")
def _zeros(rng):
    def change(table):
        table = table.copy()
        table[:, rng.integers(0, table.shape[1])] = 0
        return table
    return _readings(rng, change, rival="missing as 0")


@family("can numbers for readings")
def _numbers(rng):
    return _readings(rng, lambda table: np.arange(1, table.size + 1).reshape(table.shape), rival="can numbers")


@family("every can alike")
def _alike(rng):
    return _readings(rng, lambda table: np.full(table.shape, np.round(table.mean())), rival="every can alike")


def _kinds(rng) -> tuple[Tunnel, int, float, float]:
    tunnel = any_tunnel(rng, lines=3 if rng.random() < 0.5 else 2)
    odd = int(rng.integers(0, max(head.line for head in tunnel.heads) + 1))
    wide, strong = rng.uniform(0.7, 0.85) if rng.random() < 0.5 else rng.uniform(1.2, 1.4), rng.uniform(0.8, 1.25)
    other = curve_of(str(rng.choice(["cone", "ring", "bell", "plateau"])), rng)
    return (moved(tunnel, lambda head: replace(head, reach=head.reach * wide, flow=head.flow * strong, curve=other)
                  if head.line == odd else head), odd, wide, strong)


@family("two kinds of heads, not declared")
def _two_kinds(rng):
    tunnel, _, _, _ = _kinds(rng)
    return as_read(tunnel, rng, rival="two kinds", allowed=("two kinds", "line low"))


@family("two kinds of heads, declared")
def _two_declared(rng):
    tunnel, odd, wide, strong = _kinds(rng)

    def change(record):
        flow, size = (float(record["heads"][key].split()[0]) for key in ("flow", "wetted_diameter"))
        record["lines"][odd] |= {"flow": f"{flow * strong:.1f} L/h", "wetted_diameter": f"{size * wide:.2f} m"}
    return _in_record(tunnel, rng, change)


@family("part circles at the walls")
def _arcs(rng):
    tunnel = any_tunnel(rng, lines=2)
    faces = {0: 0.0, 1: 180.0}
    placed = {0: 0.4, 1: tunnel.width - 0.4}
    true = moved(tunnel, lambda head: replace(head, x=round(placed[head.line], 2), arc=180.0, faces=faces[head.line]))

    def change(record):
        for line, x in zip(record["lines"], placed.values(), strict=True):
            line["x"] = f"{x:.2f} m"
    return _in_record(true, rng, change, rival="part circles", allowed=("two kinds",))


@family("every second head 0.8 m lower")
def _heights(rng):
    tunnel = any_tunnel(rng)
    for number, head in enumerate(tunnel.heads):
        if number % 2:
            tunnel.heads[number] = replace(head, reach=head.reach * 0.8)
    return as_read(tunnel, rng, rival="heights", allowed=("two kinds",))


@family("heads 20 cm off, each its own way")
def _scattered(rng):
    return as_read(moved(any_tunnel(rng), lambda head: replace(
        head, x=head.x + 0.2 * rng.standard_normal(), y=head.y + 0.2 * rng.standard_normal())), rng)


def _clogged(rng, kind, part) -> Plant:
    tunnel = sound(rng, layout_kind=kind, columns=7, rows=9)
    names = ["left", "middle", "right"] if max(head.line for head in tunnel.heads) == 2 else ["left", "right"]
    weak = rng.random(len(tunnel.heads)) < part
    blocked, poor = [], []
    for number in np.flatnonzero(weak):
        head = tunnel.heads[number]
        share = 0.0 if rng.random() < 0.5 else rng.uniform(0.1, 0.6)
        tunnel.heads[number] = replace(head, flow=head.flow * share)
        poor.append((names[head.line], sum(h.line == head.line for h in tunnel.heads[: number + 1])))
        if not share:
            blocked.append(poor[-1])
    return as_read(tunnel, rng, blocked=tuple(blocked), weak=tuple(poor),
                   allowed=("weak head", "end heads", "line low", "two kinds", "dry wedge", "fall", "step"))


family("5 % of the heads clogged")(lambda rng: _clogged(rng, "staggered", 0.05))
family("15 % of the heads clogged, staggered cans")(lambda rng: _clogged(rng, "staggered", 0.15))
family("25 % of the heads clogged")(lambda rng: _clogged(rng, "staggered", 0.25))
family("15 % of the heads clogged, even columns")(lambda rng: _clogged(rng, "grid", 0.15))


def _one_blocked(rng, **more) -> Plant:
    tunnel = sound(rng, columns=8, rows=10, **more)
    names = ["left", "middle", "right"] if max(head.line for head in tunnel.heads) == 2 else ["left", "right"]
    number = int(rng.integers(1, len(tunnel.heads) - 1))
    head = tunnel.heads[number]
    tunnel.heads[number] = replace(head, flow=0.0)
    at = (names[head.line], sum(h.line == head.line for h in tunnel.heads[: number + 1]))
    return as_read(tunnel, rng, blocked=(at,), allowed=("weak head", "end heads"))


family("one blocked head")(lambda rng: _one_blocked(rng))
family("the measured leg, calm")(lambda rng: _one_blocked(rng, curve="measured leg", layout_kind="random"))
family("the measured leg, no data sheet")(
    lambda rng: _one_blocked(rng, curve="measured leg", layout_kind="random", sheet=False))


@family("the measured leg, in wind")
def _leg_in_wind(rng):
    tunnel = sound(rng, curve="measured leg", layout_kind="random", columns=8, rows=10)
    turn, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.4, 0.9)
    drift = (size * np.cos(turn), size * np.sin(turn))
    return as_read(moved(tunnel, lambda head: replace(head, drift=drift, wind_spread=0.8)), rng, rival="drift",
                   allowed=("drift",))


def _drifted(rng, size) -> Plant:
    turn = rng.uniform(0, 2 * np.pi)
    drift = (size * np.cos(turn), size * np.sin(turn))
    return as_read(moved(any_tunnel(rng), lambda head: replace(head, drift=drift)), rng, rival="drift",
                   allowed=("drift",))


family("drift of 0.3 m")(lambda rng: _drifted(rng, 0.3))
family("drift of 0.5 m")(lambda rng: _drifted(rng, 0.5))
family("drift of 0.8 m")(lambda rng: _drifted(rng, 0.8))


@family("no can near a head")
def _none_near(rng):
    tunnel = any_tunnel(rng, lines=2)
    x = np.array([0.5 * (tunnel.width / 4 + 3 * tunnel.width / 4) + step for step in (-0.3, 0.0, 0.3)]
                 + [0.15, tunnel.width - 0.15])
    y = (np.arange(11) + 0.5) * tunnel.length / 11
    across, along = np.meshgrid(np.sort(x), y)
    return as_read(replace(tunnel, cans=np.column_stack([across.ravel(), along.ravel()]), shape=(11, 5)), rng)


@family("heads that reach 9 m, no diameter given")
def _far(rng):
    tunnel = sound(rng, reach=9.0, width=float(rng.uniform(9, 12)), lines=2, sheet=False, curve="cone")
    kept = [head for number, head in enumerate(tunnel.heads) if number % 4 == 0]
    tunnel = replace(tunnel, heads=[replace(head, flow=head.flow * 10) for head in kept])
    for line, named in enumerate(tunnel.record["lines"]):
        named["heads_at"] = [f"{head.y:.3f} m" for head in kept if head.line == line]
    return as_read(tunnel, rng)


@family("no heads in the record")
def _no_heads(rng):
    plant = as_read(any_tunnel(rng, columns=8, rows=12), rng)
    record = {key: value for key, value in plant.record.items() if key not in ("heads", "lines")}
    return replace(plant, record={**record, "run": {"duration": record["run"]["duration"]}})


@family("a leak that drips into a can")
def _leak_on_can(rng):
    tunnel = any_tunnel(rng)
    table = read(tunnel, rng)
    at = int(rng.integers(0, len(table)))
    table[at] += np.round(rng.uniform(0.8, 2.5) * table.mean())
    return Plant(record_text(tunnel, table), tunnel.floor(), allowed=("can high", "strong head"))


@family("a leak on the ground")
def _leak_on_ground(rng):
    tunnel = any_tunnel(rng)
    x0, y0 = rng.uniform(1, tunnel.width - 1), rng.uniform(2, tunnel.length - 2)
    mean = tunnel.floor().mean() / tunnel.minutes * 60
    extra = lambda x, y: 3 * mean * np.exp(-0.5 * ((x - x0) ** 2 + (y - y0) ** 2) / 0.3**2)  # noqa: E731
    return as_read(replace(tunnel, extra=extra), rng, allowed=("can high", "strong head", "step"))

