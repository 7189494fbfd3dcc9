"""The browser dies with what was typed while the server was gone: nothing is lost."""

import time

import pytest
from conftest import idle
from entry_help import LAPTOP, PHONE, cell, eventually, saved, snake
from killed_help import HOST, SHELVES, FileServer, Killable, shelf_page, type_cans

pytestmark = pytest.mark.browser

# Cans, seconds for one. Walking takes 1.5 s a can; here it is 0.4 s, so that localStorage, which Chromium writes
# 5 s after the first change and then once a minute, has had its first turn and not its second.
PACES = {"walking": (40, 0.4), "at once": (30, 2 / 30)}


def cases(*short):
    """Every pace and wait; those that are not named are long. Whether the disk is as fast as 0.05 s is measured alone:
    beside other work the browser dies 0.05 s after the last key, and not before the page says 'kept'."""
    found = [pytest.param(pace, wait, True, id=f"{pace}, {wait} s", marks=() if (pace, wait) in short else
                          pytest.mark.long) for pace in PACES for wait in (0.05, 2, 30)]
    return found + [pytest.param(pace, 0.05, False, id=f"{pace}, 0.05 s, alone", marks=pytest.mark.benchmark)
                    for pace in PACES]


@pytest.fixture
def killable(chromium, tmp_path):
    """A factory of Chromiums that can be killed, each on a profile of its own."""
    started = []

    def make(name="profile"):
        folder = tmp_path / name
        folder.mkdir()
        started.append(Killable(chromium, folder))
        return started[-1]

    yield make
    for one in started:
        one.close()


def open_entry(page, server, draft, **asked):
    page.draft = draft
    query = "&".join(f"{name}={value}" for name, value in {"draft": draft, **asked}.items())
    page.goto(f"{server.url}/?{query}")
    idle(page)
    page.wait_for_selector(".entry .keypad, .entry .table")


def server_dies(page, server):
    server.kill()
    page.wait_for_selector('.entry .status[data-state="offline"]')


def prefix(draft):
    return f"evenfall:entry:{draft}:"


def wait_from(last, seconds):
    time.sleep(max(0.0, last + seconds - time.monotonic()))


@pytest.mark.parametrize("face", ["keypad", pytest.param("table", marks=pytest.mark.long)])
@pytest.mark.parametrize("pace, wait, told", cases(("at once", 0.05)))
def test_nothing_typed_is_lost_when_the_browser_is_killed(killable, entry_server, drafts, face, pace, wait, told):
    kind = {"keypad": PHONE, "table": LAPTOP}[face]
    count, seconds = PACES[pace]
    wanted = dict(zip(snake(5, 8)[:count], [str(30 + number) for number in range(count)], strict=True))
    chromium, draft = killable(), drafts.start(title="Killed")
    page = chromium.start(**kind)
    open_entry(page, entry_server, draft, rows=5, columns=8)
    if face == "keypad":
        page.locator(".keypad").focus()
    else:
        cell(page, "r1c1").click()
    server_dies(page, entry_server)
    started = time.monotonic()
    last = type_cans(page, list(wanted.values()), seconds)
    print(f"{count} cans in {last - started:.1f} s")
    if told:
        eventually(page.locator(".status").inner_text, "no connection - keep typing, it is kept on this device")
    wait_from(last, wait)
    chromium.kill()
    assert drafts.values(draft) == {}
    entry_server.start()
    page = chromium.start(**kind)
    open_entry(page, entry_server, draft, rows=5, columns=8)
    eventually(lambda: drafts.values(draft), wanted)
    saved(page)
    assert page.locator(".progress").inner_text() == f"{count} of 40"
    eventually(lambda: page.evaluate(SHELVES, prefix(draft)), [{}, {}])


