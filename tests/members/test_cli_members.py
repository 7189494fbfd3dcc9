"""`evenfall members`, as a person calls it."""

import csv
import json
import re

import pytest
from evenfall.cli.command import main
from evenfall.record.samples import folder, sample_text
from evenfall.store import OWNER, Store

from ..store.texts import record_text_of


@pytest.fixture
def records(tmp_path):
    made = tmp_path / "records"
    made.mkdir()
    for name in ("commissioning", "before-repair", "after-repair", "lines-too-far-apart"):
        (made / f"{name}.toml").write_text(sample_text(name), "utf-8")
    return made


def run(capsys, *words):
    code = main(["members", *map(str, words)])
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def test_a_folder_is_compared_and_only_read(records, capsys, tmp_path):
    before = {path: path.read_bytes() for path in records.iterdir()}
    code, out, err = run(capsys, records)
    assert code == 0 and err == "" and max(map(len, out.splitlines())) <= 80
    assert "4 tests of 3 tunnels" in out and "Group 1 of" in out
    assert re.search(r"Teasel Yard · Wide +2025-04-22 14 % \(\d+ to \d+\)", out)
    assert "more than the" in out and "Likeliest cause: the lines are too far apart" in " ".join(out.split())
    assert {path: path.read_bytes() for path in records.iterdir()} == before
    assert not (tmp_path / "data" / "store.sqlite").exists(), "a folder is no import"
    assert (tmp_path / "data" / "figures.sqlite").is_file()


def test_the_second_time_estimates_nothing(records, capsys, monkeypatch):
    first = run(capsys, records)
    monkeypatch.setattr("evenfall.store.complete.make", lambda *_: pytest.fail("estimated again"))
    assert run(capsys, records) == first


def test_json_and_text_agree(records, capsys):
    _, out, _ = run(capsys, records, "--json")
    plain = json.loads(out)
    assert (plain["members"], plain["tests"], plain["waiting"]) == (1, 4, 0)
    _, text, _ = run(capsys, records)
    for row in plain["tunnels"]:
        assert f"{row['whole_floor']['value']:.0f} % ({row['whole_floor']['low']:.0f} to" in text
    assert plain["pairs"][0]["du_low_quarter"]["change"]["low"] > 0


def test_faults_are_named_and_the_good_ones_compared(records, capsys):
    (records / "broken.toml").write_text("record = 1\n[floor]\nwidth = 6\n", "utf-8")
    code, out, err = run(capsys, records, "--cans-only")
    assert code == 2 and "4 tests of 3 tunnels" in out
    assert "broken.toml:3: floor.width: received the bare number 6" in err


def test_a_store_takes_in_gives_out_and_takes_back(records, capsys, tmp_path):
    store = tmp_path / "coop.sqlite"
    code, out, err = run(capsys, store, "--take-in", records, "--cans-only")
    assert code == 0 and "4 new tests, 0 changed, 0 there already, 0 faults." in err and "4 tests of 3 tunnels" in out
    assert "4 tests have no estimate of the whole floor yet." in out
    assert "0 new tests, 0 changed, 4 there already" in run(capsys, store, "--take-in", records, "--cans-only")[2]
    given = tmp_path / "out"
    assert "4 written" in run(capsys, store, "--give-out", given, "--cans-only")[2]
    assert {path.read_text("utf-8") for path in given.iterdir()} == {
        path.read_text("utf-8") for path in records.iterdir()}
    code, out, err = run(capsys, store, "--undo")
    assert (code, out) == (2, "") and Store(store).count(OWNER) == 4, "without a yes nothing is done"
    assert "This takes back the import of " in err and "4 tests off the list (" in err
    assert "Every text stays in the store." in err and "add --yes to do it" in err
    code, out, err = run(capsys, store, "--undo", "--yes")
    assert (code, out) == (0, "") and "Taken back: the import of " in err and Store(store).count(OWNER) == 0
    assert "Nothing was done here that can be taken back." in run(capsys, store, "--undo", "--yes")[2]
    assert "Done again: the import of " in run(capsys, store, "--redo", "--yes")[2]
    assert Store(store).count(OWNER) == 4
    run(capsys, store, "--undo", "--yes")
    assert "4 new tests" in run(capsys, store, "--take-in", records, "--cans-only")[2]


