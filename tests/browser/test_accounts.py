"""Several people on one dashboard, in a real browser: who sees what, and who gets in at all."""

import base64
import json
import tomllib
from pathlib import Path

import pytest
from accounts_help import HB, OTHER, quiet_page, shared_dashboard, subject
from conftest import idle
from entry_help import LAPTOP, PHONE, box, eventually
from evenfall.dashboard.accounts import key_of
from evenfall.entry.cans import reading_texts
from evenfall.entry.drafts.drafts import Change, Drafts
from test_main_path import NINE

pytestmark = pytest.mark.browser
NOT_KEPT = "The test in this address is not kept where Evenfall runs"
ASKED = "Several people keep their tests here: log in to see yours."
LAST = {NOT_KEPT: ("link", "Go to your tests"), ASKED: ("button", "Log in")}  # what such a page ends with


@pytest.fixture(scope="module")
def shared(serve, tmp_path_factory):
    with shared_dashboard(serve, tmp_path_factory.mktemp("accounts")) as dashboard:
        yield dashboard


@pytest.fixture
def visit(browser, shared):
    """A factory of pages, each in a profile of its own; an error, or anything asked of another machine, fails."""
    contexts, faults, foreign = [], [], []

    def go(kind=LAPTOP):
        page, asked = quiet_page(browser, shared, **kind)
        contexts.append(page.context)
        foreign.append(asked)
        page.on("pageerror", lambda fault: faults.append(str(fault)) if page.url.startswith(shared.url) else None)
        return page

    yield go
    for context in contexts:
        context.close()
    assert faults == [] and not any(foreign)


def drafts_of(shared, email):
    return Drafts(shared.server.data / "people" / key_of(shared.provider, subject(email)))


def started(drafts, title):
    text = NINE.replace("Nine cans", title).replace("[run]", "grid = [[10, 20, 30], [20, 30, 40], [30, 40, 50]]\n[run]")
    draft = drafts.start(text, title)
    texts = reading_texts({"base": text})
    drafts.put(draft, [Change(can, reading, number) for number, (can, reading) in enumerate(texts.items(), 1)], "seed")
    return draft


@pytest.fixture(scope="module")
def tests_of_two(shared):
    """One test of each of two people, with readings."""
    return {email: started(drafts_of(shared, email), title)
            for email, title in ((HB, "Hazel bench"), (OTHER, "Tall house"))}


@pytest.fixture(scope="module")
def two(browser, shared, tests_of_two):
    """A page of each of the two people, logged in once for all tests that leave them so."""
    pages = {email: quiet_page(browser, shared, **LAPTOP) for email in tests_of_two}
    for email, (page, _) in pages.items():
        shared.log_in(page, email)
    yield {email: page for email, (page, _) in pages.items()}
    for page, asked in pages.values():
        page.context.close()
        assert asked == []


def open_at(page, shared, path, wanted):
    """Open a page and wait for what it has to say; everything that it shows, also what its fields hold."""
    page.goto(f"{shared.url}/{path}")
    page.get_by_text(wanted).first.wait_for()
    if wanted in LAST:
        page.get_by_role(LAST[wanted][0], name=LAST[wanted][1]).wait_for()
    idle(page)
    return page.content() + json.dumps(page.evaluate("[...document.querySelectorAll('input')].map((e) => e.value)"))


def test_without_a_login_nothing_of_a_test_is_shown(visit, shared, tests_of_two):
    page = visit()
    for path in ("", "map"):
        shown = open_at(page, shared, f"{path}?draft={tests_of_two[HB]}", ASKED)
        assert "Hazel bench" not in shown and "Your tests" not in page.locator("body").inner_text()
        assert page.locator("input, table, canvas, [data-testid=stPageLink]").count() == 0


def test_two_people_see_only_their_own_tests(shared, two):
    for email, own, other, member in ((HB, "Hazel bench", "Tall house", "HB"),
                                      (OTHER, "Tall house", "Hazel bench", "TH")):
        assert other not in open_at(two[email], shared, "", own)
        assert two[email].get_by_text(f"Name of {email}, {member}", exact=True).count() == 1


