"""The invented sample records that come with the tool."""

from __future__ import annotations

from pathlib import Path

# What each shows; the order in which they are offered.
SHOWS = {
    "blocked-head": "a dry patch under one blocked head (US units)",
    "commissioning": "a new system handed over, with beds and control cans",
    "starved-far-end": "a far end that is starved of pressure",
    "lines-too-far-apart": "a dry strip between two lines",
    "before-repair": "clogged heads, before they were cleaned",
    "after-repair": "the same tunnel after the repair",
    "staggered-rows": "staggered rows of cans, lines in turn, beds",
    "half-circles": "half circles beside the walls, and heads of another kind",
    "bare": "nothing but the floor, the cans and the time",
}
FIRST = "blocked-head"


def folder() -> Path:
    """Where the sample records are.

    Returns
    -------
    Path
        In the installed package, or beside it in a checkout.
    """
    package = Path(__file__).parents[1]
    inside = package / "sample_tests"
    return inside if inside.is_dir() else package.parent / "sample_tests"


def sample_text(name: str) -> str:
    """Read a sample record.

    Parameters
    ----------
    name : str
        A key of `SHOWS`.

    Returns
    -------
    str
        TOML.

    Raises
    ------
    ValueError
        For another name.
    """
    if name not in SHOWS:
        raise ValueError(f"received the sample {name!r}, expected one of {', '.join(SHOWS)}, choose one")
    return (folder() / f"{name}.toml").read_text("utf-8")
