"""Overlap of heads: exact cases, one published case, convergence."""

import numpy as np
import pytest
from evenfall.pattern import overlap, shapes


def disc(throw):
    return np.array([0.0, throw]), np.array([1.0, 1.0])


def repeating(spacing, row_spacing, radius, rate, cells, *, triangular=False):
    """Rates over one cell of an endless layout of equal heads, (cells * cells,) [mm/h]."""
    tall, throw = row_spacing * (2.0 if triangular else 1.0), radius[-1]
    columns = np.arange(-int(np.ceil(throw / spacing)) - 1, int(np.ceil(throw / spacing)) + 3)
    rows = np.arange(-int(np.ceil(throw / row_spacing)) - 1, int(np.ceil((throw + tall) / row_spacing)) + 2)
    x, row = np.meshgrid(columns * spacing, rows)
    x = x + np.where(row % 2 == 1, 0.5 * spacing * triangular, 0.0)
    part = (np.arange(cells) + 0.5) / cells
    places = np.column_stack([np.tile(part * spacing, cells), np.repeat(part * tall, cells)])
    return sum(overlap.rates_at(places, head[None], np.ones(1), radius, rate)
               for head in np.column_stack([x.ravel(), (row * row_spacing).ravel()]))


def test_uniform_disc_square_at_its_diameter():
    # Exact: covered part pi/4 of the cell, so CU = 100 (1 - 2 (1 - pi/4)) and DUlq follows.
    cover = np.pi / 4.0
    cu, du = 100.0 * (1.0 - 2.0 * (1.0 - cover)), 100.0 * (0.25 - (1.0 - cover)) / 0.25 / cover
    assert (round(cu, 2), round(du, 2)) == (57.08, 18.03)
    rates = repeating(2.0, 2.0, *disc(1.0), 1000)
    assert overlap.christiansen(rates) == pytest.approx(57.080, abs=0.02)
    assert overlap.low_quarter(rates) == pytest.approx(18.028, abs=0.04)


def test_uniform_disc_square_at_root_two():
    rates = repeating(np.sqrt(2.0), np.sqrt(2.0), *disc(1.0), 1000)
    assert overlap.christiansen(rates) == pytest.approx(68.807, abs=0.02)


@pytest.mark.parametrize("y, printed", [(0.0, 1.0), (0.2, 0.888099), (0.5, 0.536786), (0.8, 0.156386)])
def test_cone_summed_as_a_line(y, printed):
    # Heads much closer than the reach approach the integral of a cone along the line.
    close = 0.001
    heads = np.column_stack([np.zeros(2001), np.arange(-1000, 1001) * close])
    rate = overlap.rates_at(np.array([[y, 0.0]]), heads, np.ones(len(heads)),
                            np.array([0.0, 1.0]), np.array([1.0, 0.0]))[0]
    assert rate * close == pytest.approx(printed, abs=2e-6)
    a = np.sqrt(1.0 - y * y)
    exact = a - (y * y * np.arcsinh(a / y) if y > 0.0 else 0.0)
    assert exact == pytest.approx(printed, abs=5e-7)


def test_published_overlap_of_four_heads():
    # Liptak 1971, textbook table 6 (Budapest, Tankonyvkiado): heads at the corners of a 3 m square.
    table = {0.0: 4, 1.0: 3, 1.41: 3, 2.0: 1, 2.24: 1, 2.83: 0, 3.0: 0, 3.16: 0, 3.61: 0, 4.24: 0}
    heads = np.array([[0.0, 0.0], [3.0, 0.0], [0.0, 3.0], [3.0, 3.0]])
    places = np.array([[i, j] for i in range(4) for j in range(4)], float)
    radius = np.array([0.0, 1.0, np.sqrt(2.0), 2.0, np.sqrt(5.0), np.sqrt(8.0)])
    rate = np.array([4.0, 3.0, 3.0, 1.0, 1.0, 0.0])
    assert [table[round(r, 2)] for r in radius] == rate.tolist()
    depth = overlap.rates_at(places, heads, np.ones(4), radius, rate)
    assert depth.sum() == pytest.approx(68.0)
    assert depth.mean() == pytest.approx(4.25)
    assert ((depth - depth.mean()) ** 2).sum() == pytest.approx(3.0)
    assert round(float(depth.std()), 3) == 0.433
    assert round(float(depth.std() / depth.mean()), 3) == 0.102


