"""Whoever may not see a test is not told that it exists."""

import pytest
from evenfall.store import OWNER, StoreError, Viewer
from evenfall.store.folders import take_in
from evenfall.store.many import states
from evenfall.store.rows import digest_of

from .texts import entry, record_text_of

ANN = Viewer("ann", "HB")
SAYS = ("received the id 't-9', expected one that is yours to use, write another under [test], best one that begins "
        "with your member's name")


def test_an_id_of_anothers_test_is_refused_without_saying_that_there_is_one(store, tmp_path):
    store.save(OWNER, *entry("t-9", member="MG", notes='"secret"'))
    for seen in (None, 0, 1):
        with pytest.raises(StoreError) as refused:
            store.save(ANN, *entry("t-9"), seen=seen)
        assert str(refused.value) == SAYS
        assert not any(told in SAYS for told in ("another test", "exists", " has ", "kept", "taken", "already"))
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.toml").write_text(record_text_of("t-9"), "utf-8")
    assert take_in(store, ANN, tmp_path / "in").faults == [f"a.toml: {SAYS}"]


def test_the_exact_text_of_anothers_test_is_refused_like_any_other(store, tmp_path):
    """Whether it is 'there already' would tell whoever guesses a text that it is."""
    text = record_text_of("t-9", member="MG")
    store.save(OWNER, *entry("t-9", member="MG"))
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.toml").write_text(text, "utf-8")
    (tmp_path / "in" / "b.toml").write_text(record_text_of("t-8", member="MG"), "utf-8")
    moved = take_in(store, ANN, tmp_path / "in")
    assert moved.there == 0 and [line[7:] for line in moved.faults] == [moved.faults[0][7:]] * 2
    assert states(store, ANN, [digest_of(text)]) == {} and states(store, OWNER, [digest_of(text)]) != {}


def test_a_text_that_was_only_kept_beside_is_told_to_its_member(store):
    office = Viewer("office", None, sees_all=True)
    store.save(office, *entry("t-9", member="MG"))
    store.save(office, *entry("t-9", member="MG", first=11))
    assert not store.save(office, *entry("t-9", member="HB"), seen=1).stands
    assert states(store, ANN, [digest_of(record_text_of("t-9", member="HB"))]) != {}
