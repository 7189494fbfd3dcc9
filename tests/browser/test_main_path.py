"""The main job in a real browser: describe, read, see; on a laptop and on a phone."""

import json
import re

import pytest
from conftest import ROOT, idle
from entry_help import CONTRAST, LAPTOP, PHONE, box, cell, eventually, saved, snake, steady, tap
from evenfall.cli.command import main
from evenfall.entry.cans import reading_texts
from evenfall.entry.drafts.drafts import Change, Drafts
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.result.assessment import assess

pytestmark = pytest.mark.browser
ANDROID = "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/126 Mobile Safari/537.36"
NINE = """record = 1
[test]
title = "Nine cans"
[floor]
width = "6 m"
length = "12 m"
[cans]
reads = "volume"
unit = "mL"
opening_area = "100 cm2"
across = ["1 m", "3 m", "5 m"]
along = ["2 m", "6 m", "10 m"]
[run]
duration = "30 min"
"""


@pytest.fixture(scope="module")
def server(serve):
    return serve(ROOT / "streamlit_app.py")


@pytest.fixture
def drafts(server):
    return Drafts(server.data)


@pytest.fixture
def visit(tabs, server):
    """A factory of pages; anything asked of another machine, or logged as an error, fails the test."""
    if server.process.poll() is not None:
        server.start()
    used, faults, foreign = [], [], []

    def note(fault):
        faults.append(str(fault))

    def judge(asked):
        if not asked.url.startswith((server.url, server.url.replace("http", "ws"), "data:", "blob:")):
            foreign.append(asked.url)

    def go(path="", draft=None, kind=LAPTOP, **more):
        page = tabs.take(**kind, **more)
        used.append(page)
        page.on("pageerror", note)
        page.on("request", judge)
        page.goto(f"{server.url}/{path}" + (f"?draft={draft}" if draft else ""))
        idle(page)
        return page

    yield go
    for page in used:
        page.remove_listener("pageerror", note)
        page.remove_listener("request", judge)
        tabs.give_back(page)
    assert faults == [] and foreign == []


def started(drafts, text):
    draft = drafts.start(text, "Browser")
    rows = [Change(key, value, number) for number, (key, value) in enumerate(reading_texts({"base": text}).items(), 1)]
    drafts.put(draft, rows, "seed")
    return draft


def write(page, label, text):
    page.get_by_label(label, exact=True).fill(text)
    page.keyboard.press("Tab")
    idle(page)


def figures(page):
    page.wait_for_selector('[data-testid="stMetricValue"]')
    names = page.locator('[data-testid="stMetricLabel"]').all_inner_texts()
    return dict(zip(names, page.locator('[data-testid="stMetricValue"]').all_inner_texts(), strict=True))