def test_a_test_of_somebody_else_is_refused(shared, tests_of_two, two):
    """Also after its owner has looked: what was computed then is kept in the server."""
    address = f"map?draft={tests_of_two[HB]}"
    open_at(two[HB], shared, address, "Hazel bench")
    assert "Hazel bench" not in open_at(two[OTHER], shared, address, NOT_KEPT)


def test_a_forged_address_changes_nothing(visit, shared, tests_of_two, two):
    forged = f"email={HB}&sub={subject(HB)}&key={key_of(shared.provider, subject(HB))}&member=HB&is_logged_in=true"
    address = f"set_up?draft={tests_of_two[HB]}&{forged}"
    assert "Hazel bench" not in open_at(visit(), shared, address, ASKED)
    assert "Hazel bench" not in open_at(two[OTHER], shared, address, NOT_KEPT)


def test_what_is_entered_lands_in_the_own_folder(shared, two):
    page = two[OTHER]
    open_at(page, shared, "", "Start a new test")
    page.get_by_role("button", name="Start a new test").click()
    page.wait_for_url("**/set_up?draft=*")
    idle(page)
    draft = page.url.split("draft=")[1]
    page.get_by_label("Title of this test", exact=True).fill("Third house")
    page.keyboard.press("Tab")  # a callback stores it, before the page runs
    eventually(lambda: "Third house" in json.dumps(drafts_of(shared, OTHER).values(draft)), True)
    assert not drafts_of(shared, HB).exists(draft)
    assert not (shared.server.data / "drafts.sqlite").exists()


def cookie(shared, secret):
    """What the server sets for somebody who has logged in, signed with a secret; unsigned without one."""
    from streamlit.web.server.starlette.starlette_app_utils import create_signed_value

    claims = {"iss": shared.provider, "sub": subject(HB), "email": HB, "email_verified": True, "is_logged_in": True,
              "origin": shared.url, "provider": "default"}
    text = json.dumps(claims)
    value = create_signed_value(secret, "_streamlit_user", text) if secret else base64.b64encode(text.encode())
    return {"name": "_streamlit_user", "value": value.decode(), "url": shared.url}


def test_a_forged_cookie_lets_nobody_in(visit, shared, tests_of_two):
    """With the server's own secret it would: the forged ones fail by their signature alone."""
    known = tomllib.loads(Path(shared.server.env["STREAMLIT_SECRETS_FILES"]).read_text("utf-8"))["auth"]
    page, address = visit(), f"set_up?draft={tests_of_two[HB]}"
    for secret in (None, "0" * 64):
        page.context.add_cookies([cookie(shared, secret)])
        assert "Hazel bench" not in open_at(page, shared, address, ASKED)
    page.context.add_cookies([cookie(shared, known["cookie_secret"])])
    assert "Hazel bench" in open_at(page, shared, address, "Hazel bench")


def test_logged_out_the_test_is_gone_and_who_is_not_listed_does_not_get_in(visit, shared, tests_of_two):
    page, address = visit(PHONE), f"map?draft={tests_of_two[HB]}"
    shared.log_in(page, HB)
    page.get_by_text("Hazel bench").first.wait_for()
    log_out = page.get_by_role("button", name="Log out")
    eventually(lambda: box(log_out)["height"] >= 44, True)  # the page's style comes a moment later
    shared.log_out(page)
    assert "Hazel bench" not in open_at(page, shared, address, ASKED)
    shared.log_in(page, "three@example.org")
    shown = open_at(page, shared, address, "You are logged in as three@example.org, which is not on the list of people "
                                           "here: ask your cooperative's coordinator to add it.")
    assert "Hazel bench" not in shown and page.locator("[data-testid=stPageLink]").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    shared.log_out(page)


def test_the_log_in_fits_a_thumb(visit, shared):
    page = visit(PHONE)
    open_at(page, shared, "", ASKED)
    log_in = page.get_by_role("button", name="Log in")
    eventually(lambda: box(log_in)["height"] >= 44, True)
    lies = box(log_in)
    assert lies["x"] >= 0 and lies["x"] + lies["width"] <= 390
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
