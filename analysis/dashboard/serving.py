"""How the dashboard is served: who is answered, what a browser may do with a page, what a start says.

A page of another site that a browser on this machine shows can send requests here, and with a name that resolves to
this machine it even reads the answers. So only requests to names of this machine are answered, and only those that
no page, or a page of ours, sends.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import logging
import re
import socket
import sys
from base64 import b64encode
from contextlib import asynccontextmanager
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

from streamlit import cli_util, config, file_util, net_util

from .accounts import redirect_name

DOOR = Path(__file__).with_name("door.py")
_REFUSED = ("received a request for a name that is not this machine's, or from a page of another site, expected one of "
            "this machine's own names, open the address that Evenfall said when it was started\n")
_NOT_SERVED = ("/_stcore/metrics", "/_stcore/script-health-check", "/_stcore/agent/")
# The page asks for it before anything else, also for the login; nothing of this server stands in it.
_HOST_CONFIG = json.dumps({"allowedOrigins": [], "useExternalAuthToken": False, "enableCustomParentMessages": False})


def served() -> dict:
    """What a server of the dashboard has besides its pages."""
    # The start says itself where the dashboard is; of the server's own words only warnings matter.
    logging.getLogger("uvicorn.error").setLevel(logging.WARNING)
    return {"middleware": [(Doorkeeper, (), {})], "lifespan": _opened}


class Doorkeeper:
    """Lets requests for this machine's own names through, from no page or a page of ours, and marks the answers."""

    def __init__(self, app) -> None:
        self.app, self.rules = app, _rules(Path(file_util.get_static_dir()) / "index.html")

    async def __call__(self, scope, receive, send) -> None:
        """Answer one request, or open one socket, as ASGI asks for it."""
        kind, path = scope["type"], scope.get("path", "")
        if kind not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        host = own_host(_headers(scope, b"host"), (scope.get("server") or ("",))[0])
        if host is None or not _from_here(_headers(scope, b"origin"), _headers(scope, b"host")[0]):
            if kind == "websocket":
                await send({"type": "websocket.close", "code": 1008})
            else:
                await _answer(send, 403, _REFUSED, "text/plain")
        elif kind == "websocket":
            await self.app(scope, receive, send)
        elif path.endswith("/_stcore/host-config"):
            await _answer(self._marked(send, host), 200, _HOST_CONFIG, "application/json")
        elif any(part in path for part in _NOT_SERVED):
            await _answer(self._marked(send, host), 404, "not served here\n", "text/plain")
        else:
            await self.app(scope, receive, self._marked(send, host))

    def _marked(self, send, host: str):
        """Send answers with what a browser may do with them."""
        rules = self.rules.replace("HOST", host)
        marks = [(b"content-security-policy", rules.encode()), (b"x-frame-options", b"DENY"),
                 (b"x-content-type-options", b"nosniff"), (b"referrer-policy", b"same-origin"),
                 (b"cross-origin-opener-policy", b"same-origin"), (b"cross-origin-resource-policy", b"same-origin")]

        async def marked(message) -> None:
            if message["type"] == "http.response.start":
                ours = {name for name, _ in marks}
                kept = [(name, value) for name, value in message["headers"] if name.lower() not in ours]
                message = {**message, "headers": [*kept, *marks]}
            await send(message)

        return marked


def own_host(hosts: list[str], reached: str) -> str | None:
    """Name and port that a request asks for, where the name is this machine's own; `reached` is where it came in."""
    try:
        (host,) = hosts
        parts = urlsplit(f"//{host}")
        name, port = (parts.hostname or "").rstrip("."), parts.port
    except ValueError:
        return None
    if parts.netloc != host or "@" in host:
        return None
    try:
        own = _plain(name) == _plain(reached)
        name = f"[{name}]" if ":" in name else name
    except ValueError:
        own = name in _own_names()
    return (f"{name}:{port}" if port else name) if own else None


def _plain(address: str):
    """An address; one of the old kind that is written in the new way is the old one."""
    found = ip_address(address)
    return getattr(found, "ipv4_mapped", None) or found


def _own_names() -> set[str]:
    """Names of this machine, as they are now."""
    names = {"localhost", redirect_name(), *(name.strip().lower() for name in config.get_option("server.allowedHosts"))}
    if _is_shared():
        names |= {socket.gethostname().lower(), f"{socket.gethostname().lower()}.local"}
    return names - {""}


def _is_shared() -> bool:
    """Whether others in the network reach this server."""
    address = config.get_option("server.address") or "0.0.0.0"
    try:
        return not ip_address(address).is_loopback
    except ValueError:
        return address != "localhost"


def _from_here(origins: list[str], host: str) -> bool:
    """Whether no page, or a page that this server gave, sends a request."""
    return not origins or origins in ([f"http://{host}"], [f"https://{host}"])


def _headers(scope, name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in scope["headers"] if key.lower() == name]


async def _answer(send, status: int, text: str, kind: str) -> None:
    body = text.encode()
    await send({"type": "http.response.start", "status": status, "headers": [
        (b"content-type", f"{kind}; charset=utf-8".encode()), (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"), (b"x-content-type-options", b"nosniff")]})
    await send({"type": "http.response.body", "body": body})


def _rules(index: Path) -> str:
    """The content security policy; HOST stands for the name and port that were asked for."""
    # Styles inside the page are what Streamlit and its charts are made of, `blob:` scripts its components.
    scripts = re.findall(r"<script>(.*?)</script>", index.read_text("utf-8"), re.S)
    known = " ".join(f"'sha256-{b64encode(hashlib.sha256(one.encode()).digest()).decode()}'" for one in scripts)
    return ("default-src 'none'; script-src 'self' blob: " + known + "; style-src 'self' 'unsafe-inline'; "
            "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' ws://HOST wss://HOST; "
            "manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")


@asynccontextmanager
async def _opened(_app):
    """Say where the dashboard is, and open a browser where one is wanted."""
    address = config.get_option("server.address") or "0.0.0.0"
    wide = address in ("0.0.0.0", "::")
    url = _url("localhost" if wide or not _is_shared() else address)
    print(f"Evenfall is open at {url} (Ctrl+C stops it).", file=sys.stderr)
    if wide:
        print(f"In this network it is at {_url(net_util.get_internal_ip())}.", file=sys.stderr)
    sys.stderr.flush()
    if not config.get_option("server.headless"):
        asyncio.get_running_loop().run_in_executor(None, cli_util.open_browser, url)
    yield {}


def _url(name: str) -> str:
    scheme = "https" if config.get_option("server.sslCertFile") else "http"
    base = config.get_option("server.baseUrlPath").strip("/")
    return f"{scheme}://{name}:{config.get_option('server.port')}{f'/{base}' if base else ''}"
