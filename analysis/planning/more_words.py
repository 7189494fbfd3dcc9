"""Places for further cans in sentences and tables that a terminal and a page share."""

from __future__ import annotations

from ..record.places import line_named
from .layouts import tape_text
from .more import MOST_CANS, SETTLED, MoreCans


def narrows_words(found: MoreCans) -> list[str]:
    """Say what the cans are expected to bring, and how many would be enough.

    Parameters
    ----------
    found : MoreCans
        From `more_cans`.

    Returns
    -------
    list of str
        Sentences.
    """
    now, then, count = found.narrows.now, found.narrows.then, len(found.cans)
    said = [f"DUlq of the whole floor is known within {now:.0f} points today (its 90 % interval)."]
    if count:
        said.append(f"With {'this can' if count == 1 else f'these {count} cans'} about {then:.0f} points are expected.")
    if found.enough == 0:
        said.append(f"{SETTLED:.0f} points or less count as settled, so no further can is needed for DUlq.")
    elif found.enough is None:
        said.append(f"Even {MOST_CANS} further cans would hardly bring it to {SETTLED:.0f} points.")
    else:
        cans = "1 further can" if found.enough == 1 else f"{found.enough} further cans"
        said.append(f"{cans[0].upper()}{cans[1:]} would bring it to {SETTLED:.0f} points or less.")
    return said


def further_rows(found: MoreCans, units: str) -> list[dict[str, str]]:
    """The places, one a row.

    Parameters
    ----------
    found : MoreCans
        From `more_cans`.
    units : str
        ``metric`` or ``US``.

    Returns
    -------
    list of dict
        Heading -> text.
    """
    return [{"Can": str(number), "Across": tape_text(can.x_m, units), "Along": tape_text(can.y_m, units),
             "Why": can.why} for number, can in enumerate(found.cans, 1)]


def bottle_rows(found: MoreCans) -> list[dict[str, str]]:
    """The heads for a bottle, one a row.

    Parameters
    ----------
    found : MoreCans
        From `more_cans`.

    Returns
    -------
    list of dict
        Heading -> text.
    """
    return [{"Head": f"{line_named(bottle.line)} head {bottle.head}", "Why": bottle.why} for bottle in found.bottles]
