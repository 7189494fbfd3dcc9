"""How long a line of heads takes, against a network solver in the same process."""

import numpy as np
from evenfall.hydraulics.lateral import solve_lateral
from evenfall.hydraulics.system import system_of, working_points

from ..hydraulics.network_solver import Network
from ..hydraulics.texts import LINE, site_with
from .test_speed import best


def test_a_lateral_in_a_batch_against_a_network_solver():
    line = LINE.replace("30", "40").replace("0.75 m", "0.5 m")
    system = system_of(site_with(lines=("a",), line=line, supply=""))
    network = Network(system, [0], accuracy=1e-3, settled=1e-3)  # its own default; at 1e-8 it takes far longer
    network.solve()  # the project stays open: a start from its usual guess and one solution, nothing else
    theirs = best(lambda: [network.solve() for _ in range(200)], 5) / 200
    pressure, flow = network.heads()
    network.close()
    rng = np.random.default_rng(1)
    inlet = np.r_[system.chain.static[0] - system.lift[0], rng.uniform(12, 35, 999)]
    bore = np.r_[0.0209, rng.choice([0.0158, 0.0209, 0.0266], 999)]
    steps = np.full((1000, 40), 0.5)
    steps[:, 0] = 0.6
    found = solve_lateral(inlet, steps, bore, 50.0, 200 / 9.80665)
    np.testing.assert_allclose(found.flow[0], flow, rtol=1e-3)
    ours = best(lambda: solve_lateral(inlet, steps, bore, 50.0, 200 / 9.80665), 5) / 1000
    print(f"\n40 heads, one of 1,000: {ours * 1e6:.0f} us; network solver {theirs * 1e6:.0f} us; "
          f"ratio {ours / theirs:.2f}")
    assert ours < theirs


def test_candidates_of_a_whole_system():
    system = system_of(site_with())
    taken = best(lambda: working_points([system] * 200), 3) / 200
    alone = best(lambda: working_points([system]), 5)
    print(f"\nworking point of two lines of 30 heads: alone {alone * 1e3:.1f} ms, one of 200 {taken * 1e3:.2f} ms")
    assert taken < 0.5 * alone
