"""Friction against printed tables and points, and against an independent library."""

import fluids
import numpy as np
import pytest
from evenfall.hydraulics.friction import (
    L_H,
    G,
    Law,
    darcy_weisbach_loss,
    density,
    friction_factor,
    hazen_williams_loss,
    local_loss,
    loss_and_slope,
    many_outlets_factor,
    reynolds,
    velocity,
    viscosity,
)

GPM, FOOT, INCH = 3.785411784 * 60, 0.3048, 0.0254  # L/h, m, m
PSI = 6894.757293168 / 9806.65  # m


# --- published ---------------------------------------------------------------------------------------

@pytest.mark.parametrize("bore, flow, printed", [
    # 77 Illinois Administrative Code 906, Appendix A: schedule 40, C 150, feet in 100 feet; held to 0.5 %.
    # Inside diameters of schedule 40 (1.049, 1.380, 2.067 in) from memory.
    (1.049, 5, 1.52), (1.049, 10, 5.50), (1.380, 20, 5.23), (2.067, 50, 3.98)])
def test_table_of_schedule_40(bore, flow, printed):
    assert hazen_williams_loss(flow * GPM, 100.0, bore * INCH, 150.0) == pytest.approx(printed, rel=0.005)


@pytest.mark.parametrize("psi, printed", [(20, (4, 8, 12, 26)), (40, (6, 11, 18, 38)), (60, (8, 14, 22, 47))])
def test_table_of_garden_hose(psi, printed):
    # Iowa State University Extension 1996: 100 ft of hose of 1/2, 5/8, 3/4 and 1 in, free discharge, gpm.
    # C 140, friction only and nominal bores give all within 0.6 gpm.
    bores = np.array([1 / 2, 5 / 8, 3 / 4, 1]) * INCH
    unit = hazen_williams_loss(GPM, 100 * FOOT, bores, 140.0)
    flow = (psi * PSI / unit) ** (1 / 1.852)
    np.testing.assert_allclose(flow, printed, atol=0.6)


# --- points worked out beforehand by independent code --------------------------------------------------

def test_point_at_21_mm():
    flow, bore, nu = 1800.0, 0.021, 1.0036e-6
    assert velocity(flow, bore) == pytest.approx(1.4436, abs=5e-5)
    assert reynolds(flow, bore, nu) == pytest.approx(30209, rel=2e-4)
    assert friction_factor(30209, 1.5e-6 / bore) == pytest.approx(0.023639, abs=6e-7)
    assert friction_factor(30209, 1.5e-6 / bore, "swamee-jain") == pytest.approx(0.023556, abs=6e-7)
    assert 0.3164 / 30209**0.25 == pytest.approx(0.024000, abs=6e-7)  # Blasius, smooth: it lies near
    assert darcy_weisbach_loss(flow, 100.0, bore, viscosity=nu) == pytest.approx(11.96, abs=0.006)
    assert hazen_williams_loss(flow, 100.0, bore, 140.0) == pytest.approx(12.95, abs=0.006)
    assert hazen_williams_loss(flow, 100.0, bore, 150.0) == pytest.approx(11.40, abs=0.006)


@pytest.mark.parametrize("outlets, whole, half", [
    (5, 0.4568, 0.3964), (10, 0.4022, 0.3707), (20, 0.3760, 0.3600), (100, 0.3556, 0.3524)])
def test_factors_of_many_outlets(outlets, whole, half):
    assert many_outlets_factor(outlets) == pytest.approx(whole, abs=5e-5)
    assert many_outlets_factor(outlets, first=0.5) == pytest.approx(half, abs=5e-5)


def test_one_outlet_at_the_end_is_a_plain_pipe():
    for power in (1.75, 1.852, 2.0):
        assert many_outlets_factor(1, power) == 1.0  # Christiansen's three terms give 1.008 for 1.75
        assert many_outlets_factor(1, power, first=0.3) == pytest.approx(1.0)


@pytest.mark.parametrize("outlets, first", [(0, 1.0), (2.5, 1.0), (3, 0.0)])
def test_no_factor_for_nonsense(outlets, first):
    with pytest.raises(ValueError, match="expected a whole number of at least 1 and a distance above 0"):
        many_outlets_factor(outlets, first=first)


