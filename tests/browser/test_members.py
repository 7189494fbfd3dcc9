"""The page of members in a real browser: alone, and as several people of whom each sees what is theirs."""

import csv
import io
import re
import zipfile
from dataclasses import replace

import pytest
from accounts_help import HB, OFFICE, OTHER, PEOPLE, quiet_page, shared_dashboard
from conftest import ROOT, idle
from entry_help import LAPTOP, PATIENCE, PHONE, eventually
from evenfall.entry.drafts.drafts import Change, Drafts
from evenfall.record.file import parse_record
from evenfall.store import OWNER, Store
from evenfall.store.complete import complete
from evenfall.store.rows import digest_of
from evenfall.store.undoing import what_undo
from members_help import SOCKETS, Heard, cookie_of, forge, identities, record_of
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from test_accounts import NOT_KEPT, drafts_of
from test_main_path import started

pytestmark = pytest.mark.browser
SECRET = "secretplum"  # in what belongs to TH alone
SIDEWAYS = """() => [document.scrollingElement, document.querySelector('[data-testid=stMain]')]
    .map((e) => e.scrollWidth)"""
LOW = """main => [...main.querySelectorAll('button')].filter((e) => e.getBoundingClientRect().width > 0
    && !e.closest('[data-testid=stTooltipIcon]')).map((e) => [e.innerText, e.getBoundingClientRect().height])
    .filter(([, height]) => height < 43.9)"""


def keep(store, *texts):
    for text in texts:
        store.save(OWNER, parse_record(text), text)


def downloaded(page, name):
    """What a button hands over."""
    with page.expect_download() as got:
        page.get_by_role("button", name=name).click()
    return got.value.path().read_bytes()


def unzipped(data):
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return sorted(archive.read(name).decode() for name in archive.namelist())


def table(data):
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))


# -- one person, no accounts


@pytest.fixture(scope="module")
def alone(serve):
    return serve(ROOT / "streamlit_app.py")


@pytest.fixture
def at(browser, alone):
    """A factory of pages of the one person; an error fails."""
    contexts, faults = [], []

    def go(path, kind=LAPTOP, **more):
        context = browser.new_context(**kind, **more)
        contexts.append(context)
        context.set_default_timeout(1000 * PATIENCE)
        page = context.new_page()
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.goto(f"{alone.url}/{path}")
        idle(page)
        return page

    yield go
    for context in contexts:
        context.close()
    assert faults == []


def save_on_map(page):
    page.get_by_role("button", name="Save the record").click()
    page.get_by_text(re.compile("Saved as .*, version|after the one that yours began from")).wait_for()
    idle(page)


@pytest.fixture(scope="module")
def saved_two(browser, alone):
    """Two records that a person saved on the map page; the store they are in."""
    drafts, context = Drafts(alone.data), browser.new_context(**LAPTOP)
    context.set_default_timeout(1000 * PATIENCE)
    page = context.new_page()
    for name, tunnel, first in (("t-1", "Long", 10), ("t-2", "Wide", 29)):
        page.goto(f"{alone.url}/map?draft={started(drafts, record_of(name, 'Heron', tunnel, first))}")
        page.get_by_role("button", name="Save the record").wait_for()
        idle(page)
        save_on_map(page)
    context.close()
    return Store(alone.data / "store.sqlite")


def estimated(store):
    return store.unfinished(OWNER) == []


def test_two_saved_records_are_estimated_compared_and_taken_along(at, saved_two):
    page = at("members")
    page.get_by_text("2 tests have no estimate of the whole floor yet").first.wait_for()
    idle(page)
    page.get_by_role("button", name=re.compile("Estimate 2 whole floors")).click()
    eventually(lambda: estimated(saved_two), True)
    rows = page.locator(".st-key-members-rows-du_low_quarter .js-plotly-plot")
    for tunnel in ("Long", "Wide"):
        rows.get_by_text(tunnel).first.wait_for()
    page.get_by_role("button", name=re.compile("^Estimate")).wait_for(state="detached")
    idle(page)
    maps = page.locator(".st-key-members-maps .js-plotly-plot")
    for tunnel in ("Long", "Wide"):
        maps.get_by_text(tunnel).first.wait_for()
    found = table(downloaded(page, "This comparison (.csv)"))
    assert len(found) == 3
    assert all(any(tunnel in cell for row in found[1:] for cell in row) for tunnel in ("Long", "Wide"))
    assert unzipped(downloaded(page, "All records (.zip)")) == sorted(text for *_, text in saved_two.texts(OWNER))


