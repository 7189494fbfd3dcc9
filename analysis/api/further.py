"""What to read next, and whether a mended head gives its share again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..record.model import Record
from .assessed import Assessment, with_readings

if TYPE_CHECKING:
    from ..changes.mended import MendedHead
    from ..planning.more import MoreCans


def more_cans(record: Record | Assessment, n: int = 8, system: str = "metric") -> MoreCans:
    """Choose places for further cans, and heads for a bottle.

    Parameters
    ----------
    record : Record or Assessment
        A test with readings.
    n : int
        How many further cans there are, 1 to 40.
    system : str
        ``metric`` or ``US``: marks of the tape, and units in sentences.

    Returns
    -------
    MoreCans
        With `cans`, `bottles`, `narrows` (`now` and `then`, points of the whole floor's DUlq) and `enough`.

    Raises
    ------
    ValueError
        For another number of cans, or where the whole floor is closed; the sentence says why.
    """
    from ..planning.more import more_cans as choose
    from ..record.site import site_of

    checked = with_readings(record.record if isinstance(record, Assessment) else record, system)
    found: MoreCans = choose(site_of(checked), count=n, system=system)
    return found


def mended(record: Record, before: Record, heads: list[tuple[str, int]] | None = None) -> list[MendedHead]:
    """Ask whether heads are mended, from a few cans around them and an earlier test of the same lines.

    Parameters
    ----------
    record : Record
        The cans of today; four are enough, eight are better.
    before : Record
        The earlier test, with its lines.
    heads : list of (line, number), optional
        Those asked for; the earlier test's weak heads with cans in reach if left out.

    Returns
    -------
    list of MendedHead
        Each with `answer` (``mended``, ``still weak``, ``cannot tell``), `chance`, `before` and `after`.

    Raises
    ------
    ValueError
        For an earlier test without lines or of another floor, unknown heads, or cans in reach of no weak head.
    """
    from ..changes.mended import mended_heads
    from ..record.site import site_of

    found: list[MendedHead] = mended_heads(site_of(with_readings(record)), site_of(with_readings(before)), heads)
    return found
