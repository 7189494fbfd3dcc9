"""The store of whoever runs the program, and what an older version kept as files."""

import pytest
from evenfall.entry.drafts.file import shared_folder
from evenfall.record.file import parse_record
from evenfall.result.assessment import assess
from evenfall.store import OWNER, StoreError, with_id
from evenfall.store.complete import complete
from evenfall.store.folders import take_in
from evenfall.store.usual import keep_figures, kept_figures, open_usual, usual_address
from evenfall.store.writer import Store

from ..record.test_file import same
from ..record_texts import FULL, text_of


def titled(title, name="hb-1"):
    text = text_of(test=f'[test]\nid = "{name}"\ntitle = "{title}"\n')
    return parse_record(text), text


def test_the_store_is_in_the_data_folder(tmp_path, monkeypatch):
    monkeypatch.delenv("EVENFALL_STORE", raising=False)
    open_usual()
    assert (tmp_path / "data" / "store.sqlite").is_file() and usual_address() == str(shared_folder() / "store.sqlite")


def test_an_address_in_the_environment_comes_first(tmp_path, monkeypatch):
    monkeypatch.setenv("EVENFALL_STORE", f"sqlite:///{tmp_path}/other.sqlite")
    open_usual().save(OWNER, *titled("first"))
    assert (tmp_path / "other.sqlite").is_file() and open_usual().count(OWNER) == 1
    monkeypatch.setenv("EVENFALL_STORE", "ftp://nowhere/x")
    with pytest.raises(StoreError, match="received an address of kind 'ftp'"):
        open_usual()


def test_an_id_is_given_once():
    record = with_id(parse_record(text_of()))
    assert with_id(record) is record and record.test.title == "t"
    assert len({with_id(parse_record(text_of())).test.id for _ in range(50)}) == 50
    assert same(parse_record(FULL), with_id(parse_record(FULL)))


def test_a_draft_gives_the_same_id_every_time():
    drafts = ["0123456789abcdef", "fedcba9876543210"]
    first, again, other = (with_id(parse_record(text_of()), draft).test.id for draft in (drafts[0], *drafts))
    assert first == again == "t-01234567" and other != first
    assert with_id(parse_record(FULL), drafts[0]).test.id == parse_record(FULL).test.id


def older_files(*titles):
    folder = shared_folder() / "records"
    folder.mkdir(parents=True)
    for number, title in enumerate(titles, 1):
        name = "hb-1" if number == len(titles) else f"hb-1~{number}"
        (folder / f"{name}.toml").write_text(titled(title)[1], "utf-8")
    return folder


def test_what_an_older_version_kept_as_files_is_taken_in_once_with_its_versions():
    folder = older_files(*(f"title {number}" for number in range(12)))  # ~10 comes after ~9
    (folder / "other.toml").write_text(titled("other", "other")[1], "utf-8")
    (folder / "broken.toml").write_text("no record", "utf-8")
    before = sorted(path.name for path in folder.iterdir())
    for _ in range(2):
        store = open_usual()
        assert [item.version for item in store.versions(OWNER, "hb-1")] == list(range(1, 13))
        assert [store.find(OWNER, "hb-1").test.title, parse_record(store.text(OWNER, "hb-1", 3)).test.title] == [
            "title 11", "title 2"]
        assert store.count(OWNER) == 2
    store.withdraw(OWNER, "other")
    assert open_usual().count(OWNER) == 1, "what was taken off the list does not come back"
    assert sorted(path.name for path in folder.iterdir()) == before


@pytest.mark.parametrize("name", ["", "..", "../hb-1", "..\\hb-1", "/etc/passwd", "hb-1\0", "x" * 200, "ü" * 200,
                                  "hb-1.toml", " hb-1", "hb-1\n"])
def test_odd_names_are_no_tests(name):
    store = open_usual()
    store.save(OWNER, *titled("first"))
    assert store.find(OWNER, name) is None


def test_a_recheck_finds_the_kept_test():
    store = open_usual()

    def closed(name):
        record = parse_record(text_of(test=f'[test]\ntitle = "t"\nrechecks = "{name}"\n'))
        return "rechecks" in {item.part for item in assess(record, earlier=lambda key: store.find(OWNER, key)).not_done}

    assert closed("ü" * 200) and closed("hb-1")
    store.save(OWNER, *titled("first"))
    assert not closed("hb-1")


def test_figures_of_a_folder_are_kept_for_the_next_time(tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "a.toml").write_text(titled("first")[1], "utf-8")
    first = Store(tmp_path / "one.sqlite")
    take_in(first, OWNER, folder)
    assert complete(first, OWNER) == []
    keep_figures(first, OWNER)
    again = Store(tmp_path / "two.sqlite")
    take_in(again, OWNER, folder)
    assert len(again.unfinished(OWNER)) == 1
    kept_figures(again, OWNER)
    assert again.unfinished(OWNER) == [] and again.tests(OWNER)[0].summary == first.tests(OWNER)[0].summary
