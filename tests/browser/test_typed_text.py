"""What a person typed is never markup, and nothing is asked of anybody else: every page in a real browser."""

import json
import re

import pytest
from conftest import ROOT, idle
from entry_help import LAPTOP, PATIENCE, eventually
from evenfall.dashboard.form import GROUPS
from evenfall.entry.cans import reading_texts
from evenfall.entry.drafts.drafts import Change, Drafts
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.store import OWNER, Store
from evenfall.store.complete import complete
from look_ups import a_listener

pytestmark = [pytest.mark.browser, pytest.mark.long]  # every page, with texts in every field
NASTY = "![](//p.example/a)<img src=//p.example/b> $e$"
PAGES = ("", "set_up", "plan", "readings", "map", "causes", "fixes", "watering", "handover", "members", "safety",
         "guide")
# What only markup makes of a typed text, in the page and in the roots of its components.
MADE = """() => {
  const roots = [document], made = [];
  for (const root of roots) {
    for (const element of root.querySelectorAll('*')) if (element.shadowRoot) roots.push(element.shadowRoot);
    for (const element of root.querySelectorAll('[src*="p.example"], [href*="p.example"], .katex'))
      made.push(element.outerHTML.slice(0, 200));
  }
  return made;
}"""


@pytest.fixture(scope="module")
def asked_outside():
    """Connections that the server made to anybody."""
    with a_listener() as (proxy, connections):
        yield proxy, connections


@pytest.fixture(scope="module")
def server(serve, asked_outside):
    proxy, _ = asked_outside
    return serve(ROOT / "streamlit_app.py", HTTP_PROXY=proxy, HTTPS_PROXY=proxy, ALL_PROXY=proxy, NO_PROXY="",
                 http_proxy=proxy, https_proxy=proxy)