def bring(page, name, data):
    page.locator("[data-testid=stFileUploader] input[type=file]").set_input_files(
        {"name": name, "mimeType": "application/octet-stream", "buffer": data})
    page.get_by_role("button", name="Take them in").click()


def test_what_was_taken_along_comes_in_again_and_an_import_is_taken_back(at, saved_two):
    before = saved_two.text(OWNER, "t-1")
    page = at("members")
    whole = downloaded(page, "All records (.zip)")
    bring(page, "records.zip", whole)
    page.get_by_text("0 new tests, 0 changed, 2 there already, 0 faults.").wait_for()
    page.get_by_role("button", name="Take them in").wait_for(state="detached")  # none is taken in twice
    assert what_undo(saved_two, OWNER).action.kind == "save", "nothing came in"
    changed = before.replace('tunnel = "Long"', 'tunnel = "Longer"')
    bring(page, "changed.toml", changed.encode())
    page.get_by_text("0 new tests, 1 changed (changed.toml), 0 there already, 0 faults.").wait_for()
    assert saved_two.text(OWNER, "t-1") == changed
    idle(page)  # a press while the page is being made can be lost
    page.get_by_role("button", name="Undo what I did last").click()
    page.get_by_text("This takes back the import of changed.toml").wait_for()
    idle(page)
    page.get_by_role("button", name="Yes, do it").click()
    page.get_by_text("Taken back: the import of changed.toml").wait_for()
    assert saved_two.text(OWNER, "t-1") == before and len(saved_two.versions(OWNER, "t-1")) == 3


def test_the_page_fits_a_phone_and_a_thumb(at, saved_two):
    complete(saved_two, OWNER)
    page = at("members", PHONE)
    page.locator(".st-key-members-maps .heatmaplayer .hm").first.wait_for()
    page.get_by_role("button", name="All records (.zip)").wait_for()
    idle(page)
    assert max(page.evaluate(SIDEWAYS)) <= 390
    eventually(lambda: page.locator("[data-testid=stMain]").evaluate(LOW), [])


# -- several people


@pytest.fixture(scope="module")
def shared(serve, tmp_path_factory):
    with shared_dashboard(serve, tmp_path_factory.mktemp("members")) as dashboard:
        yield dashboard


@pytest.fixture(scope="module")
def store(shared):
    """Tests of HB and TH, with figures."""
    kept = Store(shared.server.data / "store.sqlite")
    keep(kept, record_of("hb-1", "HB", "Hazel"), record_of("hb-2", "HB", "Hornbeam", 28),
         record_of("th-1", "TH", f"Tall {SECRET}", 12, notes=f"a note {SECRET}", site=SECRET, zone=SECRET),
         record_of("th-2", "TH", "Tansy", 25, notes=SECRET).replace("Test th-2", f"Title {SECRET}"))
    complete(kept, OWNER)
    return kept


@pytest.fixture(scope="module")
def people(browser, shared, store):
    """A page of each person, logged in as `test_accounts.py` does by hand, and what it heard."""
    heard, faults, foreign = {}, [], []
    for email in PEOPLE:
        page, asked = quiet_page(browser, shared, **LAPTOP)
        foreign.append(asked)
        page.add_init_script(SOCKETS)
        page.on("pageerror", lambda fault, page=page: (
            faults.append(str(fault)) if page.url.startswith(shared.url) else None))
        page.context.add_cookies([cookie_of(shared, email)])
        heard[email] = Heard(page, shared.url)
    yield heard
    for one in heard.values():
        one.page.context.close()
    assert faults == [] and not any(foreign)


def look(heard, shared, path, wanted):
    """Open an address and wait for what it has to say."""
    heard.all()
    heard.page.goto(f"{shared.url}/{path}")
    heard.page.get_by_text(wanted).first.wait_for()
    idle(heard.page)


TOO_FEW = "Too few other members have figures yet: in a small group one could be recognised."


