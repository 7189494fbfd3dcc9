"""What a thumb meets on a phone, and what a browser alone can show to be mended."""

from functools import partial

import pytest
from conftest import idle
from entry_help import CONTRAST, LAPTOP, PHONE, box, cell, eventually, saved, steady, tap
from evenfall.entry.drafts.drafts import Change
from evenfall.entry.to_record import NEW_TEST, plain_of
from evenfall.record.samples import sample_text
from test_main_path import ANDROID, NINE, drafts, server, started, visit, write  # noqa: F401 - fixtures

pytestmark = pytest.mark.browser
PAGES = ("tests", "set_up", "plan", "readings", "map", "causes", "fixes", "watering", "handover", "safety",
         "guide")
DESCRIBED = {"test.title": "Tunnel 9", "run.duration": "30 min", "floor.width": "6 m", "floor.length": "12 m",
             "cans.opening": "84 mm"}


def new_test(drafts, values=DESCRIBED):  # noqa: F811
    draft = drafts.start(NEW_TEST)
    drafts.put(draft, [Change(key, text, number) for number, (key, text) in enumerate(values.items(), 1)], "seed")
    return draft


def places(drafts, draft):  # noqa: F811
    cans = plain_of(drafts.values(draft))[0].get("cans", {})
    return len(cans.get("across", [])), len(cans.get("along", []))


