"""Causes in the supply, the filter and the regulator, from gauges, meter, bottles and the whole catch."""

from __future__ import annotations

import numpy as np

from ..record.places import line_named
from ..reference.yardsticks import limit
from .cause import Cause, grows, percent, surely, together
from .evidence import Evidence, GaugeReading
from .kinds import KINDS, LADDER, SHUT

FAN = " Wiring of pumps is for licensed people."


def water_causes(evidence: Evidence) -> list[Cause]:
    """Everything on the way of the water that the record speaks of.

    Parameters
    ----------
    evidence : Evidence
        Gathered.

    Returns
    -------
    list of Cause
    """
    finders = (_regulator, _filter, _hose, _pressure_at_heads, _swing, _never_open, _drain_down)
    named = [cause for find in finders for cause in find(evidence)]
    told = max((cause.strength for cause in named if cause.kind in
                ("starved regulator", "regulator not holding", "filter loaded", "hose")), default=0.0)
    return named + _low(evidence, told)


def _at_regulator(evidence: Evidence, one: GaugeReading) -> float:
    """A reading brought to the height of the regulator [kPa]."""
    supply = evidence.site.supply
    if one.item.height is None or supply is None or supply.height is None:
        return one.kpa
    return one.kpa + 9.807 * (one.item.height.si - supply.height.si)


def _regulator(evidence):
    """A regulator that is starved, does not hold or lets too much through."""
    supply = evidence.site.supply
    outlet, inlet = evidence.gauge("regulator outlet"), evidence.gauge("regulator inlet")
    if not supply or not supply.regulator:
        return
    wanted = supply.regulator.set.to("kPa")
    margin = limit("regulator margin")
    state = evidence.water.stages[0].regulator if evidence.water else None
    if outlet is None:
        if inlet is None and state == "starved":
            modelled = max(evidence.water.stages, key=lambda each: each.flow).pressures["regulator inlet"]
            short = wanted + margin - modelled
            yield _starved(evidence, f"By the supply's figures its inlet has {evidence.kpa(modelled)} while all lines "
                           f"run; it needs {evidence.kpa(wanted + margin)} to hold {evidence.kpa(wanted)}.",
                           0.5 * grows(short, 0.3 * margin))
        elif inlet is not None:
            short = wanted + margin - _at_regulator(evidence, inlet)
            yield _starved(evidence, f"Its inlet reads {evidence.kpa(inlet.kpa)}; it needs "
                           f"{evidence.kpa(wanted + margin)} to hold {evidence.kpa(wanted)}.",
                           0.8 * surely(short, inlet.sd) * grows(short, 0.3 * margin))
        return
    under = wanted - _at_regulator(evidence, outlet)
    fails = surely(under - limit("regulator holds") * wanted, outlet.sd) * grows(under / wanted, 0.07)
    read = f"Its outlet reads {evidence.kpa(outlet.kpa)}, {evidence.kpa(wanted)} is set"
    if inlet is None:
        if state is not None and state != "none":
            starved = 0.8 if state == "starved" else 0.3
        else:
            starved = 0.5
        names = ("the supply leaves its inlet too little", "the regulator itself does not hold")
        order = names if starved >= 0.5 else names[::-1]
        yield Cause(together(*order), "the regulator", f"{read}; its inlet was not read.", 0.9 * fails,
                    "Read a gauge at its inlet while all lines run, then with one line shut.", names,
                    "starved regulator" if starved >= 0.5 else "regulator not holding", "supply")
        return
    short = wanted + margin - _at_regulator(evidence, inlet)
    starves = surely(short, np.hypot(inlet.sd, 0.2 * margin))
    yield _starved(evidence, f"{read}; its inlet reads {evidence.kpa(inlet.kpa)}, and it needs "
                   f"{evidence.kpa(wanted + margin)} to hold that.", 0.97 * fails * starves)
    yield Cause(
        "the regulator does not hold its pressure: dirt in it, a worn spring, or a flow outside its range",
        "the regulator", f"{read}, though its inlet reads {evidence.kpa(inlet.kpa)}.", 0.97 * fails * (1 - starves),
        "Compare the flow with the range on its label; read both gauges again with one line shut; then have it "
        "cleaned or replaced." + SHUT, (), "regulator not holding", "supply")
    over = _at_regulator(evidence, outlet) - wanted
    yield Cause("the regulator lets too much pressure through", "the regulator",
                f"{read}.", 0.9 * surely(over - 0.1 * wanted, outlet.sd) * grows(over / wanted, 0.15),
                "Read the gauge again; look at the number on the regulator.", (), "regulator too high", "supply")


