"""What people did with a store, in order: an import, a save, an older version that stands again, a test taken off.

Every revision carries the name of the action that made it. Taking an action back is an action too, and so is doing it
again: nothing is ever removed.
"""

from __future__ import annotations

import datetime
import secrets
from dataclasses import dataclass, replace

from sqlalchemy import Connection, insert, select

from .tables import ACTIONS
from .viewer import Viewer

IMPORT, SAVE, STAND, TAKE_OFF = "import", "save", "stand", "take off"
DONE, TAKEN_BACK, AGAIN = "done", "taken back", "again"


@dataclass(frozen=True)
class Action:
    """Something that one person did."""

    name: str  # 16 characters 0-9 a-f; the batch of its revisions
    kind: str  # `IMPORT`, `SAVE`, `STAND` or `TAKE_OFF`; of what it takes back or does again, that one's
    way: str  # `DONE`, `TAKEN_BACK` or `AGAIN`
    target: str  # the action that it takes back or does again, if any
    label: str  # what it was about: a folder, files, a test
    made_at: str  # ISO 8601 in UTC; of what is done again, when it was done first

    @property
    def what(self) -> str:
        """What was done: part of a sentence."""
        return {IMPORT: f"the import of {self.label}", SAVE: f"saving {self.label}",
                STAND: f"letting {self.label} stand", TAKE_OFF: f"taking {self.label} off the list"}[self.kind]


_COLUMNS = tuple(ACTIONS.c[name] for name in ("name", "kind", "way", "target", "label", "made_at"))


def new_name() -> str:
    """Name an action, at random."""
    return secrets.token_hex(8)


def now() -> str:
    """This moment as rows have it."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")


def note(connection: Connection, viewer: Viewer, name: str, kind: str, label: str, way: str = DONE,
         target: str = "") -> None:
    """Note an action; one that is noted already, an import in its next step, stays as it is."""
    if connection.execute(select(ACTIONS.c.name).where(ACTIONS.c.name == name)).scalar() is None:
        connection.execute(insert(ACTIONS).values(name=name, kind=kind, way=way, target=target, label=label[:200],
                                                  made_at=now(), person=viewer.person))


def done_and_undone(connection: Connection, viewer: Viewer) -> tuple[list[Action], list[Action]]:
    """What a person did that was not taken back, and what took back the rest and may be done again; the last at the
    end of each."""
    done: list[Action] = []
    undone: list[Action] = []
    when: dict[str, str] = {}
    for row in connection.execute(select(*_COLUMNS).where(
            ACTIONS.c.person == viewer.person).order_by(ACTIONS.c.number)):
        item = Action(*row)
        when[item.name] = when.get(item.target, item.made_at)
        item = replace(item, made_at=when[item.name])
        if item.way == TAKEN_BACK:
            done = [other for other in done if other.name != item.target]
            undone.append(item)
        elif item.way == AGAIN:
            undone = [other for other in undone if other.name != item.target]
            done.append(item)
        else:
            done.append(item)
            undone.clear()
    return done, undone
