"""One browser and servers of our own for the tests that need a screen."""

import os
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from entry_help import LAPTOP, PAGE, PATIENCE
from evenfall.entry.drafts.drafts import Drafts

from tests.machine import free_port

ROOT = Path(__file__).resolve().parents[2]
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def _without(what):
    """No browser here: passed over on a desk, a failure where the tests are the gate."""
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(f"{what}, and CI=true: the browser tests have to run here.")
    pytest.skip(what)


@pytest.fixture(scope="session")
def chromium():
    """A factory of headless Chromiums: ``chromium(*flags)`` starts one, and with a `profile` its one context."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _without("playwright is not installed")
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None and Path("/usr/bin/chromium").exists():
        found = "/usr/bin/chromium"
    if found is None:
        _without("no Chromium was found")
    with sync_playwright() as playwright:
        def start(*flags, profile=None, **kind):
            asked = {"executable_path": found, "headless": True, "args": [*FLAGS, *flags]}
            if profile is None:
                return playwright.chromium.launch(**asked)
            return playwright.chromium.launch_persistent_context(str(profile), **asked, **kind)

        yield start


@pytest.fixture(scope="session")
def browser(chromium):
    """A headless Chromium for the whole session."""
    started = chromium()
    yield started
    started.close()


class Tabs:
    """Tabs that tests use one after the other: opening a page in a new one costs twice as much as in one that is there.

    A tab that is given back forgets all that its pages kept.
    """

    def __init__(self, browser):
        self.browser, self.free, self.kinds = browser, {}, {}

    def take(self, **kind):
        """A tab in a browser profile of its own, on an empty page."""
        key = repr(sorted(kind.items()))
        free = self.free.setdefault(key, [])
        if free:
            return free.pop()
        context = self.browser.new_context(**kind)
        context.set_default_timeout(1000 * PATIENCE)
        page = context.new_page()
        self.kinds[page] = key
        return page

    def give_back(self, page):
        """Put a tab away for the next test."""
        context = page.context
        for other in context.pages:
            if other is not page:
                other.close()
        origin = page.evaluate("origin")
        if origin.startswith("http"):
            page.evaluate("sessionStorage.clear()")
            page.goto("about:blank")
            devtools = context.new_cdp_session(page)
            devtools.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "all"})
            devtools.detach()
        context.clear_cookies()
        context.clear_permissions()
        self.free[self.kinds[page]].append(page)


@pytest.fixture(scope="session")
def tabs(browser):
    """The tabs of the session's browser."""
    return Tabs(browser)


class Server:
    """One Streamlit server on a free port of 127.0.0.1.

    Parameters
    ----------
    page : Path
        The page to run.
    env : dict
        Added to the environment.
    log : Path
        Where its output goes.
    """

    def __init__(self, page, env, log):
        self.page, self.env, self.log = Path(page), env, Path(log)
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.process = None
        self.start()

    def start(self):
        """Start it (again, on the same port) and wait until it answers."""
        env = {**os.environ, **self.env}
        env["PYTHONPATH"] = os.pathsep.join(filter(None, [str(ROOT), env.get("PYTHONPATH")]))
        options = {
            "server.port": self.port,
            "server.address": "127.0.0.1",
            "server.headless": "true",
            "server.fileWatcherType": "none",
            "browser.gatherUsageStats": "false",
        }
        command = [sys.executable, "-m", "streamlit", "run", str(self.page)]
        command += [part for name, value in options.items() for part in (f"--{name}", str(value))]
        with open(self.log, "ab") as log:
            self.process = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log, env=env)
        end = time.monotonic() + PATIENCE
        while not self._answers():
            if self.process.poll() is not None or time.monotonic() > end:
                raise RuntimeError(f"The server did not start:\n{self.log.read_text()}")
            time.sleep(0.03)

    def _answers(self):
        try:
            with urllib.request.urlopen(f"{self.url}/_stcore/health", timeout=1) as answer:
                return answer.read() == b"ok"
        except (urllib.error.URLError, OSError):
            return False

    def kill(self):
        """kill -9."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)

    def stop(self):
        """End it in an orderly way."""
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                self.kill()


@pytest.fixture(scope="session")
def serve(tmp_path_factory):
    """A factory: ``serve(page, **env)`` starts a server that ends with the session."""
    started = []

    def start(page, **env):
        folder = tmp_path_factory.mktemp("server")
        env.setdefault("EVENFALL_DATA", str(folder / "data"))
        server = Server(page, env, folder / "log.txt")
        server.data = Path(env["EVENFALL_DATA"])
        started.append(server)
        return server

    yield start
    for server in started:
        server.stop()


def idle(page, timeout=1000 * PATIENCE):
    """Wait until the page is connected and its script has run."""
    page.wait_for_selector('[data-testid="stApp"]', timeout=timeout)
    page.wait_for_function(
        """() => {
            const app = document.querySelector('[data-testid="stApp"]');
            return app && app.getAttribute('data-test-script-state') === 'notRunning'
                && app.getAttribute('data-test-connection-state') === 'CONNECTED';
        }""",
        timeout=timeout,
    )


@pytest.fixture(scope="session")
def one_entry_server(serve):
    """The server of `entry_page.py`."""
    return serve(PAGE)


@pytest.fixture
def entry_server(one_entry_server):
    """The same, running again where a test that failed left it dead."""
    if one_entry_server.process.poll() is not None:
        one_entry_server.start()
    return one_entry_server


@pytest.fixture
def drafts(entry_server):
    """The drafts that `entry_server` writes."""
    return Drafts(entry_server.data)


@pytest.fixture
def opened(tabs, entry_server, drafts):
    """A factory of pages, each in a browser profile of its own; what they log as an error fails the test."""
    used, faults = [], []

    def note(fault):
        faults.append(str(fault))

    def open_page(draft=None, kind=LAPTOP, init=None, **asked):
        page = tabs.take(**kind)
        used.append((page, init))
        if init:
            page.add_init_script(init)
        page.on("pageerror", note)
        page.draft = draft or drafts.start(title="Browser")
        query = "&".join(f"{name}={value}" for name, value in {"draft": page.draft, **asked}.items())
        page.goto(f"{entry_server.url}/?{query}")
        idle(page)
        page.wait_for_selector(".entry .keypad, .entry .table")
        return page

    yield open_page
    for page, init in used:
        page.remove_listener("pageerror", note)
        if init:
            page.context.close()  # no page loses its scripts
        else:
            tabs.give_back(page)
    assert faults == []
