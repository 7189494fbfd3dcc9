"""Only this machine's own names are served: foreign names, pages and frames in a real browser, and plain requests."""

import contextlib
import json
import os
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from accounts_help import HB, quiet_page, shared_dashboard
from conftest import ROOT, idle
from entry_help import LAPTOP, eventually
from evenfall.entry.drafts.drafts import Drafts
from look_ups import a_listener
from test_main_path import NINE

from tests.machine import free_port

pytestmark = pytest.mark.browser
TITLE = "Only for the grower"
# Says in its title what a page of this origin learns of the dashboard.
SPY = """<!doctype html><title>waiting</title><script>
const at = "{at}", told = [];
const say = (what) => {{ told.push(what); if (told.length === 3) document.title = told.sort().join(" "); }};
const health = fetch(`http://${{at}}/_stcore/health`);
health.then((answer) => answer.text()).then((text) => say("fetch:" + text)).catch(() => say("fetch:no"));
const socket = new WebSocket(`ws://${{at}}/_stcore/stream`, ["streamlit"]);
socket.onopen = () => say("socket:open");
socket.onerror = () => say("socket:no");
const frame = document.createElement("iframe");
frame.onload = () => setTimeout(() => {{
  let seen = "no";
  try {{ seen = frame.contentDocument === null ? "no" : "read"; }} catch {{ seen = "no"; }}
  say("frame:" + seen);
}}, 500);
frame.src = `http://${{at}}/`;
document.documentElement.append(frame);
</script>"""


@pytest.fixture(scope="module")
def looked_up():
    with a_listener() as (proxy, arrived):
        yield proxy, arrived


@pytest.fixture(scope="module")
def server(serve, looked_up):
    proxy, _ = looked_up
    return serve(ROOT / "streamlit_app.py", HTTP_PROXY=proxy, HTTPS_PROXY=proxy, http_proxy=proxy, https_proxy=proxy)


@pytest.fixture(scope="module")
def draft(server):
    return Drafts(server.data).start(NINE.replace("Nine cans", TITLE), TITLE)


@pytest.fixture(scope="module")
def rebound(chromium):
    """A browser for which every name under example.org leads to this machine, and that asks nobody's leave for it."""
    started = chromium("--host-resolver-rules=MAP *.example.org 127.0.0.1",
                       "--disable-features=LocalNetworkAccessChecks")
    yield started
    started.close()