def _starved(evidence, says, strength):
    """A regulator whose inlet has too little pressure."""
    says += f" Of that a regulator takes {evidence.kpa(limit('regulator margin'))} itself (from memory)."
    return Cause("the regulator is starved: the supply leaves its inlet too little pressure",
                 "the regulator's inlet", says, strength,
                 "Read a gauge at the tap, before and behind the filter and at the regulator's inlet while all lines "
                 "run; run one line alone and read the outlet again.", (), "starved regulator", "supply")


def _filter(evidence):
    """A filter that takes more pressure than a clean one."""
    before, behind = evidence.gauge("filter inlet"), evidence.gauge("filter outlet")
    if before is None or behind is None:
        # A gauge at the regulator's inlet may stand for the one behind the filter.
        behind = behind or evidence.gauge("regulator inlet")
    if before is None or behind is None:
        return
    loss, clean = before.kpa - behind.kpa, _clean_loss(evidence)
    sd = float(np.hypot(before.sd, behind.sd)) / np.sqrt(2)  # read with one gauge: part of the error cancels
    over = loss - clean
    if loss < 0:
        return
    yield Cause(
        "the filter is loaded", "the filter", f"It takes {evidence.kpa(loss)} ({evidence.kpa(before.kpa)} before, "
        f"{evidence.kpa(behind.kpa)} behind it), {evidence.kpa(over)} more than when clean; at "
        f"{evidence.kpa(limit('filter loaded'))} more it is cleaned.",
        0.97 * surely(over - 0.7 * limit("filter loaded"), sd) * grows(over, 0.7 * limit("filter loaded")),
        "Swap the two gauges and read again; flush the filter; then open and clean it." + SHUT, (), "filter loaded",
        "supply")


def _clean_loss(evidence):
    """What the clean filter takes at today's flow, [kPa]."""
    supply = evidence.site.supply
    if not supply or not supply.filter:
        return 5.0  # [kPa] of a clean filter, from memory
    flow = evidence.water.total if evidence.water is not None else None
    given = supply.filter.clean_loss.to("kPa")
    at = supply.filter.at.to("L/h")
    return given * (flow / at) ** 2 if flow and at > 0 else given


def _hose(evidence):
    """A hose that takes too much pressure."""
    water, supply = evidence.water, evidence.site.supply
    if water is None or not supply or not supply.hose:
        return
    fast = max((stage.velocities.get("hose", 0.0) for stage in water.stages), default=0.0)
    stage = max(water.stages, key=lambda each: each.flow)
    if "supply" not in stage.pressures or "filter inlet" not in stage.pressures:
        return
    loss = stage.pressures["supply"] - stage.pressures["filter inlet"]
    part = loss / max(stage.pressures["supply"], 1.0)
    hurts = 1.0 if stage.regulator == "starved" else 0.35
    yield Cause(
        "the hose is too thin or too long", "the hose from the tap",
        f"At {evidence.show(stage.flow, 'flow', 'L/h')} it takes about {evidence.kpa(loss)}, {percent(part)} of the "
        f"pressure at the tap; the water runs at {evidence.show(fast, 'stream')}, up to "
        f"{evidence.show(limit('velocity'), 'stream')} is advised.",
        hurts * grows(fast / limit("velocity"), 1.5, 4.0) * grows(part, 0.15),
        "Measure the hose's bore and length; read a gauge at both ends while all lines run. A hose in the sun can "
        "scald.", (), "hose", "supply")