# --- an independent library ---------------------------------------------------------------------------

def test_colebrook_against_a_library():
    numbers, roughs = np.meshgrid(np.geomspace(4000, 1e7, 30), [0.0, 1e-6, 1e-4, 1e-2])
    ours = friction_factor(numbers, roughs)
    theirs = np.vectorize(lambda re, rough: fluids.friction.Colebrook(re, rough, tol=-1))(numbers, roughs)
    np.testing.assert_allclose(ours, theirs, rtol=1e-9)


def test_swamee_jain_against_a_library():
    numbers = np.geomspace(5000, 1e7, 30)
    theirs = [fluids.friction.Swamee_Jain_1976(re, 1e-4) for re in numbers]
    np.testing.assert_allclose(friction_factor(numbers, 1e-4, "swamee-jain"), theirs, rtol=2e-3)  # it rounds 6.97/5.74


def test_laminar_is_hagen_poiseuille():
    flow, bore, nu = 5.0, 0.01, 1e-6
    cubic = flow / L_H
    assert darcy_weisbach_loss(flow, 10.0, bore, viscosity=nu) == pytest.approx(
        128 * nu * cubic * 10.0 / (np.pi * G * bore**4), rel=1e-12)


# --- water ----------------------------------------------------------------------------------------------

@pytest.mark.parametrize("warm, nu, rho", [(0, 1.787e-6, 999.84), (10, 1.307e-6, 999.70), (20, 1.004e-6, 998.21),
                                           (30, 0.801e-6, 995.65), (40, 0.658e-6, 992.22)])
def test_water_by_temperature(warm, nu, rho):
    # Usual steam-table figures, from memory.
    assert viscosity(warm) == pytest.approx(nu, rel=5e-3)
    assert density(warm) == pytest.approx(rho, abs=0.02)


def test_no_water_beyond_boiling_and_freezing():
    for warm in (-1, 101, float("nan")):
        with pytest.raises(ValueError, match="expected 0 to 100"):
            viscosity(warm)


# --- properties -----------------------------------------------------------------------------------------

@pytest.mark.parametrize("kind", ["colebrook", "swamee-jain"])
@pytest.mark.parametrize("rough", [0.0, 1e-4, 1e-2])
def test_no_jump_and_no_fall_from_laminar_to_turbulent(kind, rough):
    numbers = np.geomspace(100, 1e6, 200_001)
    factor = friction_factor(numbers, rough, kind)
    assert np.max(np.abs(np.diff(factor) / factor[1:])) < 2e-4
    assert np.all(np.diff(factor * numbers**2) > 0)  # the loss grows with the flow throughout


@pytest.mark.parametrize("law", [Law(), Law("colebrook"), Law("swamee-jain")], ids=lambda law: law.kind)
def test_slopes_are_the_losses_own(law):
    flow = np.geomspace(1, 5000, 400)
    step = 1e-5
    loss, slope = loss_and_slope(law, flow, 10.0, 0.0209)
    near = [loss_and_slope(law, flow * (1 + sign * step), 10.0, 0.0209)[0] for sign in (-1, 1)]
    np.testing.assert_allclose(slope, (near[1] - near[0]) / (2 * step * flow), rtol=2e-4)
    back = loss_and_slope(law, -flow, 10.0, 0.0209)
    np.testing.assert_allclose(back[0], -loss)
    assert loss_and_slope(law, 0.0, 10.0, 0.0209)[0] == 0


def test_local_loss_by_hand():
    # 1 m/s through K 2: 2 x 1/(2 x 9.80665) m
    flow = np.pi / 4 * 0.02**2 * L_H
    assert local_loss(flow, 0.02, 2.0) == pytest.approx(1 / 9.80665)


def test_an_unknown_law_is_refused():
    with pytest.raises(ValueError, match="received the friction law 'manning', expected one of hazen-williams"):
        Law("manning")
    with pytest.raises(ValueError, match="received a viscosity of 0"):
        Law("colebrook", viscosity=0.0)
