"""Who is looking at a shared dashboard: people from log-ins, whose folder is asked, pages without a browser."""

import io
import json
import zipfile

import pytest
import streamlit as st
from evenfall.dashboard import accounts, frame, hall, member_parts
from evenfall.dashboard.accounts import Person, key_of, person_of
from evenfall.entry.drafts import file as draft_file
from evenfall.entry.drafts.drafts import Drafts
from evenfall.entry.drafts.file import data_folder, set_owner_of_folder, shared_folder
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.store import OWNER
from evenfall.store.archive import archive_bytes
from evenfall.store.usual import open_usual
from streamlit import config
from streamlit.runtime.secrets import Secrets
from streamlit.testing.v1 import AppTest

from ..conftest import GRID
from .pages.visit import DOOR, told, words

ISSUER = "https://id.example.org"
KEY = "c6e7f25a3d350fda"
PEOPLE = {"one@example.org": "HB", "two@example.org": "TH", "office@example.org": "coordinator"}
SECRETS = {"auth": {"redirect_uri": "http://localhost:8501/oauth2callback"}, "evenfall": {"people": PEOPLE}}
NOT_KEPT = "The test in this address is not kept where Evenfall runs. Nothing was changed."


def claims(email="one@example.org", **more):
    told = {"is_logged_in": True, "iss": ISSUER, "sub": f"subject of {email}", "email": email, "email_verified": True}
    return {key: value for key, value in {**told, **more}.items() if value is not None}


# -- people ---------------------------------------------------------------


def test_a_listed_log_in_is_a_person_of_a_member_or_the_coordinator():
    key = key_of(ISSUER, "subject of one@example.org")
    assert person_of(claims(name="Olga"), PEOPLE) == Person(key, "Olga", "HB", False)
    office = person_of(claims("office@example.org"), PEOPLE)
    assert (office.name, office.member, office.coordinator) == ("office@example.org", None, True)


def test_the_key_is_of_issuer_and_subject_and_of_nothing_else():
    # printf 'https://id.example.org\n248289761001' | sha256sum
    assert key_of(ISSUER, "248289761001") == KEY
    one, renamed = (person_of(claims(email, sub="1", name=name), PEOPLE) for email, name in
                    (("one@example.org", "A"), ("two@example.org", "B")))
    assert one.key == renamed.key
    assert len({key_of(ISSUER, "1"), key_of(ISSUER, "2"), key_of("https://other.example.org", "1")}) == 3


@pytest.mark.parametrize("email", ["ONE@Example.org", "one@example.org", " one@example.org "])
def test_an_email_is_found_however_its_letters_are_written(email):
    assert person_of(claims(email), PEOPLE).member == "HB"
    assert person_of(claims(), {"ONE@EXAMPLE.ORG": "HB"}).member == "HB"


@pytest.mark.parametrize(("mine", "listed"), [("stra\u00dfe@example.org", "strasse@example.org"),
                                              ("\u212aim@example.org", "kim@example.org")])
def test_a_letter_that_folds_to_a_plain_one_does_not_pass_for_it(mine, listed):
    assert mine.casefold() == listed
    assert person_of(claims(mine), {listed: "HB"}) is None
    assert person_of(claims(listed), {listed: "HB"}).member == "HB"


@pytest.mark.parametrize("wrong", [
    {"is_logged_in": None}, {"is_logged_in": False}, {"is_logged_in": "true"}, {"email": "three@example.org"},
    {"email": None}, {"email": ""}, {"email": ["one@example.org"]}, {"iss": None}, {"sub": None}, {"sub": ""},
    {"email_verified": False}, {"email_verified": None}, {"email_verified": "true"}, {"email_verified": 1}], ids=str)
def test_any_other_log_in_is_nobody(wrong):
    assert person_of(claims(), PEOPLE) is not None
    assert person_of(claims(**wrong), PEOPLE) is None


@pytest.mark.parametrize("people", [None, [], "one@example.org", {}, {"one@example.org": 1}, {"one@example.org": " "},
                                    {"one@example.org": "HB", "ONE@example.org": "coordinator"}], ids=str)
def test_a_list_that_does_not_name_one_place_names_nobody(people):
    assert person_of(claims(), people) is None


def test_trust_covers_only_what_the_provider_says_nothing_about():
    assert person_of(claims(email_verified=None), PEOPLE, trust_unverified=True).member == "HB"
    assert person_of(claims(email_verified=False), PEOPLE, trust_unverified=True) is None


# -- whose folder ---------------------------------------------------------


@pytest.fixture
def hooked():
    """A way to say whose folder it is, undone afterwards."""
    before = draft_file.whose
    yield set_owner_of_folder
    set_owner_of_folder(before)


def test_the_dashboard_names_the_hook_and_a_terminal_is_not_asked(monkeypatch):
    assert draft_file.whose is accounts.own_folder
    monkeypatch.setattr(st, "secrets", loaded(SECRETS))
    assert not accounts.accounts_on() and accounts.person() is None and accounts.own_folder() is None
    assert data_folder() == shared_folder()


