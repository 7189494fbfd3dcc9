"""The set-up in a real browser: a section that somebody opened stays open while it is filled."""

import re

import pytest
from conftest import ROOT, idle
from entry_help import LAPTOP, PHONE, eventually
from evenfall.entry.drafts.drafts import Change, Drafts
from evenfall.entry.to_record import NEW_TEST

pytestmark = pytest.mark.browser
DESCRIBED = {
    "test.title": "Tunnel 9", "run.duration": "30 min", "floor.width": "6 m", "floor.length": "12 m",
    "cans.opening": "84 mm", "cans.across": "1 m, 3 m", "cans.along": "1 m, 2 m", "lines.0.name": "left",
    "lines.0.x": "1 m", "lines.0.first": "1 m", "lines.0.spacing": "1 m", "lines.0.count": "9",
}
SUPPLY = "Pressures and supply"


@pytest.fixture(scope="module")
def server(serve):
    return serve(ROOT / "streamlit_app.py")


@pytest.fixture
def visit(browser, server):
    """A factory of set-up pages of a test that is described."""
    contexts = []

    def go(values=DESCRIBED, kind=LAPTOP):
        drafts = Drafts(server.data)
        draft = drafts.start(NEW_TEST, "Browser")
        drafts.put(draft, [Change(key, text, number) for number, (key, text) in enumerate(values.items(), 1)], "seed")
        context = browser.new_context(**kind)
        context.set_default_timeout(40_000)
        contexts.append(context)
        page = context.new_page()
        page.goto(f"{server.url}/set_up?draft={draft}")
        idle(page, 60_000)
        return page, (lambda: drafts.values(draft))

    yield go
    for context in contexts:
        context.close()


def section(page, title):
    return page.locator('[data-testid="stExpander"]').filter(has=page.locator("summary", has_text=title))


def is_open(page, title):
    return section(page, title).locator("details").evaluate("box => box.open")


def fill(page, label, text):
    page.get_by_label(label, exact=True).fill(text)
    page.keyboard.press("Tab")
    settled(page)


def choose(page, label, text):
    page.get_by_label(label, exact=True).click()
    page.get_by_role("option", name=text, exact=True).click()
    settled(page)


def settled(page):
    """The answer to a text begins a moment after it."""
    page.wait_for_timeout(150)
    idle(page)


def stays_open(page, title):
    """A section takes half a second to fold."""
    page.wait_for_timeout(600)
    return is_open(page, title)


def open_by_hand(page, title):
    section(page, title).locator("summary").click()
    page.wait_for_timeout(600)
    assert is_open(page, title)


def top_of(page, label):
    found = page.get_by_label(label, exact=True)
    found.scroll_into_view_if_needed()
    return found.bounding_box()["y"]


@pytest.mark.parametrize("kind", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_a_section_stays_open_while_its_pairs_are_filled(visit, kind):
    page, values = visit(kind=kind)
    assert not is_open(page, SUPPLY)
    open_by_hand(page, SUPPLY)
    for label, text in (("Length of the hose", "15 m"), ("Inside diameter of the hose", "19 mm"),
                        ("Regulator set to", "200 kPa")):
        before = top_of(page, label)
        fill(page, label, text)
        assert stays_open(page, SUPPLY), label
        assert abs(top_of(page, label) - before) < 60, f"{label} went away under the finger"
    choose(page, "Gauge 1 was read at", "line")
    first = section(page, SUPPLY).get_by_label("It read", exact=True).first
    first.fill("196 kPa")
    page.keyboard.press("Tab")
    settled(page)
    assert stays_open(page, SUPPLY) and first.input_value() == "196 kPa"
    section(page, SUPPLY).get_by_label("Line", exact=True).first.fill("left")
    page.keyboard.press("Tab")
    settled(page)
    assert stays_open(page, SUPPLY) and page.get_by_label("Gauge 2 was read at", exact=True).is_visible()
    eventually(lambda: [values().get(f"pressures.0.{key}") for key in ("at", "value", "line")],
               ["line", "196 kPa", "left"])


def test_a_section_stays_as_the_person_left_it_whatever_comes_and_goes_above(visit):
    page, _ = visit()
    about, run = "About the test", "How it was run"
    open_by_hand(page, about)
    fill(page, "Agreed DUlq in %", "seventy")
    assert stays_open(page, about) and not is_open(page, run)
    fill(page, "Agreed DUlq in %", "70 %")
    assert stays_open(page, about)
    fill(page, "Width of the floor", "")  # the plan goes, and all below it moves up
    assert page.locator(".js-plotly-plot").count() == 0
    assert stays_open(page, about) and not is_open(page, run)
    fill(page, "Width of the floor", "6 m")
    page.get_by_role("button", name="Add another line like the last").click()
    settled(page)
    assert stays_open(page, about) and not is_open(page, run)
    section(page, about).locator("summary").click()
    page.wait_for_timeout(600)
    fill(page, "Title of this test", "Another")
    assert not is_open(page, about)


def test_lines_that_nobody_named_are_called_by_where_they_hang(visit):
    page, values = visit({key: text for key, text in DESCRIBED.items() if not key.startswith("lines.")})
    for number, place in enumerate(("1 m", "3 m", "5 m")):
        page.get_by_role("button", name=re.compile("^Add a")).click()
        settled(page)
        page.get_by_label("How far it runs from the left edge", exact=True).nth(number).fill(place)
        page.keyboard.press("Tab")
        settled(page)
    shown = [page.get_by_label(f"Name of line {number}", exact=True).input_value() for number in (1, 2, 3)]
    assert shown == ["left", "middle", "right"]
    assert [values().get(f"lines.{number}.name") for number in range(3)] == shown
