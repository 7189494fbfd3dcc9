"""The set-up in a real browser: a section that somebody opened stays open while it is filled."""

import re
from contextlib import contextmanager

import pytest
from conftest import ROOT, idle
from entry_help import LAPTOP, PHONE, box, eventually, steady
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
def visit(tabs, server):
    """A factory of set-up pages of a test that is described."""
    used = []

    def go(values=DESCRIBED, kind=LAPTOP):
        drafts = Drafts(server.data)
        draft = drafts.start(NEW_TEST, "Browser")
        drafts.put(draft, [Change(key, text, number) for number, (key, text) in enumerate(values.items(), 1)], "seed")
        page = tabs.take(**kind)
        used.append(page)
        page.goto(f"{server.url}/set_up?draft={draft}")
        idle(page)
        return page, (lambda: drafts.values(draft))

    yield go
    for page in used:
        tabs.give_back(page)


def section(page, title):
    return page.locator('[data-testid="stExpander"]').filter(has=page.locator("summary", has_text=title))


def is_open(page, title):
    return section(page, title).locator("details").evaluate("part => part.open")


@contextmanager
def stored(page, values):
    """Wait until what was touched meanwhile is stored, and the run that stored it is over."""
    before = values()
    yield
    eventually(lambda: values() != before, True)
    idle(page)


def fill(page, values, label, text):
    with stored(page, values):
        page.get_by_label(label, exact=True).fill(text)
        page.keyboard.press("Tab")


def choose(page, values, label, text):
    with stored(page, values):
        page.get_by_label(label, exact=True).click()
        page.get_by_role("option", name=text, exact=True).click()


def stays_open(page, title):
    """A section takes half a second to fold, in which its height changes."""
    steady(lambda: box(section(page, title))["height"], still=0.6)
    return is_open(page, title)


def open_by_hand(page, title):
    section(page, title).locator("summary").click()
    eventually(lambda: is_open(page, title), True)
    assert stays_open(page, title)


def top_of(page, label):
    found = page.get_by_label(label, exact=True)
    found.scroll_into_view_if_needed()
    return steady(lambda: box(found)["y"])


@pytest.mark.parametrize("kind", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_a_section_stays_open_while_its_pairs_are_filled(visit, kind):
    page, values = visit(kind=kind)
    assert not is_open(page, SUPPLY)
    open_by_hand(page, SUPPLY)
    for label, text in (("Length of the hose", "15 m"), ("Inside diameter of the hose", "19 mm"),
                        ("Regulator set to", "200 kPa")):
        before = top_of(page, label)
        fill(page, values, label, text)
        assert stays_open(page, SUPPLY), label
        assert abs(top_of(page, label) - before) < 60, f"{label} went away under the finger"
    choose(page, values, "Gauge 1 was read at", "line")
    first = section(page, SUPPLY).get_by_label("It read", exact=True).first
    with stored(page, values):
        first.fill("196 kPa")
        page.keyboard.press("Tab")
    assert stays_open(page, SUPPLY) and first.input_value() == "196 kPa"
    with stored(page, values):
        section(page, SUPPLY).get_by_label("Line", exact=True).first.fill("left")
        page.keyboard.press("Tab")
    page.get_by_label("Gauge 2 was read at", exact=True).wait_for()
    assert stays_open(page, SUPPLY) and page.get_by_label("Gauge 2 was read at", exact=True).is_visible()
    eventually(lambda: [values().get(f"pressures.0.{key}") for key in ("at", "value", "line")],
               ["line", "196 kPa", "left"])


def test_a_section_stays_as_the_person_left_it_whatever_comes_and_goes_above(visit):
    page, values = visit()
    about, run = "About the test", "How it was run"
    open_by_hand(page, about)
    fill(page, values, "Agreed DUlq in %", "seventy")
    assert stays_open(page, about) and not is_open(page, run)
    fill(page, values, "Agreed DUlq in %", "70 %")
    assert stays_open(page, about)
    fill(page, values, "Width of the floor", "")  # the plan goes, and all below it moves up
    eventually(page.locator(".js-plotly-plot").count, 0)
    assert stays_open(page, about) and not is_open(page, run)
    fill(page, values, "Width of the floor", "6 m")
    with stored(page, values):
        page.get_by_role("button", name="Add another line like the last").click()
    assert stays_open(page, about) and not is_open(page, run)
    section(page, about).locator("summary").click()
    eventually(lambda: is_open(page, about), False)
    fill(page, values, "Title of this test", "Another")
    assert not is_open(page, about)


def test_lines_that_nobody_named_are_called_by_where_they_hang(visit):
    page, values = visit({key: text for key, text in DESCRIBED.items() if not key.startswith("lines.")})
    for number, place in enumerate(("1 m", "3 m", "5 m")):
        page.get_by_role("button", name=re.compile("^Add a")).click()
        field = page.get_by_label("How far it runs from the left edge", exact=True).nth(number)
        field.wait_for()
        idle(page)
        with stored(page, values):
            field.fill(place)
            page.keyboard.press("Tab")
    shown = [page.get_by_label(f"Name of line {number}", exact=True) for number in (1, 2, 3)]
    eventually(lambda: [field.input_value() for field in shown], ["left", "middle", "right"])
    eventually(lambda: [values().get(f"lines.{number}.name") for number in range(3)], ["left", "middle", "right"])