def test_a_member_hears_nothing_of_anothers_tests(people, shared, store):
    one = people[HB]
    look(one, shared, "", "hb-2")
    look(one, shared, "members", TOO_FEW)
    one.page.locator(".st-key-members-rows-du_low_quarter").get_by_text("Hornbeam").first.wait_for()
    for name in ("Hazel", "hb-1"):
        assert name in one.all().decode(errors="replace")
    found = downloaded(one.page, "This comparison (.csv)").decode()
    texts = unzipped(downloaded(one.page, "All records (.zip)"))
    assert "Hazel" in found and len(texts) == 2 and all('member = "HB"' in text for text in texts)
    whole = one.all().decode(errors="replace") + found + "".join(texts)
    assert SECRET not in whole and "Tansy" not in whole and "th-1" not in whole
    other = people[OTHER]  # the same search finds what its owner is sent
    look(other, shared, "members", TOO_FEW)
    assert SECRET.encode() in other.all() and b"Hornbeam" not in other.all()


def test_no_address_leads_to_anothers_test(people, shared, store):
    one = people[HB]
    draft = started(drafts_of(shared, OTHER), record_of("th-9", "TH", SECRET))
    follows = started(drafts_of(shared, HB), record_of("hb-9", "HB", "Heather", purpose="recheck", rechecks="th-2"))
    for path in (f"map?draft={draft}", f"readings?draft={draft}&test=th-1"):
        look(one, shared, path, NOT_KEPT)
    look(one, shared, "members?test=th-1&member=TH&viewer=TH", TOO_FEW)
    look(one, shared, f"map?draft={follows}", "Keep it")  # names another's test as its forerunner
    one.page.get_by_text("The test that this one follows up (th-2) is not among the saved ones").wait_for()
    assert SECRET.encode() not in one.all()


# -- what a browser could send that the page never offers


def test_a_file_that_is_handed_over_has_no_address(people, shared, store):
    """Streamlit serves its own addresses to whoever knows them, without any log-in."""
    one = people[OTHER]
    draft = started(drafts_of(shared, OTHER), record_of("th-8", "TH", SECRET))
    for path, names in (("members", ("This comparison (.csv)", "All records (.zip)")),
                        (f"map?draft={draft}", ("Record (.toml)", "Figures (.csv)", "Figures and cans (.xlsx)")),
                        (f"handover?draft={draft}", ("Handover (.pdf)", "Field sheet (.pdf)"))):
        look(one, shared, path, "Log out")
        for name in names:
            with one.page.expect_download() as got:
                one.page.get_by_role("button", name=name).click()
            assert got.value.url.startswith("blob:") and got.value.path().stat().st_size > 100, name
            idle(one.page)
    for message in map(ForwardMsg.FromString, one.frames):
        assert not message.delta.new_element.HasField("download_button")
    assert b"/media/" not in one.all().replace(b"./static/media/", b"")  # Streamlit's own fonts


def all_versions(store):
    return {item.test: len(store.versions(OWNER, item.test)) for item in store.tests(OWNER)}


def test_widgets_that_were_never_shown_do_nothing(people, shared, store):
    own, other = people[HB], people[OTHER]
    look(other, shared, "", "th-2")
    other.page.get_by_role("button", name="Versions").first.click()
    other.page.get_by_role("button", name="Take it off the list").wait_for()
    idle(other.page)
    theirs = identities(other, "th-")
    assert {"saved_th-1", "versions_th-1", "saved_th-2"} <= set(theirs)
    assert any(key.startswith("withdraw_th-") for key in theirs)
    look(own, shared, "", "hb-2")
    mine, versions, drafts = identities(own, "hb-"), all_versions(store), drafts_of(shared, HB)
    count = len(drafts.listing())
    forge(own, **dict.fromkeys(theirs.values(), True))
    for name in theirs.values():
        forge(own, **{name: True})
    assert all_versions(store) == versions and len(drafts.listing()) == count and "draft=" not in own.page.url
    assert SECRET.encode() not in own.all()
    forge(own, **{mine["saved_hb-1"]: True})  # the same forgery of one's own button opens one's own test
    own.page.wait_for_url("**/map?draft=*")
    idle(own.page)
    assert len(drafts.listing()) == count + 1


