"""A clean virtual environment: what a wheel carries and what the command does from any folder."""

import json
import os
import shutil
import subprocess
import sys
import time
import urllib.request
import zipfile

import pytest

from .conftest import ROOT
from .machine import free_port


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """The command of a wheel that was installed without its source beside it."""
    folder = tmp_path_factory.mktemp("install")
    source = folder / "source"
    shutil.copytree(ROOT, source, ignore=shutil.ignore_patterns(".git", ".venv", "__pycache__", "*.egg-info"))
    subprocess.run([sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", folder, source], check=True,
                   timeout=300)
    (wheel,) = folder.glob("*.whl")
    # The dependencies are those of the environment that runs the tests; the clean copy in .ci/run installs them anew.
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", folder / "venv"], check=True, timeout=120)
    site = next((folder / "venv").glob("lib/python*/site-packages"), folder / "venv" / "Lib" / "site-packages")
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        archive.extractall(site)
    outside = [path for path in sys.path if path.endswith("site-packages")]
    (site / "outside.pth").write_text("\n".join(outside))
    python = folder / "venv" / "bin" / "python"
    return python, folder, names


def run(installed, *words, **more):
    python, folder, _ = installed
    env = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    return subprocess.run([python, "-m", "evenfall.cli", *words], cwd=folder, capture_output=True, text=True, env=env,
                          timeout=120, **more)


def test_the_wheel_carries_the_samples_and_the_entry(installed):
    names = installed[2]
    assert {f"evenfall/sample_tests/{path.name}" for path in (ROOT / "sample_tests").glob("*.toml")} <= set(names)
    assert {"evenfall/dashboard/entry/entry.js", "evenfall/dashboard/entry/entry.css",
            "evenfall/dashboard/rooms/map.py", "evenfall/py.typed"} <= set(names)
    assert {f"evenfall/guide/{page.name}" for page in (ROOT / "analysis" / "guide").glob("*.md")} <= set(names)
    assert not [name for name in names if name.startswith("tests/")]


def test_it_assesses_a_sample_from_another_folder(installed):
    python, folder, _ = installed
    where = subprocess.run([python, "-c", "import evenfall; from evenfall.record.samples import folder; "
                                          "print(evenfall.__file__); print(folder())"],
                           cwd=folder, capture_output=True, text=True, check=True).stdout.split("\n")
    assert str(folder) in where[0] and str(folder) in where[1]
    done = run(installed, "assess", f"{where[1]}/commissioning.toml", "--json")
    assert done.returncode == 0 and done.stderr == ""
    assert json.loads(done.stdout)["at_the_cans"]["du_low_quarter"] > 75


def test_the_app_binds_to_this_machine_only_from_any_folder(installed, tmp_path):
    python, folder, _ = installed
    port = free_port()
    env = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    env["EVENFALL_DATA"] = str(tmp_path)
    app = subprocess.Popen([python, "-m", "evenfall.cli", "app", "--no-browser", "--port", str(port)], cwd=tmp_path,
                           env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        for _ in range(600):
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=1) as answer:
                    assert answer.read() == b"ok"
                    break
            except OSError:
                time.sleep(0.1)
        else:
            pytest.fail("the dashboard did not start")
        listening = [line.split()[1] for line in open("/proc/net/tcp").read().splitlines()[1:]
                     if line.split()[3] == "0A" and line.split()[1].endswith(f":{port:04X}")]
        assert listening == [f"0100007F:{port:04X}"]  # 127.0.0.1 and nothing else
    finally:
        app.terminate()
        app.wait(20)
