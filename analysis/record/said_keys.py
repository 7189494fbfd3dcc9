"""The keys of what was said after the readings: what was looked at again, and readings that were put right."""

from __future__ import annotations

from .section import Section, key, must
from .types import Day, Short, WasRead


class Checked(Section):
    """What a person looked at again and found right."""

    what: Short = must('the explanation that it speaks against, in quotes, such as "line place"')
    where: Short = must('the key that was looked at, in quotes, such as "lines.left.x"')
    value: Short | None = key("what stood there then; when something else stands there, it counts no more")
    on: Day | None = key("the day, such as 2027-03-20")


class Corrected(Section):
    """Readings that were put right after the fact."""

    what: Short = must('the key that was put right, in quotes, such as "cans.grid[3]"')
    was: WasRead = must("what stood there before: readings, or a text")
    why: Short = must('why it was put right, in quotes, such as "row times ten"')
    on: Day | None = key("the day, such as 2027-03-20")
