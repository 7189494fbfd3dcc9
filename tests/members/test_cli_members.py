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
    assert re.search(r"Teasel Yard · Wide +2025-04-22 15 % \(\d+ to \d+\)", out)
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
    _, _, err = run(capsys, store, "--undo", "--cans-only")
    assert "4 tests of the last import taken back (" in err and "every text stays in the store." in err
    assert Store(store).count(OWNER) == 0
    assert "Nothing that stands came with an import" in run(capsys, store, "--undo", "--cans-only")[2]
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
    assert re.fullmatch(r"version 1, saved \d{4}-\d\d-\d\d \d\d:\d\d\n"
                        r"version 2, saved [-\d]+ [:\d]+, stands now\n", out)
    code, out, _ = run(capsys, place, "--let-stand", test, "1")
    assert code == 0 and out.splitlines()[2].startswith("version 3") and out.endswith("stands now\n")
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
