"""A dashboard with accounts and a local provider to log in with, for the browser tests that need several people."""

import json
import secrets
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Thread
from urllib.parse import quote

from conftest import ROOT, _without, idle
from entry_help import PATIENCE

HB, OTHER, OFFICE = "one@example.org", "two@example.org", "office@example.org"
PEOPLE = {HB: "HB", OTHER: "TH", OFFICE: "coordinator"}


@dataclass(frozen=True)
class Shared:
    """A dashboard that several people share.

    Attributes
    ----------
    server : Server
        The dashboard's; `server.data` is the folder of all its data.
    provider : str
        Address of the provider; its log-in is `log_in`.
    """

    server: object
    provider: str

    @property
    def url(self):
        """Address of the dashboard."""
        return self.server.url

    def knows(self, email, **claims):
        """Let the provider say of an e-mail's owner what is given; verified unless it is said otherwise."""
        told = {"email": email, "email_verified": True, "name": f"Name of {email}", **claims}
        body = json.dumps({key: value for key, value in told.items() if value is not None}).encode()
        asked = urllib.request.Request(f"{self.provider}/users/{quote(subject(email), safe='')}", body,
                                       {"Content-Type": "application/json"}, method="PUT")
        urllib.request.urlopen(asked, timeout=10).close()

    def log_in(self, page, email, path="", **claims):
        """Log in through the page and the provider, as a person does; the page then shows what the person may see."""
        self.knows(email, **claims)
        page.goto(f"{self.url}/{path}")
        page.get_by_role("button", name="Log in").click()
        page.locator("input[name=sub]").fill(subject(email))
        page.get_by_role("button", name="Authorize").click()
        page.wait_for_url(f"{self.url}/")
        page.get_by_role("button", name="Log out").wait_for()
        idle(page)

    def log_out(self, page):
        """Log out through the page and the provider; the page then asks to log in."""
        page.get_by_role("button", name="Log out").click()
        page.get_by_role("button", name="End session").click()
        page.wait_for_url(f"{self.url}/")
        page.get_by_role("button", name="Log in").wait_for()
        idle(page)


def subject(email):
    """What the provider calls an e-mail's owner."""
    return f"subject of {email}"


def secrets_text(provider, people, trust_unverified=False):
    """Streamlit's secrets for a dashboard that logs in at a provider."""
    listed = "\n".join(f"{json.dumps(email)} = {json.dumps(place)}" for email, place in people.items())
    return f"""[auth]
redirect_uri = "http://127.0.0.1:{{port}}/oauth2callback"
cookie_secret = "{secrets.token_hex(32)}"
client_id = "evenfall"
client_secret = "{secrets.token_hex(16)}"
server_metadata_url = "{provider}/.well-known/openid-configuration"
[evenfall]
trust_unverified = {str(trust_unverified).lower()}
[evenfall.people]
{listed}
"""


@contextmanager
def provider_here():
    """A provider of log-ins on a free port of this machine; gives its address."""
    try:
        from oidc_provider_mock import app
        from werkzeug.serving import make_server
    except ImportError:
        _without("oidc-provider-mock is not installed")
    server = make_server("localhost", 0, app(), threaded=True)
    thread = Thread(target=server.serve_forever, args=(0.1,), daemon=True)
    thread.start()
    try:
        yield f"http://localhost:{server.server_port}"
    finally:
        server.shutdown()
        thread.join(10)
        server.server_close()


@contextmanager
def shared_dashboard(serve, folder, people=None, **more):
    """Start a provider and a dashboard that logs in with it.

    Parameters
    ----------
    serve : callable
        The fixture.
    folder : Path
        Where the secrets are written.
    people : dict, optional
        E-mail -> member or ``coordinator``; `PEOPLE` if left out.
    **more
        See `secrets_text`.

    Yields
    ------
    Shared
        Until the end of the block; the server ends with the session.
    """
    with provider_here() as address:
        file = folder / "secrets.toml"
        file.write_text(secrets_text(address, PEOPLE if people is None else people, **more), "utf-8")
        server = serve(ROOT / "streamlit_app.py", STREAMLIT_SECRETS_FILES=str(file))
        try:
            yield Shared(server, address)
        finally:
            server.stop()


def quiet_page(browser, shared, **kind):
    """A page in a profile of its own that reaches this machine only.

    Returns the page and the list of what the dashboard's own pages asked of another machine; the provider's page asks
    for a style sheet, which it does not get.
    """
    context = browser.new_context(**kind)
    context.set_default_timeout(1000 * PATIENCE)
    foreign = []
    ours = (shared.url, shared.url.replace("http", "ws"))

    def judge(route):
        if route.request.url.startswith((*ours, shared.provider)):
            route.continue_()
            return
        if route.request.frame.url.startswith(ours):
            foreign.append(route.request.url)
        route.abort()

    context.route("**/*", judge)
    return context.new_page(), foreign