@pytest.fixture
def walk(browser, server, asked_outside):
    """A factory of pages; what is asked of anybody but the server, what is made of a text, or an error fails."""
    contexts, pages, foreign, faults = [], [], [], []
    ours = (server.url, server.url.replace("http", "ws"), "data:", "blob:")

    def start(**more):
        context = browser.new_context(**LAPTOP, **more)
        context.set_default_timeout(1000 * PATIENCE)
        contexts.append(context)
        context.on("request", lambda asked: None if asked.url.startswith(ours) else foreign.append(asked.url))
        page = context.new_page()
        page.on("websocket", lambda opened: None if opened.url.startswith(ours) else foreign.append(opened.url))
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.on("console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None)
        pages.append(page)
        return page

    yield start
    for context in contexts:
        context.close()
    assert foreign == [] and faults == [] and asked_outside[1] == []


def settled(page):
    idle(page)
    page.evaluate("fetch('/_stcore/health')")  # answered after what markup would have asked for before it
    assert page.evaluate(MADE) == []
    assert page.locator("[data-testid=stException]").count() == 0


def nasty_record():
    """A record that is complete and has the text wherever a person may write what they like."""
    text = sample_text("after-repair")
    for name in ("left", "right"):
        text = text.replace(f'"{name}"', json.dumps(f"{name} {NASTY}"))
    text = re.sub(r'(?m)^(title|site|zone|tunnel|member|notes) = ".*"$', lambda found: f"{found[1]} = "
                  f"{json.dumps(NASTY)}", text)
    text = text.replace("[cans]", "[cans]\nset_aside = [{row = 2, column = 2, why = " + json.dumps(NASTY) + "}]", 1)
    supply = text[text.index("[supply]"):text.index("[care]")].replace("[supply]", "[[other_supplies]]\nname = "
                                                                       + json.dumps(NASTY))
    patch = f'[[patches]]\nx = ["1 m", "3 m"]\ny = ["4 m", "8 m"]\nnote = {json.dumps(NASTY)}\n'
    crop = '[crop]\ndaily_use = "4 mm"\n'
    return f"{text}\n{supply}\n{patch}{crop}"


def begun(drafts, text):
    draft = drafts.start(text, NASTY)
    readings = reading_texts({"base": text})
    drafts.put(draft, [Change(key, value, number) for number, (key, value) in enumerate(readings.items(), 1)], "seed")
    return draft


@pytest.fixture(scope="module")
def tests_of_nasty_texts(server):
    """A draft that is complete, and one whose every field and reading is the text; the first is saved too."""
    drafts, text = Drafts(server.data), nasty_record()
    record = parse_record(text)
    whole = begun(drafts, text)
    broken = begun(drafts, text)
    keys = [field.key.replace("#", str(number)) for fields in GROUPS.values() for field in fields for number in (0, 1)]
    texts = dict.fromkeys([*keys, "r1c1", "r2c1", "aside.r1c1"], NASTY)
    drafts.put(broken, [Change(key, value, 1000 + number) for number, (key, value) in enumerate(texts.items())], "one")
    for device in ("two", "three"):  # neither has seen the other's
        drafts.put(whole, [Change("test.by", f"{device} {NASTY}", 1, 1), Change("r1c2", f"{device} {NASTY}", 2, 1)],
                   device)
    store = Store(server.data / "store.sqlite")
    for number in range(3):
        store.save(OWNER, record, text + f"\n# {number}\n")
    assert complete(store, OWNER) == []
    return whole, broken


@pytest.mark.parametrize("which", [0, 1], ids=["complete", "every field"])
@pytest.mark.parametrize("path", PAGES)
def test_no_page_makes_anything_of_a_text(walk, server, tests_of_nasty_texts, which, path):
    page = walk(bypass_csp=True)
    page.goto(f"{server.url}/{path}?draft={tests_of_nasty_texts[which]}")
    settled(page)
    for summary in page.locator("summary").all():  # what is folded is drawn when it is opened
        summary.click()
    settled(page)
    shown = page.locator("body").inner_text() + "".join(
        field.input_value() for field in page.locator("input[type=text]").all())
    assert "p.example" in shown or path in ("safety", "guide") or (path, which) == ("plan", 0)


def test_what_is_typed_into_a_page_comes_back_as_text(walk, server, tests_of_nasty_texts):
    whole, _ = tests_of_nasty_texts
    page = walk(bypass_csp=True)
    page.goto(f"{server.url}/fixes?draft={whole}")
    settled(page)
    page.get_by_label("Heads this far apart").fill(NASTY)
    page.get_by_role("button", name="What would it bring?").click()
    page.locator(".say-error", has_text="p.example").wait_for()
    settled(page)
    page.goto(f"{server.url}/watering?draft={whole}")
    settled(page)
    page.get_by_label("Net depth wanted each time").fill(NASTY[:40])
    page.keyboard.press("Enter")
    page.locator(".say-error", has_text="p.example").wait_for()
    settled(page)
    page.goto(f"{server.url}/map?draft={whole}")
    settled(page)
    page.locator("summary", has_text="Add a patch by its distances").click()
    page.get_by_label("From the left edge").fill(NASTY)
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Add this patch").click()
    page.locator(".say-error", has_text="p.example").wait_for()
    settled(page)
    page.get_by_role("button", name="Save the record").click()
    page.locator(".say-warning, .say-done").last.wait_for()
    settled(page)


def test_files_and_pasted_tables_are_text_too(walk, server, tests_of_nasty_texts):
    whole, _ = tests_of_nasty_texts
    name = NASTY.replace("/", "_")
    page = walk(bypass_csp=True)
    page.goto(server.url)
    settled(page)
    page.locator("input[type=file]").first.set_input_files(
        {"name": f"{name}.toml", "mimeType": "application/toml", "buffer": f"{NASTY} = ".encode()})
    page.get_by_role("button", name="Open this record").click()
    page.locator(".say-error").wait_for()
    settled(page)
    page.goto(f"{server.url}/members")
    settled(page)
    page.locator("input[type=file]").first.set_input_files(
        {"name": f"{name}.toml", "mimeType": "application/toml", "buffer": f'record = "{NASTY}"'.encode()})
    page.get_by_role("button", name="Take them in").click()
    page.locator(".say-error").wait_for()
    settled(page)
    page.goto(f"{server.url}/readings?draft={whole}")
    settled(page)
    page.locator("summary", has_text="Take readings from a spreadsheet").click()
    page.get_by_label("Paste a table").fill(f"{NASTY}\t1\n2\t{NASTY}\n")
    page.keyboard.press("Control+Enter")
    page.locator(".say-error, [data-testid=stText]", has_text="p.example").first.wait_for()
    settled(page)


def test_the_whole_tour_asks_nobody_but_the_server(walk, server):
    """With the rules for the browser on: no request is stopped by them either."""
    page = walk(accept_downloads=True)
    page.goto(server.url)
    settled(page)
    page.get_by_role("button", name="Start a new test").click()
    page.wait_for_url("**/set_up?draft=*")
    settled(page)
    page.goto(server.url)
    settled(page)
    page.get_by_role("button", name="Open the invented example").click()
    page.wait_for_url("**/map?draft=*")
    page.locator(".js-plotly-plot .heatmaplayer").first.wait_for()
    settled(page)
    draft = page.url.split("draft=")[1]
    for path in PAGES:
        page.goto(f"{server.url}/{path}?draft={draft}")
        settled(page)
        for summary in page.locator("summary").all():
            summary.click()
        settled(page)
    page.goto(f"{server.url}/map?draft={draft}")
    page.get_by_role("button", name="Save the record").click()
    page.locator(".say-done").wait_for()
    settled(page)
    for button in ("Record (.toml)", "Figures (.csv)", "Figures and cans (.xlsx)"):
        with page.expect_download() as got:
            page.get_by_role("button", name=button).click()
        assert got.value.failure() is None
    page.goto(f"{server.url}/handover?draft={draft}")
    settled(page)
    with page.expect_download() as got:
        page.locator("[data-testid=stDownloadButton] button").first.click()
    assert got.value.failure() is None
    eventually(lambda: page.evaluate(MADE), [])
