"""The guide's texts, which come with the package."""

from __future__ import annotations

import re
from importlib.resources import files

PARTS = {"figures": "How to read the figures", "more": "More cans, and is it mended?",
         "store": "A store for many", "api": "From Python", "json": "As JSON",
         "licences": "Licences"}


def guide_text(part: str) -> str:
    """A part of the guide as Markdown."""
    return (files("evenfall") / "guide" / f"{part}.md").read_text("utf-8")


def on_a_page(text: str) -> str:
    """A text whose titles stand one level lower, under the title of the page that shows it."""
    blocks = re.split(r"(?ms)(^```.*?^```)", text)  # what begins with # in an example is a remark
    return "".join(block if block.startswith("```") else re.sub(r"(?m)^(#+ )", r"#\1", block) for block in blocks)
