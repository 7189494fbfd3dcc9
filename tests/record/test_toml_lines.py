"""The line on which each key of a TOML text stands."""

import string
import tomllib

import pytest
import tomlkit
from evenfall.record.samples import SHOWS, sample_text
from evenfall.record.toml_lines import key_lines, line_of
from hypothesis import given, settings
from hypothesis import strategies as st

from ..record_texts import FULL


def paths_of(value, path=()):
    """Every path of a value as the standard library reads it."""
    if path:
        yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from paths_of(inner, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from paths_of(inner, (*path, number))


def check(text, lines=None):
    """The scanner's paths are the reader's, and each key's last part stands on its line."""
    found = key_lines(text)
    assert set(found) == set(paths_of(tomllib.loads(text.removeprefix("\ufeff"))))
    rows = text.split("\n")
    assert all(1 <= line <= len(rows) for line in found.values())
    for path, line in (lines or {}).items():
        assert found[path] == line, path
    return found


HAND_MADE = '''# a comment with [brackets] and key = "value"
title = "a # in a string" # and a comment
"quoted key" = 1   \t
'single.quoted' = 2
dotted.key.path = 3
dotted . key . "other one" = 4
date = 2027-03-18 08:00:00
numbers = [
    1, 2, # three
    3,
    [ 4, "]" ],

]
inline = { a = 1, "b c" = { d = [1, { e = 2 }] }, f.g = 3 }
text = """
[not.a.table]
fake = "no" \\
  # no comment
""" # after
raw = \'\'\'
x = 'y'
\'\'\'
quotes = """a ""quoted"" end"""""
raw_quotes = \'\'\'it''s \'\'\'\'\'
empty = ""
empty2 = \'\'
empty_list = []
empty_table = {}

[table]
key = 1 # comment ]

[ table . "inner one" . 'deep' ]
key = 2
  [table.indented] # comment
  key = true

[[lines]]
name = "a"
[[lines]]
name = "b"
  [lines.more]
  key = 1
  [[lines.items]]
  n = 1
  [[lines.items]]
  n = 2
  [lines.items.deep.er]
  n = 3
[implied.by.header]
key = 1
[implied]
key = 2
[last]'''


def test_a_hand_made_document():
    check(HAND_MADE, {
        ("title",): 2, ("quoted key",): 3, ("single.quoted",): 4, ("dotted",): 5, ("dotted", "key", "path"): 5,
        ("dotted", "key", "other one"): 6, ("date",): 7, ("numbers",): 8, ("numbers", 0): 9, ("numbers", 1): 9,
        ("numbers", 2): 10, ("numbers", 3): 11, ("numbers", 3, 1): 11, ("inline",): 14,
        ("inline", "b c", "d", 1, "e"): 14, ("inline", "f", "g"): 14, ("text",): 15, ("raw",): 20, ("quotes",): 23,
        ("raw_quotes",): 24, ("empty",): 25, ("empty2",): 26, ("empty_list",): 27, ("empty_table",): 28,
        ("table",): 30, ("table", "key"): 31, ("table", "inner one", "deep"): 33, ("table", "inner one"): 33,
        ("table", "inner one", "deep", "key"): 34, ("table", "indented"): 35, ("table", "indented", "key"): 36,
        ("lines",): 38, ("lines", 0): 38, ("lines", 0, "name"): 39, ("lines", 1): 40, ("lines", 1, "more", "key"): 43,
        ("lines", 1, "items"): 44, ("lines", 1, "items", 0): 44, ("lines", 1, "items", 1, "n"): 47,
        ("lines", 1, "items", 1, "deep"): 48, ("lines", 1, "items", 1, "deep", "er", "n"): 49,
        ("implied", "by"): 50, ("implied", "by", "header", "key"): 51, ("implied",): 52, ("implied", "key"): 53,
        ("last",): 54})


@pytest.mark.parametrize("change", [
    lambda text: text.replace("\n", "\r\n"), lambda text: "\ufeff" + text, lambda text: text + "\n",
    lambda text: "\ufeff" + text.replace("\n", "\r\n") + "\r\n"], ids=["CRLF", "BOM", "last line end", "all"])
def test_line_ends_and_byte_order_marks_move_nothing(change):
    assert check(change(HAND_MADE)) == check(HAND_MADE)


@pytest.mark.parametrize("text", ["", "\n\n# nothing\n", "a = 1", "[a]", "[[a]]\n[[a]]", "a = [[[[]]]]", "a.b.c = {}"])
def test_small_documents(text):
    check(text)


@pytest.mark.parametrize("text", [FULL, *(sample_text(name) for name in SHOWS)], ids=["full", *SHOWS])
def test_records(text):
    found, rows = check(text), text.split("\n")
    for path, line in found.items():
        if isinstance(path[-1], str):
            assert path[-1] in rows[line - 1]


def test_the_nearest_table_stands_for_what_is_missing():
    lines = key_lines("a = 1\n[b]\nc = 2\n[[d]]\n[[d]]\ne = 1\n")
    assert line_of(lines, ("b", "c")) == 3
    assert line_of(lines, ("b", "nothing", 3)) == 2
    assert line_of(lines, ("d", 1, "nothing")) == 5
    assert line_of(lines, ("nothing",)) == line_of(lines, ()) == 1


# --- generated documents ---------------------------------------------------------------------------

words = st.text(st.characters(exclude_categories=("Cs",)), max_size=8)
keys = st.one_of(st.text(string.ascii_letters + string.digits + "-_", min_size=1, max_size=6), words)
plain_values = st.one_of(
    words, st.integers(-10**9, 10**9), st.booleans(), st.floats(allow_nan=False), st.dates(), st.times(),
    st.sampled_from(["]", "}", "#", '"""', "'''", "a = 1", "[x]", "\n", "\\"]))
values = st.recursive(
    plain_values, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3), max_leaves=8)
