"""Settling a rival of the record: the record put right, or the entry that it was checked and is right."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from ..cans.catch import read_catch
from ..causes.explained import fit_of
from ..causes.rivals import WORDS, listed, where_of
from ..pattern.rivals import Rival
from ..record.model import Record
from ..record.places import all_readings
from ..record.said import value_at, with_checked, with_readings, with_values
from ..record.site import Site, site_of
from .model import Result

MOST_LINES = 6  # of what changes that are told one by one


@dataclass(frozen=True)
class Settling:
    """A rival of a test, and the record as it would be once that is settled.

    Attributes
    ----------
    kind : str
        Of the rival.
    says : str
        What the readings would fit better.
    where : str
        The key that is looked at.
    lines : list of str
        What changes in the record, a line each: key, what stands there, what would stand there.
    record : Record
        As it would be.
    """

    kind: str
    says: str
    where: str
    lines: list[str]
    record: Record


def can_be_put_right(kind: str) -> bool:
    """Whether a change of the record settles a kind of rival.

    Parameters
    ----------
    kind : str
        Of the rival.

    Returns
    -------
    bool
    """
    return WORDS[kind].corrected is not None


def put_right(record: Record, number: int, on: datetime.date) -> Settling:
    """The record as it would be if a rival is right.

    Parameters
    ----------
    record : Record
        With heads and readings.
    number : int [1]
        Of the rival, from 1, as `fit.rivals` lists them.
    on : date
        The day, for `[[corrected]]`.

    Returns
    -------
    Settling
        A place is changed; readings are changed with what was read in `[[corrected]]`.

    Raises
    ------
    ValueError
        For a rival that is not there, or that no change of the record settles.
    """
    site, rival = _rival(record, number)
    words, at = WORDS[rival.kind], rival.setup.at
    says = words.if_so(site, at, site.system)
    changes = words.change(site, at) if words.change else None
    if not can_be_put_right(rival.kind):
        where = "at the cans and the field sheet" if rival.of == "record" else "at the tunnel instead"
        raise ValueError(f"received rival {number} ({rival.kind}), which no change of the record settles, expected one "
                         f"of the record, look {where}: {words.check_next}")
    where = where_of(site, rival)
    if changes:
        after = with_values(record, changes)
        lines = [f"{key}: {value_at(record, key)} -> {value}" for key, value in list(changes.items())[:MOST_LINES]]
        if len(changes) > MOST_LINES:
            lines.append(f"and {len(changes) - MOST_LINES} more places, each moved as far")
        return Settling(rival.kind, says, where, lines, after)
    was = all_readings(record.cans)
    order = rival.setup.order if rival.setup.order is not None else range(len(was))
    after = with_readings(record, [was[k] for k in order], rival.kind, on)
    differ = sum(one != other for one, other in zip(was, all_readings(after.cans), strict=True))
    lines = [f"{where}: {differ} of {len(was)} readings stand at another can; what was read is kept in [[corrected]]"]
    return Settling(rival.kind, says, where, lines, after)


def found_right(record: Record, number: int, on: datetime.date) -> Settling:
    """The record with the entry that a rival was checked and the record is right.

    Parameters
    ----------
    record : Record
        With heads and readings.
    number : int [1]
        Of the rival, from 1, as `fit.rivals` lists them.
    on : date
        The day.

    Returns
    -------
    Settling

    Raises
    ------
    ValueError
        For a rival that is not there.
    """
    site, rival = _rival(record, number)
    where = where_of(site, rival)
    after = with_checked(record, rival.kind, where, on)
    value = after.checked[-1].value if after.checked else ""
    return Settling(rival.kind, WORDS[rival.kind].if_so(site, rival.setup.at, site.system), where,
                    [f"checked: {rival.kind}, {where}: {value or 'as it is'} is right"], after)


def _rival(record: Record, number: int) -> tuple[Site, Rival]:
    """The site and one of its rivals that count."""
    site = site_of(record)
    fit, _ = fit_of(site, read_catch(site))
    found = listed(fit) if fit is not None else []
    if not 1 <= number <= len(found):
        there = f"a number from 1 to {len(found)}" if found else "a test that something else explains better"
        raise ValueError(f"received rival {number}, expected {there}, see `fit` in `evenfall assess --json`")
    return site, found[number - 1]


def before_after(before: Result, after: Result) -> list[tuple[str, str, str]]:
    """The figures of a test beside those of the record put right.

    Parameters
    ----------
    before, after : Result
        Of both records, rivals weighed.

    Returns
    -------
    list of (what, before, after)
        DUlq and CU at the cans and of the whole floor with its interval, and how well the heads explain the readings.
    """
    def floor(result: Result, key: str) -> str:
        if result.whole_floor is None:
            return "closed"
        figure = getattr(result.whole_floor, key)
        return f"{figure.value:.0f} % ({figure.low:.0f} to {figure.high:.0f})"

    def fit(result: Result) -> str:
        return f"{result.fit.residual_percent:.0f} % off, {result.fit.grade}" if result.fit else "not weighed"

    rows = [("DUlq at the cans", *(f"{one.at_the_cans.du_low_quarter:.0f} %" for one in (before, after))),
            ("CU at the cans", *(f"{one.at_the_cans.cu:.0f} %" for one in (before, after))),
            ("DUlq of the whole floor", *(floor(one, "du_low_quarter") for one in (before, after))),
            ("CU of the whole floor", *(floor(one, "cu") for one in (before, after))),
            ("heads explain the readings", *(fit(one) for one in (before, after)))]
    return [(what, one, other) for what, one, other in rows]
