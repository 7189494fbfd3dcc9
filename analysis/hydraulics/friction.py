"""Friction in full pipes, local losses, factors for many outlets, and water itself.

Heads are metres of water, flows litres an hour. Every function takes arrays of any shapes that fit together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..record.ground import Array, Numbers

G = 9.80665  # standard gravity [m/s2]
L_H = 3.6e6  # litres an hour in a cubic metre a second
HAZEN_WILLIAMS = 10.667  # constant of the SI form (m, m3/s); 10.67 in most books
FLOW_POWER = 1.852  # of the flow, after Hazen and Williams
BORE_POWER = 4.871
LAMINAR, TURBULENT = 2000.0, 4000.0  # Reynolds numbers between which the two laws are joined
KINDS = ("hazen-williams", "colebrook", "swamee-jain")


@dataclass(frozen=True)
class Law:
    """How friction is reckoned.

    Attributes
    ----------
    kind : str
        ``hazen-williams``, or Darcy-Weisbach with ``colebrook`` or ``swamee-jain``.
    constant : float [1]
        C of Hazen and Williams; 140 for small polyethylene tube is from memory.
    roughness : float [m]
        Height of the wall's roughness for Darcy-Weisbach; 0.0015 mm for polyethylene is from memory.
    viscosity : float [m2/s]
        Kinematic, for Darcy-Weisbach; see `viscosity`.
    """

    kind: str = "hazen-williams"
    constant: float = 140.0
    roughness: float = 1.5e-6
    viscosity: float = 1.0038e-6

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"received the friction law {self.kind!r}, expected one of {', '.join(KINDS)}, choose one")
        for name in ("constant", "roughness", "viscosity"):
            value = getattr(self, name)
            if not np.isfinite(value) or value < 0 or (value == 0 and name != "roughness"):
                raise ValueError(f"received a {name} of {value:g}, expected more than 0, correct it")


def viscosity(temperature: Numbers) -> Array:
    """Kinematic viscosity of water.

    The dynamic viscosity is equation 11 of Laliberte (2007), the density `density`; both were taken
    from public code that cites them.

    Parameters
    ----------
    temperature : array (...) [degrees C]
        0 to 100.

    Returns
    -------
    array (...) [m2/s]
    """
    t = _warm(temperature)
    dynamic: Array = 1e-3 * (t + 246.0) / ((0.05594 * t + 5.2842) * t + 137.37)
    return dynamic / density(t)


def density(temperature: Numbers) -> Array:
    """Density of water after Kell (1975), J. Chem. Eng. Data 20(1), equation 16.

    Parameters
    ----------
    temperature : array (...) [degrees C]
        0 to 100.

    Returns
    -------
    array (...) [kg/m3]
    """
    t = _warm(temperature)
    series: Array = 999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * (
        -46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12))))
    made: Array = series / (1.0 + 16.879850e-3 * t)
    return made


def _warm(temperature: Numbers) -> Array:
    t = np.asarray(temperature, float)
    if not np.all((t >= 0) & (t <= 100)):
        raise ValueError(f"received water of {temperature} degrees C, expected 0 to 100, correct it")
    return t


def velocity(flow: Numbers, bore: Numbers) -> Array:
    """Mean velocity in a full pipe.

    Parameters
    ----------
    flow : array (...) [L/h]
        Through the pipe.
    bore : array (...) [m]
        Inside diameter.

    Returns
    -------
    array (...) [m/s]
    """
    area: Array = np.pi / 4 * np.square(np.asarray(bore, float))
    return np.asarray(flow, float) / L_H / area


def reynolds(flow: Numbers, bore: Numbers, viscosity: Numbers) -> Array:
    """Reynolds number of a full pipe.

    Parameters
    ----------
    flow : array (...) [L/h]
        Through the pipe.
    bore : array (...) [m]
        Inside diameter.
    viscosity : array (...) [m2/s]
        Kinematic.

    Returns
    -------
    array (...) [1]
    """
    speed: Array = np.abs(velocity(flow, bore))
    return speed * bore / viscosity


def hazen_williams_loss(flow: Numbers, length: Numbers, bore: Numbers, roughness: float = 140.0) -> Array:
    """Friction loss of a full pipe after Hazen and Williams, SI form with the constant 10.667.

    Meant for turbulent flow of cool water; for a trickle it says too little.

    Parameters
    ----------
    flow : array (...) [L/h]
        Flow through the pipe; its sign does not matter.
    length : array (...) [m]
        Its length.
    bore : array (...) [m]
        Inside diameter.
    roughness : float [1]
        The constant C; 140 for small polyethylene tube is from memory.

    Returns
    -------
    array (...) [m]
        Head lost.
    """
    cubic: Array = np.abs(np.asarray(flow, float)) / L_H
    rubbed: Array = HAZEN_WILLIAMS * length * (cubic / roughness) ** FLOW_POWER
    return rubbed * np.asarray(bore, float) ** -BORE_POWER


def friction_factor(reynolds: Numbers, relative_roughness: Numbers, kind: str = "colebrook") -> Array:
    """Darcy's friction factor, laminar to turbulent, without a jump.

    Below 2000 it is 64/Re; from 4000 up Colebrook's, solved to rounding by Newton's method, or Swamee and
    Jain's. Between the two a cubic in Re that meets both in value and slope, as network solvers do.

    Parameters
    ----------
    reynolds : array (...) [1]
        Reynolds number, above 0.
    relative_roughness : array (...) [1]
        Roughness over bore.
    kind : str
        ``colebrook`` or ``swamee-jain``.

    Returns
    -------
    array (...) [1]
    """
    re, rough = np.broadcast_arrays(np.asarray(reynolds, float), np.asarray(relative_roughness, float))
    law = {"colebrook": _colebrook, "swamee-jain": _swamee_jain}[kind]
    calm: Array = 64.0 / np.maximum(re, 1e-300)
    if np.all(re <= LAMINAR):
        return calm
    factor = np.where(re <= LAMINAR, calm, law(np.maximum(re, TURBULENT), rough)[0])
    between = (re > LAMINAR) & (re < TURBULENT)
    if between.any():
        high, rises = law(np.full(int(between.sum()), TURBULENT), rough[between])
        span = TURBULENT - LAMINAR
        s = (re[between] - LAMINAR) / span
        low, falls = 64.0 / LAMINAR, -64.0 / LAMINAR**2
        factor[between] = (low * (1 + 2 * s) * (1 - s) ** 2 + high * s * s * (3 - 2 * s)
                           + span * (falls * s * (1 - s) ** 2 - rises * s * s * (1 - s)))
    return factor


def _swamee_jain(re: Array, rough: Array) -> tuple[Array, Array]:
    """Factor and its slope in Re; Swamee and Jain (1976), 5000 < Re < 1e8 by its authors."""
    inside = rough / 3.7 + 5.74 / re**0.9
    log = np.log10(inside)
    factor = 0.25 / log**2
    return factor, -2 * factor / log * (-0.9 * 5.74 / re**1.9 / inside / np.log(10))


def _colebrook(re: Array, rough: Array) -> tuple[Array, Array]:
    """Factor and its slope in Re; Colebrook (1939), 1/sqrt f = -2 log10(rough/3.7 + 2.51/(Re sqrt f))."""
    root = 1.0 / np.sqrt(_swamee_jain(re, rough)[0])
    for _ in range(12):
        inside = rough / 3.7 + 2.51 * root / re
        gap = root + 2 * np.log10(inside)
        step = gap / (1 + 2 / np.log(10) * 2.51 / re / inside)
        root = root - step
        if np.max(np.abs(step)) < 1e-13:
            break
    pull = 2 / np.log(10) * 2.51 / re / (rough / 3.7 + 2.51 * root / re)
    return root**-2.0, -2 * root**-3.0 * (pull * root / re) / (1 + pull)


def darcy_weisbach_loss(flow: Numbers, length: Numbers, bore: Numbers, roughness: Numbers = 1.5e-6,
                        viscosity: Numbers = 1.0038e-6, kind: str = "colebrook") -> Array:
    """Friction loss of a full pipe after Darcy and Weisbach.

    Parameters
    ----------
    flow : array (...) [L/h]
        Flow through the pipe; its sign does not matter.
    length : array (...) [m]
        Its length.
    bore : array (...) [m]
        Inside diameter.
    roughness : array (...) [m]
        Of the wall; 0.0015 mm for polyethylene is from memory.
    viscosity : array (...) [m2/s]
        Kinematic.
    kind : str
        ``colebrook`` or ``swamee-jain``.

    Returns
    -------
    array (...) [m]
        Head lost.
    """
    bore = np.asarray(bore, float)
    speed: Array = np.abs(velocity(flow, bore))
    number: Array = np.maximum(speed * bore / viscosity, 1e-9)  # so that a still pipe loses nothing instead of 0/0
    factor = friction_factor(number, roughness / bore, kind)
    return factor * length / bore * speed**2 / (2 * G)


def loss_and_slope(law: Law, flow: Array, length: Numbers, bore: Numbers) -> tuple[Array, Array]:
    """Friction loss of a full pipe and how it grows with flow.

    Parameters
    ----------
    law : Law
        Which friction.
    flow : array (...) [L/h]
        Signed; the loss has its sign.
    length : array (...) [m]
        Of the pipe.
    bore : array (...) [m]
        Inside diameter.

    Returns
    -------
    loss : array (...) [m]
    slope : array (...) [m per L/h]
    """
    if law.kind == "hazen-williams":
        fixed: Array = (HAZEN_WILLIAMS * length * np.asarray(bore, float) ** -BORE_POWER
                        * (L_H * law.constant) ** -FLOW_POWER)
        steep: Array = fixed * np.abs(flow) ** (FLOW_POWER - 1)
        return steep * flow, FLOW_POWER * steep
    size = np.maximum(np.abs(flow), 1e-6)
    near = [darcy_weisbach_loss(size * more, length, bore, law.roughness, law.viscosity, law.kind)
            for more in (1.0, 1.0 + 1e-6)]
    return near[0] * (flow / size), (near[1] - near[0]) / (1e-6 * size)


def local_loss(flow: Numbers, bore: Numbers, coefficient: Numbers) -> Array:
    """Loss in a fitting, K v2/2g.

    Parameters
    ----------
    flow : array (...) [L/h]
        Through the fitting.
    bore : array (...) [m]
        That the velocity is taken in.
    coefficient : array (...) [1]
        K; the sum of all fittings on one bore.

    Returns
    -------
    array (...) [m]
    """
    loss: Array = coefficient * velocity(flow, bore) ** 2 / (2 * G)
    return loss


def many_outlets_factor(outlets: int, power: float = FLOW_POWER, first: float = 1.0) -> float:
    """Loss of a pipe with equal outlets at equal spacing, as a part of the loss without outlets.

    Christiansen's F as the exact sum (his three-term series gives 1.0045 at one outlet for 1.852), and
    F_r = (N F - 1 + r)/(N - 1 + r) where the first outlet stands at r spacings from the inlet.

    Parameters
    ----------
    outlets : int [1]
        N, at least 1.
    power : float [1]
        Of the flow in the friction law: 1.852, 1.75 after Blasius, 2.
    first : float [1]
        r, above 0: distance to the first outlet in spacings.

    Returns
    -------
    float [1]

    Raises
    ------
    ValueError
        For less than one outlet, or r not above 0.
    """
    if outlets < 1 or int(outlets) != outlets or not first > 0:
        raise ValueError(f"received {outlets} outlets with the first at {first} spacings, "
                         "expected a whole number of at least 1 and a distance above 0, correct them")
    number = int(outlets)
    factor = float(np.sum((np.arange(1, number + 1) / number) ** power)) / number
    return (number * factor - 1 + first) / (number - 1 + first)
