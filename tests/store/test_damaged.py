"""Figures that are damaged are made anew and stop nothing; what else is damaged is named, without texts of tests."""

import sqlite3

import pytest
from evenfall.store import OWNER, Store, StoreError
from evenfall.store.complete import complete
from evenfall.store.summaries import METHOD
from evenfall.store.tables import NOTES, SUMMARIES
from evenfall.store.usual import keep_figures, kept_figures
from sqlalchemy import delete, text, update

from .texts import entry, record_text_of

SECRET = "nobody's business"


def filled(store, count=3):
    for number in range(count):
        store.save(OWNER, *entry(f"t-{number}", first=10 + number, notes=f'"{SECRET}"'))
    complete(store, OWNER, whole_floor=False)
    return [item.summary for item in store.tests(OWNER)]


def is_whole(store, before):
    """The store works, says what it did once, and makes the figures anew."""
    found = store.tests(OWNER)
    assert len(found) == len(before) and store.text(OWNER, "t-1").count(SECRET) == 1
    store.save(OWNER, *entry("new"))
    store.withdraw(OWNER, "new")
    (said,) = store.news()
    assert "made anew" in said and SECRET not in said and store.news() == []
    complete(store, OWNER, whole_floor=False)
    assert [item.summary for item in store.tests(OWNER)] == before and store.news() == []


@pytest.mark.parametrize("plain", ["", "{", "[]", "7", '"x"', "null", "{}", "[" * 5000, '{"floor": 3}'])
def test_damaged_figures_of_a_test_are_made_anew(store, plain):
    before = filled(store)
    with store.door.transaction() as connection:
        connection.execute(update(SUMMARIES).values(plain=plain, complete=1))
    assert [item.summary for item in store.tests(OWNER)] == [None] * 3
    is_whole(store, before)


@pytest.mark.parametrize(("was", "becomes"), [('"cu":', '"cu":"x","was":'), ('"cans":12', '"cans":"12"'),
                                              ('"title":"A test for the tests"', '"title":null')])
def test_figures_with_other_values_are_damaged_too(store, was, becomes):
    before = filled(store)
    with store.door.transaction() as connection:
        changed = connection.execute(text("UPDATE summaries SET plain = replace(plain, :was, :becomes)"),
                                     {"was": was, "becomes": becomes})
        assert changed.rowcount == 3
    is_whole(store, before)


@pytest.mark.parametrize("damage", ["DROP TABLE summaries", "ALTER TABLE summaries RENAME COLUMN plain TO other"])
def test_a_table_of_figures_that_is_missing_or_another_is_made_anew(store, damage):
    before = filled(store)
    with store.door.transaction() as connection:
        connection.execute(text(damage))
    is_whole(store, before)
    store.door.close()
    assert len(Store(store.door.address.render_as_string(hide_password=False)).tests(OWNER)) == 3


def root_page(path, table):
    with sqlite3.connect(path) as raw:
        size = raw.execute("PRAGMA page_size").fetchone()[0]
        return size, raw.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()[0]


def spoil(path, table, with_byte=b"\x55"):
    size, page = root_page(path, table)
    data = bytearray(path.read_bytes())
    data[size * (page - 1):size * page] = with_byte * size
    path.write_bytes(data)


@pytest.mark.parametrize("part", ["summaries", "sqlite_autoindex_summaries_1"])
@pytest.mark.parametrize("with_byte", [b"\x55", b"\0", b"\xff"])
def test_a_damaged_page_of_the_figures_stops_nothing(tmp_path, part, with_byte):
    path = tmp_path / "s.sqlite"
    store = Store(path)
    before = filled(store)
    spoil(path, part, with_byte)
    is_whole(Store(path), before)
    assert len(Store(path).tests(OWNER)) == 3


def test_figures_that_are_no_text_stop_nothing(tmp_path):
    store = Store(tmp_path / "s.sqlite")
    before = filled(store)
    with sqlite3.connect(tmp_path / "s.sqlite") as raw:
        raw.execute("UPDATE summaries SET plain = CAST(x'fffe80' AS TEXT)")
    is_whole(store, before)


def test_a_store_whose_records_are_damaged_is_left_as_it_is(tmp_path):
    path = tmp_path / "s.sqlite"
    filled(Store(path))
    for part in ("summaries", "revisions"):
        spoil(path, part)
    data = path.read_bytes()
    with pytest.raises(StoreError, match="received a file that is damaged"):
        Store(path).tests(OWNER)
    assert path.read_bytes() == data


def test_a_text_that_is_none_is_named_without_it(tmp_path):
    path = tmp_path / "s.sqlite"
    filled(Store(path))
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE revisions SET text = CAST(CAST(text AS BLOB) || x'ff80' AS TEXT)")
    store = Store(path)
    for ask in (lambda: store.text(OWNER, "t-1"), lambda: list(store.texts(OWNER)),
                lambda: store.history(OWNER, "t-1")):
        with pytest.raises(StoreError, match="received a file that is damaged") as refused:
            ask()
        assert SECRET not in everything_of(refused.value) and "grid" not in everything_of(refused.value)


def everything_of(error):
    """What a traceback would show."""
    import traceback

    return "".join(traceback.format_exception(error))


def test_an_error_about_the_store_has_no_text_of_a_test(store):
    filled(store)
    with store.door.transaction() as connection:
        connection.execute(text("ALTER TABLE revisions RENAME COLUMN saved_by TO other"))
    with pytest.raises(StoreError) as refused:
        store.save(OWNER, *entry("t-9", notes=f'"{SECRET}"'))
    assert SECRET not in everything_of(refused.value)


@pytest.mark.parametrize("value", ["", "one", "-1", "1.5", "0", "\u00b2", "x" * 150])
def test_a_damaged_note_of_the_layout_is_named(store, address, value):
    filled(store)
    with store.door.transaction() as connection:
        connection.execute(update(NOTES).where(NOTES.c.key == "layout").values(value=value))
    with pytest.raises(StoreError, match="the note is damaged") as refused:
        Store(address)
    assert repr(value[:20]) in str(refused.value) and "expected a whole number from 1" in str(refused.value)
    assert store.text(OWNER, "t-1") == record_text_of("t-1", first=11, notes=f'"{SECRET}"')


@pytest.mark.parametrize("damage", [delete(NOTES), text("DROP TABLE notes")])
def test_a_missing_note_of_the_layout_is_named(store, address, damage):
    filled(store)
    with store.door.transaction() as connection:
        connection.execute(damage)
    with pytest.raises(StoreError, match="received a store without the note of its layout"):
        Store(address)


def test_a_damaged_file_of_figures_is_made_anew_and_said(tmp_path):
    store = Store(tmp_path / "s.sqlite")
    filled(store)
    complete(store, OWNER)
    keep_figures(store, OWNER)
    file = tmp_path / "data" / "figures.sqlite"
    file.write_bytes(b"no figures at all" * 300)
    other = Store(tmp_path / "other.sqlite")
    other.save(OWNER, *entry("t-1", first=11))
    assert "figures.sqlite: the file of figures was damaged and is made anew" in kept_figures(other, OWNER)
    keep_figures(store, OWNER)
    assert kept_figures(other, OWNER) == ""
    with sqlite3.connect(file) as raw:
        assert raw.execute("SELECT count(*) FROM summaries WHERE method = ?", (METHOD,)).fetchone() == (3,)