def test_drafts_live_in_the_folder_that_the_hook_names(hooked, tmp_path):
    hooked(lambda: tmp_path / "own")
    draft = Drafts().start(GRID, "mine")
    assert Drafts().file.parent == data_folder() == tmp_path / "own"
    hooked(lambda: tmp_path / "another")
    assert not Drafts().exists(draft)
    for ask in (lambda: None, None):
        hooked(ask)
        assert data_folder() == shared_folder() == tmp_path / "data" and not Drafts().exists(draft)


def test_where_the_hook_refuses_no_folder_is_named_or_made(hooked, tmp_path):
    def refuse():
        raise PermissionError("received no login, expected one, log in")

    hooked(refuse)
    with pytest.raises(PermissionError, match="received no login"):
        Drafts()
    assert shared_folder() == tmp_path / "data" and not shared_folder().exists()


def test_what_was_computed_for_one_folder_is_not_given_to_another(hooked, tmp_path):
    """A copied file of drafts has the same ids and, for a while, the same revisions."""
    for name, grid in (("A", GRID), ("B", GRID.replace("[10, 20, 30]", "[90, 90, 90]"))):
        hooked(lambda name=name: tmp_path / name)
        text = grid.replace("A test for the tests", name)
        test = hall.Open("0123456789abcdef", {"base": text}, 7)
        record, faults, _ = hall.read(test)
        assert record.test.title == name and not faults
        made = hall.result(test, parse_record(text), 0.75, "metric", only="cans")
        assert made.record.title == name


# -- secrets --------------------------------------------------------------


def loaded(table):
    found = Secrets()
    found._secrets = table
    return found


@pytest.fixture
def files(monkeypatch):
    """Name the secrets files that Streamlit looks for, and other settings."""
    real = config.get_option

    def name(*paths, **settings):
        asked = {"secrets.files": [str(path) for path in paths]} | {key.replace("__", "."): value
                                                                   for key, value in settings.items()}
        monkeypatch.setattr(config, "get_option", lambda key: asked[key] if key in asked else real(key))
        monkeypatch.setattr(st.secrets, "_secrets", None)  # what is read from here on is forgotten afterwards
        monkeypatch.setattr(st.secrets, "_file_watchers_installed", True)

    return name


def looked(user=None):
    app = AppTest.from_file(str(DOOR), default_timeout=60)
    app.user = user or {}
    return app.run()


def test_without_a_secrets_file_nothing_is_asked_and_nothing_is_said(files, tmp_path):
    files(tmp_path / "none.toml")
    app = looked()
    assert not app.exception and told(app, "error") == told(app, "warning") == []
    assert "How even is the water?" in words(app) and "log_out" not in {button.key for button in app.button}


def test_secrets_without_accounts_are_somebody_elses(files, tmp_path):
    (tmp_path / "secrets.toml").write_text('[evenfall.people]\n"one@example.org" = "HB"\n')
    files(tmp_path / "secrets.toml")
    assert "How even is the water?" in words(looked())


def test_a_secrets_file_turns_accounts_on(files, tmp_path):
    (tmp_path / "secrets.toml").write_text('[auth]\n[evenfall.people]\n"one@example.org" = "HB"\n')
    files(tmp_path / "secrets.toml")
    assert "How even" not in words(looked()) and "How even" in words(looked(claims()))
    assert "not on the list" in words(looked(claims("two@example.org")))


@pytest.mark.parametrize("make", [lambda path: path.write_text("[auth\n"), lambda path: path.write_bytes(b"\xff\xfe["),
                                  lambda path: path.mkdir(), lambda path: path.symlink_to("gone")],
                         ids=["no TOML", "no text", "a folder", "a link to nothing"])
def test_a_secrets_file_that_cannot_be_read_shuts_the_door(files, tmp_path, make):
    make(tmp_path / "secrets.toml")
    files(tmp_path / "secrets.toml")
    app = looked(claims())
    assert words(app) == ("received a secrets file that cannot be read, expected TOML, put it right or take it away "
                          "and load the page again")
    assert not app.exception and not app.button


def test_headers_are_not_taken_for_a_log_in(files, tmp_path):
    (tmp_path / "secrets.toml").write_text('[auth]\n[evenfall.people]\n"one@example.org" = "HB"\n')
    files(tmp_path / "secrets.toml", server__trustedUserHeaders={"X-Email": "email"})
    app = looked(claims())
    assert words(app).startswith("received the setting server.trustedUserHeaders") and not app.button


# -- pages ----------------------------------------------------------------


def folder_of(email):
    return shared_folder() / "people" / key_of(ISSUER, f"subject of {email}")


@pytest.fixture
def draft():
    """A test of the first person."""
    return Drafts(folder_of("one@example.org")).start(sample_text("bare"), "Hazel bench")


