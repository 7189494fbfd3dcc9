"""Lines of heads: a published problem, hand cases, properties, and cases that are hard to settle."""

import numpy as np
import pytest
from evenfall.hydraulics.friction import Law, hazen_williams_loss, loss_and_slope, many_outlets_factor
from evenfall.hydraulics.lateral import solve_lateral
from evenfall.hydraulics.outlets import make_outlets, needed_head, outlet_flow
from hypothesis import given, settings
from hypothesis import strategies as st


def test_published_problem_of_a_lateral():
    # UNESP Ilha Solteira, problem list 2006: 12 sprinklers of 43 L/h, 6 m apart, 16.1 mm, 15 m at the heads;
    # friction 1.25 m, inlet 16.1 m, of the friction the first half reach 0.14 m. Blasius with the first outlet at
    # half a spacing gives 1.265; the printed figures are held to 0.03 m.
    flow, bore, nu = 12 * 43.0, 0.0161, 1.0036e-6
    speed = flow / 3.6e6 / (np.pi / 4 * bore**2)
    blasius = 0.3164 / (speed * bore / nu) ** 0.25 * speed**2 / (2 * 9.80665) / bore  # m in a metre
    reach = 6.0 * (12 - 0.5)
    friction = blasius * reach * many_outlets_factor(12, 1.75, 0.5)
    assert friction == pytest.approx(1.265, abs=0.003)
    assert friction == pytest.approx(1.25, abs=0.03)
    assert blasius * 3.0 == pytest.approx(0.14, abs=0.03)
    # The solved line: service pressure 15 m on average, with Colebrook on a smooth wall.
    steps = np.r_[3.0, np.full(11, 6.0)]
    law = Law("colebrook", roughness=0.0, viscosity=nu)
    found = solve_lateral(16.1, steps, bore, 43.0, 15.0, law=law)
    assert 16.1 - found.head[-1] == pytest.approx(1.25, abs=0.04)
    assert found.head.mean() == pytest.approx(15.0, abs=0.2)
    assert found.inflow == pytest.approx(516.0, rel=0.01)


def test_point_of_a_measured_head():
    # Holanda Filho et al. 2001: q = 3.4312 p^0.516 (L/h, kPa) for a micro-sprinkler of 50 L/h.
    kpa = np.array([100.0, 200.0, 300.0])
    head = make_outlets((3,), 3.4312 * 200.0**0.516, 200 / 9.80665, 0.516)
    np.testing.assert_allclose(outlet_flow(kpa / 9.80665, head), 3.4312 * kpa**0.516, rtol=1e-12)
    assert 1 - outlet_flow(150.0, make_outlets((), 50, 250)) / 50 == pytest.approx(0.225, abs=5e-4)


def test_one_head_by_hand():
    found = solve_lateral(20.0, [50.0], 0.01, 60.0, 15.0)
    assert 20.0 - hazen_williams_loss(found.flow[0], 50.0, 0.01) == pytest.approx(found.head[0], abs=1e-9)
    assert found.flow[0] == pytest.approx(60.0 * np.sqrt(found.head[0] / 15.0), rel=1e-9)


def test_height_costs_pressure():
    still = solve_lateral(30.0, [1.0], 0.05, 1e-6, 20.0, rise=[2.4])
    assert (30.0 - still.head[0]) * 9.80665 == pytest.approx(23.5, abs=0.05)  # 2.4 m = 23.5 kPa


def test_below_zero_nothing_flows():
    rise = np.linspace(0, 30, 20)
    found = solve_lateral(12.0, np.full(20, 1.0), 0.02, 50.0, 20.0, rise=rise)
    assert np.all((found.flow > 0) == (found.head > 0)) and (found.flow == 0).sum() > 5


def test_regulated_heads():
    found = solve_lateral(20.0, np.full(30, 1.0), 0.0158, 60.0, 15.0, regulated=True)
    full = found.head >= 15.0
    assert full.any() and not full.all()
    np.testing.assert_allclose(found.flow[full], 60.0)
    np.testing.assert_allclose(found.flow[~full], 60.0 * np.sqrt(found.head[~full] / 15.0), rtol=1e-6)


def test_an_exponent_of_nothing_is_a_regulated_head():
    one = solve_lateral(30.0, np.full(10, 1.0), 0.0158, 60.0, 15.0, exponent=0.0)
    np.testing.assert_allclose(one.flow, 60.0)


# --- anti-drip valves ------------------------------------------------------------------------------------

def test_heads_that_never_open():
    found = solve_lateral(8.0, np.full(10, 1.0), 0.02, 50.0, 20.0, opens=9.0, closes=6.0)
    assert found.inflow == 0 and np.all(found.head == pytest.approx(8.0))


def test_plenty_of_pressure_opens_all():
    steps = np.full(10, 1.0)
    with_valves = solve_lateral(20.0, steps, 0.02, 50.0, 20.0, opens=9.0, closes=6.0)
    np.testing.assert_allclose(with_valves.flow, solve_lateral(20.0, steps, 0.02, 50.0, 20.0).flow)


