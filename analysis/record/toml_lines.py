"""On which line of a TOML text each key stands.

The standard library's reader keeps no lines. This scanner walks a text that the reader has already
accepted, so it only has to find keys, strings and brackets, never to judge them.
"""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_STRING = re.compile(r'"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'', re.S)
_VALUE = re.compile(r"[^,\]}#\n]+")


def key_lines(text: str) -> dict[Path, int]:
    """Find the line of every key, table and list item.

    Parameters
    ----------
    text : str
        A valid TOML document.

    Returns
    -------
    dict
        Path of keys and indices (from 0) -> line, counted from 1. Tables are there under their own path: at their
        header, or at the first header or dotted key that implies them.
    """
    return _Scanner(text).run()


def line_of(lines: dict[Path, int], path: Path) -> int:
    """Find the line of a key, or of the nearest table around it.

    Parameters
    ----------
    lines : dict
        From `key_lines`.
    path : tuple
        Keys and indices; the value may be missing from the file.

    Returns
    -------
    int
        Counted from 1.
    """
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


class _Scanner:
    def __init__(self, text: str):
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.implied: set[Path] = set()
        self.counts: dict[Path, int] = {}
        self.starts = [match.end() for match in re.finditer("\n", text)]

    def run(self) -> dict[Path, int]:
        table: Path = ()
        self.at = 1 if self.text.startswith("\ufeff") else 0
        self._skip()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip()
        return self.lines

    def _mark(self, path: Path) -> None:
        from bisect import bisect_right

        self.lines.setdefault(path, bisect_right(self.starts, self.at) + 1)

    def _skip(self) -> None:
        self._take(_SPACE)

    def _take(self, pattern: re.Pattern[str]) -> str:
        """What the pattern finds here, passed over; the file is valid TOML, so it finds what must come."""
        found = pattern.match(self.text, self.at)
        text = found[0] if found else ""
        self.at += len(text)
        return text

    def _header(self) -> Path:
        start = self.at
        double = self.text.startswith("[[", self.at)
        self.at += 2 if double else 1
        names = self._names()
        self.at += 2 if double else 1
        end, self.at = self.at, start
        path: Path = ()
        for number, name in enumerate(names):
            path = (*path, name)
            if double and number == len(names) - 1:
                self._mark(path)
                self.counts[path] = self.counts.get(path, 0) + 1
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
            if number < len(names) - 1 and path not in self.lines:
                self._mark(path)
                self.implied.add(path)
        if path in self.implied:
            self.implied.remove(path)
            del self.lines[path]
        self._mark(path)
        self.at = end
        return path

    def _names(self) -> list[str]:
        names = []
        while True:
            self._skip_blanks()
            quoted = self._take(_STRING)
            names.append(_unquote(quoted) if quoted else self._take(_BARE))
            self._skip_blanks()
            if self.text[self.at] != ".":
                return names
            self.at += 1

    def _skip_blanks(self) -> None:
        while self.text[self.at] in " \t":
            self.at += 1

    def _pair(self, table: Path) -> None:
        start = self.at
        names = self._names()
        end, self.at = self.at, start
        for number in range(1, len(names) + 1):
            self._mark((*table, *names[:number]))
        self.at = end + 1
        self._skip_blanks()
        self._value((*table, *names))

    def _value(self, path: Path) -> None:
        mark = self.text[self.at]
        if mark in "\"'":
            self._take(_STRING)
        elif mark == "[":
            self._items(path, "]")
        elif mark == "{":
            self._items(path, "}")
        else:
            self._take(_VALUE)

    def _items(self, path: Path, close: str) -> None:
        self.at += 1
        number = 0
        self._skip()
        while self.text[self.at] != close:
            if close == "}":
                self._pair(path)
            else:
                self._mark((*path, number))
                self._value((*path, number))
                number += 1
            self._skip()
            if self.text[self.at] == ",":
                self.at += 1
                self._skip()
        self.at += 1


def _unquote(text: str) -> str:
    import tomllib

    return str(tomllib.loads(f"a = {text}")["a"])