@pytest.mark.parametrize("kind", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_cans_spread_evenly_outlast_the_next_edit(visit, drafts, kind):  # noqa: F811
    draft = new_test(drafts)
    page = visit("set_up", draft, kind)
    page.get_by_role("button", name="Spread them evenly").click()
    page.wait_for_selector("text=Plan: 48 cans (dots)")
    idle(page)  # while a run lasts, the field of before stands beside the new one
    across = page.get_by_label("Across: each column from the left edge", exact=True)
    assert across.input_value() == "0.50 m, 1.50 m, 2.50 m, 3.50 m, 4.50 m, 5.50 m"
    write(page, "Title of this test", "Another title")
    eventually(lambda: drafts.values(draft).get("test.title"), "Another title")
    idle(page)  # the run that stored the title is over
    assert places(drafts, draft) == (6, 8)
    assert across.input_value().startswith("0.50 m")
    assert page.get_by_text("Plan: 48 cans (dots)").count() == 1


def test_every_field_shows_what_is_stored_after_a_reload(visit, drafts):  # noqa: F811
    page = visit("set_up", new_test(drafts), PHONE)  # its name does not say that it is a phone: one more run
    for label, text in (("Title of this test", "Tunnel 9"), ("Width of the floor", "6 m")):
        shown = page.get_by_label(label, exact=True)
        shown.wait_for()
        eventually(shown.input_value, text)


@pytest.mark.parametrize("kind", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_the_row_of_pages_never_lies_over_the_page(visit, drafts, kind):  # noqa: F811
    page = visit("readings", started(drafts, NINE), kind)
    links = page.locator(".st-key-pages a")
    links.last.wait_for()
    wide = kind["viewport"]["width"]

    def in_sight(link):
        lies = box(link)
        return lies["x"] >= 0 and lies["x"] + lies["width"] <= wide

    seen = [in_sight(links.nth(number)) for number in range(links.count())]
    assert len(seen) >= 8 and (all(seen) if kind is LAPTOP else sum(seen) >= 4)
    for name in ("Set up", "Map", "Safety", "Readings"):
        links.filter(has_text=name).click()
        page.wait_for_url(f"**/{name.lower().replace(' ', '_')}*")
        idle(page)
        link = links.filter(has_text=name)
        eventually(partial(in_sight, link), True)  # the row moves to it on a phone
        title = box(page.locator("h1"))
        over = page.evaluate("([x, y]) => document.elementFromPoint(x, y)"
                             ".closest('h1, [data-testid=stHeading]') !== null",
                             [title["x"] + 20, title["y"] + title["height"] / 2])
        assert over, name
        assert page.locator('[data-testid="stSidebar"]').count() == 0
    assert "draft=" in page.url


@pytest.mark.long
@pytest.mark.parametrize("path", PAGES)
def test_what_is_tapped_is_as_high_as_a_fingertip(visit, drafts, path):  # noqa: F811
    page = visit("" if path == "tests" else path, started(drafts, sample_text("commissioning")), PHONE)
    page.locator("h1").wait_for()
    steady(lambda: page.locator('[data-testid="stMain"]').evaluate("main => main.scrollHeight"))
    low = """main => {
        const wanted = 'button, [data-testid=stPageLink-NavLink], input[type=text], summary, ' +
            '[data-testid=stCheckbox] label';
        return [...main.querySelectorAll(wanted)].filter(e => {
            const box = e.getBoundingClientRect();
            return box.width > 0 && !e.closest('[data-testid=stTooltipIcon]') && !e.closest('[data-testid=stMetric]');
        }).map(e => {
            const chosen = e.closest('[data-testid=stSelectbox]') && e.tagName === 'INPUT';
            const frame = e.closest('[data-testid=stTextInputRootElement]') || (chosen ? e.parentElement : e);
            return [e.tagName, (e.innerText || e.getAttribute('aria-label') || '').slice(0, 30),
                    frame.getBoundingClientRect().height];
        }).filter(([, , height]) => height < 43.9);
    }"""
    eventually(lambda: page.locator('[data-testid="stMain"]').evaluate(low), [])


def readable(words):
    """Whether text stands out from its ground once the page's own style is there."""
    found = words.evaluate_all(CONTRAST)
    return bool(found) and all(contrast >= 4.5 for _, contrast in found)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_way_on_and_the_main_button_can_be_read(visit, drafts, scheme):  # noqa: F811
    page = visit("", None, color_scheme=scheme)
    page.get_by_role("button", name="Start a new test").wait_for()
    names = page.locator('[data-testid="stBaseButton-primary"], [data-testid="stBaseButton-primary"] p')
    eventually(lambda: readable(names), True)
    page = visit("set_up", started(drafts, NINE), color_scheme=scheme)
    link = page.get_by_role("link", name="Go on to the readings")
    link.last.wait_for()
    eventually(lambda: readable(link.locator("p")), True)
    eventually(lambda: box(link.last)["height"] >= 44, True)


def test_what_is_needed_stands_on_the_first_screen(visit, drafts):  # noqa: F811
    page = visit("set_up", drafts.start(NEW_TEST), PHONE, user_agent=ANDROID)
    needed = page.locator(".st-key-still_needed")
    needed.wait_for()
    eventually(lambda: (lies := box(needed))["y"] + lies["height"] <= 844, True)


def test_the_small_map_lies_as_the_floor_does(visit, drafts):  # noqa: F811
    page = visit("readings", started(drafts, NINE), PHONE, user_agent=ANDROID)
    page.wait_for_selector(".entry .keypad")
    dots = page.locator(".plan i")
    inlet = page.get_by_text("inlet end", exact=True)

    def lies():
        first, last = box(dots.nth(0)), box(dots.nth(8))
        return (first["y"] > last["y"], min(first["width"], first["height"]) >= 8,
                box(inlet)["y"] > first["y"])

    eventually(lies, (True, True, True))  # it gets its room a moment after the keypad


def test_no_reading_and_nonsense_are_not_filled(visit, drafts):  # noqa: F811
    draft = started(drafts, NINE)
    drafts.put(draft, [Change("r1c1", "1o", 99)], "phone")
    page = visit("readings", draft, PHONE, user_agent=ANDROID)
    page.wait_for_selector(".entry .keypad")
    assert page.locator(".progress").inner_text() == "0 of 9, 1 not understood"
    tap(page, "1N2NX3N4N5N6N7N")
    page.wait_for_selector("text=End of the walk")
    assert page.locator(".progress").inner_text() == "8 of 9, 1 not understood"
    assert page.locator(".keypad .place").inner_text() == "1 is not understood, 1 has no reading"


def test_a_reading_far_off_is_asked_about_at_once(visit, drafts):  # noqa: F811
    draft = started(drafts, sample_text("commissioning"))
    page = visit("readings", draft, PHONE, user_agent=ANDROID)
    page.wait_for_selector(".entry .keypad")
    tap(page, "610N")
    saved(page)
    page.wait_for_selector(".plan i.odd")
    assert "Row 1, can 1: 610 mL" in page.locator(".note").inner_text()
    page.get_by_role("button", name="It is right").click()
    page.wait_for_selector(".plan i.odd", state="detached")
    assert drafts.values(draft)["r1c1"] == "610"


def test_a_cell_far_off_is_marked_in_the_table(visit, drafts):  # noqa: F811
    page = visit("readings", started(drafts, sample_text("commissioning")))
    cell(page, "r3c3").fill("970")
    page.keyboard.press("Enter")
    page.wait_for_selector('.table input.odd[data-can="r3c3"]')
    assert "to be read again" in cell(page, "r3c3").get_attribute("aria-label")


@pytest.mark.parametrize("agent", [None, ANDROID], ids=["by its width", "by its name"])
@pytest.mark.parametrize("sample", ["starved-far-end", "blocked-head"])
def test_the_map_on_a_phone(visit, drafts, agent, sample):  # noqa: F811
    page = visit("map", started(drafts, sample_text(sample)), PHONE, **({"user_agent": agent} if agent else {}))
    page.wait_for_selector(".js-plotly-plot .heatmaplayer image")
    plot = page.locator(".js-plotly-plot", has=page.locator(".heatmaplayer image")).last
    image, fills = plot.locator(".heatmaplayer image"), plot.locator(".infolayer .cbfills").first

    def lies():
        if not fills.count():
            return "no bar"
        ground, whole, bar = box(image), box(plot), box(fills)
        return (bar["y"] > ground["y"] + ground["height"] and bar["height"] < 30 and bar["width"] < whole["width"],
                ground["y"] - whole["y"] < 40)

    def numbers():
        texts = plot.locator(".annotation").evaluate_all("""all => all.map(e => {
            const box = e.querySelector('.annotation-text').getBoundingClientRect();
            return [e.textContent, box.left, box.top, box.right, box.bottom];
        }).filter(([text]) => /^[(]?[\\d.×]+[)]?$/.test(text))""")
        meet = [(one[0], other[0]) for number, one in enumerate(texts) for other in texts[number + 1:]
                if one[1] < other[3] - 1 and other[1] < one[3] - 1 and one[2] < other[4] - 2 and other[2] < one[4] - 2]
        return len(texts) > 4, meet

    eventually(lies, (True, True))  # a page that learns its width late draws the map again
    eventually(numbers, (True, []))
    assert (steady(lies), steady(numbers)) == ((True, True), (True, []))


def test_a_test_has_its_ways_in_one_row(visit, drafts):  # noqa: F811
    draft = started(drafts, NINE)
    page = visit("", None, PHONE)
    row = page.locator(f".st-key-ways_{draft}")
    row.wait_for()

    def lies():
        boxes = [box(row.get_by_role("button", name=name)) for name in ("Set up", "Readings", "Map")]
        return len({round(one["y"]) for one in boxes}), len({round(one["width"]) for one in boxes})

    eventually(lies, (1, 1))  # the page's own style comes a moment after its buttons
