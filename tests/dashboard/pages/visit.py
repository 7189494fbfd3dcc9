"""What the tests of the pages share: opening a page without a browser, and reading it."""

from html import unescape

from evenfall.entry.cans import reading_texts
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.drafts import Drafts
from streamlit.testing.v1 import AppTest

from ...conftest import ROOT

DOOR = ROOT / "analysis" / "dashboard" / "door.py"


def page(name, draft=None, state=None):
    app = AppTest.from_file(str(DOOR), default_timeout=60)
    app.switch_page(f"rooms/{name}.py")
    if draft:
        app.query_params["draft"] = draft
        app.session_state["draft"] = draft
    for key, value in (state or {}).items():
        app.session_state[key] = value
    app.run()
    assert not app.exception, app.exception
    return app


def begin(text):
    draft = Drafts().start(text, "a draft")
    typed = reading_texts({"base": text})
    changes = [Change(key, value, number) for number, (key, value) in enumerate(typed.items(), 1)]
    Drafts().put(draft, changes, "test-device")
    return draft


def words(app):
    shown = [*app.text, *app.markdown, *app.title, *app.subheader, *app.caption]
    return "\n".join([*(str(item.value) for item in shown),
                      *(text for kind in ("error", "warning", "done", "note") for text in told(app, kind))])


def told(app, kind):
    """Texts that are set off on the page, of one kind."""
    begin = f'<div class="say say-{kind}" role="alert">'
    return [unescape(item.value.removeprefix(begin).removesuffix("</div>")) for item in app.get("html")
            if item.value.startswith(begin)]


def field(app, label):
    return next(item for item in [*app.text_input, *app.selectbox] if item.label == label)