documents = st.dictionaries(
    keys, values | st.lists(st.dictionaries(keys, values, max_size=3), min_size=1, max_size=3), max_size=5)


@settings(max_examples=60, deadline=None)
@given(documents)
def test_documents_written_by_a_library(document):
    check(tomlkit.dumps(document))


def quoted(draw, text):
    """A key or a one-line string, in any of the ways to write it."""
    if text and set(text) <= set(string.ascii_letters + string.digits + "-_") and draw(st.booleans()):
        return text
    return tomlkit.string(text, escape=True).as_string()


def string_of(draw, text):
    plain = text.isprintable() and "'" not in text and "\\" not in text
    ways = [tomlkit.string(text).as_string()]
    if plain:
        ways += [f"'{text}'", f"'''{text}'''", f"'''\n{text}'''"]
        if '"' not in text:
            ways += [f'"""{text}"""', f'"""\n{text}"""', f'"""\\\n   {text}"""']
    return draw(st.sampled_from(ways))


def layout(draw, several):
    """Blanks, comments and line ends between the items of a list."""
    return draw(st.sampled_from(["", " ", "\t"] + (["\n", " # ] } a = 1\n  ", "\n\n#\n"] if several else [])))


def value_of(draw, value, several=True):
    if isinstance(value, str):
        return string_of(draw, value)
    if isinstance(value, list):
        gap = lambda: layout(draw, several)  # noqa: E731
        items = ",".join(f"{gap()}{value_of(draw, item, several)}{gap()}" for item in value)
        return f"[{items}{',' if value and draw(st.booleans()) else ''}{gap()}]"
    if isinstance(value, dict):
        pairs = ",".join(f" {quoted(draw, key)} = {value_of(draw, item, False)} " for key, item in value.items())
        return f"{{{pairs}}}"
    return tomlkit.item(value).as_string()


@st.composite
def written(draw):
    """A document in a free layout, with the line of each of its tables and keys as it was written."""
    rows, where = [], {}

    def put(text, *paths):
        for path in paths:
            where.setdefault(path, len(rows) + 1)
        rows.extend(text.split("\n"))

    def noise():
        for _ in range(draw(st.integers(0, 2))):
            put(draw(st.sampled_from(["", "  ", "# [no] = 1", "\t# \"\"\""])))

    def pairs(table, path):
        for key, value in table.items():
            noise()
            if isinstance(value, dict) and value and draw(st.booleans()):  # as dotted keys
                for inner, item in value.items():
                    put(f"{quoted(draw, key)} . {quoted(draw, inner)}= {value_of(draw, item)} # end",
                        (*path, key), (*path, key, inner))
            else:
                put(f"  {quoted(draw, key)} ={value_of(draw, value)}", (*path, key))

    tables = st.dictionaries(keys, values, max_size=3)
    kinds = st.sampled_from(["pair", "table", "tables"])
    top = draw(st.dictionaries(keys, st.tuples(kinds, values, tables), max_size=4))
    pairs({key: value for key, (kind, value, _) in top.items() if kind == "pair"}, ())
    for key, (kind, _, table) in top.items():
        if kind == "table":
            put(f"[ {quoted(draw, key)} ]  # x", (key,))
            pairs(table, (key,))
        for number in range(2 if kind == "tables" else 0):
            noise()
            put(f"[[{quoted(draw, key)}]]", (key,), (key, number))
            pairs(table, (key, number))
    return "\n".join(rows), where


@settings(max_examples=80, deadline=None)
@given(written(), st.booleans(), st.booleans())
def test_documents_in_a_free_layout(document, windows, mark):
    text, where = document
    check(text, where)
    changed = ("\ufeff" if mark else "") + (text.replace("\n", "\r\n") if windows else text)
    check(changed, where)
