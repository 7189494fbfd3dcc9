"""What is at fault by name: it is mended before anything is changed."""

from __future__ import annotations

from collections.abc import Sequence

from ...causes.cause import Cause
from .judge import Baseline

SURE = 0.5  # strength from which a cause is likely enough to be mended first


def at_fault(baseline: Baseline, causes: Sequence[Cause] = ()) -> list[str]:
    """The change that mends what is at fault.

    Parameters
    ----------
    baseline : Baseline
        The test; the heads that stand out in its estimate are at fault.
    causes : sequence of Cause
        What may be wrong, with the heads and lines that it names.

    Returns
    -------
    list of str
        As `changes.read_changes` takes it; empty where nothing is at fault.
    """
    likely = [cause for cause in causes if cause.strength >= SURE]
    suspects = {baseline.floor.heads[suspect.head][:2] for suspect in baseline.floor.estimate.suspects}
    order = [line.name for line in baseline.site.lines]
    wanted = sorted(suspects | {head for cause in likely for head in cause.mends if head[0] in order},
                    key=lambda head: (order.index(head[0]), head[1]))
    texts = [f"{line}:{number or 'all'}" for line, number in wanted]
    found = [f"mend={'suspects' if set(wanted) == suspects else ', '.join(texts)}"] if wanted else []
    supply = baseline.site.supply
    loaded = supply.filter.loaded if supply is not None and supply.filter else None
    known = baseline.water is not None and baseline.water.fed
    if known and loaded is not None and loaded > 1 and any(cause.kind == "filter loaded" for cause in likely):
        found.append("filter=clean")
    return found
