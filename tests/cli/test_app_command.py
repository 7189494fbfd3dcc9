"""`evenfall app` on a terminal of somebody who never ran it before."""

import os
import select
import signal
import socket
import subprocess
import sys
import time
import tomllib
import urllib.request

import pytest
from evenfall.cli.app import settings_of

from ..conftest import ROOT
from ..machine import free_port

pytestmark = pytest.mark.skipif(os.name != "posix", reason="needs a terminal of the POSIX kind")


def newcomer(tmp_path):
    """The surroundings of somebody with an empty home."""
    home = tmp_path / "home"
    home.mkdir()
    kept = {key: value for key, value in os.environ.items() if key in ("PATH", "LANG", "PYTHONPATH")}
    return {**kept, "HOME": str(home), "EVENFALL_DATA": str(home / "data"), "BROWSER": "true", "TERM": "xterm"}


def test_it_answers_without_asking_anything(tmp_path):
    import pty

    port, (near, far) = free_port(), pty.openpty()
    server = subprocess.Popen([sys.executable, "-m", "evenfall.cli", "app", "--port", str(port)], cwd=ROOT,
                              stdin=far, stdout=far, stderr=far, env=newcomer(tmp_path), start_new_session=True)
    os.close(far)
    shown, answered, end = b"", False, time.monotonic() + 90
    try:
        while not answered and server.poll() is None and time.monotonic() < end:
            if select.select([near], [], [], 0.3)[0]:
                shown += os.read(near, 4096)
            try:
                answered = urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2).status == 200
            except OSError:
                continue
        assert answered, shown.decode(errors="replace")
        assert b"mail" not in shown.lower()
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(20)
        os.close(near)


def test_a_port_that_is_taken_says_what_to_do(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = subprocess.run([sys.executable, "-m", "evenfall.cli", "app", "--port", str(port), "--no-browser"],
                              cwd=ROOT, capture_output=True, text=True, timeout=120, env=newcomer(tmp_path))
    other = port + 1 if port < 65535 else 8501
    assert done.returncode == 2 and done.stdout == ""
    assert done.stderr == (f"received port {port}, which another program is using, expected a free one, open "
                           f"http://localhost:{port} if Evenfall runs there already, or start it with --port {other}\n")


def test_the_command_and_the_settings_beside_the_script_are_the_same():
    written = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text("utf-8"))

    def flat(table, before=""):
        for key, value in table.items():
            yield from flat(value, f"{before}{key}.") if isinstance(value, dict) else [(before + key, value)]

    own = {key: {"true": True, "false": False}.get(value, value) for key, value in settings_of(1, False, True).items()}
    assert own.pop("server.port") == 1
    assert dict(flat(written)) == own


def test_ctrl_c_ends_it_without_a_word(tmp_path):
    port = free_port()
    server = subprocess.Popen([sys.executable, "-m", "evenfall.cli", "app", "--port", str(port), "--no-browser"],
                              cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=newcomer(tmp_path))
    try:
        end = time.monotonic() + 90
        while time.monotonic() < end:
            try:
                assert urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2).status == 200
                break
            except OSError:
                time.sleep(0.1)
        server.send_signal(signal.SIGINT)
        out, err = server.communicate(timeout=30)
    finally:
        server.kill()
    assert (server.returncode, out) == (0, b"")
    assert err == f"Evenfall is open at http://localhost:{port} (Ctrl+C stops it).\n".encode()
