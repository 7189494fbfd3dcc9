"""Ten thousand tests: taking them in, and having them on one page."""

import os
import re
import subprocess
import sys
import time

import numpy as np
import pytest
from evenfall.compare.comparison import compare_tests
from evenfall.figures.look import Look
from evenfall.figures.members import interval_rows
from evenfall.figures.small_maps import small_maps
from evenfall.record.file import read_record
from evenfall.record.samples import sample_text
from evenfall.store import OWNER, Store
from evenfall.store.folders import take_in
from evenfall.store.many import add_many
from evenfall.store.rows import StoredText, digest_of
from evenfall.store.summaries import summary_of

from ..compare.made import kept
from ..conftest import ROOT
from ..machine import slowness

MANY = 10_000
TEXTS = ("commissioning", "blocked-head", "starved-far-end", "before-repair", "lines-too-far-apart")


def folder_of(count, folder):
    folder.mkdir()
    texts = [sample_text(name) for name in TEXTS]
    for number in range(count):
        typed = re.sub(r"(?m)^id = .*$", f'id = "b-{number}"', texts[number % len(texts)])
        (folder / f"{number:05d}.toml").write_text(typed, "utf-8")
    return folder


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    return folder_of(MANY, tmp_path_factory.mktemp("many") / "records")


@pytest.fixture(scope="module")
def big(tmp_path_factory):
    """Ten thousand tests of 3,334 tunnels over three years, with whole floors."""
    rng = np.random.default_rng(0)
    store = Store(tmp_path_factory.mktemp("big") / "store.sqlite")
    made = []
    for number in range(MANY):
        tunnel, year = number // 3, 2025 + number % 3
        item = kept(float(rng.normal(70, 9)), float(rng.uniform(1.5, 6)), name=f"t-{number}", member=f"M{tunnel // 3}",
                    tunnel=f"T{tunnel % 3}", date=f"{year}-05-01", purpose="recheck" if number % 3 == 2 else "survey",
                    cans=int(rng.integers(24, 90)), seed=number,
                    habits={"last_head_part": float(rng.uniform(0.5, 1.1)), "heads_days": float(rng.integers(1, 3000))})
        text = f"test {number}"
        made.append((StoredText(item.test, text, digest_of(text), f"m{tunnel // 3}"), item.summary))
    for start in range(0, MANY, 200):
        add_many(store, OWNER, made[start:start + 200], "b")
    return store


IMPORT = """
import resource, sys, time
from evenfall.store import OWNER, Store
from evenfall.store.complete import processes
from evenfall.store.folders import take_in
if __name__ == "__main__":
    store = Store(sys.argv[2])
    begin = time.perf_counter()
    moved = take_in(store, OWNER, sys.argv[1], workers=processes())
    taken = time.perf_counter() - begin
    most = [resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    print(moved.done, taken, most[0] + processes() * most[1])
"""


def test_ten_thousand_records_come_in_at_500_a_second_within_a_gigabyte(records, tmp_path):
    slow = slowness()
    (tmp_path / "bring.py").write_text(IMPORT)
    done = subprocess.run([sys.executable, tmp_path / "bring.py", str(records), str(tmp_path / "s.sqlite")], check=True,
                          env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, timeout=300)
    done = done.stdout.split()
    slow = max(slow, slowness())
    rate = MANY / float(done[1])
    print(f"\nimport of {MANY} records: {rate:.0f} a second (machine {slow:.1f} times slower than meant), "
          f"{float(done[2]):.0f} MB at most")
    assert int(done[0]) == MANY and rate * slow >= 500 and float(done[2]) <= 1024


def test_the_cost_of_an_import_is_linear(tmp_path):
    found = {}
    for count in (1000, 4000):
        folder = folder_of(count, tmp_path / f"in{count}")
        store = Store(tmp_path / f"{count}.sqlite")
        begin = time.perf_counter()
        take_in(store, OWNER, folder)
        found[count] = (time.perf_counter() - begin) / count
    ratio = found[4000] / found[1000]
    print(f"\na record costs {ratio:.2f} times as much among 4000 as among 1000")
    assert ratio <= 1.3


def test_an_import_again_is_much_faster(tmp_path):
    folder, store = folder_of(1000, tmp_path / "in"), Store(tmp_path / "s.sqlite")
    begin = time.perf_counter()
    take_in(store, OWNER, folder)
    first = time.perf_counter() - begin
    begin = time.perf_counter()
    take_in(store, OWNER, folder)
    again = time.perf_counter() - begin
    print(f"\nan import that is done again: {first / again:.0f} times faster")
    assert first / again >= 5


def test_stored_figures_against_loading_every_file(records, big):
    part = sorted(records.iterdir())[:500]
    begin = time.perf_counter()
    for path in part:
        summary_of(read_record(path), whole_floor=False)  # not even with the whole floors that the store has
    slow = (time.perf_counter() - begin) / len(part) * MANY
    fast = np.inf
    for _ in range(5):
        begin = time.perf_counter()
        tests = big.tests(OWNER)
        fast = min(fast, time.perf_counter() - begin)
    print(f"\nfigures of {MANY} tests from the store: {slow / fast:.0f} times faster than from the files")
    assert len(tests) == MANY and slow / fast >= 50


def test_the_members_page_over_ten_thousand_tests_takes_two_seconds(big):
    slow, best = slowness(), np.inf
    for _ in range(3):
        begin = time.perf_counter()
        found = compare_tests(big.tests(OWNER))
        rows = found.rows[:30]
        interval_rows(rows, found, Look())
        small_maps(rows, Look())
        best = min(best, time.perf_counter() - begin)
    slow = max(slow, slowness())
    print(f"\nthe members page over {MANY} tests of {len(found.rows)} tunnels: {best:.2f} s (machine {slow:.1f} times "
          "slower than meant)")
    assert best / slow <= 2.0
