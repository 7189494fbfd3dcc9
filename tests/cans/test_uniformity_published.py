"""The indices against published cases, with the figures as printed."""

import numpy as np
import pytest
from evenfall.cans.uniformity import indices
from scipy import stats


def test_liptak_1970_all_alike():
    # Liptak 1970, Hidrologiai Kozlony 50(6), p. 269, table 5, case A: 64 cans of 8 mm.
    found = indices(np.full(64, 8.0))
    assert (found.cu, found.cv, found.du_low_quarter) == (100, 0, 100)


def test_liptak_1970_half_dry():
    # Liptak 1970, table 5, case F: 32 cans of 0 and 32 of 16 mm; printed CU 0, Cv 1, low quarter 0.
    found = indices([0] * 32 + [16] * 32)
    assert found.cu == pytest.approx(0, abs=1e-9)
    assert found.cv == pytest.approx(100)
    assert found.du_low_quarter == 0


def test_liptak_1970_three_quarters_dry_is_not_clipped():
    # Liptak 1970, table 5, case G: 48 cans of 0 and 16 of 32 mm; printed CU -50, Cv 1.74 (exact 1.732, divisor n),
    # largest / mean 4.
    found = indices([0] * 48 + [32] * 16)
    assert found.cu == pytest.approx(-50)
    assert found.cv == pytest.approx(173.2, abs=0.05)
    assert found.highest / found.mean == 4
    assert np.isinf(found.scheduling_coefficient)


def test_liptak_1971_overlap_of_four_heads():
    # Liptak 1971, textbook table 6 (Budapest, Tankonyvkiado): depths on the 16 points of the integer grid under heads
    # at the corners of a 3 m square; printed mean 4.25, SD 0.433 (divisor n), SD / mean 0.102.
    by_distance = {0: 4, 1: 3, 2: 3, 4: 1, 5: 1}  # squared distance [m2] -> depth [mm]; 0 from 2.83 m on
    depth = [sum(by_distance.get((x - a) ** 2 + (y - b) ** 2, 0) for a in (0, 3) for b in (0, 3))
             for x in range(4) for y in range(4)]
    assert sum(depth) == 68
    found = indices(np.array(depth, float))
    assert found.mean == pytest.approx(4.25)
    assert found.mean * found.cv / 100 == pytest.approx(0.433, abs=0.0005)
    assert found.cv / 100 == pytest.approx(0.102, abs=0.0005)


def test_nmsu_scheduling_coefficient():
    # New Mexico State University, Soil 456, answers 5.6 and 5.10: 1.0, 0.9, 0.7 and 1.2 in; mean / lowest printed
    # 1.35 (1.357, cut), mean / highest 0.79.
    found = indices([1.0, 0.9, 0.7, 1.2])
    assert np.floor(100 * found.scheduling_coefficient) / 100 == 1.35
    assert round(float(found.mean / found.highest), 2) == 0.79


def test_bc_tree_fruit_mean_rate():
    # British Columbia tree fruit production guide: 16 pans caught 104 mm in all in 1 h: 6.5 mm/h.
    assert indices(np.full(16, 104 / 16)).mean == 6.5


def test_sousa_2014_forms_of_the_normal_law():
    # Sousa et al., INOVAGRI 2014: CVq 3.99 % gives Us 96.01, CU form 96.81 (cut) and DU form 94.93. A normal catch
    # of many cans with that CV must give them from the definitions.
    share = (np.arange(200_000) + 0.5) / 200_000
    depth = 10 * (1 + 0.0399 * stats.norm.ppf(share))
    found = indices(depth)
    assert found.statistical_uniformity == pytest.approx(96.01, abs=0.005)
    assert found.cu == pytest.approx(96.81, abs=0.01)
    assert found.du_low_quarter == pytest.approx(94.93, abs=0.005)


def test_adequacy_row_of_the_normal_law():
    # Pratt et al., Agricultural Water Management: at CU 72, share of the area adequately watered against part of the
    # mean; printed to whole percents.
    from evenfall.cans.uniformity import depth_curve

    printed = {95: 42, 90: 55, 85: 64, 80: 70, 75: 76, 70: 82, 65: 86, 60: 91, 50: 100}
    cv = (1 - 0.72) / np.sqrt(2 / np.pi)
    depth = 1 + cv * stats.norm.ppf((np.arange(20_000) + 0.5) / 20_000)
    assert indices(depth).cu == pytest.approx(72, abs=0.01)
    share, curve = depth_curve(depth)
    for area, part in printed.items():
        assert 100 * np.interp(area, share, curve) == pytest.approx(part, abs=1.0)
