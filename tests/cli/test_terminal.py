"""What people wrote cannot steer a terminal: control characters and overrides of direction are written out."""

import json
import os
import re
import tomllib

import pytest
from evenfall.cli.command import main
from evenfall.cli.terminal import written_out
from evenfall.record.samples import folder, sample_text
from evenfall.store import OWNER
from evenfall.store.usual import open_usual

from ..conftest import GRID

# A colour, a window's title (OSC), the same with signs of C1, overrides of direction, an isolate, a bell, a deletion.
NASTY = "a\x1b[31mb\x1b]0;c\x07d\x9b31me\x9df\u202eg\u202ah\u2066i\x7fj\u2028k"
STEERING = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")
SHOWN = r"a\u001b[31mb\u001b]0;c\u0007d\u009b31me\u009df\u202eg\u202ah\u2066i\u007fj\u2028k"
QUOTED = json.dumps(NASTY)


@pytest.fixture
def records(tmp_path):
    """A folder with a test whose every name is nasty, and one that follows it up."""
    text = sample_text("blocked-head")
    raw = tomllib.loads(text)
    for name in {line["name"] for line in raw["lines"]}:
        text = text.replace(f'"{name}"', json.dumps(name + NASTY))
    for key in ("title", "site", "zone", "tunnel", "member", "by", "notes", "id"):
        text = re.sub(rf"(?ms)^{key} = (\"\"\".*?\"\"\"|\".*?\")$\n", "", text)
    named = "".join(f"{key} = {QUOTED}\n" for key in ("title", "site", "zone", "tunnel", "member", "by", "notes"))
    (tmp_path / "records").mkdir()
    for number in (1, 2):
        again = f'id = "t{number}"\n' + ('rechecks = "t1"\n' if number == 2 else "")
        (tmp_path / "records" / f"t{number}.toml").write_text(
            text.replace("[test]\n", f"[test]\n{again}{named}", 1), "utf-8")
    return tmp_path / "records"


def shown_by(capsys, *words):
    """What a command shows on both streams, after looking for signs that steer."""
    code = main([str(word) for word in words])
    out, err = capsys.readouterr()
    assert not STEERING.search(out) and not STEERING.search(err)
    return code, out, err


def test_signs_that_steer_are_written_out_and_others_stay():
    assert written_out(NASTY) == SHOWN
    plain = "Tab\tline\nümläut – ½ “x” العربية עברית 日本 👩‍🌾\u200f\u00ad"
    assert written_out(plain) == plain


@pytest.mark.parametrize("words", [("assess",), ("plan",), ("try", "--change", "lines=3")])
def test_every_text_shows_them_and_every_json_keeps_them(records, capsys, words):
    code, out, _ = shown_by(capsys, words[0], records / "t2.toml", *words[1:])
    assert code == 0 and out
    code, out, _ = shown_by(capsys, words[0], records / "t2.toml", *words[1:], "--json")
    plain = json.loads(out)
    assert code == 0
    if words == ("assess",):
        assert plain["record"]["title"] == NASTY and plain["recheck"]["title"] == NASTY
        assert {head["line"] for head in plain["heads"]} == {
            line["name"] for line in tomllib.loads((records / "t2.toml").read_text("utf-8"))["lines"]}


def test_the_title_and_the_names_are_readable(records, capsys):
    assert SHOWN in shown_by(capsys, "assess", records / "t2.toml")[1].replace("\n", " ")


def test_members_and_versions(records, capsys):
    code, out, _ = shown_by(capsys, "members", "--take-in", records)
    assert code == 0 and r"\u001b[31m" in out
    (tunnel,) = json.loads(shown_by(capsys, "members", "--json")[1])["tunnels"]
    assert tunnel["member"] == NASTY
    open_usual().stand(OWNER, "t1", 1)
    assert shown_by(capsys, "members", "--versions", "t1")[0] == 0


@pytest.mark.skipif(os.name != "posix", reason="such names of files are for POSIX")
@pytest.mark.parametrize("words", [
    ("assess", "{}"), ("plan", "{}"), ("sheet", "{}"), ("handover", "{}"), ("try", "{}", "--change", "lines=3"),
    ("import", "{}"), ("import", "{}", "--into", "{}"), ("members", "{}"), ("members", "--take-in", "{}"),
    ("members", "--versions", "{}"), ("members", "--let-stand", "{}", "1"), ("members", "--without-names", "{}"),
    ("assess", "x.toml", "--units", "{}"), ("{}",), ("app", "--port", "{}")])
def test_faults_show_names_of_files_and_words_written_out(tmp_path, capsys, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    name = NASTY.replace("\x00", "")
    try:
        code, out, err = shown_by(capsys, *(word.format(name) for word in words))
    except SystemExit as left:
        code, (out, err) = left.code, capsys.readouterr()
        assert not STEERING.search(out) and not STEERING.search(err)
    assert code == 2 and err and not out


def test_a_faulty_record_of_a_nasty_name_in_a_folder(tmp_path, capsys):
    (tmp_path / f"{NASTY}.toml").write_text(GRID.replace("duration", QUOTED), "utf-8")
    code, _, err = shown_by(capsys, "members", tmp_path, "--cans-only")
    assert code == 2 and SHOWN in err


def test_a_record_printed_to_be_kept_still_says_the_same(tmp_path, capsys):
    record, table = tmp_path / "record.toml", tmp_path / "table.csv"
    record.write_text(re.sub(r'title = ".*"', lambda _: f"title = {QUOTED}", GRID), "utf-8")
    table.write_text("mL,1 m,3 m,5 m\n" + "".join(f"{row} m,10,25,31\n" for row in (1, 4, 7, 10)), "utf-8")
    code, out, _ = shown_by(capsys, "import", table, "--into", record, "--yes")
    assert code == 0 and tomllib.loads(out)["test"]["title"] == NASTY


def test_a_record_without_lines_is_no_place_to_try_a_change(tmp_path, capsys):
    path = tmp_path / "no-lines.toml"
    path.write_text(GRID, "utf-8")
    code, out, err = shown_by(capsys, "try", path, "--change", "lines=3")
    assert (code, out) == (2, "")
    assert err == (f"{path}:1: lines: received none, expected [[lines]] with the places of their heads, add them "
                   "before a change is tried\n")


def test_a_deeply_nested_file_beside_a_record_that_rechecks_is_a_sentence(tmp_path, capsys):
    path = tmp_path / "again.toml"
    path.write_text(GRID.replace("[test]", '[test]\nrechecks = "before"'), "utf-8")
    deep = tmp_path / "deep.toml"
    deep.write_text(f"a = {'[' * 5000}{']' * 5000}\n", "utf-8")
    code, out, err = shown_by(capsys, "assess", path)
    assert code == 0 and "CU" in out
    assert err == (f"{deep}:1: received brackets nested too deeply, expected a record in TOML, check the file (passed "
                   "over while the test that this one rechecks was looked for)\n")
    (tmp_path / "before.toml").write_text(GRID.replace("[test]", '[test]\nid = "before"'), "utf-8")
    assert shown_by(capsys, "assess", path)[::2] == (0, "")


def test_the_samples_are_shown_as_they_were(capsys):
    assert main(["assess", str(folder() / "blocked-head.toml")]) == 0
    assert "\\u" not in capsys.readouterr().out
