"""Readings that wait on the device are sent and shown by whatever page of the draft is opened."""

import json

import pytest
from conftest import idle
from entry_help import LAPTOP, PATIENCE, PHONE, cell, eventually, steady, tap
from evenfall.entry.drafts.changes import Change
from killed_help import SHELVES, type_cans
from test_entry_killed import killable, prefix, server_dies  # noqa: F401 - fixture
from test_main_path import ANDROID, NINE, drafts, server, started, visit  # noqa: F401 - fixtures

pytestmark = pytest.mark.browser
FILLED = {"r1c1": "11", "r1c2": "12", "r1c3": "13", "r2c3": "14", "r2c2": "15", "r2c1": "16"}


def filled(drafts):  # noqa: F811
    """A draft of nine cans; those walked to first have readings."""
    draft = started(drafts, NINE)
    drafts.put(draft, [Change(can, text, number) for number, (can, text) in enumerate(FILLED.items(), 1)], "another")
    return draft


def nothing_waits(page, draft):
    eventually(lambda: page.evaluate(SHELVES, prefix(draft)), [{}, {}])


def type_one(page, kind, can, text):
    """Type one can and neither leave it nor press a key after."""
    if kind is PHONE:
        tap(page, text)  # the keypad stands at the first can without a reading
    else:
        cell(page, can).click()
        page.keyboard.type(text)


@pytest.mark.parametrize("kind", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_what_was_typed_a_moment_before_leaving_is_on_the_map(visit, drafts, kind):  # noqa: F811
    draft = filled(drafts)
    page = visit("readings", draft, kind, **({"user_agent": ANDROID} if kind is PHONE else {}))
    link = page.locator(".st-key-pages a", has_text="Map")
    link.wait_for()
    # the second time without a finger that the entry sees coming down
    for can, text, used, leave in (("r3c1", "27", 7, link.click),
                                   ("r3c2", "28", 8, lambda: link.evaluate("link => link.click()"))):
        page.wait_for_selector(".entry .keypad, .entry .table")
        type_one(page, kind, can, text)
        leave()
        page.wait_for_url("**/map?draft=*")
        eventually(lambda can=can: drafts.values(draft).get(can), text)
        page.wait_for_selector(f"text={used} of 9 cans are in the figures", state="attached")
        nothing_waits(page, draft)
        idle(page)
        page.locator(".st-key-pages a", has_text="Readings").click()
        page.wait_for_url("**/readings?draft=*")


def test_what_a_killed_browser_left_is_sent_by_the_map(killable, server, drafts):  # noqa: F811
    draft, chromium = filled(drafts), killable()
    page = chromium.start(**LAPTOP)
    page.goto(f"{server.url}/readings?draft={draft}")
    page.wait_for_selector(".entry .table")
    cell(page, "r3c1").click()
    server_dies(page, server)
    type_cans(page, ["27", "28", "29"], 0)
    page.wait_for_selector('.entry .status[data-keeping="kept"]')
    chromium.kill()
    server.start()
    assert "r3c1" not in drafts.values(draft)
    page = chromium.start(**LAPTOP)
    page.goto(f"{server.url}/map?draft={draft}")
    eventually(lambda: [drafts.values(draft).get(f"r3c{number}") for number in (1, 2, 3)], ["27", "28", "29"])
    page.wait_for_selector("text=9 of 9 cans are in the figures", state="attached")
    nothing_waits(page, draft)
    assert len(drafts.history(draft, "r3c1")) == 1


def test_where_nothing_waits_nothing_is_sent(browser, server, drafts):  # noqa: F811
    draft, frames = filled(drafts), []
    context = browser.new_context(**LAPTOP)
    context.set_default_timeout(1000 * PATIENCE)
    page = context.new_page()
    page.on("websocket", lambda socket: socket.on("framesent", lambda frame: frames.append(frame)))
    page.goto(f"{server.url}/safety?draft={draft}")
    idle(page)
    opened = steady(lambda: len(frames))
    page.evaluate("window.dispatchEvent(new Event('focus'))")  # what waits is sent at once then
    assert (len(frames), opened > 0) == (opened, True)
    put = """([key, text]) => {
      localStorage.setItem(key, text);
      window.dispatchEvent(new Event('focus'));
    }"""
    page.evaluate(put, [prefix(draft) + "r3c1", json.dumps({"text": "27", "seen": 0, "number": 1})])
    eventually(lambda: drafts.values(draft).get("r3c1"), "27")  # so it was listening
    nothing_waits(page, draft)
    context.close()
