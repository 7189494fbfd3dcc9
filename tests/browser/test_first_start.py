"""The first start on somebody's machine: what the terminal and the first page say is Evenfall's own."""

import os
import re
import select
import signal
import subprocess
import sys
import time
import urllib.request

import pytest
from conftest import ROOT, idle
from entry_help import PATIENCE

from tests.machine import free_port

pytestmark = [pytest.mark.browser, pytest.mark.skipif(os.name != "posix", reason="needs a terminal of the POSIX kind")]
COMMANDS = {
    "the command": [sys.executable, "-m", "evenfall.cli", "app", "--port"],
    "the script": [sys.executable, "-m", "streamlit", "run", str(ROOT / "streamlit_app.py"), "--server.port"],
}


@pytest.fixture
def newcomer(tmp_path):
    """The surroundings of somebody who never ran it, with every program beside which Streamlit shows its notice."""
    skills = pytest.importorskip("streamlit.web.skills")
    home = tmp_path / "home"
    (home / "work").mkdir(parents=True)
    for *_, folder in skills._HARNESSES:
        (home / folder).mkdir(parents=True, exist_ok=True)
    kept = {key: value for key, value in os.environ.items() if key in ("PATH", "LANG", "PYTHONPATH")}
    return {**kept, "HOME": str(home), "EVENFALL_DATA": str(home / "data"), "BROWSER": "true", "TERM": "xterm"}


@pytest.mark.parametrize("command", COMMANDS)
def test_no_notice_of_the_framework_in_the_terminal_or_on_the_page(browser, newcomer, command):
    import pty

    port, (near, far) = free_port(), pty.openpty()
    server = subprocess.Popen([*COMMANDS[command], str(port)], cwd=f"{newcomer['HOME']}/work", stdin=far, stdout=far,
                              stderr=far, env=newcomer, start_new_session=True)
    os.close(far)
    shown, end = b"", time.monotonic() + PATIENCE
    context = browser.new_context()
    context.set_default_timeout(1000 * PATIENCE)
    try:
        while time.monotonic() < end:
            if select.select([near], [], [], 0.2)[0]:
                shown += os.read(near, 4096)
            try:
                assert urllib.request.urlopen(f"http://localhost:{port}/_stcore/health", timeout=2).status == 200
                break
            except OSError:
                assert server.poll() is None, shown.decode(errors="replace")
        page = context.new_page()
        page.goto(f"http://localhost:{port}/")
        idle(page)
        page.get_by_role("button", name="Start a new test").wait_for()
        page.wait_for_timeout(3000)  # a notice comes a while after the page
        text = page.locator("body").inner_text()
        assert "treamlit" not in text and page.title() == "Your tests · Evenfall"
        assert page.locator("[data-testid*=Nudge], [data-testid*=Toast] *, [data-testid=stDeployButton]").count() == 0
        while select.select([near], [], [], 0.5)[0]:
            shown += os.read(near, 4096)
    finally:
        context.close()
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(20)
        os.close(near)
    said = re.sub(r"\x1b\[[0-9;]*m", "", shown.decode()).split("\r\n")
    wanted = f"Evenfall is open at http://localhost:{port} (Ctrl+C stops it)."
    assert [line for line in said if line.strip()] == [wanted]