def page(room, draft, user):
    app = AppTest.from_file(str(DOOR), default_timeout=60)
    app.secrets, app.user = SECRETS, user
    app.switch_page(f"rooms/{room}.py")
    app.query_params["draft"] = app.session_state["draft"] = draft
    return app.run()


ROOMS = [path.rsplit("/", 1)[-1].removesuffix(".py") for path in frame.PAGES]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("user", [{}, claims(is_logged_in=False)], ids=["nobody", "logged out"])
def test_without_a_login_every_page_only_asks_for_it(draft, room, user):
    app = page(room, draft, user)
    assert not app.exception
    assert words(app) == "Several people keep their tests here: log in to see yours.\nEvenfall"
    assert [button.key for button in app.button] == ["log_in"]
    assert not (shared_folder() / draft_file.FILE_NAME).exists()


@pytest.mark.parametrize("room", [room for room in ROOMS if room not in ("tests", "members", "safety", "guide")])
def test_every_page_of_one_test_refuses_a_test_of_somebody_else(draft, room):
    app = page(room, draft, claims("two@example.org"))
    assert not app.exception and told(app, "error") == [NOT_KEPT]
    assert words(app).splitlines()[-2:] == [NOT_KEPT, "No test is open yet."]
    assert "Hazel" not in words(app)


@pytest.mark.parametrize("room", ["tests", "members", "safety", "guide"])
def test_pages_of_no_single_test_show_nothing_of_it(draft, room):
    app = page(room, draft, claims("two@example.org"))
    assert not app.exception and "Hazel" not in words(app)


def test_the_own_test_opens(draft):
    app = page("set_up", draft, claims(name="Olga"))
    assert not app.exception and told(app, "error") == []
    assert "Olga, HB" in words(app) and {"log_out"} <= {button.key for button in app.button}
    assert "Hazel bench" in words(page("tests", draft, claims()))
    assert "Hazel bench" not in words(page("tests", draft, claims("two@example.org")))


@pytest.mark.parametrize("user", [{}, claims("two@example.org"), claims("three@example.org")],
                         ids=["nobody", "another", "not listed"])
def test_a_callback_of_a_page_stores_nothing_for_who_is_not_its_owner(draft, user):
    """Callbacks run before the page asks who is looking."""
    app = page("set_up", draft, claims())
    app.user = user
    title = next(item for item in app.text_input if item.label == "Title of this test")
    before = Drafts(folder_of("one@example.org")).revision(draft)
    title.set_value("changed").run()
    assert Drafts(folder_of("one@example.org")).revision(draft) == before
    assert not (shared_folder() / draft_file.FILE_NAME).exists()
    app.user = claims()
    title.set_value("changed again").run()
    assert "changed again" in json.dumps(Drafts(folder_of("one@example.org")).values(draft))


def test_the_store_knows_who_looks_by_the_log_in_and_not_by_the_name():
    def who():
        import streamlit as st
        from evenfall.dashboard.keeping import viewer

        st.text(viewer().person)

    seen = []
    for user in (claims(name="Olga"), claims(name="Olga of the hill"), claims(name="Olga", sub="another")):
        app = AppTest.from_function(who)
        app.secrets, app.user = SECRETS, user
        seen.append(app.run().text[0].value)
    assert seen == [key_of(ISSUER, sub) for sub in ("subject of one@example.org",) * 2 + ("another",)]


def test_the_archive_of_a_coordinator_has_everybodys_drafts(draft, monkeypatch):
    own = Drafts(folder_of("office@example.org")).start(GRID, "mine")
    store, archives = open_usual(), []
    store.save(OWNER, parse_record(sample_text("bare")), sample_text("bare"))

    def archived(*asked):
        archives.append(archive_bytes(*asked))
        return archives[-1]

    monkeypatch.setattr(member_parts, "archive_bytes", archived)
    app = page("members", own, claims("office@example.org"))
    app.button(key="members_archive").click().run()
    assert not app.exception
    with zipfile.ZipFile(io.BytesIO(archives[0])) as archive:
        assert {name.split("/")[1] for name in archive.namelist() if name.startswith("drafts/")} == {
            f"{folder_of(email).name}.jsonl" for email in ("one@example.org", "office@example.org")}
    assert "members_archive" not in {button.key for button in page("members", draft, claims()).button}


def test_who_comes_next_in_a_session_does_not_get_its_test(draft):
    app = page("set_up", draft, claims())
    app.user = claims("two@example.org")
    app.run()
    assert NOT_KEPT in words(app) and "draft" not in app.session_state
    assert not any("Hazel" in str(item.value) for item in app.text_input)


def test_where_packages_for_the_log_in_are_missing_the_page_says_what_to_install(draft, monkeypatch):
    monkeypatch.setattr(accounts, "find_spec", lambda name: None if name == "httpx" else name)
    app = page("map", draft, {})
    app.button[0].click().run()
    assert told(app, "error") == [
        "received no httpx, expected both Authlib and httpx for accounts, install evenfall[accounts]"]
