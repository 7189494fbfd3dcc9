"""Tunnels with one planted cause, and what the causes say of them.

Every tunnel has heads whose pressures come from `evenfall.hydraulics`, a profile of a random family, 4 % reading error,
4 cm placement error, 5 % manufacture, cans read to 1 mL. Unless a plant says otherwise the layout alone reaches a DUlq
of 76 or more, and these were read: the regulator's outlet and the last head of the first line, each with a gauge of
4 kPa standard deviation. Run it by itself for a large table: ``python -m tests.causes.simulated [tunnels a cause]``.
"""

import os
import sys

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from evenfall.causes.finding import find_causes
from evenfall.causes.kinds import KINDS
from evenfall.hydraulics.system import gauge_readings, system_of, working_point
from evenfall.pattern import overlap, shapes, simulate
from evenfall.record.file import parse_record
from evenfall.record.site import site_of

from .hand import inputs
from .plants import PLANTS, SET, base, sound

AREA = 55.0       # [cm2] of a can
FLOW = 45.0       # [L/h] of a head ...
AT = 200.0        # [kPa] ... at this pressure
GAUGE_SD = 4.0    # [kPa]
SHEET_SD = 0.06   # of nominal flow and of nominal reach


def text_of(build, depth_ml, cans, minutes, nominal, gauges):
    """The record of a tunnel as TOML."""
    lines = "".join(
        f'\n[[lines]]\nname = "{name}"\nx = "{x:.3f} m"\nheads_at = {[f"{y:.3f} m" for y in build.ys]}\n'
        f'height = "2.3 m"\npipe = "{build.bore}"\nfed_from = "near"\nfeed = "3 m"\nrise = "{build.rise:.2f} m"\n'
        for name, x in zip(("A", "B", "C", "D"), build.xs, strict=False)).replace("'", '"')
    points = ", ".join(f'{{ x = "{x:.3f} m", y = "{y:.3f} m", catch = {ml:.0f} }}'
                       for (x, y), ml in zip(cans, depth_ml, strict=True))
    read = "".join(f'\n[[pressures]]\nat = "{at}"\nvalue = "{kpa:.1f} kPa"\n{more}' for at, kpa, more in gauges)
    flow, reach = nominal
    return f"""record = 1
[test]
title = "simulated"
[floor]
width = "{build.width:.3f} m"
length = "{build.length:.3f} m"
[heads]
flow = "{flow:.1f} L/h"
at = "{AT:.0f} kPa"
exponent = 0.5
wetted_diameter = "{2 * reach:.2f} m"
height = "2.1 m"
{lines}
[cans]
reads = "volume"
unit = "mL"
opening_area = "{AREA:.0f} cm2"
placed_within = "4 cm"
points = [{points}]
[run]
duration = "{minutes:.2f} min"
lines = "together"
{build.extra}
{read}
[supply]
kind = "mains"
static = "{build.static:.0f} kPa"
height = "0.5 m"
filter = {{ clean_loss = "10 kPa", at = "2 m3/h" }}
regulator = {{ set = "{SET:.0f} kPa" }}
"""


def _cans(build, rng):
    if build.layout == "at the walls":
        x = np.concatenate([[0.15, 0.45], np.linspace(1.1, build.width - 1.1, 4),
                            [build.width - 0.45, build.width - 0.15]])
        y = (np.arange(9) + 0.5) * build.length / 9
        return np.column_stack([np.tile(x, 9), np.repeat(y, 8)])
    return simulate.can_places(build.width, build.length, build.count, build.layout)