def test_a_choice_that_is_not_on_the_list_opens_nothing_of_anothers(people, shared, store):
    own = people[HB]
    look(own, shared, "members", TOO_FEW)
    found = identities(own, "members_open")
    forge(own, **{found["members_open"]: "TH · Tansy, 2027-05-01", found["members_open_it"]: True})
    assert SECRET.encode() not in own.all()
    texts = [str(drafts_of(shared, HB).values(item.draft)) for item in drafts_of(shared, HB).listing()]
    assert texts and SECRET not in "".join(texts)


# -- the coordinator


def test_the_coordinator_sees_all_and_shares_without_names(people, shared, store):
    one = people[OFFICE]
    look(one, shared, "members", "A table for sharing, without names")
    rows = one.page.locator(".st-key-members-rows-du_low_quarter")
    for name in ("HB · Hazel", "HB · Hornbeam", "TH · Tansy", "TH · Tall"):
        rows.get_by_text(name).first.wait_for()
    idle(one.page)
    one.page.get_by_role("button", name="A table for sharing, without names").click()
    one.page.get_by_text("received tests of 2 members with whole floors in one year, expected 5 or more, wait for "
                         "more: in a smaller group a member could be recognised").wait_for()
    assert one.page.get_by_role("button", name="Without names (.csv)").count() == 0
    known = store.tests(OWNER)[0].summary
    for number in range(4):  # more members, with the figures of a test that was estimated
        text = record_of(f"m-{number}", f"Member {number}", "T", 10 + number)
        keep(store, text)
        store.put_summary(digest_of(text), replace(known, id=f"m-{number}", member=f"Member {number}", tunnel="T"))
    look(one, shared, "members", "Member 3")
    idle(one.page)
    one.page.get_by_role("button", name="A table for sharing, without names").click()
    one.page.get_by_text("8 tests without names.").wait_for()
    shared_table = downloaded(one.page, "Without names (.csv)")
    assert len(table(shared_table)) == 9
    for name in (SECRET, "HB", "TH", "Member", "Hazel", "hb-1", "05-01"):
        assert name.encode() not in shared_table
    member = people[HB]  # five others have figures by now: bands, and still nobody's name
    look(member, shared, "members", "How the other members' tunnels stand")
    member.page.get_by_text(re.compile(r"DUlq \d+ to \d+ %: \d tunnel")).first.wait_for()
    told = member.all()
    assert SECRET.encode() not in told and b"Member 1" not in told and b"m-1" not in told


# -- two people on one test


def entitle(heard, shared, email, draft, title):
    """Change a test and save it."""
    drafts_of(shared, email).put(draft, [Change("test.title", title, 999)], "seed")
    page = heard.page
    page.reload()
    page.get_by_text(title).first.wait_for()
    page.get_by_role("button", name="Save the record").wait_for()
    idle(page)
    save_on_map(page)


def opened(heard, shared, name):
    """The draft that a person gets of a kept test."""
    look(heard, shared, "", name)
    heard.page.locator(f".st-key-saved_{name} button:visible").click()
    heard.page.wait_for_url("**/map?draft=*")
    return heard.page.url.split("draft=")[1]


def test_two_who_saved_one_test_both_find_their_text(people, shared, store):
    mine = people[HB].page
    draft, other = opened(people[HB], shared, "hb-2"), opened(people[OFFICE], shared, "hb-2")
    entitle(people[OFFICE], shared, OFFICE, other, "As the office has it")
    entitle(people[HB], shared, HB, draft, "As Hornbeam has it")
    mine.get_by_text(f"Name of {OFFICE} saved version 2 after the one that yours began from (1). That one "
                     "stands; yours is kept beside it as version 3, and nothing is lost.").wait_for()
    texts = [store.text(OWNER, "hb-2", version) for version in (1, 2, 3)]
    assert "As the office has it" in texts[1] and "As Hornbeam has it" in texts[2]
    assert store.text(OWNER, "hb-2") == texts[1]
    mine.get_by_role("button", name="Let mine stand").click()
    mine.get_by_text("Saved as hb-2, version 4.").wait_for()
    assert store.text(OWNER, "hb-2") == texts[2]
    assert [item.kind for item in store.versions(OWNER, "hb-2")] == ["saved", "saved", "beside", "saved"]