@pytest.mark.parametrize("address", ["file", "http"])
@pytest.mark.parametrize("pace, wait, told", cases(("at once", 0.05)))
def test_the_shelves_hold_it_on_file_and_http_addresses(killable, tmp_path, address, pace, wait, told):
    count, seconds = PACES[pace]
    wanted = {f"p{number}": str(30 + number) for number in range(1, count + 1)}
    file = shelf_page(tmp_path)
    server = FileServer(tmp_path)
    url = file.as_uri() if address == "file" else f"http://{HOST}:{server.port}/{file.name}"
    try:
        chromium = killable()
        page = chromium.start()
        page.goto(url)
        page.wait_for_function("document.title === 'kept'")
        server.stop()
        last = type_cans(page, list(wanted.values()), seconds)
        if told:
            page.wait_for_function("document.title === 'kept'", polling=1)
        wait_from(last, wait)
        chromium.kill()
        server.start()
        page = chromium.start()
        page.goto(url)
        page.wait_for_function("document.title === 'kept'")
        found = page.evaluate("journal.pending()")
        assert {entry["can"]: entry["text"] for entry in found} == wanted
        assert [entry["can"] for entry in found] == list(wanted)
        assert page.evaluate(SHELVES, prefix("0123456789abcdef"))[1] == wanted
    finally:
        server.stop()


def test_what_is_said_to_be_kept_is_there_whenever_the_browser_dies(killable, tmp_path):
    """Killed the moment the page says it for the last of many keys, again and again on one profile."""
    file = shelf_page(tmp_path)
    chromium, wanted = killable(), {}
    for turn in range(3):
        page = chromium.start()
        page.goto(file.as_uri())
        page.wait_for_function("document.title === 'kept'")
        page.evaluate(f"can = {1 + 10 * turn}")
        texts = [str(100 + 10 * turn + number) for number in range(10)]
        type_cans(page, texts, 0)
        wanted |= {f"p{1 + 10 * turn + number}": text for number, text in enumerate(texts)}
        page.wait_for_function("document.title === 'kept'", polling=1)
        chromium.kill()
    page = chromium.start()
    page.goto(file.as_uri())
    page.wait_for_function("document.title === 'kept'")
    assert {entry["can"]: entry["text"] for entry in page.evaluate("journal.pending()")} == wanted


@pytest.mark.long
def test_two_tabs_and_a_killed_browser(killable, entry_server, drafts):
    chromium, draft = killable(), drafts.start(title="Two tabs")
    first = chromium.start(**LAPTOP)
    second = chromium.context.new_page()
    for page in (first, second):
        open_entry(page, entry_server, draft)
    server_dies(second, entry_server)
    first.bring_to_front()
    cell(first, "r1c1").click()
    type_cans(first, ["31", "32", "33"], 0)
    second.bring_to_front()
    cell(second, "r1c3").click()
    second.keyboard.press("Control+a")
    last = type_cans(second, ["43", "44"], 0)
    wait_from(last, 0.5)
    chromium.kill()
    entry_server.start()
    page = chromium.start(**LAPTOP)
    open_entry(page, entry_server, draft)
    eventually(lambda: drafts.values(draft), {"r1c1": "31", "r1c2": "32", "r1c3": "43", "r1c4": "44"})
    saved(page)
    assert len(drafts.snapshot(draft).acknowledged) == 1
    assert drafts.clashes(draft) == []


def test_the_keypad_goes_on_where_the_killed_browser_was(killable, entry_server, drafts):
    chromium, draft = killable(), drafts.start(title="Going on")
    page = chromium.start(**PHONE)
    open_entry(page, entry_server, draft)
    page.locator(".keypad").focus()
    server_dies(page, entry_server)
    last = type_cans(page, ["31", "32"], 0)
    page.keyboard.type("3")
    wait_from(last, 0.5)
    chromium.kill()
    entry_server.start()
    page = chromium.start(**PHONE)
    open_entry(page, entry_server, draft)
    eventually(lambda: page.locator(".name").inner_text(), "Row 1, can 4")
    eventually(lambda: drafts.values(draft), {"r1c1": "31", "r1c2": "32", "r1c3": "3"})
