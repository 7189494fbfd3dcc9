"""The two shelves on a device where one of them is refused, full, taken away, old, or shared by several tabs."""

import json
from pathlib import Path

import pytest
from entry_help import LAPTOP, PHONE, box, cell, eventually, saved, tap
from killed_help import SHELVES, FileServer, shelf_page, type_cans
from test_entry_killed import killable, open_entry, prefix, server_dies  # noqa: F401 - fixture

pytestmark = pytest.mark.browser

DRAFT = "0123456789abcdef"  # of the page with the shelves alone
NOT_KEPT = "This browser keeps no readings"
KEPT = "() => document.title === 'kept'"

# Opening is never answered.
HANGS = "indexedDB.open = () => ({});"
# Refused in two ways: with an error that is thrown, with one that is told.
THROWS = "indexedDB.open = () => { throw new DOMException('no', 'SecurityError'); };"
TOLD = """indexedDB.open = () => {
  const asked = {};
  setTimeout(() => asked.onerror({ preventDefault() {} }), 20);
  return asked;
};"""


@pytest.fixture
def shelves(browser, tmp_path):
    """Opens the page with the shelves alone; pages of one test share their shelves.

    Over http: a file's localStorage may miss, after a reload, what was written in a page's first second.
    """
    server, context, faults = FileServer(tmp_path), browser.new_context(), []
    name = shelf_page(tmp_path).name

    def open_page(name=name):
        page = context.new_page()
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.goto(f"http://127.0.0.1:{server.port}/{name}")
        return page

    yield open_page
    context.close()
    server.stop()
    assert faults == []


def typed(page, *texts):
    """Type one can after the other, until all of it has arrived in the page."""
    page.locator("input").focus()
    type_cans(page, texts, 0)
    page.wait_for_function("([can, text]) => journal.get(can)?.text === text", arg=[f"p{len(texts)}", texts[-1]])


# -- refused ----------------------------------------------------------------


def test_blocked_storage_is_said_before_the_first_can(killable, entry_server, drafts):  # noqa: F811
    chromium, draft = killable(), drafts.start(title="Blocked")
    folder = Path(chromium.profile) / "Default"
    folder.mkdir()
    refused = {"profile": {"default_content_setting_values": {"cookies": 2}}}
    (folder / "Preferences").write_text(json.dumps(refused))
    page = chromium.start(**PHONE)
    open_entry(page, entry_server, draft)
    page.wait_for_selector(f".limits >> text={NOT_KEPT}")
    following = box(page.locator('.pad [data-key="Next"]'))
    assert following["y"] + following["height"] <= 844
    assert page.locator(".progress").inner_text() == "0 of 48"
    tap(page, "31N")
    eventually(lambda: drafts.values(draft), {"r1c1": "31"})
    saved(page)
    server_dies(page, entry_server)
    page.locator(".keypad").focus()
    type_cans(page, ["32"], 0)
    words = "no connection - keep typing, it is kept as long as this page stays open"
    eventually(page.locator(".status").inner_text, words)
    entry_server.start()
    eventually(lambda: drafts.values(draft), {"r1c1": "31", "r1c2": "32"})
    saved(page)


@pytest.mark.parametrize("init", [HANGS, THROWS, TOLD], ids=["no answer", "thrown", "told"])
def test_a_chest_that_does_not_open_is_said_and_stops_nothing(opened, drafts, init):
    page = opened(init=init)
    page.wait_for_selector(f".limits >> text={NOT_KEPT}")
    cell(page, "r1c1").click()
    type_cans(page, ["31"], 0)
    eventually(lambda: drafts.values(page.draft), {"r1c1": "31"})
    saved(page)


def test_nothing_is_said_where_both_shelves_are_there(opened):
    page = opened()
    eventually(lambda: page.locator(".status").get_attribute("data-keeping"), "kept")
    assert page.locator(".limits").is_hidden()


def test_a_full_disk_is_said_and_what_was_typed_follows_when_there_is_room(shelves):
    page = shelves()
    page.wait_for_function(KEPT)
    page.evaluate("""() => {
      window.full = true;
      const { put } = IDBObjectStore.prototype;
      IDBObjectStore.prototype.put = function (...all) {
        const asked = put.apply(this, all);
        if (window.full) this.transaction.abort();
        return asked;
      };
    }""")
    typed(page, "31", "32")
    eventually(lambda: page.evaluate("[journal.kept, journal.chest.refused]"), [False, True])
    assert page.evaluate(SHELVES, prefix(DRAFT)) == [{"p1": "31", "p2": "32"}, {}]
    page.evaluate("window.full = false; journal.chest.tend()")
    page.wait_for_function(KEPT)
    assert page.evaluate("journal.chest.refused") is False
    assert page.evaluate(SHELVES, prefix(DRAFT))[1] == {"p1": "31", "p2": "32"}


def test_a_chest_that_was_cleared_is_filled_anew(shelves):
    page = shelves()
    page.wait_for_function(KEPT)
    typed(page, "31", "32")
    page.wait_for_function(KEPT)
    devtools = page.context.new_cdp_session(page)
    devtools.send("Storage.clearDataForOrigin", {"origin": page.evaluate("origin"), "storageTypes": "indexeddb"})
    eventually(lambda: page.evaluate("journal.kept"), False)
    page.evaluate("journal.chest.tend()")
    page.wait_for_function(KEPT)
    assert page.evaluate(SHELVES, prefix(DRAFT))[1] == {"p1": "31", "p2": "32"}


