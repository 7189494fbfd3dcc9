"""Spoilt records by the thousand, by token, structure and value: each ends in a result or in sentences that name file
and line, within bounded time (`--fuzz 20000` for more)."""

import copy
import json
import random
import re
import signal
from contextlib import contextmanager

import pytest
from evenfall.cli.command import main
from evenfall.record.file import parse_toml
from evenfall.record.samples import SHOWS, sample_text

from ..conftest import GRID
from ..record_texts import FULL, POINTS, ROWS

SMALL = [GRID, FULL, ROWS, POINTS]
SAMPLES = [sample_text(name) for name in SHOWS]
MOST_SECONDS = 20  # of CPU for one record; the longest known takes a quarter of it on an old laptop
TOKEN = re.compile(r"\"[^\"\n]*\"|[\w.+-]+|\s+|.")
TOKENS = ["", "=", "[", "]", "[[", "]]", "{", "}", ",", ".", '"', '"""', "'", "#", "\n", "\n\n", "\\", "\\u0000", "nan",
          "-inf", "true", "0", "-1", "1e400", "0x10", "07", "2027-02-30", "2027-02-11", "12:00:00", "[lines]",
          "[[lines]]", "[[cans]]", "[run]", "record = 1", "x = 1", '"31 mL"', '"µ"', "\u202e", "\x07", "\ufeff", "١٢",
          "[" * 300, "a." * 60 + "b = 1", "9" * 5000, '"' + "x" * 3000 + '"']
VALUES = [0, 1, -1, 3, 1e-300, 1e300, 10**30, -0.0, float("nan"), float("inf"), True, False, "", " ", "x", "0", "1 m",
          "-1 m", "0 m", "1e-9 m", "1e9 m", "nan m", "1 m 1", "1/0 m", "2 ft 6 in", "7 ' 3\"", "1,2,3 m", "30 min",
          "0 min", "1e9 min", "0.001 s", "200 kPa", "-200 kPa", "1e9 bar", "40 L/h", "0 L/h", "1e-12 L/h", "1e12 gpm",
          "84 mm", "0.001 mm", "31 mL", "1 kg", "2027-02-11", "near", "at the cans", "depth", "weight", "volume",
          "nearest area", "![](//host/x)", "\x1b[31m", "word " * 200, [], [[]], [1], ["1 m"], [float("nan")], {},
          {"x": 1}, [{}], [{"x": "1 m"}]]
KEYS = ["x", "y", "name", "lines", "cans", "grid", "rows", "points", "across", "along", "run", "duration", "floor",
        "width", "unit", "", "a b", "\u202e", "k" * 200, "__class__", "0"]


def by_token(chance, text):
    """One to four tokens taken out, doubled, swapped or put in."""
    tokens = TOKEN.findall(text)
    for _ in range(chance.randint(1, 4)):
        at, other = chance.randrange(len(tokens)), chance.randrange(len(tokens))
        what = chance.randrange(5)
        if what == 0:
            tokens[at] = ""
        elif what == 1:
            tokens.insert(at, tokens[other])
        elif what == 2:
            tokens[at], tokens[other] = tokens[other], tokens[at]
        elif what == 3:
            tokens[at] = chance.choice(TOKENS)
        else:
            tokens.insert(at, chance.choice(TOKENS))
    return "".join(tokens)


def places(value, above=None, key=None):
    """Every place of nested values, as what holds it and its key there."""
    if above is not None:
        yield above, key
    for inner in value if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ():
        yield from places(value[inner], value, inner)


