"""What the browser tests of the members share: records, who is logged in, all that a browser heard, forged touches."""

import json
import re
import tomllib
from pathlib import Path

from accounts_help import subject
from conftest import idle
from entry_help import eventually
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.web.server.starlette.starlette_app_utils import create_signed_value
from test_main_path import NINE

SOCKETS = """
window.sockets = [];
window.WebSocket = class extends window.WebSocket {
  constructor(...told) { super(...told); window.sockets.push(this); }
};
"""
IDENTITY = re.compile(rb"\$\$ID-[0-9a-f]{32}-[\w.~-]+")


def record_of(name, member, tunnel, first=10, **told):
    """Text of nine cans."""
    told = {"id": name, "member": member, "tunnel": tunnel, **told}
    head = "".join(f'{key} = "{text}"\n' for key, text in told.items())
    text = NINE.replace("[test]\n", f"[test]\n{head}date = 2027-05-01\n").replace("Nine cans", f"Test {name}")
    return text.replace("[run]", f"grid = [[{first}, 20, 30], [20, 30, 40], [30, 40, 50]]\n[run]")


def cookie_of(shared, email):
    """What the server sets for somebody who has logged in."""
    known = tomllib.loads(Path(shared.server.env["STREAMLIT_SECRETS_FILES"]).read_text("utf-8"))["auth"]
    claims = {"iss": shared.provider, "sub": subject(email), "email": email, "email_verified": True,
              "name": f"Name of {email}", "is_logged_in": True, "origin": shared.url, "provider": "default"}
    value = create_signed_value(known["cookie_secret"], "_streamlit_user", json.dumps(claims))
    return {"name": "_streamlit_user", "value": value.decode(), "url": shared.url}


class Heard:
    """All that the dashboard sent to a page: responses (not the bundle that everybody gets) and frames."""

    def __init__(self, page, url):
        self.page, self.frames, self.sent, self._answers, self._bodies = page, [], [], [], []
        page.on("response", lambda answer: self._answers.append(answer) if answer.url.startswith(url) else None)
        page.on("websocket", self._listen)

    def _listen(self, socket):
        socket.on("framereceived", lambda data: self.frames.append(_bytes(data)))
        socket.on("framesent", lambda data: self.sent.append(_bytes(data)))

    def all(self):
        """Every byte until now; asked before the page goes elsewhere, because a browser forgets bodies then."""
        for answer in self._answers:
            if answer.status == 200 and "/static/" not in answer.url and "attachment" not in answer.headers.get(
                    "content-disposition", ""):
                self._bodies.append(answer.url.encode() + b"\n" + answer.body())
        self._answers.clear()
        return b"\n".join([*self.frames, *self._bodies])

    def last_run(self):
        """The newest wish of the page to be run again."""
        asked = [message for data in self.sent if (message := BackMsg.FromString(data)).HasField("rerun_script")]
        return asked[-1]


def _bytes(data):
    return data if isinstance(data, bytes) else data.encode()


def identities(heard, part=""):
    """The widgets that a page was sent, by the keys they have in it."""
    found = {name.decode() for data in heard.frames for name in IDENTITY.findall(data)}
    return {name[len("$$ID-") + 33:]: name for name in found if part in name}


def forge(heard, **states):
    """Send what the page would send had these widgets been touched, over its own connection; wait for the run."""
    message, before = BackMsg(), len(heard.frames)
    message.CopyFrom(heard.last_run())
    for name, value in states.items():
        state = message.rerun_script.widget_states.widgets.add(id=name)
        setattr(state, {bool: "trigger_value", int: "int_value", str: "string_value"}[type(value)], value)
    heard.page.evaluate("bytes => sockets.at(-1).send(new Uint8Array(bytes))", list(message.SerializeToString()))
    eventually(lambda: any(ForwardMsg.FromString(data).HasField("script_finished")
                           for data in heard.frames[before:]) or heard.page.wait_for_timeout(50) or False, True)
    idle(heard.page)
