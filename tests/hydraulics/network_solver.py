"""The same systems built for an independent network solver, part by part."""

import os
import warnings

import numpy as np
from epanet import toolkit
from evenfall.hydraulics.packing import line_sides

TRIALS = 500
L_S = 3600.0  # litres an hour in a litre a second


class Network:
    """A project of the solver, made from a system; `solve` may be called again and again.

    The source's fall is a pipe of the same loss, the filter a fitting, the regulator a pressure-reducing valve, each
    head an emitter that lets nothing back. What the regulator takes at least is the same at any flow, so that it is
    taken off the source and given back to the gauges before the valve. A head that holds its flow is a demand, which
    is right while its pressure is above the nominal one.
    """

    def __init__(self, system, lines, *, accuracy=1e-8, settled=1e-4):
        self.settled = settled
        self.project = toolkit.createproject()
        law = system.chain.law
        kind = toolkit.HW if law.kind == "hazen-williams" else toolkit.DW
        toolkit.init(self.project, os.devnull, "", toolkit.LPS, kind)
        for option, value in ((toolkit.ACCURACY, accuracy), (toolkit.TRIALS, TRIALS),
                              (toolkit.EMITEXPON, float(system.outlets.exponent[0])), (toolkit.EMITBACKFLOW, 0)):
            toolkit.setoption(self.project, option, value)
        self.system, self.law, self.links = system, law, 0
        self.rough = law.constant if kind == toolkit.HW else law.roughness * 1000
        self._chain(system.chain)
        self.nodes = np.zeros(len(system.place), int)
        for line in lines:
            self._line(line)
        toolkit.openH(self.project)

    def _node(self, height):
        index = toolkit.addnode(self.project, f"n{toolkit.getcount(self.project, toolkit.NODECOUNT)}",
                                toolkit.JUNCTION)
        toolkit.setjuncdata(self.project, index, float(height), 0.0, "")
        return index

    def _link(self, kind, begin, end):
        self.links += 1
        names = [node if isinstance(node, str) else toolkit.getnodeid(self.project, node) for node in (begin, end)]
        return toolkit.addlink(self.project, f"l{self.links}", kind, *names)

    def _pipe(self, begin, end, length, bore, minor=0.0):
        link = self._link(toolkit.PIPE, begin, end)
        toolkit.setpipedata(self.project, link, max(float(length), 1e-4), float(bore) * 1000, self.rough, float(minor))

    def _chain(self, chain):
        one = {name: float(np.ravel(getattr(chain, name))[0]) for name in (
            "static", "fall", "power", "hose", "hose_bore", "filter", "loaded", "set", "margin", "height", "hose_k")}
        start = toolkit.addnode(self.project, "source", toolkit.RESERVOIR)
        toolkit.setnodevalue(self.project, start, toolkit.ELEVATION, one["height"] + one["static"] - one["margin"])
        places = ["source", *(self._node(one["height"]) for _ in range(3))]
        if one["fall"]:
            length = one["fall"] * (3.6e6 * self.law.constant) ** 1.852 * 0.05**4.871 / 10.667
            self._pipe(places[0], places[1], length, 0.05)
        else:
            self._pipe(places[0], places[1], 1e-4, 0.2)
        self._pipe(places[1], places[2], one["hose"], one["hose_bore"], one["hose_k"])
        area = np.pi / 4 * 0.05**2
        self._pipe(places[2], places[3], 1e-4, 0.05, one["filter"] * one["loaded"] * 2 * 9.80665 * (area * 3.6e6) ** 2)
        places.append(self._node(one["height"]))
        if np.isfinite(one["set"]):
            link = self._link(toolkit.PRV, places[3], places[4])
            toolkit.setlinkvalue(self.project, link, toolkit.DIAMETER, 200.0)
            toolkit.setlinkvalue(self.project, link, toolkit.INITSETTING, one["set"])
        else:
            self._pipe(places[3], places[4], 1e-4, 0.2)
        self.margin = one["margin"]
        self.gauges = {"supply": places[1], "filter inlet": places[2], "filter outlet": places[3],
                       "regulator outlet": places[-1]}
        self.tee = places[-1]

    def _line(self, line):
        system = self.system
        entry = self._node(system.tube[line])
        self._pipe(self.tee, entry, system.feed[line], system.bore[line])
        for side in line_sides(system, line):
            before, at = entry, system.enters[line]
            for head in side:
                node = self._node(system.lift[head])
                flow = system.outlets.flow[head] * system.output[head] / L_S
                if system.outlets.regulated[head]:
                    toolkit.setnodevalue(self.project, node, toolkit.BASEDEMAND, flow)
                else:
                    toolkit.setnodevalue(self.project, node, toolkit.EMITTER,
                                         flow / system.outlets.head[head] ** system.outlets.exponent[head])
                self._pipe(before, node, abs(system.place[head] - at), system.bore[line])
                before, at, self.nodes[head] = node, system.place[head], node

    def solve(self):
        """Solve it anew."""
        toolkit.initH(self.project, toolkit.INITFLOW)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it warns of negative pressures, which some cases have on purpose
            toolkit.runH(self.project)
        if not (off := toolkit.getstatistic(self.project, toolkit.RELATIVEERROR)) < self.settled:
            raise RuntimeError(f"the network solver did not settle: its flows still change by {off:.1g}")

    def heads(self):
        """Pressure heads [m] and flows [L/h] of the heads, nan where a line does not run."""
        def value(kind):
            return np.array([toolkit.getnodevalue(self.project, int(node), kind) if node else np.nan
                             for node in self.nodes])
        held = np.where(self.system.outlets.regulated, value(toolkit.DEMAND), value(toolkit.EMITTERFLOW))
        return value(toolkit.PRESSURE), held * L_S

    def gauge(self, name):
        """Pressure head at a place of the chain [m]."""
        lowered = 0.0 if name == "regulator outlet" else self.margin
        return toolkit.getnodevalue(self.project, self.gauges[name], toolkit.PRESSURE) + lowered

    def close(self):
        toolkit.closeH(self.project)
        toolkit.deleteproject(self.project)
