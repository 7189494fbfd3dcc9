"""Saved records: found again by their id, older versions kept."""

import os

import pytest

from analysis.assess import assess
from analysis.record_file import parse_record, read_record
from analysis.saved import ID, find_test, records_folder, save, with_id

from .record_texts import FULL, text_of
from .test_record_file import same


def titled(title, id_="hb-1"):
    return parse_record(text_of(test=f'[test]\nid = "{id_}"\ntitle = "{title}"\n'))


def test_the_folder_is_made_in_the_data_folder(tmp_path):
    assert records_folder() == tmp_path / "data" / "records"
    assert records_folder().is_dir()


def test_an_id_is_given_once():
    record = with_id(parse_record(text_of()))
    assert ID.fullmatch(record.test.id)
    assert with_id(record) is record
    assert record.test.title == "t"
    ids = {with_id(parse_record(text_of())).test.id for _ in range(50)}
    assert len(ids) == 50
    assert same(parse_record(FULL), with_id(parse_record(FULL)))


def test_a_draft_gives_the_same_id_every_time():
    drafts = ["0123456789abcdef", "fedcba9876543210"]
    first, again, other = (with_id(parse_record(text_of()), draft).test.id for draft in (drafts[0], *drafts))
    assert first == again == "t-01234567" and other != first
    assert with_id(parse_record(FULL), drafts[0]).test.id == parse_record(FULL).test.id


def test_saved_and_found_again():
    path = save(titled("first"))
    assert path.name == "hb-1.toml" and same(read_record(path), titled("first"))
    assert find_test("hb-1").test.title == "first" and find_test("hb-2") is None


def test_older_versions_are_kept_in_order_and_an_unchanged_one_is_not_doubled():
    for title in ("first", "second", "second", "third"):
        path = save(titled(title))
    folder = records_folder()
    assert read_record(path).test.title == "third"
    assert sorted(os.listdir(folder)) == ["hb-1.toml", "hb-1~1.toml", "hb-1~2.toml"]
    assert [read_record(folder / f"hb-1~{n}.toml").test.title for n in (1, 2)] == ["first", "second"]


def test_an_older_version_is_no_test_of_its_own():
    save(titled("first"))
    save(titled("second"))
    assert find_test("hb-1.1") is None and find_test("hb-1~1") is None
    save(titled("another test", "hb-1.1"))
    assert read_record(records_folder() / "hb-1.1.toml").test.title == "another test"
    assert read_record(records_folder() / "hb-1~1.toml").test.title == "first"


@pytest.mark.parametrize("name", ["", "..", "../hb-1", "..\\hb-1", "/etc/passwd", "hb-1\0", "x" * 200, "ü" * 200,
                                  "hb-1.toml", " hb-1", "hb-1\n"])
def test_odd_names_are_no_tests(name):
    save(titled("first"))
    assert find_test(name) is None


def test_a_recheck_of_an_odd_test_is_only_not_done():
    record = parse_record(text_of(test=f'[test]\ntitle = "t"\nrechecks = "{"ü" * 200}"\n'))
    closed = {item.part for item in assess(record, earlier=find_test).not_done}
    assert "rechecks" in closed
    save(titled("first"))
    record = parse_record(text_of(test='[test]\ntitle = "t"\nrechecks = "hb-1"\n'))
    assert "rechecks" not in {item.part for item in assess(record, earlier=find_test).not_done}
