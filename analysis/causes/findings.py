"""Things in a record that cannot both be true, or that stand against each other."""

from __future__ import annotations

import numpy as np

from ..record.places import line_named
from .cause import Cause, grows, surely
from .evidence import Evidence

AGAIN = "Swap the two gauges and read again; compare both on one tap."


def findings(evidence: Evidence) -> list[Cause]:
    """Contradictions as causes; their strength knows the gauge's error.

    Parameters
    ----------
    evidence : Evidence
        Gathered.

    Returns
    -------
    list of Cause
    """
    return [cause for find in (_set_above_static, _order, _lines, _against_model) for cause in find(evidence)]


def _set_above_static(evidence):
    """A regulator that is set above the pressure of its supply."""
    supply = evidence.site.supply
    if not supply or not supply.regulator or not supply.static:
        return
    wanted, static = supply.regulator.set.to("kPa"), supply.static.to("kPa")
    if wanted > static:
        yield Cause("the regulator is set above the pressure of the supply", "the regulator",
                    f"It is set to {evidence.kpa(wanted)}, and the supply has {evidence.kpa(static)} with nothing "
                    "running: it can hold nothing.", 0.97 * surely(wanted - static, 0.02 * static),
                    "Read the number on the regulator and the gauge at the tap with everything shut.", (),
                    "set above static", "supply")


def _order(evidence):
    """A place downstream that reads more than one upstream."""
    chain = ("supply", "filter inlet", "filter outlet", "regulator inlet", "regulator outlet")
    read = [(name, evidence.gauge(name)) for name in chain if evidence.gauge(name)]
    for (first, one), (second, two) in zip(read, read[1:], strict=False):
        known = one.item.height is not None and two.item.height is not None
        raised = 9.807 * (two.item.height.si - one.item.height.si) if known else 0.0
        over = two.kpa + raised - one.kpa
        if over > 0:
            yield _contradiction(evidence, f"{second} above {first}", f"{first} and {second}", first, one, second, two,
                                 over, 0.0 if known else 9.807 * 1.0)


def _lines(evidence):
    """Gauges on a line that stand against each other or against the regulator's."""
    for line in evidence.lines:
        read = sorted((one for one in evidence.gauges if one.item.at == "line" and one.item.line == line.name
                       and one.item.head and one.item.head <= len(line.heads)),
                      key=lambda one: line.along[one.item.head - 1])
        if len(read) > 1:
            first, last = read[0], read[-1]
            falls = -evidence.site.line(line.name).rise * (
                line.y[last.item.head - 1] - line.y[first.item.head - 1]) / evidence.site.length
            over = last.kpa - first.kpa - 9.807 * max(falls, 0.0)
            if over > 0:
                yield _contradiction(evidence, "far end above near end", line_named(line.name),
                                     f"head {first.item.head}", first, f"head {last.item.head}", last, over, 0.0)
        outlet, supply = evidence.gauge("regulator outlet"), evidence.site.supply
        for one in read[:1]:
            if outlet is None or supply is None or supply.height is None or one.item.height is None:
                continue
            at = outlet.item.height.si if outlet.item.height is not None else supply.height.si
            over = one.kpa + 9.807 * (one.item.height.si - at) - outlet.kpa
            if over > 0:
                yield _contradiction(evidence, "line above regulator", line_named(line.name),
                                     "regulator outlet", outlet,
                                     f"head {one.item.head} (and the height between them)", one, over, 0.0)


def _contradiction(evidence, kind, where, first, one, second, two, over, slack):
    """Two gauges that cannot both be right."""
    sd = float(np.hypot(one.sd, two.sd))
    return Cause(f"two gauge readings contradict each other ({kind}): a gauge is off, or the readings were swapped",
                 where, f"{first} reads {evidence.kpa(one.kpa)}, {second} {evidence.kpa(two.kpa)}; water loses "
                 f"pressure on its way. The gauges' own error is about ±{evidence.kpa(2 * sd)}.",
                 0.95 * grows((over - slack) / sd, 2.2, 4.0), AGAIN, (), kind, "readings")


def _against_model(evidence):
    """A line's gauge far under what hydraulics expects behind the regulator's own reading."""
    outlet = evidence.gauge("regulator outlet")
    if outlet is None or outlet.modelled is None:
        return
    for line in evidence.lines:
        for one in evidence.gauges:
            if one.item.at != "line" or one.item.line != line.name or one.modelled is None:
                continue
            missing = (one.modelled - outlet.modelled) - (one.kpa - outlet.kpa)
            sd = float(np.hypot(np.hypot(one.sd, outlet.sd), 0.35 * abs(one.modelled - outlet.modelled)))
            strength = 0.8 * max(2 * surely(missing - 10.0, sd) - 1, 0.0)
            if strength > 0.05:
                place = f"head {one.item.head}" if one.item.head else "its entry"
                yield Cause(
                    "pressure is lost between the regulator and the line: its valve is partly closed, its feed tube is "
                    "kinked or its inlet is clogged", f"{line_named(line.name)}, before {place}",
                    f"From the regulator's outlet to {place} the gauges lose {evidence.kpa(outlet.kpa - one.kpa)}; "
                    f"friction and height explain {evidence.kpa(outlet.modelled - one.modelled)}.", strength,
                    "Look at its valve and follow its feed tube for a kink; read a gauge at its first head.",
                    ("its valve is partly closed", "its feed tube is kinked", "its inlet is clogged"), "line low",
                    "pressure", ((line.name, 0),))
                break