def test_without_a_name_the_usual_store_serves(records, capsys, tmp_path, monkeypatch):
    code, out, err = run(capsys, "--cans-only")
    assert code == 0 and out == "" and "There is no test yet. Take a folder of records (.toml files) in with" in err
    run(capsys, "--take-in", records, "--cans-only")
    assert Store(tmp_path / "data" / "store.sqlite").count(OWNER) == 4
    monkeypatch.setenv("EVENFALL_STORE", f"sqlite:///{tmp_path}/elsewhere.sqlite")
    code, _, err = run(capsys, "--cans-only")
    assert code == 2 and "received a store that does not exist, expected one, check its name, or add --take-in" in err
    assert not (tmp_path / "elsewhere.sqlite").exists()
    assert run(capsys, "--take-in", records, "--cans-only")[0] == 0 and (tmp_path / "elsewhere.sqlite").exists()


def test_a_store_knows_the_figures_that_were_made_for_a_folder(records, capsys, monkeypatch):
    run(capsys, records)
    monkeypatch.setattr("evenfall.store.complete.make", lambda *_: pytest.fail("estimated again"))
    assert "Group 1 of" in run(capsys, "--take-in", records)[1]


def test_a_data_folder_that_cannot_be_written_only_keeps_no_figures(records, capsys, monkeypatch, tmp_path):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("EVENFALL_DATA", str(tmp_path / "file" / "data"))
    code, out, err = run(capsys, records, "--cans-only")
    assert code == 0 and "4 tests of 3 tunnels" in out
    code, out, err = run(capsys, records)
    assert code == 0 and "Group 1 of" in out and "the figures are not kept for the next time" in err


def test_faulty_files_are_in_the_text_and_the_json(records, capsys):
    (records / "broken.toml").write_text("record = 1\n[floor]\nwidth = 6\n", "utf-8")
    _, out, err = run(capsys, records, "--cans-only")
    assert f"{len(err.splitlines())} faults in files that were left out; see the messages." in out
    _, out, _ = run(capsys, records, "--cans-only", "--json")
    assert json.loads(out)["left_out"] == err.splitlines()


def test_stopping_it_is_said_in_one_sentence(records, capsys, monkeypatch):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("evenfall.store.complete.make", stop)
    code, out, err = run(capsys, records)
    assert (code, out) == (130, "")
    assert err == "\nStopped. What was finished before is kept, and the same command goes on.\n"


def test_figures_of_cu_and_us_units(records, capsys):
    _, out, _ = run(capsys, records, "--figure", "cu", "--units", "US")
    assert "CU of the whole floor is" in out and "DUlq" not in out.split("Before and after")[0]


def test_a_table_without_names_is_refused_for_few_members(records, capsys, tmp_path):
    code, out, err = run(capsys, records, "--without-names", tmp_path / "shared.csv")
    assert code == 2 and "4 tests of 3 tunnels" in out and "in a smaller group a member could be recognised" in err
    assert not (tmp_path / "shared.csv").exists()


def test_a_table_without_names(tmp_path, capsys):
    made = tmp_path / "many"
    made.mkdir()
    for number in range(6):
        (made / f"{number}.toml").write_text(record_text_of(
            f"t-{number}", member=f"Secretplum{number}", first=10 + number, date="2027-04-01"), "utf-8")
    code, _, err = run(capsys, made, "--without-names", tmp_path / "shared.csv")
    text = (tmp_path / "shared.csv").read_text("utf-8")
    assert code == 0 and "6 tests without names." in err and "Secretplum" not in text
    assert len(list(csv.reader(text.splitlines()))) == 7
    for name, says in (("shared.csv", "received the name of a file that exists, expected a new name"),
                       ("shared.xlsx", "received a name that does not end in .csv, expected one"),
                       ("none/shared.csv", "received a place in a folder that does not exist")):
        code, out, err = run(capsys, made, "--without-names", tmp_path / name)
        assert code == 2 and out == "" and says in err


