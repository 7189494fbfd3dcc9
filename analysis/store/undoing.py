"""Taking back what a person did last, and doing it again: said first, done as a whole, and nothing is removed."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, TypeVar

from sqlalchemy import Connection, func, insert, select, update

from .actions import AGAIN, TAKEN_BACK, Action, done_and_undone, new_name, note
from .errors import StoreError
from .reader import MANY, Reader
from .rows import StoredText
from .tables import ACTIONS, REVISIONS, STANDING
from .viewer import Viewer, may_see, may_see_version
from .writer import Store, row_of

T = TypeVar("T")
_NAMED = 8  # tests that are named


@dataclass(frozen=True)
class Step:
    """What becomes of one test."""

    test: str
    to: int  # [1] the version whose text stands then; 0 where the test leaves the list
    back: bool  # whether it comes back to the list


@dataclass(frozen=True)
class Turn:
    """What taking an action back, or doing it again, comes to."""

    action: Action  # for one that is done again: the one that took it back
    again: bool
    steps: tuple[Step, ...]
    left: tuple[str, ...]  # tests that were changed since: they stay as they are

    def says(self, clock: Callable[[str], str] | None = None) -> str:
        """What it will do, to be read before it is done."""
        what = f"{self.action.what} ({(clock or _clock)(self.action.made_at)})"
        if not self.steps:
            since = f"what it changed was changed again since ({_names(self.left)})" if self.left else (
                "nothing that it changed is there for you")
            return (f"What you did last, {what}, is not {'done again' if self.again else 'taken back'}: {since}; look "
                    "at the versions and let one stand.")
        start = f"This does {what} again" if self.again else f"This takes back {what}"
        return f"{start}: {self._effects()}. Every text stays in the store."

    def told(self) -> str:
        """What it did."""
        return f"{'Done again' if self.again else 'Taken back'}: {self.action.what}: {self._effects()}."

    def _effects(self) -> str:
        off = [step.test for step in self.steps if not step.to]
        on = [step.test for step in self.steps if step.to and step.back]
        other = [f"{step.test} to version {step.to}" for step in self.steps if step.to and not step.back]
        turn = "on to what it was changed to" if self.again else "back to what it was before"
        parts = [(off, "off the list"), (on, "on the list again"), (other, turn), (self.left, "changed since and left")]
        return ", ".join(f"{len(tests)} test{'' if len(tests) == 1 else 's'} {where} ({_names(tests)})"
                         for tests, where in parts if tests)


def what_undo(store: Reader, viewer: Viewer) -> Turn | None:
    """What taking back the last thing that this person did would do; None where there is nothing."""
    with store.door.reading() as connection:
        return _turn(connection, viewer, again=False)


def what_redo(store: Reader, viewer: Viewer) -> Turn | None:
    """What doing again what was taken back last would do; None where something else was done since."""
    with store.door.reading() as connection:
        return _turn(connection, viewer, again=True)


def do(store: Store, viewer: Viewer, turn: Turn) -> None:
    """Take back, or do again, exactly what was said."""
    if not turn.steps:
        raise StoreError(turn.says())

    def work(connection: Connection) -> None:
        tests = [step.test for step in turn.steps]
        if connection.dialect.name != "sqlite":  # else this is the only writer
            for part in _parts(tests):
                connection.execute(select(STANDING.c.version).where(STANDING.c.test.in_(part)).order_by(
                    STANDING.c.test).with_for_update())
        if _turn(connection, viewer, again=turn.again) != turn:
            raise StoreError("received a request for what is no longer the last thing done here, expected one of this "
                             "moment, look at it again")
        name = new_name()
        note(connection, viewer, name, turn.action.kind, turn.action.label, AGAIN if turn.again else TAKEN_BACK,
             turn.action.name)
        for steps in _parts(turn.steps):
            _add(connection, viewer, steps, name)

    store.write(work)


def _turn(connection: Connection, viewer: Viewer, *, again: bool) -> Turn | None:
    found = done_and_undone(connection, viewer)[again]
    if not found:
        return None
    action = found[-1]
    tests = list(connection.execute(select(REVISIONS.c.test).where(
        REVISIONS.c.batch == action.name, may_see_version(viewer)).distinct().order_by(REVISIONS.c.test)).scalars())
    steps: list[Step] = []
    left: list[str] = []
    for part in _parts(tests):
        stands = dict(connection.execute(select(STANDING.c.test, STANDING.c.version).where(
            STANDING.c.test.in_(part), may_see(viewer))).all())
        rows = connection.execute(select(
            REVISIONS.c.test, REVISIONS.c.version, REVISIONS.c.kind, REVISIONS.c.batch, ACTIONS.c.target).select_from(
            REVISIONS.outerjoin(ACTIONS, ACTIONS.c.name == REVISIONS.c.batch)).where(
            REVISIONS.c.test.in_(part), REVISIONS.c.kind != "beside", may_see_version(viewer)).order_by(
            REVISIONS.c.test, REVISIONS.c.version)).all()
        for test, history in groupby(rows, key=lambda row: row.test):
            step = _step(test, list(history), stands.get(test), action.name)
            if step is None:
                left.append(test)
            else:
                steps.append(step)
    return Turn(action, again, tuple(steps), tuple(left))


def _step(test: str, history: Sequence[Any], stands: int | None, action: str) -> Step | None:
    """What stood before an action; None where another one changed the test since."""
    # What was taken back, or done again, is as if the version that it brought back had never left.
    same_as: dict[int, int] = {0: 0}
    before: dict[str, int] = {}  # of each action: the version that stood before it
    texts = {row.version: row.kind == "saved" for row in history} | {0: False}
    last = 0
    for row in history:
        before.setdefault(row.batch, last)
        last = before.get(row.target, 0) if row.target else row.version
        same_as[row.version] = last
    made = max(row.version for row in history if row.batch == action)
    if stands is None or same_as.get(stands) != same_as[made]:
        return None
    to = before[action]
    return Step(test, to if texts[to] else 0, not texts[stands])


def _add(connection: Connection, viewer: Viewer, steps: Sequence[Step], name: str) -> None:
    tests = [step.test for step in steps]
    last = dict(connection.execute(select(REVISIONS.c.test, func.max(REVISIONS.c.version)).where(
        REVISIONS.c.test.in_(tests)).group_by(REVISIONS.c.test)).all())
    owners = dict(connection.execute(select(STANDING.c.test, STANDING.c.owner).where(
        STANDING.c.test.in_(tests))).all())
    for step in steps:
        if step.to:
            found = connection.execute(select(REVISIONS).where(
                REVISIONS.c.test == step.test, REVISIONS.c.version == step.to)).one()
            entry = StoredText(step.test, found.text, found.digest, found.owner, found.source)
        else:
            entry = StoredText(step.test, "", "", owners[step.test])
        row = row_of(viewer, entry, last[step.test] + 1, "saved" if step.to else "withdrawn", name)
        connection.execute(insert(REVISIONS).values(row))
        connection.execute(update(STANDING).where(STANDING.c.test == step.test).values(
            version=row["version"], owner=entry.owner))


def _parts(items: Sequence[T]) -> list[Sequence[T]]:
    return [items[start:start + MANY] for start in range(0, len(items), MANY)]


def _names(tests: Sequence[str]) -> str:
    return ", ".join(tests[:_NAMED]) + (", ..." if len(tests) > _NAMED else "")


def _clock(at: str) -> str:
    return f"{datetime.datetime.fromisoformat(at).astimezone():%Y-%m-%d %H:%M}"
