"""Entry of readings when things go wrong: a server that dies, two devices, leaving."""

import time

import pytest
from conftest import idle
from entry_help import COUNTING, DIALOGS, PHONE, box, cell, eventually, saved, snake, steady, tap
from evenfall.entry.drafts.drafts import Change

pytestmark = pytest.mark.browser


# -- a server that dies ---------------------------------------------------


def test_killed_in_the_middle_of_a_value_and_reloaded(opened, entry_server, drafts):
    page = opened()
    cell(page, "r1c1").click()
    for text in ("31", "28"):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    eventually(lambda: drafts.values(page.draft), {"r1c1": "31", "r1c2": "28"})
    page.keyboard.type("4")
    entry_server.kill()
    page.keyboard.type("7")
    entry_server.start()
    page.reload()
    page.wait_for_selector(".table")
    assert cell(page, "r1c3").input_value() == "47"
    eventually(lambda: drafts.values(page.draft), {"r1c1": "31", "r1c2": "28", "r1c3": "47"})
    saved(page)


@pytest.mark.long
@pytest.mark.parametrize("before", [0, 3], ids=["nothing-sent-before", "some-sent-before"])
def test_typing_on_without_a_server_loses_nothing(opened, entry_server, drafts, before):
    """Streamlit's own dialog comes up meanwhile; it is told by its English text, so this decides on a new version."""
    page = opened(rows=4, columns=7, init=DIALOGS)
    cans = snake(4, 7)
    wanted = {can: str(100 + i) for i, can in enumerate(cans)}
    cell(page, "r1c1").click()
    for i, text in enumerate(wanted.values()):
        if i == before:
            if before:
                eventually(lambda: len(drafts.values(page.draft)), before)
            entry_server.kill()
        page.keyboard.type(text, delay=20)
        page.keyboard.press("Enter")
        page.wait_for_timeout(120)
    eventually(lambda: page.evaluate("dialogs") > 0, True)
    eventually(page.locator(".status").inner_text, "no connection - keep typing, it is kept on this device")
    eventually(page.locator('[role="dialog"]').count, 0)
    assert len(drafts.values(page.draft)) == before
    assert {can: cell(page, can).input_value() for can in cans} == wanted
    entry_server.start()
    back = time.monotonic()
    eventually(lambda: drafts.values(page.draft), wanted)
    saved(page)
    print(f"saved {time.monotonic() - back:.1f} s after the server was back")


@pytest.mark.long
def test_the_keypad_works_on_without_a_server(opened, entry_server, drafts):
    page = opened(kind=PHONE, rows=3, columns=4)
    tap(page, "11N")
    eventually(lambda: drafts.values(page.draft), {"r1c1": "11"})
    entry_server.kill()
    keys = "".join(f"{12 + i}N" for i in range(11))
    for key in keys:
        name = {"N": "Next"}.get(key, key)
        lies = box(page.locator(f'.pad [data-key="{name}"]'))
        page.touchscreen.tap(lies["x"] + lies["width"] / 2, lies["y"] + lies["height"] / 2)
        page.wait_for_timeout(150)
    assert page.locator(".progress").inner_text() == "12 of 12"
    entry_server.start()
    eventually(lambda: drafts.values(page.draft), {can: str(11 + i) for i, can in enumerate(snake(3, 4))})
    saved(page)


# -- two devices ----------------------------------------------------------


def test_two_devices_merge_and_clash(opened, drafts):
    phone = opened(kind=PHONE)
    laptop = opened(draft=phone.draft)
    tap(phone, "11N12N")
    eventually(lambda: drafts.values(phone.draft), {"r1c1": "11", "r1c2": "12"})  # a device hears of others as it sends
    cell(laptop, "r2c8").click()
    laptop.keyboard.type("28")
    laptop.keyboard.press("Enter")
    eventually(lambda: drafts.values(phone.draft), {"r1c1": "11", "r1c2": "12", "r2c8": "28"})
    eventually(lambda: cell(laptop, "r1c2").input_value(), "12")
    assert drafts.clashes(phone.draft) == []
    # The phone stands at row 1, can 3; the laptop fills it first, and the phone has not heard of it.
    cell(laptop, "r1c3").click()
    laptop.keyboard.type("13")
    laptop.keyboard.press("Enter")
    eventually(lambda: drafts.values(phone.draft).get("r1c3"), "13")
    tap(phone, "31N")
    eventually(lambda: drafts.values(phone.draft).get("r1c3"), "31")
    told = "Row 1, can 3: 31 was typed here, 13 on another device; 31 came last"
    phone.get_by_text(told).wait_for()
    laptop.keyboard.type("5")
    laptop.keyboard.press("Enter")
    laptop.get_by_text("Row 1, can 3: 13 was typed here, 31 on another device").wait_for()
    assert cell(laptop, "r1c3").input_value() == "31"
    tap(phone, "B13N")
    eventually(lambda: drafts.values(phone.draft)["r1c3"], "13")
    phone.get_by_text(told).wait_for(state="detached")
    assert drafts.clashes(phone.draft) == []


def test_what_another_device_sends_does_not_overwrite_what_is_being_typed(opened, drafts):
    page = opened()
    cell(page, "r1c1").click()
    page.keyboard.type("3")
    eventually(lambda: drafts.values(page.draft), {"r1c1": "3"})
    saved(page)
    drafts.put(page.draft, [Change("r1c1", "99", 1), Change("r1c2", "22", 2)], "another")
    page.keyboard.type("1")
    eventually(lambda: cell(page, "r1c2").input_value(), "22")
    assert cell(page, "r1c1").input_value() == "31"
    eventually(lambda: drafts.values(page.draft)["r1c1"], "31")
    assert [clash.other for clash in drafts.clashes(page.draft)] == ["99"]


def test_two_tabs_of_one_browser_are_one_device(opened, entry_server, drafts):
    page = opened()
    tab = page.context.new_page()
    tab.goto(page.url)
    idle(tab)
    cell(tab, "r1c2").click()
    tab.keyboard.type("2")
    tab.keyboard.press("Enter")
    page.bring_to_front()
    cell(page, "r1c1").click()
    page.keyboard.type("1")
    page.keyboard.press("Enter")
    eventually(lambda: drafts.values(page.draft), {"r1c1": "1", "r1c2": "2"})
    assert len(drafts.snapshot(page.draft).acknowledged) == 1


# -- leaving --------------------------------------------------------------


def test_nothing_is_left_behind(opened):
    page = opened(init=COUNTING)
    toggle = page.locator('[data-testid="stCheckbox"] label')

    def switch(shown):
        toggle.click(delay=60)
        page.wait_for_selector(".entry", state="attached" if shown else "detached")
        idle(page)

    switch(False)
    without = steady(lambda: page.evaluate("countLeft()"))
    for _ in range(3):
        switch(True)
        cell(page, "r1c1").click()
        page.keyboard.type("1")
        eventually(lambda: page.evaluate("countLeft()")[0], without[0] + 1)
        switch(False)
    eventually(lambda: page.evaluate("countLeft()"), without)


def test_what_was_typed_last_is_stored_when_the_entry_is_left(opened, drafts):
    page = opened()
    cell(page, "r1c1").click()
    page.keyboard.type("64")
    page.locator('[data-testid="stCheckbox"] label').click(delay=60)
    page.wait_for_selector(".entry", state="detached")
    eventually(lambda: drafts.values(page.draft), {"r1c1": "64"})
