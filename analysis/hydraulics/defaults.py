"""Sizes that a record need not state, each with where it comes from. What is from memory says so."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Default:
    """A size that is taken where a record does not say.

    Attributes
    ----------
    value : float [unit]
        The size.
    unit : str
        Its unit; ``1`` for a plain number.
    source : str
        Where it was read, or ``from memory``.
    about : str
        What it is, for a person.
    """

    value: float
    unit: str
    source: str
    about: str


MEMORY = "from memory"
DEFAULTS = {
    "friction constant": Default(140.0, "1", MEMORY, "C of Hazen and Williams, small polyethylene tube and hose"),
    "roughness": Default(1.5e-6, "m", MEMORY, "roughness of polyethylene, for Darcy and Weisbach"),
    "water": Default(20.0, "C", MEMORY, "temperature of the water"),
    "coupling": Default(2.0, "1", MEMORY, "K of one hose coupling, on the hose's bore"),
    "couplings": Default(0.0, "1", MEMORY, "couplings in the hose; a record counts them"),
    "filter loaded": Default(1.0, "1", MEMORY, "loss of the filter in times its clean loss"),
    "regulator margin": Default(34.474, "kPa", MEMORY, "what a regulator takes of its inlet pressure at least (5 psi)"),
    "regulator droop": Default(0.0, "kPa", MEMORY, "fall of the outlet pressure from no flow to the largest flow"),
    "closing share": Default(2 / 3, "1", MEMORY, "closing over opening pressure of an anti-drip valve"),
    "exponent": Default(0.5, "1", "an orifice, from Torricelli's law", "x in q = k p^x"),
    "source power": Default(1.852, "1", MEMORY, "power of the flow in a source's fall of pressure, pipes before it"),
    "pump power": Default(2.0, "1", MEMORY, "the same for a pump"),
    "watch": Default(1.0, "s", "1 s in 20 s is 5 %, common practice", "error of a time read by hand"),
    "largest velocity": Default(1.5, "m/s", "a rule of the trade, as read in teaching texts", "in tubes and hoses"),
    "flow spread": Default(10.0, "%", "a rule of the trade, as read in teaching texts",
                           "largest less smallest flow over the largest, heads of one set"),
}


def default(name: str) -> float:
    """A default's value.

    Parameters
    ----------
    name : str
        A key of `DEFAULTS`.

    Returns
    -------
    float [unit of the default]
    """
    return DEFAULTS[name].value
