"""What the tests of the pages share: opening a page without a browser, and reading it."""

from evenfall.entry.cans import reading_texts
from evenfall.entry.drafts.changes import Change
from evenfall.entry.drafts.drafts import Drafts
from streamlit.testing.v1 import AppTest

from ...conftest import ROOT

DOOR = ROOT / "analysis" / "dashboard" / "app.py"


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
    shown = [*app.text, *app.markdown, *app.title, *app.subheader, *app.error, *app.warning, *app.success, *app.info,
             *app.caption]
    return "\n".join(str(item.value) for item in shown)


def field(app, label):
    return next(item for item in [*app.text_input, *app.selectbox] if item.label == label)