def tunnel(name, seed):
    """One tunnel with a planted cause.

    Returns the text of its record and the true DUlq [%].
    """
    rng = np.random.default_rng([seed, *name.encode()])
    change = PLANTS[name].change if name in PLANTS else sound
    s = np.linspace(0.0, 1.0, 301)
    for _ in range(400):
        build = change(base(rng), rng)
        radius = s * build.reach
        rate = overlap.scaled_to_flow(radius, shapes.random_shape(build.shape, s, rng), FLOW)
        heads = np.array([(x, y) for x in build.xs for y in build.ys])
        system = system_of(site_of(parse_record(plain_text(build))))
        point = working_point(system, held_kpa=build.outlet)
        output = np.array(point.flow) / FLOW
        places = overlap.floor_grid(build.width, build.length, 0.2)
        if build.least and overlap.low_quarter(overlap.rates_at(places, heads, np.ones(len(heads)), radius, rate)) \
                < build.least:
            continue
        break
    else:
        raise ValueError(f"received {name}, expected a layout of DUlq {build.least} within 400 tries, loosen the draw")
    per = len(build.ys)
    for (line, head), factor in build.output.items():
        output[line * per + head] *= factor
    output = output * np.maximum(1 + 0.05 * rng.standard_normal(len(output)), 0)
    middle = heads + np.array(build.drift)
    truth = overlap.low_quarter(overlap.rates_at(places, middle, output, radius, rate))
    cans = np.clip(_cans(build, rng), 0.02, [build.width - 0.02, build.length - 0.02])
    stood = cans + rng.normal(0, 0.04, cans.shape)
    rates = overlap.rates_at(stood, middle, output, radius, rate)
    if build.on_cans:
        rates = build.on_cans(rates, cans)
    usual = 10 * 40.0 / AREA  # [mm] wanted in the mean can
    minutes = 60 * usual / rates.mean()
    ml = np.round(np.maximum(rates * minutes * build.run_part / 60 * AREA / 10
                             * (1 + 0.04 * rng.standard_normal(len(cans))), 0))
    gauges = [("regulator outlet", build.outlet, ""), *((at, kpa, "") for at, kpa in build.gauges)]
    last = f'[[pressures]]\nat = "line"\nline = "A"\nhead = {per}\nheight = "2.1 m"\nvalue = "1 kPa"\n'
    asked = parse_record(plain_text(build) + last)
    beside = gauge_readings(site_of(asked), system, point)[-1]
    gauges.append(("line", beside, f'line = "A"\nhead = {per}\nheight = "2.1 m"\n'))
    read = [(at, max(kpa + GAUGE_SD * rng.standard_normal(), 0.0), more) for at, kpa, more in gauges]
    nominal = (FLOW * np.exp(SHEET_SD * rng.standard_normal()), build.reach * np.exp(SHEET_SD * rng.standard_normal()))
    return text_of(build, ml, cans, minutes, nominal, read), float(truth)


def plain_text(build):
    """The record without readings."""
    return text_of(build, [1] * 4, [(0.5, 0.5)] * 4, 30, (FLOW, build.reach), [])


def causes_in(text):
    """Run the door on the text of a record."""
    return find_causes(*inputs(text))


def names(cause, named):
    """Whether a cause names one of these kinds, alone or in its group."""
    return cause.kind in named or any(kind in KINDS and KINDS[kind].short in cause.group for kind in named)


def confusion(tunnels, first_seed=0, only=None):
    """Planted cause -> list of the first cause's kind, and whether it was named first.

    Returns the table and, for sound tunnels, the strongest cause of each.
    """
    table = {}
    for name in only or PLANTS:
        rows = []
        for seed in range(first_seed, first_seed + tunnels):
            found = causes_in(tunnel(name, seed)[0])
            rows.append((found[0].kind if found else "nothing", bool(found) and names(found[0], PLANTS[name].named),
                         found[0].strength if found else 0.0))
        table[name] = rows
    return table


def sound_tunnels(tunnels, first_seed=0):
    """Strongest cause of each sound tunnel of true DUlq 75 or more."""
    found, seed = [], first_seed
    while len(found) < tunnels:
        text, truth = tunnel("sound", seed)
        seed += 1
        if truth >= 75:
            causes = causes_in(text)
            found.append((causes[0].kind, causes[0].strength) if causes else ("nothing", 0.0))
    return found


def table_text(table):
    """A confusion table for people."""
    lines = []
    for name, rows in table.items():
        kinds = [kind for kind, *_ in rows]
        count = {kind: kinds.count(kind) for kind in sorted(set(kinds), key=lambda k: -kinds.count(k))}
        right = sum(ok for _, ok, _ in rows)
        strength = np.mean([s for *_, s in rows])
        lines.append(f"{name:22} {right:3d} of {len(rows):3d}, strength {strength:.2f}: "
                     + ", ".join(f"{kind} {number}" for kind, number in count.items()))
    every = [ok for rows in table.values() for _, ok, _ in rows]
    lines.append(f"all {100 * np.mean(every):.0f} of 100")
    return "\n".join(lines)


def main(tunnels="20", first_seed="1000", *only):
    """Print the table of many tunnels."""
    print(table_text(confusion(int(tunnels), int(first_seed), only or None)), flush=True)
    if not only:
        calm = sound_tunnels(5 * int(tunnels), int(first_seed))
        over = [one for one in calm if one[1] > 0.5]
        print(f"sound: {len(over)} of {len(calm)} with a cause over 0.5: {over}")


if __name__ == "__main__":
    main(*sys.argv[1:])
