"""Where the table of figures, and only it, cannot be read, a new one takes its place: the records make it anew."""

from __future__ import annotations

from sqlalchemy import inspect, select, text

from .door import Door
from .errors import Unreadable
from .tables import META, SUMMARIES

_COLUMNS = {column.name for column in SUMMARIES.columns}


def renew(door: Door) -> bool:
    """Put an empty table in the place of damaged figures; False where nothing is wrong with them, or with more."""
    with door.reading() as connection:
        there = inspect(connection).get_table_names()
        columns = {column["name"] for column in inspect(connection).get_columns(SUMMARIES.name)} if (
            SUMMARIES.name in there) else set()
    others = [name for name in META.tables if name != SUMMARIES.name]
    if not (set(others) <= set(there) and all(_is_whole(door, name) for name in others)):
        return False
    if columns == _COLUMNS and _is_whole(door, SUMMARIES.name):
        return True  # another was first
    with door.transaction() as connection:
        if not door.is_file:
            SUMMARIES.drop(connection, checkfirst=True)
        elif columns:
            # Struck from the list of tables and not dropped: SQLite would read it to give its pages free, and among
            # them pages that it only claims to have. They stay in the file without use.
            connection.exec_driver_sql("PRAGMA writable_schema = ON")
            connection.exec_driver_sql(f"DELETE FROM sqlite_schema WHERE tbl_name = '{SUMMARIES.name}'")
            connection.exec_driver_sql("PRAGMA writable_schema = RESET")
        SUMMARIES.create(connection)
    return True


def _is_whole(door: Door, table: str) -> bool:
    """Whether SQLite finds nothing wrong with a table and its index, and every text in it is one."""
    if not door.is_file:
        return True  # a server looks after its pages itself
    try:
        with door.reading() as connection:  # of its own: damage that is met ends it
            found = connection.execute(text(f"PRAGMA integrity_check({table})")).scalars().all()
            for _ in connection.execute(select(META.tables[table]).execution_options(yield_per=200)):
                pass
    except Unreadable:
        return False
    return found == ["ok"]