def _pressure_at_heads(evidence):
    """A pressure at which the spray turns to mist."""
    at = evidence.nominal_pressure
    if evidence.water is None or at is None:
        return
    read = [one.kpa for one in evidence.gauges if one.item.at == "line" and one.item.head]
    if read and min(read) > limit("mist"):
        high = min(read)
        yield Cause("the pressure at the heads is so high that the spray turns to mist", "every head",
                    f"A gauge at a head reads at least {evidence.kpa(high)}; over {evidence.kpa(limit('mist'))} the "
                    f"reach grows no more. The data sheet says {evidence.kpa(at)}.",
                    0.8 * grows(high - limit("mist"), 60),
                    "Look for a mist that drifts; read the gauge again." + LADDER, (), "mist", "supply")


def _swing(evidence):
    """A pump that starts and stops while it runs."""
    supply = evidence.site.supply
    if not supply or supply.kind != "pump with tank" or not supply.cut_in or not supply.cut_out:
        return
    low, high = supply.cut_in.to("kPa"), supply.cut_out.to("kPa")
    if high <= low:
        return
    held = supply.regulator.set.to("kPa") + limit("regulator margin") if supply.regulator else None
    if held is not None:
        margin = limit("regulator margin")
        strength = 0.7 * surely(held - low, 0.3 * margin) * grows(held - low, margin)
        says = (f"The pump starts at {evidence.kpa(low)} and stops at {evidence.kpa(high)}; the regulator needs "
                f"{evidence.kpa(held)}.")
    else:
        part = (high - low) / ((high + low) / 2)
        strength = 0.6 * grows(part, limit("swing"))
        says = (f"The pump starts at {evidence.kpa(low)} and stops at {evidence.kpa(high)}, and no regulator holds the "
                "pressure between.")
    yield Cause("the supply swings while it runs: the pump starts and stops, or others draw water", "the pump",
                says, strength, "Watch the gauge at the regulator's outlet for five minutes while it runs." + FAN,
                (), "swing", "supply")


def _never_open(evidence):
    """Heads whose valves open above their pressure."""
    for line in evidence.site.lines:
        if not line.opens_at:
            continue
        opens = line.opens_at / 1e3
        hung = next((each for each in evidence.lines if each.name == line.name), None)
        read = [one for one in evidence.gauges if one.item.at == "line" and one.item.line == line.name]
        modelled = (float(np.nanmin(evidence.water.pressure[hung.heads]))
                    if hung is not None and evidence.water is not None else None)
        pressure, sd = (min((one.kpa, one.sd) for one in read) if read else (modelled, 15.0))
        if pressure is None:
            continue
        yield Cause(
            "heads that never open: their anti-drip valve opens above their pressure", line_named(line.name),
            f"They open at {evidence.kpa(opens)}; the pressure there is {evidence.kpa(pressure)} "
            f"({'by the gauge' if read else 'by hydraulics'}).",
            (0.95 if read else 0.7) * surely(opens - pressure, sd) ** 2,
            "Look along the line while it runs: which heads stay shut?", (), "never open", "heads")


def _drain_down(evidence):
    """A line that drains out at its low end."""
    for line in evidence.site.lines:
        if line.closes_at or line.opens_at or abs(line.rise) < 0.1 or evidence.linear is None:
            continue
        low_end = 0.0 if line.rise > 0 else evidence.site.length
        x, y = evidence.linear.cans.T
        near = (np.abs(x - line.x) < 0.8) & (np.abs(y - low_end) < 0.15 * evidence.site.length)
        if not near.any():
            continue
        rest = evidence.linear.depth - evidence.linear.usual
        wet = float(rest[near].mean())
        yield Cause("the line drains out at its low heads after shut-off", f"{line_named(line.name)}, its low end",
                    f"The line has no valves against dripping and falls {evidence.show(abs(line.rise), 'height')}; "
                    f"cans under its low end hold {percent(max(wet, 0))} of the mean more than the heads explain.",
                    0.2 + 0.5 * grows(wet, 0.15), "Watch the low heads for ten minutes after shut-off.", (),
                    "drain-down", "heads")


