"""The source's curve, the chain part by part, and the regulator's states."""

from dataclasses import fields, replace

import numpy as np
import pytest
from evenfall.hydraulics.defaults import DEFAULTS, MEMORY
from evenfall.hydraulics.friction import hazen_williams_loss
from evenfall.hydraulics.supply import Chain, fit_source, state_of
from evenfall.hydraulics.system import KPA, system_of, working_point

from .texts import SUPPLY, site_with


def test_one_bucket_lies_on_the_curve():
    source = fit_source(40.0, [33.0], [20.0], [20.0])
    assert source.static - source.fall * 3600.0**1.852 == pytest.approx(33.0)
    assert source.flow_error == pytest.approx(0.05)  # 1 s in 20
    assert source.misfit == pytest.approx(0.0, abs=1e-9)


def test_two_buckets_give_the_static_pressure():
    flows = np.array([1800.0, 3600.0])
    source = fit_source(None, 40.0 - 1e-6 * flows**1.852, [10.0, 20.0], [20.0, 20.0])
    assert source.static == pytest.approx(40.0) and source.fall == pytest.approx(1e-6)


def test_more_buckets_are_known_better():
    one, three = fit_source(40.0, [33.0], [20.0], [20.0]), fit_source(40.0, [33.0] * 3, [20.0] * 3, [20.0] * 3)
    assert three.flow_error == pytest.approx(one.flow_error / np.sqrt(3))
    assert three.fall == pytest.approx(one.fall)


def test_a_pump_falls_with_the_square():
    assert fit_source(40.0, [33.0], [20.0], [20.0], "pump").power == 2.0


@pytest.mark.parametrize("sizes, says", [
    ((40.0, [33.0], [20.0], [0.0]), "no volume or no time"), ((None, [33.0], [20.0], [20.0]), "no static pressure"),
    ((None, [33.0, 35.0], [20.0, 20.0], [20.0, 20.0]), "no static pressure"),
    ((40.0, [45.0], [20.0], [20.0]), "higher pressure while a bucket was filled")])
def test_contradictions(sizes, says):
    with pytest.raises(ValueError, match=says):
        fit_source(*sizes)


def chain(**changes):
    return replace(system_of(site_with()).chain, **{name: np.array([value]) for name, value in changes.items()})


def test_the_chain_by_hand():
    flow = np.array([2000.0])
    heads, _ = chain(hose_k=4.0, valve=1e-7, loaded=3.0, manifold=6.0, riser=2.0).along(flow)
    supply = 400 / KPA - 70 / KPA * (2000 / 3600) ** 1.852
    speed = 2000 / 3.6e6 / (np.pi / 4 * 0.025**2)
    inlet = supply - hazen_williams_loss(2000, 15, 0.025) - 4 * speed**2 / 19.6133 - 1e-7 * 2000**2
    assert heads["supply"][0] == pytest.approx(supply)
    assert heads["filter inlet"][0] == pytest.approx(inlet)
    assert heads["filter outlet"][0] == pytest.approx(inlet - 30 / KPA)  # 10 kPa at 2 m3/h, three times loaded
    assert heads["regulator inlet"][0] == heads["filter outlet"][0]
    assert heads["regulator outlet"][0] == pytest.approx(200 / KPA)
    assert heads["tee"][0] == pytest.approx(200 / KPA - hazen_williams_loss(2000, 8, 0.02))


@pytest.mark.parametrize("change", [{}, {"droop": 1e-3}, {"set": 390 / KPA}, {"set": np.inf, "margin": 0.0},
                                    {"hose_k": 10.0, "valve": 1e-6, "loaded": 4.0, "manifold": 5.0}])
def test_the_slope_is_the_heads_own(change):
    one, flow, step = chain(**change), np.array([2500.0]), 0.01
    up, down = one.at(flow + step)[0], one.at(flow - step)[0]
    assert one.at(flow)[1][0] == pytest.approx((up - down)[0] / (2 * step), rel=1e-5, abs=1e-12)
    assert one.at(flow)[1][0] <= 0


def test_every_part_of_a_chain_is_taken_along():
    many = Chain(**{item.name: np.arange(3.0) for item in fields(Chain) if item.name != "law"}, law=chain().law)
    assert all(getattr(many.take(np.array([2])), item.name)[0] == 2 for item in fields(Chain) if item.name != "law")


def test_the_chains_keys_in_a_record():
    more = SUPPLY.replace('at = "2 m3/h"', 'at = "2 m3/h", loaded = 2.5').replace(
        '"5000 L/h"', '"5000 L/h", droop = "20 kPa"')
    more += ('couplings = 3\nvalve = { loss = "5 kPa", at = "1500 L/h" }\n'
             'manifold = { length = "4 m", inside = "26.6 mm" }\n'
             'riser = { length = "2 m", inside = "20.9 mm" }\n')
    one = system_of(site_with(supply=more)).chain
    assert one.hose_k[0] == 3 * DEFAULTS["coupling"].value and one.loaded[0] == 2.5
    assert one.valve[0] * 1500**2 == pytest.approx(5 / KPA) and one.droop[0] * 5000 == pytest.approx(20 / KPA)
    assert (one.manifold[0], one.manifold_bore[0], one.riser[0], one.riser_bore[0]) == pytest.approx(
        (4.0, 0.0266, 2.0, 0.0209))
    plain = working_point(system_of(site_with())).stages[0]
    droops = working_point(system_of(site_with(supply=more))).stages[0]
    assert plain.pressures["regulator outlet"] - droops.pressures["regulator outlet"] == pytest.approx(
        20 * droops.flow / 5000)
    assert droops.regulator == "droops" and set(droops.velocities) == {
        "hose", "manifold", "riser", "line left", "line right"}


def test_states_of_a_regulator():
    assert state_of(20.0, 30.0, 20.0, 3.5) == "holds"
    assert state_of(18.5, 30.0, 20.0, 3.5) == "droops"
    assert state_of(18.5, 22.0, 20.0, 3.5) == "starved"
    assert state_of(18.5, 22.0, np.inf, 0.0) == "none"


def test_a_starved_regulator_takes_its_margin():
    point = working_point(system_of(site_with(supply=SUPPLY.replace("25 mm", "16 mm"))))
    stage = point.stages[0]
    assert stage.regulator == "starved"
    assert stage.pressures["regulator inlet"] - stage.pressures["regulator outlet"] == pytest.approx(34.474)
    assert any("the regulator is starved: its inlet has" in text for text in point.warnings)


@pytest.mark.parametrize("change, says", [(('"5000 L/h"', '"2000 L/h"'), "more than the 2000 L/h up to which it holds"),
                                          (('"300 L/h"', '"3000 L/h"'), "less than the 3000 L/h from which it holds")])
def test_flows_outside_the_regulators_range(change, says):
    point = working_point(system_of(site_with(supply=SUPPLY.replace(*change))))
    assert any(says in text for text in point.warnings)


def test_every_default_has_its_source():
    assert all(item.unit and item.about and item.source for item in DEFAULTS.values())
    assert DEFAULTS["regulator margin"].source == MEMORY
    assert DEFAULTS["regulator margin"].value == pytest.approx(5 * 6.894757, abs=1e-3)