def test_from_nothing_to_the_figures_and_the_same_in_a_terminal(visit, drafts, tmp_path, capsys):
    page = visit()
    page.get_by_role("button", name="Start a new test").click()
    page.wait_for_url("**/set_up?draft=*")
    idle(page)
    draft = page.url.split("draft=")[1]
    for label, text in (("Title of this test", "Tunnel 9"), ("How long each line ran", "30 min"),
                        ("Width of the floor", "6 m"), ("Length of the floor", "12 m"), ("or its area", "100 cm2"),
                        ("Across: each column from the left edge", "1, 3, 5 m"),
                        ("Along: each row from the inlet end wall", "2, 6, 10 m")):
        write(page, label, text)
    eventually(lambda: len(drafts.values(draft)) >= 8, True)
    page.get_by_role("link", name="Go on to the readings").first.click()
    page.wait_for_url("**/readings?draft=*")
    page.wait_for_selector(".entry .table")
    cell(page, "r1c1").click()
    texts = dict(zip(snake(3, 3), ("10", "20", "30", "40,5", "30", "20", "0", "x", "25"), strict=True))
    for text in texts.values():
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    saved(page)
    eventually(lambda: {key: drafts.values(draft).get(key) for key in texts}, texts)
    page.wait_for_selector(".js-plotly-plot")
    live = figures(page)
    page.get_by_role("link", name="Go on to the map").click()
    page.wait_for_url("**/map?draft=*")
    idle(page)
    shown = figures(page)
    with page.expect_download() as got:
        page.get_by_role("button", name="Record (.toml)").click()
    path = tmp_path / "got.toml"
    got.value.save_as(path)
    assert main(["assess", str(path), "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["record"]["id"] == f"t-{draft[:8]}"  # a later test can follow it up
    assert plain["catch"]["used"] == 8 and plain["catch"]["missing"] == 1
    cu, du = (f"{plain['at_the_cans'][key]:.0f} %" for key in ("cu", "du_low_quarter"))
    assert shown["Coefficient of uniformity, CU"] == live["CU at the cans"] == cu
    assert shown["Low-quarter uniformity, DUlq"] == live["DUlq at the cans"] == du


def test_the_invented_example_opens_with_one_click(visit):
    page = visit()
    page.get_by_role("button", name="Open the invented example").click()
    page.wait_for_url("**/map?draft=*")
    idle(page)
    result = assess(parse_record(sample_text("blocked-head")), system="US")
    page.wait_for_selector("text=left line, head 7")
    assert figures(page)["Low-quarter uniformity, DUlq"] == f"{result.at_the_cans.du_low_quarter:.0f} %"
    page.wait_for_selector(".js-plotly-plot .heatmaplayer")
    assert page.get_by_text(result.dry_spots[0].where).count() == 1
    assert page.get_by_text("Drier: 64 % of what the rest gets").count() == 1


@pytest.mark.long
def test_a_phone_shows_everything_without_sideways_scroll(visit, drafts):
    draft = started(drafts, sample_text("starved-far-end"))
    for path in ("", "set_up", "readings", "map", "safety"):
        page = visit(path, draft, PHONE, user_agent=ANDROID)
        main = page.locator('[data-testid="stMain"]')
        steady(lambda main=main: main.evaluate("main => main.scrollHeight"))
        eventually(lambda main=main: main.evaluate("main => main.scrollWidth <= 390"), True)


def test_the_keypad_and_next_fit_a_phone(visit, drafts):
    draft = started(drafts, NINE)
    page = visit("readings", draft, PHONE, user_agent=ANDROID)
    page.wait_for_selector(".entry .keypad")
    key = page.locator('.pad [data-key="Next"]')
    eventually(lambda: (lies := box(key))["y"] + lies["height"] <= 844, True)
    tap(page, "11N12N13NX15.5N16N17N18N19N")
    saved(page)
    order = snake(3, 3)
    wanted = dict(zip(order, ("11", "12", "13", "x", "15.5", "16", "17", "18", "19"), strict=True))
    eventually(lambda: {key: drafts.values(draft).get(key) for key in order}, wanted)
    page.wait_for_selector(".js-plotly-plot")
    page.wait_for_selector("text=8 of 9 cans are in the figures.")


def test_killed_in_the_middle_of_a_value_on_the_real_page(visit, server, drafts):
    draft = started(drafts, NINE)
    page = visit("readings", draft)
    cell(page, "r1c1").click()
    page.keyboard.type("31")
    page.keyboard.press("Enter")
    eventually(lambda: drafts.values(draft).get("r1c1"), "31")
    page.keyboard.type("4")
    server.kill()
    page.keyboard.type("7")
    server.start()
    page.reload()
    idle(page)
    page.wait_for_selector(".entry .table")
    eventually(lambda: [drafts.values(draft).get(key) for key in ("r1c1", "r1c2")], ["31", "47"])


def test_a_block_is_pasted_into_the_table(visit, drafts):
    draft = started(drafts, NINE)
    page = visit("readings", draft)
    cell(page, "r1c1").click()
    page.evaluate("""text => {
        const roots = [...document.querySelectorAll('*')].map(e => e.shadowRoot);
        const entry = roots.find(r => r && r.querySelector('.entry')) || document;
        const input = entry.querySelector('.table input[data-can="r1c1"]');
        const data = new DataTransfer();
        data.setData('text/plain', text);
        input.dispatchEvent(new ClipboardEvent('paste', {clipboardData: data, bubbles: true, cancelable: true,
                                                         composed: true}));
    }""", "1\t2\t3\n4\t\t6\n7,5\t8\t9")
    saved(page)
    eventually(lambda: [drafts.values(draft).get(f"r3c{column}") for column in (1, 2, 3)], ["7,5", "8", "9"])


def test_a_patch_is_drawn_on_the_map(visit, drafts):
    draft = started(drafts, sample_text("starved-far-end").split("[[patches]]")[0])
    page = visit("map", draft)
    page.get_by_text("Draw a patch where the crop looks poor").click()
    idle(page)
    plot = page.locator(".js-plotly-plot").last.locator(".nsewdrag").first

    def middle():  # the chart is drawn again while the page learns of its width
        plot.evaluate("plot => plot.scrollIntoView({ block: 'center' })")
        return box(plot)

    lies = steady(middle)
    page.mouse.move(lies["x"] + lies["width"] * 0.1, lies["y"] + lies["height"] * 0.15)
    page.mouse.down()
    page.mouse.move(lies["x"] + lies["width"] * 0.5, lies["y"] + lies["height"] * 0.3, steps=8)
    page.mouse.move(lies["x"] + lies["width"] * 0.9, lies["y"] + lies["height"] * 0.4, steps=8)
    page.mouse.up()
    page.wait_for_selector("text=Drawn:")
    page.get_by_role("button", name="Add this patch").first.click()
    page.wait_for_selector("text=patch 1, no note")
    patch = json.loads(drafts.values(draft)["patches"])[0]
    x, y = ([float(end.split()[0]) for end in patch[key]] for key in ("x", "y"))
    assert 0.1 < x[0] < 2 and 5 < x[1] < 7.2 and 15 < y[0] < 19 and 21 < y[1] < 26


def test_a_can_is_picked_on_the_map(visit, drafts):
    draft = started(drafts, sample_text("commissioning"))
    page = visit("map", draft)
    page.get_by_label("Look at one can").click()
    page.keyboard.type("row 3, can 2")
    page.keyboard.press("Enter")
    page.wait_for_selector(r"text=/row 3, can 2: .* mm, .* % of the mean of the whole floor; "
                           r"1.5 m across, 4.8 m along; counted\./")


def test_downloads_are_what_they_say(visit, drafts, tmp_path):
    from openpyxl import load_workbook

    draft = started(drafts, sample_text("before-repair"))
    page = visit("map", draft)
    got = {}
    for name in ("Figures (.csv)", "Figures and cans (.xlsx)"):
        with page.expect_download() as download:
            page.get_by_role("button", name=name).click()
        got[name] = tmp_path / download.value.suggested_filename
        download.value.save_as(got[name])
    assert "DUlq at the cans" in got["Figures (.csv)"].read_text("utf-8-sig")
    assert load_workbook(got["Figures and cans (.xlsx)"]).sheetnames == ["figures", "cans"]


@pytest.mark.long
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", ["", "set_up", "map"])
def test_text_has_contrast_in_light_and_dark(visit, drafts, path, scheme):
    page = visit(path, started(drafts, sample_text("commissioning")), color_scheme=scheme)
    def light():
        shade = page.evaluate("getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor")
        return sum(map(int, re.findall(r"\d+", shade)[:3])) > 380

    eventually(light, scheme == "light")
    texts = page.locator('[data-testid="stText"], [data-testid="stHeading"] h1, [data-testid="stMetricValue"], '
                         '[data-testid="stBaseButton-primary"], [class*=st-key-onward] a p, .st-key-pages a p, '
                         '[data-testid="stBaseButton-segmented_controlActive"]')
    eventually(lambda: texts.count() > 6, True)
    steady(texts.count)
    eventually(lambda: [found for found in texts.evaluate_all(CONTRAST) if found[1] < 4.5], [])


def test_two_devices_on_one_draft_both_see_the_sentence(visit, drafts):
    draft = started(drafts, NINE)
    one, two = visit("readings", draft), visit("readings", draft)
    for page in (one, two):
        page.wait_for_selector(".entry .table")
    cell(one, "r2c2").click()
    one.keyboard.type("31")
    one.keyboard.press("Enter")
    eventually(lambda: drafts.values(draft).get("r2c2"), "31")
    cell(two, "r2c2").click()
    two.keyboard.type("13")
    two.keyboard.press("Enter")
    two.wait_for_selector("text=/Row 2, can 2: 13 was typed here, 31 on another device/")
    assert len(drafts.history(draft, "r2c2")) == 2


def test_what_is_typed_faster_than_the_page_runs_is_kept(visit, drafts):
    page = visit()
    page.get_by_role("button", name="Start a new test").click()
    page.wait_for_url("**/set_up?draft=*")
    idle(page)
    draft = page.url.split("draft=")[1]
    typed = {"test.title": "Tunnel 9", "run.duration": "30 min", "floor.width": "6 m", "floor.length": "12 m",
             "cans.opening_area": "100 cm2", "cans.across": "1, 3, 5 m", "cans.along": "2, 6, 10 m"}
    labels = ("Title of this test", "How long each line ran", "Width of the floor", "Length of the floor",
              "or its area", "Across: each column from the left edge", "Along: each row from the inlet end wall")
    for turn in range(3):
        for label, text in zip(labels, typed.values(), strict=True):
            page.get_by_label(label, exact=True).fill(text.replace("m", "ft") if turn == 1 else text)
            page.keyboard.press("Tab")
            page.wait_for_timeout(40 * turn)
        wanted = {key: text.replace("m", "ft") if turn == 1 else text for key, text in typed.items()}
        eventually(lambda wanted=wanted: {key: drafts.values(draft).get(key) for key in wanted}, wanted)