# -- old, and newer ---------------------------------------------------------


def test_a_journal_of_before_there_was_a_chest_comes_into_it(shelves):
    page = shelves("no-such-page")
    old = {"device": "ab" * 10, "number": "1900000000000"}
    entries = {"p1": ("31", 1800000000000), "p2": ("4", 1800000000001)}
    for key, text in old.items():
        page.evaluate("([key, text]) => localStorage.setItem(key, text)", [f"evenfall:entry:{key}", text])
    for can, (text, number) in entries.items():
        words = json.dumps({"text": text, "seen": 3, "number": number})
        page.evaluate("([key, text]) => localStorage.setItem(key, text)", [prefix(DRAFT) + can, words])
    page = shelves()
    page.wait_for_function(KEPT)
    assert page.evaluate(SHELVES, prefix(DRAFT)) == [{"p1": "31", "p2": "4"}] * 2
    assert page.evaluate("journal.device") == "ab" * 10
    assert page.evaluate("journal.number()") > 1900000000000


def test_of_two_shelves_the_newer_entry_counts(shelves):
    page = shelves()
    page.wait_for_function(KEPT)
    typed(page, "31", "32", "33")
    page.wait_for_function(KEPT)
    # as after a crash: the first can is older in localStorage, the second is not there, the third is newer there
    page.evaluate("""(prefix) => {
      const entry = (text, by) => JSON.stringify({ text, seen: 0, number: journal.get("p3").number + by });
      localStorage.setItem(prefix + "p1", entry("3", -9e6));
      localStorage.removeItem(prefix + "p2");
      localStorage.setItem(prefix + "p3", entry("333", 5));
      localStorage.removeItem("evenfall:entry:device");
    }""", prefix(DRAFT))
    device = page.evaluate("journal.device")
    page.reload()
    page.wait_for_function(KEPT)
    found = {entry["can"]: entry["text"] for entry in page.evaluate("journal.pending()")}
    assert found == {"p1": "31", "p2": "32", "p3": "333"}
    assert page.evaluate(SHELVES, prefix(DRAFT))[1] == found
    assert page.evaluate("journal.device") == device
    assert page.evaluate("localStorage.getItem('evenfall:entry:device')") == device


def test_what_is_typed_before_the_chest_is_open_counts_whatever_the_clock_says(shelves):
    page = shelves()
    page.wait_for_function(KEPT)
    typed(page, "31")
    page.wait_for_function(KEPT)
    page.evaluate("localStorage.clear()")
    late = page.evaluate("""(draft) => new Promise((done) => {
      Date.now = () => 1000;
      const late = new Journal(new Shelf(), draft, () => done([late.get("p1").text, late.get("p2").text]), () => {});
      late.put("p1", "47", 0);
      late.put("p2", "48", 0);
    })""", DRAFT)
    assert late == ["47", "48"]


# -- stored -----------------------------------------------------------------


def test_only_what_is_stored_leaves_the_shelves(shelves):
    """A can with a lower number is not stored because one with a higher number is."""
    page = shelves()
    page.wait_for_function(KEPT)
    typed(page, "31", "32", "33")
    page.evaluate("""() => {
      const number = (can) => journal.get(can).number;
      journal.acknowledge({ p2: number("p2"), p3: number("p3") - 1 }, { [journal.device]: number("p2") });
    }""")
    assert [entry["can"] for entry in page.evaluate("journal.pending()")] == ["p1", "p3"]
    page.wait_for_function(KEPT)
    eventually(lambda: page.evaluate(SHELVES, prefix(DRAFT)), [{"p1": "31", "p3": "33"}] * 2)


def test_a_newer_entry_of_another_tab_stays_in_the_chest(shelves):
    first, second = shelves(), shelves()
    for page in (first, second):
        page.wait_for_function(KEPT)
    first.evaluate("journal.put('p1', '31', 0)")
    first.wait_for_function(KEPT)
    number = first.evaluate("journal.get('p1').number")
    second.evaluate("journal.put('p1', '41', 0)")
    second.wait_for_function(KEPT)
    first.evaluate("number => journal.chest.drop(journal.prefix + 'p1', number)", number)
    first.evaluate("number => journal.chest.put(journal.prefix + 'p1', { text: '3', seen: 0, number })", number)
    eventually(lambda: first.evaluate("journal.chest.keeps"), True)
    assert first.evaluate(SHELVES, prefix(DRAFT)) == [{"p1": "41"}] * 2


def test_what_one_tab_had_stored_no_longer_waits_in_the_other(opened, entry_server, drafts):
    page = opened(kind=LAPTOP)
    tab = page.context.new_page()
    open_entry(tab, entry_server, page.draft)
    cell(tab, "r1c2").click()
    type_cans(tab, ["32"], 0)
    eventually(lambda: drafts.values(page.draft), {"r1c2": "32"})
    for one in (tab, page):
        saved(one)
        eventually(lambda one=one: one.evaluate(SHELVES, prefix(page.draft)), [{}, {}])