def test_peak_of_a_cone():
    radius = np.linspace(0.0, 2.5, 6)
    rate = overlap.scaled_to_flow(radius, 1.0 - radius / 2.5, 40.0)
    assert rate[0] == pytest.approx(3.0 * 40.0 / (np.pi * 2.5 ** 2), rel=1e-12)


@pytest.mark.parametrize("triangular", [False, True])
def test_mean_of_a_repeating_layout(triangular):
    radius = np.linspace(0.0, 2.0, 41)
    rate = overlap.scaled_to_flow(radius, shapes.dome(radius / 2.0), 50.0)
    rates = repeating(1.7, 2.3, radius, rate, 200, triangular=triangular)
    assert rates.mean() == pytest.approx(50.0 / (1.7 * 2.3), rel=2e-4)


def test_volume_closes_over_the_ground():
    radius = np.array([0.0, 0.7, 1.1, 2.0])
    rate = overlap.scaled_to_flow(radius, np.array([1.0, 0.2, 2.0, 0.0]), 35.0)
    places = overlap.floor_grid(6.0, 6.0, 0.02)
    total = overlap.rates_at(places, np.array([[3.0, 3.0]]), np.ones(1), radius, rate).mean() * 36.0
    assert overlap.volume(radius, rate) == pytest.approx(35.0, rel=1e-12)
    assert total == pytest.approx(35.0, rel=1e-4)


def test_figures_settle_as_the_grid_refines():
    radius = np.linspace(0.0, 2.0, 81)
    rate = shapes.dome(radius / 2.0)
    heads = np.array([[2.0, 2.0], [4.0, 2.0], [2.0, 4.0], [4.0, 4.0]])

    def low(step):
        return float(overlap.low_quarter(overlap.rates_at(
            overlap.floor_grid(6.0, 6.0, step), heads, np.ones(4), radius, rate)))

    finest = low(0.02)
    errors = [abs(low(step) - finest) for step in (0.4, 0.2, 0.1)]
    assert errors[2] < errors[0] and errors[2] < 0.1


@pytest.mark.parametrize("count, expected", [(8, 100.0 * (1 + 2) / 2 / 4.5), (6, 100.0 * (1 + 0.5 * 2) / 1.5 / 3.5),
                                             (4, 100.0 * 1 / 2.5)])
def test_low_quarter_takes_the_next_place_at_part_weight(count, expected):
    # Hand case: 1, 2, .., n.
    assert overlap.low_quarter(np.arange(1, count + 1)) == pytest.approx(expected)


def test_a_profile_without_water_is_refused():
    with pytest.raises(ValueError, match="holds 0 L/h, expected more than 0"):
        overlap.scaled_to_flow(np.array([0.0, 1.0]), np.zeros(2), 10.0)


def test_the_quantile_of_the_ground():
    rng = np.random.default_rng(3)
    rate = rng.uniform(1.0, 9.0, (4, 50))
    for part in (0.0, 0.1, 0.5, 0.95, 1.0):
        plain = np.quantile(rate, part, axis=-1)
        np.testing.assert_allclose(overlap.quantile(rate, part), plain)
        np.testing.assert_allclose(overlap.quantile(rate, part, np.full(50, 0.3)), plain)  # equal pieces of ground
    fine = np.linspace(0.0, 1.0, 4000)
    ground = np.where(fine < 0.5, 0.25, 0.75)  # the wetter half is three quarters of the ground
    assert overlap.quantile(fine, 0.25, ground) == pytest.approx(0.5, abs=1e-3)
    assert overlap.quantile(fine, 0.625, ground) == pytest.approx(0.75, abs=1e-3)
