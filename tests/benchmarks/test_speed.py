"""Speed as a ratio to a reference in the same run; each prints what it measured."""

import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest
from evenfall.cans.uniformity import indices
from evenfall.record.file import parse_record, plain_text
from evenfall.record.model import to_plain

from ..conftest import GRID


def best(work, times=5):
    """Shortest time of several runs [s]: other work on the machine only adds."""
    found = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        found.append(time.perf_counter() - begin)
    return min(found)


@pytest.fixture(scope="module")
def tests():
    rng = np.random.default_rng(0)
    return rng.gamma(10, 1, (10_000, 100)), rng.uniform(0.5, 2, (10_000, 100))


def plain_formulas(depth: pd.Series) -> pd.Series:
    """The definitions, one line each, on one test."""
    mean, rising = depth.mean(), depth.sort_values()
    return pd.Series({
        "mean": mean, "lowest": depth.min(), "highest": depth.max(),
        "cu": 100 * (1 - (depth - mean).abs().sum() / depth.sum()),
        "du_low_quarter": 100 * rising.iloc[:25].mean() / mean, "du_low_half": 100 * rising.iloc[:50].mean() / mean,
        "cv": 100 * depth.std(ddof=0) / mean,
    })


def test_ten_thousand_tests_against_pandas(tests):
    depth, _ = tests
    part = 500  # the reference is linear in the number of tests; a twentieth of it is timed
    long = pd.DataFrame({"test": np.repeat(np.arange(part), 100), "depth": depth[:part].ravel()})
    slow = best(lambda: long.groupby("test")["depth"].apply(plain_formulas), 3) * len(depth) / part
    fast = best(lambda: indices(depth))
    table = long.groupby("test")["depth"].apply(plain_formulas).unstack()
    assert np.allclose(table["du_low_quarter"], indices(depth[:part]).du_low_quarter)
    print(f"\nindices of 10,000 tests of 100 cans: {slow / fast:.0f} times faster than groupby-apply")
    assert slow / fast >= 50


def test_equal_weights_against_one_sort(tests):
    depth, _ = tests
    ratio = best(lambda: indices(depth), 9) / best(lambda: np.sort(depth, axis=1), 9)
    print(f"\nequal weights: {ratio:.1f} times one sort")
    assert ratio <= 8


def test_weights_against_one_argsort(tests):
    depth, weight = tests
    ratio = best(lambda: indices(depth, weight), 9) / best(lambda: np.argsort(depth, axis=1), 9)
    print(f"\nweighted: {ratio:.1f} times one argsort")
    assert ratio <= 5


def test_assess_against_importing_numpy_and_scipy(tmp_path):
    rng = np.random.default_rng(1)
    plain = to_plain(parse_record(GRID))
    plain["cans"]["across"] = [f"{0.3 + 0.6 * number:.1f} m" for number in range(10)]
    plain["cans"]["along"] = [f"{0.3 + 0.6 * number:.1f} m" for number in range(20)]
    plain["cans"]["grid"] = [[int(value) for value in row] for row in rng.gamma(20, 2, (20, 10))]
    file = tmp_path / "large.toml"
    file.write_text(plain_text(plain), "utf-8")

    def run(*words):
        done = subprocess.run([sys.executable, *words], capture_output=True, timeout=120)
        assert done.returncode == 0, done.stderr

    run("-m", "evenfall.cli", "assess", str(file), "--only", "cans")  # writes the byte code
    ours = best(lambda: run("-m", "evenfall.cli", "assess", str(file), "--only", "cans"), 5)
    theirs = best(lambda: run("-c", "import numpy, scipy.interpolate"), 5)
    print(f"\nassess --only cans, 200 cans: {ours / theirs:.1f} times importing numpy and scipy.interpolate")
    assert ours / theirs <= 3
