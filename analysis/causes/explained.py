"""The whole floor by what explains the readings best, as every page, paper and command tells it."""

from __future__ import annotations

from collections.abc import Callable

from ..cans.catch import Catch
from ..pattern.mixture import beside
from ..pattern.rivals import Fit, Rival, rivals_of
from ..pattern.whole_floor import WholeFloor, estimate_floor
from ..record.site import Site
from .cause import Cause
from .rivals import WORDS, clear_rival, corrected, unsettled


def fit_of(site: Site, catch: Catch) -> tuple[Fit | None, list[Rival]]:
    """What explains the readings, without the rivals that somebody has checked.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.

    Returns
    -------
    fit : Fit or None
        None without heads or with few cans.
    checked : list of Rival
        Those that would have counted.
    """
    fit = rivals_of(site, catch)
    return unsettled(site, fit) if fit else (None, [])


def rests_on(site: Site, catch: Catch, best: Rival | None) -> tuple[Site, Catch, Rival | None]:
    """What the whole floor is estimated from where an explanation is clearly the best.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.
    best : Rival or None
        The explanation; None takes the record as it stands.

    Returns
    -------
    site, catch : Site, Catch
        Put right, where the explanation says how.
    base : Rival or None
        The explanation that heads and profile rest on, where it cannot be put right.
    """
    if best is None or best.kind == "drift":  # the estimate itself seeks drift
        return site, catch, None
    put_right = corrected(site, catch, best)
    return (*put_right, None) if put_right else (site, catch, best)


def floor_by(site: Site, catch: Catch, fit: Fit | None,
             progress: Callable[[float], None] | None = None) -> WholeFloor:
    """The whole floor by the explanation that is clearly the best, and by those that compete with it.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.
    fit : Fit or None
        What explains them; None takes the record as it stands.
    progress : callable, optional
        Called with a part done from 0 to 1.

    Returns
    -------
    WholeFloor
    """
    if fit is None:
        return estimate_floor(site, catch, progress)
    best = clear_rival(fit)
    there, cans, base = rests_on(site, catch, best)
    return estimate_floor(there, cans, progress, base, beside(fit, best))


def floor_today(site: Site, catch: Catch) -> WholeFloor:
    """The whole floor that a change or a later test is held against: with the heads where the record has them.

    Parameters
    ----------
    site : Site
        The test.
    catch : Catch
        Its cans.

    Returns
    -------
    WholeFloor
        With what competes in it, as long as nothing is clearly better than the record.
    """
    fit, _ = fit_of(site, catch)
    clear = clear_rival(fit) if fit else None
    return floor_by(site, catch, None if clear and clear.kind != "drift" else fit)


def with_rival(causes: list[Cause], site: Site, fit: Fit, system: str) -> list[Cause]:
    """The causes with a clear rival that is true of the tunnel, told once.

    Parameters
    ----------
    causes : list of Cause
        All others.
    site : Site
        The test.
    fit : Fit
        What explains the readings.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    list of Cause
        Strongest first.
    """
    best = clear_rival(fit)
    if best is None or best.of != "tunnel" or any(cause.kind == best.kind for cause in causes):
        return causes
    words = WORDS[best.kind]
    told = words.if_so(site, best.setup.at, system)
    cause = Cause(told, "", f"The readings fit far better if {told}.", best.evidence / (best.evidence + words.clear),
                  words.check_next, kind=best.kind, explains="pattern")
    return sorted([cause, *causes], key=lambda one: -one.strength)
