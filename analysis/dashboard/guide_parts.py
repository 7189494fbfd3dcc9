"""The guide's texts, which come with the package."""

from __future__ import annotations

from importlib.resources import files

PARTS = {"figures": "How to read the figures", "store": "A store for many", "api": "From Python", "json": "As JSON",
         "licences": "Licences"}


def guide_text(part: str) -> str:
    """A part of the guide as Markdown."""
    return (files("evenfall") / "guide" / f"{part}.md").read_text("utf-8")
