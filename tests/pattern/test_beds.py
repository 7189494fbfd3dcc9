"""Beds count by their exact area, also those narrower than a cell of the map."""

import numpy as np
import pytest
from evenfall.cans.catch import read_catch
from evenfall.cans.dry_spots import find_dry_spots
from evenfall.pattern import overlap
from evenfall.pattern.whole_floor import driest_window, estimate_floor
from evenfall.record.file import parse_record
from evenfall.record.ground import Ground
from evenfall.record.site import site_of
from evenfall.result.assessment import assess

LINES = "".join(f'[[lines]]\nname = "{name}"\nx = "{x} m"\nfirst = "0.5 m"\nspacing = "1 m"\ncount = 20\n'
                for name, x in (("left", 1.6), ("right", 5.0)))
PROFILE = np.linspace(0.0, 2.2, 45), np.linspace(20.0, 0.0, 45)  # [m], [mm/h]: a cone


def record_with(beds, heads=True):
    """Two lines of even heads over 6.6 m by 20 m, read without error; a column of cans stands in the narrow bed."""
    across, along = np.array([0.5, 1.4, 2.3, 3.2, 4.1, 5.0, 5.9]), np.arange(0.8, 20, 1.6)
    places = np.array([[x, y] for y in along for x in across])
    sprayed = np.array([[x, y] for x in (1.6, 5.0) for y in np.arange(0.5, 20, 1.0)])
    depth = overlap.rates_at(places, sprayed, np.ones(40), *PROFILE) / 2  # in half an hour
    grid = ",\n".join(str([round(float(one), 3) for one in row]) for row in depth.reshape(len(along), len(across)))
    floor = f'[floor]\nwidth = "6.6 m"\nlength = "20 m"\nbeds = [{beds}]\n' if beds else (
        '[floor]\nwidth = "6.6 m"\nlength = "20 m"\n')
    hung = '[heads]\nwetted_diameter = "4.4 m"\n' + LINES if heads else ""
    return parse_record(f'record = 1\n[test]\ntitle = "Beds"\n{floor}{hung}[cans]\nreads = "depth"\nunit = "mm"\n'
                        f'across = {[f"{x:g} m" for x in across]}\nalong = {[f"{y:g} m" for y in along]}\n'
                        f'grid = [{grid}]\n[run]\nduration = "30 min"\nlines = "together"\n'.replace("'", '"'))


NARROW = '{ from = "1.32 m", to = "1.48 m" }'  # 16 cm, 3.2 m2 of 132 m2, between the middles of two columns of cells


def floor_of(beds, **more):
    site = site_of(record_with(beds, **more))
    return estimate_floor(site, read_catch(site))


@pytest.fixture(scope="module")
def narrow():
    return floor_of(NARROW)


def test_a_bed_narrower_than_a_cell_is_the_floor(narrow):
    cells = narrow.cells
    assert cells.part.sum() * cells.area == pytest.approx(3.2) and cells.part.max() < 0.7
    inside = (cells.places[:, 0] > 1.32) & (cells.places[:, 0] < 1.48)
    assert inside.all() and np.isnan(narrow.depth_mm[~narrow.ground]).all()


def test_its_figures_are_those_of_that_bed(narrow):
    samples = narrow.estimate.samples
    fine = Ground(6.6, 20.0, ((1.32, 1.48, 0.0, 20.0),))
    places = np.array([[x, y] for y in np.arange(0.05, 20, 0.1) for x in np.arange(1.34, 1.48, 0.04)])
    assert fine.holds(*places.T).all()
    heads = np.array([head[2:] for head in narrow.heads])
    depth = overlap.rates_at(places, heads, samples.output.mean(axis=0), samples.radius,
                             samples.rate.mean(axis=0)) * narrow.estimate.mean_rate / 2
    assert narrow.estimate.mean.value == pytest.approx(depth.mean(), rel=0.01)
    assert narrow.estimate.cu.value == pytest.approx(overlap.christiansen(depth), abs=1.0)
    whole = floor_of("").estimate
    assert whole.mean.value < 0.75 * narrow.estimate.mean.value  # between the lines and at the edges it is dry
    assert whole.du_low_quarter.value < narrow.estimate.du_low_quarter.value - 20


def test_without_heads_it_is_that_bed_too():
    alone = floor_of(NARROW, heads=False)
    assert alone.estimate.mean.value > 1.25 * floor_of("", heads=False).estimate.mean.value


def test_the_result_counts_it_alike():
    dry = '{ from = "3.22 m", to = "3.38 m" }'  # midway between the lines
    result = assess(record_with(NARROW + ", " + dry))
    assert result.dry_spots and sum(spot.area_m2 for spot in result.dry_spots) <= 3.2 + 1e-9
    assert all(spot.x_m == pytest.approx(3.3, abs=0.01) for spot in result.dry_spots)
    assert result.unevenness.cv > 20


def test_a_cell_half_in_a_bed_counts_half():
    rates = np.array([4.0, 1.0, 3.0, 2.0])
    weight = np.array([1.0, 0.5, 1.0, 0.5])
    each = np.array([4.0, 4.0, 1.0, 3.0, 3.0, 2.0])  # the same by half cells
    assert overlap.average(rates, weight) == pytest.approx(each.mean())
    assert overlap.christiansen(rates, weight) == pytest.approx(overlap.christiansen(each))
    assert overlap.low_quarter(rates, weight) == pytest.approx(overlap.low_quarter(each))
    assert overlap.low_quarter(np.stack([rates, rates]), np.ones(4)) == pytest.approx(overlap.low_quarter(rates))


def test_dry_ground_in_half_cells_is_half_as_large():
    ground = Ground(2.0, 20.0, ((0.0, 1.5, 0.0, 20.0),))
    x, y = np.array([0.5, 1.5]), np.arange(0.5, 20)
    depth = np.full((20, 2), 8.0)
    depth[5:9] = 2.0
    [spot] = find_dry_spots(x, y, depth, 8.0, ground=ground.cells(x, y))
    assert spot.area_m2 == pytest.approx(6.0) and spot.x_m == pytest.approx((0.5 * 4 + 1.5 * 2) / 6)


def test_the_driest_window_knows_half_cells():
    """Columns of half cells beside whole ones: the same window as on a map where both are whole."""
    rng = np.random.default_rng(2)
    fine = rng.uniform(2, 8, (3, 40, 1))
    even = np.repeat(fine, 4, axis=2)
    ground = np.ones((40, 4), bool)
    whole = driest_window(even, ground)
    half = driest_window(even, ground, np.full(160, 0.5), share=0.1)
    assert half == pytest.approx(whole, rel=1e-9)