def test_filled_from_closed_each_open_head_had_the_pressure_to_open():
    steps = np.full(20, 1.5)
    found = solve_lateral(10.0, steps, 0.0145, 60.0, 20.0, opens=8.5, closes=3.0)
    is_open = found.flow > 0
    assert 0 < is_open.sum() < 20
    assert np.all(found.head[is_open] >= 3.0) and np.all(found.head[~is_open] < 8.5)
    # Had all been open before, all would stay so: they close only below 3 m.
    assert np.all(solve_lateral(10.0, steps, 0.0145, 60.0, 20.0).head >= 3.0)


def test_a_valve_that_closes_above_its_opening_is_refused():
    with pytest.raises(ValueError, match="close above the pressure that opens them"):
        solve_lateral(10.0, [1.0], 0.02, 50.0, 10.0, opens=5.0, closes=6.0)


# --- refusals ---------------------------------------------------------------------------------------------

@pytest.mark.parametrize("change, says", [
    ({"bore": 0.0}, "bore that is not above 0"), ({"steps": [-1.0]}, "negative length"),
    ({"nominal_flow": -5.0}, "flow below 0"), ({"nominal_head": 0.0}, "not above 0"),
    ({"exponent": 5.0}, "exponent of 5, expected 0 to 2")])
def test_sizes_of_no_real_line(change, says):
    sizes = {"inlet": 20.0, "steps": [1.0], "bore": 0.02, "nominal_flow": 50.0, "nominal_head": 20.0} | change
    with pytest.raises(ValueError, match=says):
        solve_lateral(**sizes)


# --- properties ------------------------------------------------------------------------------------------

LINES = st.fixed_dictionaries({
    "inlet": st.floats(0.1, 60), "bore": st.floats(0.003, 0.05), "nominal_flow": st.floats(1, 300),
    "nominal_head": st.floats(2, 40), "exponent": st.sampled_from([0.0, 0.2, 0.5, 0.516, 0.8, 1.0, 1.2]),
    "regulated": st.booleans()})


def shape_of(seed, count):
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 3, count), np.cumsum(rng.normal(0, 0.4, count))


@settings(max_examples=150, deadline=None)
@given(sizes=LINES, seed=st.integers(0, 10**6), count=st.integers(1, 60),
       law=st.sampled_from([Law(), Law("colebrook"), Law("swamee-jain")]))
def test_the_laws_hold_along_any_line(sizes, seed, count, law):
    steps, rise = shape_of(seed, count)
    found = solve_lateral(steps=steps, rise=rise, law=law, **sizes)
    through = np.cumsum(found.flow[::-1])[::-1]  # mass: what passes a step leaves behind it
    lost = np.cumsum(loss_and_slope(law, through, steps, sizes["bore"])[0])
    np.testing.assert_allclose(found.head, sizes["inlet"] - lost - rise, atol=1e-8)
    heads = make_outlets((count,), sizes["nominal_flow"], sizes["nominal_head"], sizes["exponent"], sizes["regulated"])
    running = found.flow > 0
    need = needed_head(np.maximum(found.flow, 1e-12), heads)[0]
    held = heads.regulated & (found.flow >= heads.flow * (1 - 1e-12))
    np.testing.assert_allclose(found.head[running & ~held], need[running & ~held], atol=1e-8)
    assert np.all(found.head[held & running] >= sizes["nominal_head"] - 1e-8)
    assert np.all(found.head[~running] <= 1e-8)


@settings(max_examples=60, deadline=None)
@given(sizes=LINES, seed=st.integers(0, 10**6), count=st.integers(1, 40), more=st.floats(0.01, 10))
def test_flow_rises_with_pressure(sizes, seed, count, more):
    steps, rise = shape_of(seed, count)
    low = solve_lateral(steps=steps, rise=rise, **sizes)
    high = solve_lateral(steps=steps, rise=rise, **(sizes | {"inlet": sizes["inlet"] + more}))
    assert high.inflow >= low.inflow - 1e-6 * sizes["nominal_flow"]


def test_a_batch_equals_its_members():
    rng = np.random.default_rng(3)
    inlet, bore = rng.uniform(2, 40, 50), rng.uniform(0.006, 0.03, 50)
    steps, rise = rng.uniform(0, 2, (50, 25)), np.cumsum(rng.normal(0, 0.3, (50, 25)), axis=1)
    flow = rng.uniform(20, 80, 50)
    many = solve_lateral(inlet, steps, bore, flow, 20.0, rise=rise)
    for k in range(50):
        one = solve_lateral(inlet[k], steps[k], bore[k], flow[k], 20.0, rise=rise[k])
        np.testing.assert_allclose(many.head[k], one.head, atol=1e-7)
        np.testing.assert_allclose(many.flow[k], one.flow, rtol=1e-6, atol=1e-4 * flow[k])


def test_thousand_heads_and_a_hair_of_a_tube():
    long = solve_lateral(25.0, np.full(1000, 0.5), 0.012, 60.0, 20.0)
    assert np.all(np.diff(long.head) <= 1e-12) and long.head[-1] >= -1e-8
    hair = solve_lateral(25.0, np.full(40, 0.9), 0.001, 60.0, 20.0)
    free = (25.0 / hazen_williams_loss(1.0, 0.9, 0.001)) ** (1 / 1.852)  # if the first step ended in the open
    assert 0.9 * free < hair.inflow < free and hair.head[-1] < 1e-3