@contextlib.contextmanager
def a_site(text):
    """A site of somebody else on this machine; gives its port."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            body = text.encode()
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_):
            pass

    site = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=site.serve_forever, daemon=True).start()
    yield site.server_port
    site.shutdown()


def asked(port, path="/", host=None, address="127.0.0.1", **headers):
    """Status, headers and text of one request."""
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    request = urllib.request.Request(f"http://{address}:{port}{path}", headers={
        "Host": host or f"{address}:{port}", **{name.replace("_", "-"): text for name, text in headers.items()}})
    try:
        with opener.open(request, timeout=10) as answer:
            return answer.status, answer.headers, answer.read().decode(errors="replace")
    except urllib.error.HTTPError as refusal:
        return refusal.code, refusal.headers, refusal.read().decode()


def opens(port, host=None, address="127.0.0.1", **headers):
    """Whether a socket is opened."""
    lines = ["GET /_stcore/stream HTTP/1.1", f"Host: {host or f'{address}:{port}'}", "Upgrade: websocket",
             "Connection: Upgrade", "Sec-WebSocket-Version: 13", "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
             *(f"{name.replace('_', '-')}: {text}" for name, text in headers.items())]
    with socket.create_connection((address, port), timeout=10) as there:
        there.sendall(("\r\n".join(lines) + "\r\n\r\n").encode())
        return int(there.recv(64).split()[1]) == 101


# -- in a browser -----------------------------------------------------------


def test_a_name_that_leads_to_this_machine_reads_nothing(rebound, server, draft):
    page = rebound.new_page()
    answer = page.goto(f"http://farm.example.org:{server.port}/set_up?draft={draft}")
    assert answer.status == 403
    assert "expected one of this machine's own names" in page.locator("body").inner_text()
    assert TITLE not in page.content() and page.locator("[data-testid=stApp]").count() == 0
    page.close()


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost"])
def test_a_page_of_another_site_neither_reads_nor_opens_nor_frames(rebound, server, name):
    with a_site(SPY.format(at=f"{name}:{server.port}")) as port:
        page = rebound.new_page()
        page.goto(f"http://farm.example.org:{port}/")
        page.wait_for_function("document.title !== 'waiting'")
        assert page.title() == "fetch:no frame:no socket:no"
        (frame,) = page.frames[1:]
        assert frame.locator("[data-testid=stApp]").count() == 0 and "error" in frame.url
        page.close()


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost"])
def test_its_own_names_are_served_and_nothing_breaks_the_rules(rebound, server, draft, name):
    page = rebound.new_page()
    broken = []
    page.on("console", lambda said: broken.append(said.text) if "Content Security Policy" in said.text else None)
    page.goto(f"http://{name}:{server.port}/set_up?draft={draft}")
    idle(page)
    eventually(page.get_by_label("Title of this test", exact=True).input_value, TITLE)
    assert broken == []
    page.close()


# -- requests ---------------------------------------------------------------


@pytest.mark.parametrize("path", ["/", "/map", "/_stcore/health", "/_stcore/host-config", "/static/js/none.js"])
@pytest.mark.parametrize("host", [
    "farm.example.org", "farm.example.org:{port}", "192.0.2.7:{port}", "127.0.0.2:{port}", "0.0.0.0:{port}",
    "localhost.example.org:{port}", "127.0.0.1.example.org", "localhost:{port}@example.org", "example.org/localhost",
    "localhost:x", "[::ffff:192.0.2.7]:{port}"])
def test_other_names_are_refused_in_words_without_markup(server, path, host):
    status, headers, text = asked(server.port, path, host=host.format(port=server.port))
    assert status == 403 and "expected one of this machine's own names" in text
    assert headers["Content-Type"] == "text/plain; charset=utf-8" and headers["X-Content-Type-Options"] == "nosniff"
    assert not opens(server.port, host=host.format(port=server.port))


@pytest.mark.parametrize("origin", ["http://farm.example.org", "http://127.0.0.1", "http://127.0.0.1:1", "null",
                                    "file://", "http://localhost:{port}.example.org", "http://[::1]:{port}"])
def test_other_origins_are_refused_and_nobody_is_asked_for_this_machines_address(server, looked_up, origin):
    origin = origin.format(port=server.port)
    status, headers, _ = asked(server.port, "/_stcore/health", Origin=origin)
    assert status == 403 and "Access-Control-Allow-Origin" not in headers
    assert not opens(server.port, Origin=origin)
    assert looked_up[1] == [] and "external IP" not in server.log.read_text()


@pytest.mark.parametrize("host", ["127.0.0.1:{port}", "localhost:{port}", "LocalHost:{port}", "localhost.:{port}"])
def test_own_names_are_served_on_both_ways(server, host):
    host = host.format(port=server.port)
    assert asked(server.port, "/_stcore/health", host=host)[::2] == (200, "ok")
    assert asked(server.port, "/_stcore/health", host=host, Origin=f"http://{host}")[::2] == (200, "ok")
    assert opens(server.port, host=host, Origin=f"http://{host}") and opens(server.port, host=host)


def test_what_a_browser_may_do_with_a_page(server):
    for path in ("/", "/map", "/_stcore/health", "/_stcore/host-config", "/favicon.png", "/media/none"):
        _, headers, _ = asked(server.port, path)
        rules = dict(part.split(" ", 1) for part in headers["Content-Security-Policy"].split("; "))
        assert rules["default-src"] == rules["frame-ancestors"] == rules["base-uri"] == rules["form-action"] == "'none'"
        assert rules["connect-src"] == f"'self' ws://127.0.0.1:{server.port} wss://127.0.0.1:{server.port}"
        assert "'unsafe" not in rules["script-src"] and "http" not in rules["script-src"] + rules["img-src"]
        assert headers.get_all("X-Content-Type-Options") == ["nosniff"]
        assert (headers["X-Frame-Options"], headers["Referrer-Policy"]) == ("DENY", "same-origin")
        assert headers["Cross-Origin-Resource-Policy"] == headers["Cross-Origin-Opener-Policy"] == "same-origin"


def test_how_the_server_is_doing_is_told_to_nobody(server):
    for path in ("/_stcore/metrics", "/_stcore/script-health-check", "/_stcore/agent/openapi.json",
                 "/_stcore/agent/interact"):
        assert asked(server.port, path)[0] == 404
    assert json.loads(asked(server.port, "/_stcore/host-config")[2]) == {
        "allowedOrigins": [], "useExternalAuthToken": False, "enableCustomParentMessages": False}


# -- shared, and with accounts ----------------------------------------------


@contextlib.contextmanager
def the_command(tmp_path, *words):
    """`evenfall app` in a home of its own; gives its port and its log."""
    port, home, log = free_port(), tmp_path / "home", tmp_path / "log.txt"
    home.mkdir()
    env = {**os.environ, "HOME": str(home), "EVENFALL_DATA": str(home / "data")}
    with open(log, "wb") as to:
        running = subprocess.Popen([sys.executable, "-m", "evenfall.cli", "app", "--port", str(port), "--no-browser",
                                    *words], cwd=home, stdout=to, stderr=to, env=env)
    try:
        end = time.monotonic() + 60
        while True:
            try:
                assert asked(port, "/_stcore/health")[2] == "ok"
                break
            except OSError:
                assert running.poll() is None and time.monotonic() < end, log.read_text()
                time.sleep(0.05)
        yield port, log
    finally:
        running.terminate()
        running.wait(20)


def test_the_command_alone_serves_this_machine_only(tmp_path):
    with the_command(tmp_path) as (port, _):
        assert asked(port, host=f"farm.example.org:{port}")[0] == 403
        assert asked(port, host=f"{socket.gethostname()}:{port}")[0] == 403
        assert not opens(port, Origin="http://farm.example.org")
        with pytest.raises(OSError):
            asked(port, address="127.0.0.2")


def test_share_adds_the_addresses_of_this_machine_as_they_are_now(tmp_path):
    with the_command(tmp_path, "--share") as (port, log):
        # 127.0.0.2 stands for an address that the machine got after the start: nobody listed it.
        for address in ("127.0.0.1", "127.0.0.2"):
            assert asked(port, "/_stcore/health", address=address)[2] == "ok"
            assert opens(port, address=address, Origin=f"http://{address}:{port}")
        for host in (f"192.0.2.7:{port}", f"127.0.0.3:{port}", f"farm.example.org:{port}"):
            assert asked(port, host=host, address="127.0.0.2")[0] == 403
            assert not opens(port, host=host, address="127.0.0.2", Origin=f"http://{host}")
        for name in (socket.gethostname(), f"{socket.gethostname()}.local"):
            assert asked(port, "/_stcore/health", host=f"{name}:{port}")[2] == "ok"
        assert f"Evenfall is open at http://localhost:{port}" in log.read_text()
        assert "external IP" not in log.read_text()


def test_a_server_with_accounts_adds_the_name_that_people_open(browser, serve, tmp_path):
    with shared_dashboard(serve, tmp_path) as shared:
        file = tmp_path / "secrets.toml"
        port = shared.server.port
        file.write_text(file.read_text("utf-8").replace("127.0.0.1:{port}/", f"127.0.0.1:{port}/"), "utf-8")
        page, foreign = quiet_page(browser, shared, **LAPTOP)
        shared.log_in(page, HB)
        page.get_by_role("button", name="Start a new test").wait_for()
        assert foreign == []
        page.context.close()
        assert asked(port, "/_stcore/metrics")[0] == 404
        assert "streamlit" not in asked(port, "/_stcore/host-config")[2]
        assert asked(port, host="tests.example.org")[0] == 403
        file.write_text(file.read_text("utf-8").replace(f"http://127.0.0.1:{port}/", "https://tests.example.org/"),
                        "utf-8")
        end = time.monotonic() + 20
        while asked(port, host="tests.example.org")[0] != 200:
            assert time.monotonic() < end
            time.sleep(0.2)
        assert opens(port, host="tests.example.org", Origin="https://tests.example.org")
        assert not opens(port, host="tests.example.org", Origin="https://other.example.org")
