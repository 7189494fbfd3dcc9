"""One function writes what a person typed, as text; nothing else on the pages may read a text as markup."""

import ast

from evenfall.dashboard.say import say
from streamlit.testing.v1 import AppTest

from ..conftest import ROOT
from .pages.visit import told

PAGES = ROOT / "analysis" / "dashboard"
# What Streamlit reads as markup wherever it stands; labels of widgets are walked in a browser.
MARKUP = {"markdown", "caption", "write", "error", "warning", "info", "success", "toast", "html", "title", "header",
          "subheader", "latex", "code", "badge", "exception"}


def is_ours(node):
    """Whether a text is written in the code: there, or under a name in capitals."""
    match node:
        case ast.Constant():
            return True
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name.isupper()
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return is_ours(left) and is_ours(right)
        case ast.IfExp(body=body, orelse=orelse):
            return is_ours(body) and is_ours(orelse)
    return False


def test_only_texts_of_the_code_are_read_as_markup():
    ours = {"say.py", "hall.py:title", "safety.py:'\\n'.join((f'- {caution}' for caution in SAFETY))",
            "guide.py:on_a_page(guide_text(part))"}  # a file of the package, one of a list
    found = set()
    for path in PAGES.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in MARKUP
                    and isinstance(node.func.value, ast.Name) and node.func.value.id == "st"
                    and node.args and not is_ours(node.args[0])):
                found.add(path.name if path.name == "say.py" else f"{path.name}:{ast.unparse(node.args[0])}")
    assert found == ours


def test_what_is_written_is_shown_sign_by_sign():
    text = "<img src=//p.example/x> ![](//p.example/y) </div><script>1</script> &amp; \"a\" 'b'\n:red[c] $d$"

    def page(text):
        from evenfall.dashboard.say import say

        say(text)
        say(text, "error")

    app = AppTest.from_function(page, kwargs={"text": text}).run()
    assert [item.value for item in app.text] == [text] == told(app, "error")
    (shown,) = app.get("html")
    inside = shown.value.removeprefix('<div class="say say-error" role="alert">').removesuffix("</div>")
    assert "<" not in inside and ">" not in inside and say.__doc__
