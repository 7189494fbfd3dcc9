"""Rival explanations in words, and which of them is clear."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from ..cans.catch import Catch
from ..pattern.rivals import Fit, Rival
from ..record.doubts import Doubt
from ..record.places import line_named
from ..record.site import Site
from ..record.types import FLOOR_PARTS
from ..units.shown import place_text, show
from .kinds import LADDER

CLEAR = 6.0       # [1] log evidence from which a rival is told; 60 simulated sound tests gave up to 4.3
COUNTS = 3.0      # [1] log evidence from which a rival is listed
AS_GOOD = 3.0     # [1] log evidence within which two rivals cannot be told apart
MOST_LISTED = 4
ROUGH_RESIDUAL, POOR_RESIDUAL = 0.09, 0.16  # of the mean reading
POOR_MISFIT = 2.0


@dataclass(frozen=True)
class Words:
    """How one kind of rival is told: one entry.

    Attributes
    ----------
    if_so : callable
        From a site, `Setup.at` and ``metric`` or ``US`` to what follows 'your readings fit far better if'.
    check_next : str
        What to look at.
    path : callable
        From `Setup.at` to the key of the record that it is about.
    clear : float [1]
        Log evidence from which it is told; set on sound tunnels, higher where many weak heads look like it.
    change : callable or None
        From a site and `Setup.at` to the keys of the record that would be put right, with their new texts.
    corrected : callable or None
        From site, catch and rival to site and catch as they would be then; None where that is not modelled.
    where : str
        What `[[checked]]` names where that is another key than `path`; ``cans`` alone stands for the readings.
    """

    if_so: Callable[[Site, tuple[float, ...], str], str]
    check_next: str
    path: Callable[[tuple[float, ...]], tuple[str | int, ...]]
    clear: float = CLEAR
    change: Callable[[Site, tuple[float, ...]], dict[str, str]] | None = None
    corrected: Callable[[Site, Catch, Rival], tuple[Site, Catch]] | None = None
    where: str = ""


def _place(site: Site, at: tuple[float, ...]) -> float:
    return site.lines[int(at[0])].x + at[1]


def _moved_line(site: Site, catch: Catch, rival: Rival) -> tuple[Site, Catch]:
    number = int(rival.setup.at[0])
    lines = [replace(line, x=_place(site, rival.setup.at)) if k == number else line
             for k, line in enumerate(site.lines)]
    return replace(site, lines=tuple(lines)), catch


def _moved_heads(site: Site, catch: Catch, rival: Rival) -> tuple[Site, Catch]:
    return site.with_along([line.along + rival.setup.at[0] for line in site.lines]), catch


def _wider(site: Site, catch: Catch, rival: Rival) -> tuple[Site, Catch]:
    return replace(site, lines=tuple(replace(line, diameter=2 * line.diameter) if line.diameter else line
                                     for line in site.lines)), catch


def _in_order(site: Site, catch: Catch, rival: Rival) -> tuple[Site, Catch]:
    order = rival.setup.order
    return site, replace(catch, read_mm=catch.read_mm[order], depth_mm=catch.depth_mm[order])


def _line_words(site: Site, at: tuple[float, ...], system: str) -> str:
    line = site.lines[int(at[0])]
    return (f"{line_named(line.name)} hangs {show(_place(site, at), 'place', system)} from the left edge (the record "
            f"says {show(line.x, 'place', system)})")


def _first_words(site: Site, at: tuple[float, ...], system: str) -> str:
    side = "farther from" if at[0] > 0 else "nearer to"
    return f"all heads hang {show(abs(at[0]), 'place', system)} {side} the inlet end wall than the record says"


def _firsts(site: Site, at: tuple[float, ...]) -> dict[str, str]:
    """The first head of each line, or all of them where the record lists them."""
    found = {}
    for line, written in zip(site.lines, site.written_lines, strict=True):
        if written.heads_at is not None:
            order = sorted(range(len(written.heads_at)), key=lambda number: written.heads_at[number].si)
            found |= {f"lines.{line.name}.heads_at[{number + 1}]": place_text(y + at[0], site.system)
                      for number, y in zip(order, line.along, strict=True)}
        elif len(line.along):
            found[f"lines.{line.name}.first"] = place_text(line.along[0] + at[0], site.system)
    return found


def _drift_words(site: Site, at: tuple[float, ...], system: str) -> str:
    ways = [(at[0], "right", "left"), (at[1], "far end", "inlet end")]
    told = [f"{show(abs(size), 'place', system)} towards the {plus if size > 0 else minus}"
            for size, plus, minus in ways if abs(size) >= 0.1]
    return f"all water fell {' and '.join(told)} beside its heads"


def _kinds_words(site: Site, at: tuple[float, ...], system: str) -> str:
    wide = "farther" if at[1] > 1 else "less far"
    return f"the heads of {line_named(site.lines[int(at[0])].name)} are of another kind and throw {wide}"


def _outside_words(site: Site, at: tuple[float, ...], system: str) -> str:
    return f"water came in over the {'left' if at[0] < 0 else 'right'} side wall, from a line that is not this zone's"


def _sizes_words(site: Site, at: tuple[float, ...], system: str) -> str:
    return (f"the cans more than {show(at[0], 'place', system)} from the left edge catch {at[1]:.2f} times what the "
            "others would")


def _missing_words(site: Site, at: tuple[float, ...], system: str) -> str:
    return f"the zeros of {'column' if at[0] else 'row'} {at[1]:.0f} are cans that were not read"


def _about(*path: str) -> Callable[[tuple[float, ...]], tuple[str | int, ...]]:
    return lambda at: path


WORDS: dict[str, Words] = {
    "line place": Words(
        _line_words, "Measure where the line hangs, at both ends, from the left edge.",
        change=lambda site, at: {f"lines.{site.lines[int(at[0])].name}.x": place_text(_place(site, at), site.system)},
        corrected=_moved_line,
                     path=lambda at: ("lines", int(at[0]), "x")),
    "first head": Words(_first_words, "Measure from the inlet end wall to the first head of each line.",
                        change=_firsts, corrected=_moved_heads, path=_about("lines"), where="lines.first"),
    "wetted radius": Words(
        lambda site, at, system: "the wetted diameter in the record is a radius",
        "Look at the data sheet, or measure how far one head wets.", clear=8.0,
        change=lambda site, at: {"heads.wetted_diameter": show(2 * (site.common("diameter") or 0.0), "place",
                                                               site.system)},
        corrected=_wider,
                     path=_about("heads", "wetted_diameter")),
    "rows reversed": Words(lambda site, at, system: "the first row that was written is the last on the floor",
                           "Look at the field sheet: which row stands nearest the inlet end wall?",
                           corrected=_in_order,
                     path=_about("cans")),
    "columns mirrored": Words(lambda site, at, system: "the first can of each row stands at the right edge",
                              "Look at the field sheet: on which side does each row begin?", corrected=_in_order,
                     path=_about("cans")),
    "walk not undone": Words(lambda site, at, system: "readings stand in walking order, up one row and back the next",
                             "Look at the field sheet: does every row begin on the same side?", corrected=_in_order,
                     path=_about("cans")),
    "shifted by one": Words(lambda site, at, system: "every reading stands one can too far",
                            "Look for a can that was left out, or written twice.", corrected=_in_order,
                     path=_about("cans")),
    "two can sizes": Words(_sizes_words, "Compare the openings of the cans on both sides.", clear=10.0,
                           path=_about("cans", "opening")),
    "missing as 0": Words(_missing_words, "Look at the field sheet: were these cans read? A can without a reading is "
                          "nan, not 0.", path=_about("cans")),
    "drift": Words(_drift_words, "Measure where the heads hang; then hold a strip of film in the spray with the sides "
                   "as they were, or repeat with the sides closed.",
                     path=_about("run", "wind")),
    "two kinds": Words(_kinds_words, "Compare colour and size of the nozzles of both lines." + LADDER,
                     path=lambda at: ("lines", int(at[0]))),
    "heights": Words(lambda site, at, system: "every second head throws less far, as heads that hang lower do",
                     "Compare the heights of neighbouring heads, and their nozzles." + LADDER,
                     path=_about("heads", "height"), clear=30.0),
    "part circles": Words(lambda site, at, system: "the heads beside the walls throw half circles into the tunnel",
                          "Look at the heads beside the walls while they run.",
                     path=_about("heads")),
    "outside water": Words(_outside_words, "Close the neighbouring valves and repeat the test; look for spray that "
                           "comes in from beside.",
                     path=_about("lines")),
    "rain": Words(lambda site, at, system: "the same water fell everywhere beside that of the heads",
                  "Was there rain, dripping film or another system that ran?", clear=15.0,
                     path=_about("run")),
    "drip line": Words(
        lambda site, at, system: f"a narrow strip {show(at[0], 'place', system)} from the left edge got water of its "
        "own", "Look for a drip line or a leaking tube there.", clear=15.0,
                     path=_about("run")),
}


def listed(fit: Fit) -> list[Rival]:
    """Rivals that count, best first.

    Parameters
    ----------
    fit : Fit
        From `pattern.rivals.rivals_of`.

    Returns
    -------
    list of Rival
        At most `MOST_LISTED`.
    """
    return [rival for rival in fit.rivals if rival.evidence >= COUNTS][:MOST_LISTED]


def clear_rival(fit: Fit) -> Rival | None:
    """The rival that is told before the figures.

    Parameters
    ----------
    fit : Fit
        From `pattern.rivals.rivals_of`.

    Returns
    -------
    Rival or None
        The best one, where it is clearly better than the record as it stands.
    """
    best = fit.rivals[0] if fit.rivals else None
    return best if best is not None and best.evidence >= WORDS[best.kind].clear else None


def alike(fit: Fit, best: Rival) -> list[Rival]:
    """Rivals that cannot be told from the best one.

    Parameters
    ----------
    fit : Fit
        All rivals.
    best : Rival
        The best of them.

    Returns
    -------
    list of Rival
    """
    return [rival for rival in fit.rivals if rival is not best and rival.evidence > best.evidence - AS_GOOD]


def grade(fit: Fit) -> str:
    """How well the record as it stands explains the readings.

    Parameters
    ----------
    fit : Fit
        From `pattern.rivals.rivals_of`.

    Returns
    -------
    str
        ``poor`` where readings lie far from any pattern of these heads; ``rough`` where they lie further than sound
        readings do, or something else explains them clearly better; else ``good``.
    """
    if fit.residual > POOR_RESIDUAL or fit.misfit > POOR_MISFIT:
        return "poor"
    return "rough" if fit.residual > ROUGH_RESIDUAL or clear_rival(fit) is not None else "good"


def says(site: Site, fit: Fit, system: str) -> str:
    """The fit in one or two sentences.

    Parameters
    ----------
    site : Site
        The test.
    fit : Fit
        How well it explains the readings.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    str
    """
    off = f"{100 * fit.residual:.0f} % of the mean"
    best = clear_rival(fit)
    if best is None:
        return {"good": f"The heads explain the readings to {off}.",
                "rough": f"The heads explain the readings only roughly, to {off}.",
                "poor": f"The heads do not explain the readings: they are {off} off, and nothing that was tried "
                        "explains them. Read some cans again, and compare the record with the tunnel."}[grade(fit)]
    told = " or if ".join(WORDS[rival.kind].if_so(site, rival.setup.at, system) for rival in [best, *alike(fit, best)])
    return f"Your readings fit far better if {told}. {WORDS[best.kind].check_next}"


def corrected(site: Site, catch: Catch, rival: Rival) -> tuple[Site, Catch] | None:
    """Site and catch as they would be if a rival is right.

    Parameters
    ----------
    site : Site
        As the record says.
    catch : Catch
        As it was read.
    rival : Rival
        A clear one.

    Returns
    -------
    (Site, Catch) or None
        None for a rival that cannot be put right that way.
    """
    how = WORDS[rival.kind].corrected
    return how(site, catch, rival) if how is not None else None


def where_of(site: Site, rival: Rival) -> str:
    """The key that somebody looks at again to settle a rival.

    Parameters
    ----------
    site : Site
        The test.
    rival : Rival
        One of its rivals.

    Returns
    -------
    str
        With names of lines, as `[[checked]]` has it.
    """
    words = WORDS[rival.kind]
    if words.where:
        return words.where
    path = words.path(rival.setup.at)
    if path == ("cans",):
        return site.readings_key
    return ".".join(site.lines[step].name if isinstance(step, int) else step for step in path)


def unsettled(site: Site, fit: Fit) -> tuple[Fit, list[Rival]]:
    """The fit without the rivals that somebody has checked, and those of them that would have counted.

    Parameters
    ----------
    site : Site
        The test.
    fit : Fit
        From `pattern.rivals.rivals_of`.

    Returns
    -------
    (Fit, list of Rival)
    """
    if not site.checked:
        return fit, []
    settled = [rival for rival in fit.rivals if (rival.kind, where_of(site, rival)) in site.checked]
    return (replace(fit, rivals=tuple(rival for rival in fit.rivals if rival not in settled)),
            [rival for rival in settled if rival.evidence >= COUNTS])


def doubt_of(site: Site, fit: Fit, system: str) -> Doubt | None:
    """A clear rival as something to be looked at before anything rests on the record.

    Drift is no such doubt: the estimate seeks it itself, and it is told among the causes.

    Parameters
    ----------
    site : Site
        The test.
    fit : Fit
        How well it explains the readings.
    system : str
        ``metric`` or ``US``.

    Returns
    -------
    Doubt or None
        It closes what is worked out from the heads of the record; the whole floor stays open, as if the rival were
        right. Where nothing explains the readings, the whole floor is closed too.
    """
    best = clear_rival(fit)
    if best is None:
        return _unexplained(site, fit, system) if grade(fit) == "poor" else None
    if best.kind == "drift":
        return None
    return Doubt(WORDS[best.kind].path(best.setup.at),
                 f"{says(site, fit, system)} The whole floor is told as if it were so. Until that is settled, left "
                 "out: fixes, watering.", ("fixes", "watering"))


def _unexplained(site: Site, fit: Fit, system: str) -> Doubt:
    return Doubt(("cans",), f"{says(site, fit, system)} Until that is settled, left out: whole floor, fixes, "
                 "watering.", (*FLOOR_PARTS, "watering"))