def inline(value):
    """Any value as TOML, on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {inline(part)}" for key, part in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(inline, value)) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return str(value).lower() if isinstance(value, bool) else str(value)


def written(plain):
    """A whole record as TOML, with tables of their own at the top, one key a line."""
    parts = {True: [], False: []}
    for key, value in plain.items():
        tables = value if isinstance(value, list) else [value]
        nested = bool(tables) and all(isinstance(table, dict) for table in tables)
        head = f"[[{json.dumps(key)}]]" if isinstance(value, list) else f"[{json.dumps(key)}]"
        parts[nested] += [part for table in tables for part in [
            head, *(f"{json.dumps(name)} = {inline(part)}" for name, part in table.items())]] if nested else [
            f"{json.dumps(key)} = {inline(value)}"]
    return "\n".join([*parts[False], *parts[True], ""])


def by_structure(chance, text):
    """One to three parts taken out, moved, wrapped, doubled or named otherwise."""
    plain = parse_toml(text)
    for _ in range(chance.randint(1, 3)):
        found = list(places(plain))
        if not found:
            break
        (above, key), (there, other) = chance.choice(found), chance.choice(found)
        part, what = copy.deepcopy(above[key]), chance.randrange(7)
        if what == 0:
            del above[key]
        elif what == 1:
            there[other] = part
        elif what == 2:
            above[key] = chance.choice([[part], {"x": part}, [part, part], [[part]], {"a": {"b": part}}])
        elif what == 3 and isinstance(above, list):
            above[key:key] = [part] * chance.choice([1, 2, 40])
        elif what == 3:
            above[chance.choice(KEYS)] = above.pop(key)
        elif what == 4 and isinstance(above, dict):
            above[chance.choice(KEYS)] = part
        elif what == 5 and isinstance(part, list):
            above[key] = chance.choice([part[::-1], part[:1], part + part[:1], [*part, copy.deepcopy(there[other])]])
        elif isinstance(part, dict | list) and part:
            above[key] = next(iter(part.values())) if isinstance(part, dict) else part[0]
    return written(plain)


def by_value(chance, text):
    """One to three values replaced, or made much larger or smaller."""
    plain = parse_toml(text)
    leaves = [(above, key) for above, key in places(plain) if not isinstance(above[key], dict | list)]
    for above, key in chance.sample(leaves, min(chance.randint(1, 3), len(leaves))):
        old = above[key]
        if isinstance(old, bool) or chance.random() < 0.5:
            above[key] = copy.deepcopy(chance.choice(VALUES))
        elif isinstance(old, int | float):
            above[key] = chance.choice([old * 1000, old / 1000, -old, old + 0.5, 0, str(old), f"{old} mL"])
        elif isinstance(old, str):
            number = re.search(r"[\d.]+", old)
            new = chance.choice(["0", "-1", "1e6", "1e-6", "0,5", "1/3", "nan", "", "12"])
            above[key] = old.replace(number[0], new, 1) if number else chance.choice([old.upper(), old[:-1], old * 9])
    return written(plain)


WAYS = {"token": by_token, "structure": by_structure, "value": by_value}


@contextmanager
def in_time():
    """Stops what takes more CPU than a record may."""
    def stop(*_):
        raise TimeoutError(f"more than {MOST_SECONDS} s of CPU")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def check(words, path, capsys):
    """Run the command on a record; whether there was a result."""
    with in_time():
        code = main([words[0], str(path), *words[1:]])
    out, err = capsys.readouterr()
    if code == 0:
        assert err == ""
        assert json.loads(out, parse_constant=pytest.fail)  # NaN and Infinity are no JSON
        return True
    lines = err.splitlines()
    assert (code, out) == (2, "") and lines
    last = path.read_bytes().count(b"\n") + 2
    for line in lines:
        place = re.match(re.escape(str(path)) + r":(\d+): .*received .*, expected ", line)
        assert place and 1 <= int(place[1]) <= last and len(line) < 2000, line
    return False


def all_spoilt(cases, bases, seed, words, tmp_path, capsys):
    """How many of each way's spoilt records gave a result."""
    sound, path = dict.fromkeys(WAYS, 0), tmp_path / "spoilt.toml"
    for case in range(cases):
        chance = random.Random(f"{seed} {case}")
        way = list(WAYS)[case % len(WAYS)]
        text = WAYS[way](chance, chance.choice(bases))
        path.write_text(text, "utf-8", errors="replace", newline="\n")
        try:
            sound[way] += check(chance.choice(words), path, capsys)
        except BaseException as error:
            pytest.fail(f"case {case}, by {way}: {error!r} in\n{text[:20000]}")
    return sound


def test_spoilt_records(cases, tmp_path, capsys):
    words = [["assess", "--only", "cans", "--json"]]
    sound = all_spoilt(cases, [*SMALL, *SAMPLES], "cans", words, tmp_path, capsys)
    assert all(cases / 60 < number < cases / 3.1 for number in sound.values()), sound  # both ends are met, every way


@pytest.mark.long
def test_spoilt_records_through_every_command(cases, tmp_path, capsys):
    words = [["assess", "--json"], ["assess", "--json", "--units", "US"], ["plan", "--json", "--cans", "12"],
             ["try", "--change", "lines=3", "--json"]]
    sound = all_spoilt(cases // 20, [*SMALL, *SAMPLES], "all", words, tmp_path, capsys)
    assert min(sound.values()) >= 1, sound  # some of every way stay sound, so that every command has come to its end