@pytest.mark.parametrize(("words", "says"), [
    (["nowhere"], "received 'nowhere', which is no folder, expected a folder of records, a store's file (.sqlite) or"),
    (["mysql://a/b"], "received an address of kind 'mysql'"),
    ([str(folder()), "--undo"], "received a folder with --undo, expected a store, name one as WHERE or leave it out"),
    (["--take-in", "nowhere"], "nowhere: received no folder, expected a folder of records"),
])
def test_what_cannot_be_done_is_said(words, says, capsys):
    code, out, err = run(capsys, *words)
    assert code == 2 and out == "" and says in err


def test_the_same_in_a_server(records, capsys, server):
    import psycopg

    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute("CREATE DATABASE of_the_command")
    address = f"{server}/of_the_command"
    _, file, _ = run(capsys, records)
    _, out, _ = run(capsys, address, "--take-in", records)
    assert out == file


def test_versions_are_listed_and_any_of_them_stands_again(records, capsys, tmp_path):
    place = tmp_path / "s.sqlite"
    run(capsys, place, "--take-in", records, "--cans-only")
    text = (records / "commissioning.toml").read_text("utf-8")
    test = re.search(r'^id = "(.+)"', text, re.M)[1]
    store = Store(place)
    (records / "commissioning.toml").write_text(text + "\n# corrected\n", "utf-8")
    run(capsys, place, "--take-in", records, "--cans-only")
    code, out, err = run(capsys, place, "--versions", test)
    assert (code, err) == (0, "")
    assert re.fullmatch(r"version 1, saved \d{4}-\d\d-\d\d \d\d:\d\d, from commissioning.toml\n"
                        r"version 2, saved [-\d]+ [:\d]+, from commissioning.toml, only comments or blanks changed, "
                        r"stands now\n", out)
    code, out, _ = run(capsys, place, "--let-stand", test, "1")
    assert code == 0 and out.splitlines()[2].startswith("version 3")
    assert out.endswith("from commissioning.toml, the text of version 1 again, stands now\n")
    assert store.text(OWNER, test) == text
    code, out, _ = run(capsys, place, "--take-off", test)
    assert out.endswith("taken off the list\n") and test not in [item.test for item in store.tests(OWNER)]
    run(capsys, place, "--let-stand", test, "2")
    assert store.text(OWNER, test).endswith("# corrected\n")
    for wrong in ("9", "4", "two"):
        code, out, err = run(capsys, place, "--let-stand", test, wrong)
        assert (code, out) == (2, "")
        assert err == (f"received version '{wrong}' of {test}, expected one that has a text, see them with "
                       f"--versions {test}\n")
    code, _, err = run(capsys, place, "--versions", "nobody")
    assert code == 2 and "nobody" in err and len(err.splitlines()) == 1


def test_faults_are_listed_before_figures_are_made(records, capsys, tmp_path, monkeypatch):
    (records / "broken.toml").write_text("record = 1\n[floor]\nwidth = 6\n", "utf-8")
    said = []

    def first(*_, **__):
        said.append(capsys.readouterr().err)
        return []

    monkeypatch.setattr("evenfall.store.complete.complete", first)
    for words in ([records], [tmp_path / "s.sqlite", "--take-in", records]):
        assert main(["members", *map(str, words)]) == 2
        assert "broken.toml:3: floor.width: received the bare number 6" in said.pop()
        assert "broken.toml" not in capsys.readouterr().err, "each is said once"