def _low(evidence, told):
    """The whole system gives less than its heads should."""
    found = []
    if evidence.flow_part is not None:
        part = evidence.flow_part
        sd = float(np.hypot((part.high - part.low) / 3.29, 0.06))  # data sheets are off by some 6 %, from memory
        strength = surely(limit("flow of a head") - part.value, sd) * grows(1 - part.value, 0.22, 3.0)
        nominal = evidence.site.common("flow")
        says = (f"By the cans a head gives {percent(part.value)} ({percent(part.low)} to {percent(part.high)}) of its "
                f"nominal flow{' of ' + evidence.show(nominal, 'flow') if nominal else ''}; the shape of the "
                "pattern is not the reason.")
        says += _meter(evidence)
        found.append(Cause(
            "the whole system gives too little: " + together("low supply pressure", "a shorter run than recorded",
                                                             "worn or clogged heads all over"),
            "the whole floor", says, 0.95 * strength * (1 - 0.8 * told),
            "Read a gauge at the regulator's outlet while all lines run; check the clock, the meter and the cans' "
            "opening; hold a bottle under three heads.",
            ("low supply pressure", "a shorter run than recorded", "worn or clogged heads all over"), "system low",
            "supply"))
    return found + _bottles(evidence)


def _meter(evidence):
    """What the meter says beside the nominal flows; empty without a meter or a nominal flow."""
    lines = [evidence.site.line(line.name) for line in evidence.lines]
    if evidence.site.metered is None or not lines or any(line.flow is None for line in lines):
        return ""
    nominal = sum(line.flow * line.ran * len(line.along) for line in lines) * 1e3
    return f" The meter says {evidence.site.metered * 1e3:.0f} L, the nominal flows make {nominal:.0f} L."


def _bottles(evidence):
    """One head whose bottle is far under or over the others', beside what its place on the line explains."""
    read = []
    for item in evidence.site.bottles:
        line = next((each for each in evidence.lines if each.name == item.line), None)
        if line is not None and item.time.si > 0 and item.head <= len(line.heads):
            number = int(line.heads[item.head - 1])
            read.append((number, item.volume.to("L") / item.time.to("s") * 3600, _expected(evidence, number)))
    made = []
    for number, flow, expected in read if len(read) > 1 else []:
        others = float(np.median([each / own for other, each, own in read if other != number])) * expected
        if others <= 0:
            continue
        part = flow / others - 1
        sd = 0.05 * np.sqrt(1 + 1 / (len(read) - 1))  # timing and reading of a bottle, common practice
        word, kind = ("less", "weak head") if part < 0 else ("more", "strong head")
        made.append(Cause(
            KINDS[kind].cause, evidence.head(number),
            f"Its bottle gives {evidence.show(flow, 'flow', 'L/h')}, {percent(abs(part))} {word} than the other "
            f"bottles let expect at its place ({evidence.show(others, 'flow', 'L/h')}).",
            0.95 * surely(abs(part) - 0.12, sd) * grows(abs(part), 0.15, 3.0),
            "Hold the bottle under it again; look at its nozzle." + LADDER, KINDS[kind].members, kind, "heads",
            (evidence.floor.heads[number][:2],)))
    return made


def _expected(evidence, number):
    """Flow of a head beside the others by hydraulics; all alike where that is closed."""
    water = evidence.water
    return float(water.flow[number]) if water is not None and water.flow[number] > 0 else 1.0
