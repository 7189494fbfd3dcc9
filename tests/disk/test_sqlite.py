"""One way to open an SQLite file: what was committed stays, and what SQLite says is told without values."""

import ast
import sqlite3
from pathlib import Path

import evenfall
import pytest
from evenfall.disk import sqlite


def test_commits_are_on_disk_and_transactions_begin_by_hand(tmp_path):
    connection = sqlite.connect(tmp_path / "a.sqlite")
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("truncate",)
    connection.execute("CREATE TABLE t (x)")
    connection.execute(sqlite.WRITE)
    connection.execute("INSERT INTO t VALUES (1)")
    assert connection.in_transaction
    connection.execute("ROLLBACK")
    assert sqlite.connect(tmp_path / "a.sqlite").execute("SELECT count(*) FROM t").fetchone() == (0,)


def fault(path, sql, prepare=""):
    with pytest.raises(sqlite3.Error) as caught:
        connection = sqlite.connect(path)
        connection.executescript(prepare)
        connection.execute(sql).fetchall()
    return sqlite.kind_of(caught.value)


@pytest.mark.parametrize(("kind", "sql", "prepare"), [
    (sqlite.FULL, "INSERT INTO t VALUES (zeroblob(900000))", "CREATE TABLE t (x); PRAGMA max_page_count = 3"),
    (sqlite.MISSING, "SELECT * FROM t", ""),
    (sqlite.MISSING, "SELECT y FROM t", "CREATE TABLE t (x)"),
    (sqlite.SHUT, "CREATE TABLE t (x)", "PRAGMA query_only = ON"),
    (sqlite.DAMAGED, "SELECT x FROM t", "CREATE TABLE t (x); INSERT INTO t VALUES (CAST(x'ff' AS TEXT))"),
    (sqlite.OTHER, "NONSENSE", ""),
])
def test_what_is_wrong_is_told(tmp_path, kind, sql, prepare):
    assert fault(tmp_path / "a.sqlite", sql, prepare) == kind


def test_a_file_of_another_kind_and_one_in_use(tmp_path, monkeypatch):
    (tmp_path / "a.sqlite").write_bytes(b"something else" * 100)
    assert fault(tmp_path / "a.sqlite", "SELECT 1") == sqlite.DAMAGED
    monkeypatch.setattr(sqlite, "WAIT_S", 0.05)
    first = sqlite.connect(tmp_path / "b.sqlite")
    first.execute(sqlite.WRITE)
    assert fault(tmp_path / "b.sqlite", sqlite.WRITE) == sqlite.BUSY
    assert fault(tmp_path / "none" / "c.sqlite", "SELECT 1") == sqlite.SHUT


def test_nothing_else_opens_sqlite():
    package = Path(evenfall.__file__).parent
    opens = [path.relative_to(package).as_posix() for path in package.rglob("*.py")
             for node in ast.walk(ast.parse(path.read_text("utf-8")))
             if isinstance(node, ast.Attribute) and node.attr == "connect" and isinstance(node.value, ast.Name)
             and node.value.id == "sqlite3"]
    assert opens == ["disk/sqlite.py"]