def test_what_needs_no_figures_makes_none(records, capsys, tmp_path, monkeypatch):
    store, test = tmp_path / "s.sqlite", "hb-12"
    run(capsys, store, "--take-in", records, "--cans-only")
    test = Store(store).tests(OWNER)[0].test
    monkeypatch.setattr("evenfall.store.complete.make", lambda *_: pytest.fail("figures were made"))
    for words in (["--give-out", tmp_path / "out"], ["--versions", test], ["--take-off", test], ["--undo", "--yes"],
                  ["--redo", "--yes"], ["--let-stand", test, "1"], ["--archive", tmp_path / "a.zip"]):
        code, out, _ = run(capsys, store, *words)
        assert code == 0 and "tunnels" not in out, words
    assert run(capsys, "--verify", tmp_path / "a.zip")[0] == 0
    assert run(capsys, tmp_path / "new.sqlite", "--restore", tmp_path / "a.zip")[0] == 0


def test_a_store_goes_into_one_file_and_comes_back(records, capsys, tmp_path, server):
    import psycopg

    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute("CREATE DATABASE of_the_archive")
    file, address = tmp_path / "a.zip", f"{server}/of_the_archive"
    run(capsys, tmp_path / "s.sqlite", "--take-in", records, "--cans-only")
    code, out, err = run(capsys, tmp_path / "s.sqlite", "--archive", file)
    assert (code, out) == (0, "") and "a.zip: 4 tests in 4 versions, 0 changes of drafts, made " in err
    code, out, err = run(capsys, tmp_path / "s.sqlite", "--archive", file)
    assert code == 2 and "received the name of a file that exists, expected a new name" in err
    assert "whole, every checksum is right: 4 tests in 4 versions" in run(capsys, "--verify", file)[2]
    assert "Restored: 4 tests in 4 versions" in run(capsys, address, "--restore", file)[2]
    assert "all of it is here already" in run(capsys, address, "--restore", file)[2]
    assert run(capsys, address, "--cans-only")[1] == run(capsys, tmp_path / "s.sqlite", "--cans-only")[1]
    assert not (tmp_path / "data" / "store.sqlite").exists(), "checking opens no store"
    code, _, err = run(capsys, tmp_path / "s.sqlite", "--take-in", records, "--cans-only")
    assert "0 new tests, 0 changed, 4 there already" in err
    data = bytearray(file.read_bytes())
    data[100] ^= 1
    file.write_bytes(data)
    for words in (["--verify", file], [tmp_path / "third.sqlite", "--restore", file]):
        code, out, err = run(capsys, *words)
        assert (code, out) == (2, "") and "received " in err and "this one was left as it is" in err
    code, _, err = run(capsys, "--verify", tmp_path / "none.zip")
    assert code == 2 and "none.zip: received no file, expected an archive of a store" in err


def test_undo_asks_at_a_terminal(records, capsys, tmp_path, monkeypatch):
    import io

    class Terminal(io.StringIO):
        def isatty(self):
            return True

    store = tmp_path / "s.sqlite"
    run(capsys, store, "--take-in", records, "--cans-only")
    for answer, left in (("", 4), ("n\n", 4), ("y\n", 0)):
        monkeypatch.setattr("sys.stdin", Terminal(answer))
        code, _, err = run(capsys, store, "--undo")
        assert code == 0 and "Do it? [y/N]" in err and Store(store).count(OWNER) == left


def test_an_old_archive_is_reminded_of_and_damaged_figures_are_said(records, capsys, tmp_path):
    import sqlite3

    path = tmp_path / "s.sqlite"
    text = (records / "commissioning.toml").read_text("utf-8")
    (records / "other.toml").write_text(re.sub('(?m)^(id|member) = ".*"', r'\1 = "other"', text), "utf-8")
    run(capsys, path, "--take-in", records, "--cans-only")
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE revisions SET saved_at = '2026-01-01T00:00:00.000+00:00'")
        raw.execute("DROP TABLE summaries")
    code, out, err = run(capsys, path, "--cans-only")
    assert code == 0 and "5 tests of 4 tunnels" in out
    assert "This store has been kept for " in err and "3 members rely on it" in err
    assert "the table of figures was damaged and is made anew from the records" in err
