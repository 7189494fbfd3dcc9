"""The whole floor by what explains the readings best, as every page, paper and command tells it."""

from __future__ import annotations

from collections.abc import Callable

from ..cans.catch import Catch
from ..pattern.estimate import DRAWS
from ..pattern.mixture import beside
from ..pattern.rivals import Fit, rivals_of
from ..pattern.whole_floor import WholeFloor, estimate_floor
from ..record.site import Site
from .cause import Cause
from .rivals import WORDS, clear_rival, corrected, unsettled


def floor_by(site: Site, catch: Catch, fit: Fit | None, progress: Callable[[float], None] | None = None, *,
             draws: int = DRAWS) -> WholeFloor:
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
    draws : int [1]
        Sampled floors.

    Returns
    -------
    WholeFloor
    """
    if fit is None:
        return estimate_floor(site, catch, progress, draws=draws)
    best = clear_rival(fit)
    put_right = corrected(site, catch, best) if best else None
    base = best if best and not put_right and best.kind != "drift" else None  # the estimate itself seeks drift
    return estimate_floor(*(put_right or (site, catch)), progress, base, beside(fit, best), draws=draws)


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
    fit = rivals_of(site, catch)
    fit = unsettled(site, fit)[0] if fit else None
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
