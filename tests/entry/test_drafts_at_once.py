"""Drafts on disk when many write at once, and when a writer is killed."""

import multiprocessing
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from evenfall.entry.drafts.drafts import Change, Drafts

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def drafts(tmp_path):
    return Drafts(tmp_path / "data")


WRITERS, EACH = 10, 12


def write_many(folder, draft, device):
    drafts = Drafts(folder)
    for i in range(EACH):
        own, shared = Change(f"r{device}c{i + 1}", str(i), i + 1), Change("r99c99", f"{device}.{i}", EACH + i + 1)
        drafts.put(draft, [own, shared], f"device-{device}")


def check_many(drafts, draft):
    values = drafts.values(draft)
    wanted = {f"r{device}c{i + 1}": str(i) for device in range(1, WRITERS + 1) for i in range(EACH)}
    assert wanted.items() <= values.items()
    assert len(drafts.history(draft, "r99c99")) == WRITERS * EACH
    assert drafts.snapshot(draft).acknowledged == {f"device-{device}": 2 * EACH for device in range(1, WRITERS + 1)}


def test_ten_processes_write_at_once(drafts):
    draft = drafts.start()
    folder = drafts.file.parent
    fork = multiprocessing.get_context("fork" if sys.platform == "linux" else "spawn")
    writers = [fork.Process(target=write_many, args=(folder, draft, device)) for device in range(1, WRITERS + 1)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
    assert [writer.exitcode for writer in writers] == [0] * WRITERS
    check_many(drafts, draft)


def test_ten_threads_write_at_once_into_a_file_that_is_not_there_yet(tmp_path):
    folder, drafts, started = tmp_path / "new", Drafts(tmp_path / "new"), []
    makers = [threading.Thread(target=lambda: started.append(Drafts(folder).start())) for _ in range(WRITERS)]
    for maker in makers:
        maker.start()
    for maker in makers:
        maker.join(60)
    assert len(set(started)) == WRITERS
    draft = started[0]
    writers = [threading.Thread(target=write_many, args=(folder, draft, device)) for device in range(1, WRITERS + 1)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
    check_many(drafts, draft)


DYING = """
import sys
from evenfall.entry.drafts.drafts import Change, Drafts
folder, draft, device = sys.argv[1:]
drafts, number = Drafts(folder), 0
while True:
    number += 1
    drafts.put(draft, [Change(f"r{number % 7 + 1}c1", str(number), number)], device)
    print(number, flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is a matter of POSIX")
def test_what_was_acknowledged_survives_the_killing_of_the_writer(drafts):
    draft = drafts.start()
    for turn in range(6):
        device = f"device-{turn}"
        command = [sys.executable, "-c", DYING, str(drafts.file.parent), draft, device]
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as writer:
            writer.stdout.readline()
            time.sleep(0.02 + 0.017 * turn)
            writer.send_signal(signal.SIGKILL)
            told = [int(line) for line in writer.stdout.read().split()]
        last = max(told, default=1)
        assert drafts.acknowledged(draft, device) in (last, last + 1)
        entries = [entry for can in range(1, 8) for entry in drafts.history(draft, f"r{can}c1")]
        assert {entry.number for entry in entries if entry.device == device} >= set(range(1, last + 1))
        drafts.put(draft, [Change("r50c50", str(turn), turn + 1)], "after")
    assert drafts.values(draft)["r50c50"] == "5"
