"""A page that knows the house's fonts, headings and tables."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from pathlib import Path

from fpdf import FPDF

PAPERS = ("A4", "Letter")
MARGIN = 14.0  # [mm]
INK, FAINT = 0, 110
_FONTS = Path(__file__).parent / "fonts"
_FONT = "sheet"


class Page(FPDF):
    """A document in the making; places and sizes in mm, type in points."""
    # Text is literal: nothing in it is read as markup, and no file or address is opened because of it. Glyphs that the
    # font lacks are drawn as a box.

    def __init__(self, paper: str, title: str, kind: str) -> None:
        super().__init__(format=paper, unit="mm")
        logging.getLogger("fpdf").setLevel(logging.ERROR)  # a name in a script that the font lacks is no fault
        logging.getLogger("fontTools").setLevel(logging.ERROR)
        self.add_font(_FONT, "", _FONTS / "DejaVuSans.ttf")
        self.add_font(_FONT, "B", _FONTS / "DejaVuSans-Bold.ttf")
        self.set_text_shaping(True)
        self.set_title(f"{kind}: {title}")
        self.set_lang("en")
        self.set_creator("Evenfall")
        self.set_margins(MARGIN, MARGIN, MARGIN)
        self.set_auto_page_break(True, margin=MARGIN + 4)
        self.title_shown, self.kind = title, kind
        self.type(10)

    def header(self) -> None:
        """Draw the head of every page but the first."""
        if self.page_no() == 1:
            return
        self.type(8, grey=FAINT)
        self.cell(0, 5, self.clipped(f"{self.kind} · {self.title_shown}", self.epw), new_x="LMARGIN", new_y="NEXT")
        self.type(10)
        self.ln(1)

    def footer(self) -> None:
        """Draw the foot of every page."""
        self.set_y(-MARGIN)
        self.type(8, grey=FAINT)
        self.cell(0, 5, f"Evenfall · page {self.page_no()} of {{nb}}", align="R")
        self.type(10)

    def type(self, size: float, *, bold: bool = False, grey: int = INK) -> None:
        """Choose the type."""
        self.set_font(_FONT, "B" if bold else "", size)
        self.set_text_color(grey)

    def heading(self, text: str, level: int = 1) -> None:
        """Write a heading that is a bookmark too."""
        if self.will_page_break(28):
            self.add_page()
        self.start_section(text, level)
        self.type(16 if level == 0 else 11.5, bold=True)
        if level:
            self.ln(2)
        self.multi_cell(0, 8 if level == 0 else 6, text, new_x="LMARGIN", new_y="NEXT", align="L")
        self.type(10)

    def para(self, text: str, *, size: float = 9.5, indent: float = 0.0, bold: bool = False, grey: int = INK) -> None:
        """Write a paragraph."""
        self.type(size, bold=bold, grey=grey)
        self.set_x(self.l_margin + indent)
        self.multi_cell(self.epw - indent, size * 0.47, text, new_x="LMARGIN", new_y="NEXT", align="L")
        self.ln(0.8)
        self.type(10)

    def points(self, texts: Sequence[str], *, size: float = 9.0) -> None:
        """Write a list of sentences."""
        for text in texts:
            if self.will_page_break(2 * size * 0.47):
                self.add_page()
            top = self.get_y()
            self.type(size)
            self.set_xy(self.l_margin, top)
            self.cell(4, size * 0.47, "–")
            self.set_xy(self.l_margin, top)
            self.para(text, size=size, indent=4)

    def ruled(self, head: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float], *,
              height: float = 5.6, size: float = 8.5, numbers: Sequence[int] = ()) -> None:
        """Draw a table; its head stands on every page."""
        wide = [self.epw * part / sum(widths) for part in widths]
        self.set_draw_color(160)
        self._row(head, wide, height, size, numbers, bold=True)
        for row in rows:
            self.type(size)
            if self.will_page_break(self._row_height(row, wide, height, size)):
                self.add_page()
                self._row(head, wide, height, size, numbers, bold=True)
            self._row(row, wide, height, size, numbers)
        self.set_draw_color(0)
        self.type(10)
        self.ln(1.5)

    def _lines_in(self, text: str, width: float) -> list[str]:
        lines = self.multi_cell(width, 1, text, dry_run=True, output="LINES", align="L")
        return list(lines) if isinstance(lines, list) and lines else [""]

    def _row_height(self, cells: Sequence[str], wide: Sequence[float], height: float, size: float) -> float:
        most = max(len(self._lines_in(text, width - 1)) for text, width in zip(cells, wide, strict=True))
        return height + (most - 1) * size * 0.45

    def _row(self, cells: Sequence[str], wide: Sequence[float], height: float, size: float, numbers: Sequence[int],
             bold: bool = False) -> None:
        self.type(size, bold=bold)
        self.set_draw_color(160)  # a new page begins with its own colour
        high, step = self._row_height(cells, wide, height, size), size * 0.45
        left, top = self.l_margin, self.get_y()
        for place, (text, width) in enumerate(zip(cells, wide, strict=True)):
            lines = self._lines_in(text, width - 1)
            for number, line in enumerate(lines):
                self.set_xy(left, top + (height - step) / 2 + number * step)
                self.cell(width - 1, step, line, align="R" if place in numbers else "L")
            left += width
        self.line(self.l_margin, top + high, self.l_margin + self.epw, top + high)
        self.set_xy(self.l_margin, top + high)

    def points_height(self, texts: Sequence[str], *, size: float = 9.0) -> float:
        """Tell how high a list of sentences will be."""
        self.type(size)
        lines = sum(len(self._lines_in(text, self.epw - 4)) for text in texts)
        self.type(10)
        return lines * size * 0.47 + 0.8 * len(texts)

    def facts(self, pairs: Sequence[tuple[str, str]], *, name: float = 0.32, size: float = 9.0) -> None:
        """Write names and values below each other; a value may take several lines."""
        left = self.epw * name
        for label, value in pairs:
            if self.will_page_break(2 * size * 0.5):
                self.add_page()
            top = self.get_y()
            self.type(size, grey=FAINT)
            self.cell(left, size * 0.5, self.clipped(label, left - 2))
            self.set_xy(self.l_margin + left, top)
            self.type(size)
            self.multi_cell(self.epw - left, size * 0.5, value, new_x="LMARGIN", new_y="NEXT", align="L")
        self.type(10)
        self.ln(1)

    def blanks(self, names: Sequence[str], *, columns: int = 3, height: float = 8.0,
               filled: Sequence[str] = ()) -> None:
        """Draw lines to write on, with their names before them."""
        width, gap = self.epw / columns, 4.0
        known = [*filled, *[""] * (len(names) - len(filled))]
        for start in range(0, len(names), columns):
            if self.will_page_break(height):
                self.add_page()
            top = self.get_y()
            for place, (text, value) in enumerate(zip(names[start:start + columns], known[start:start + columns],
                                                      strict=True)):
                left = self.l_margin + place * width
                self.type(8, grey=FAINT)
                self.set_xy(left, top + height - 5)
                self.cell(width, 5, self.clipped(text, 0.6 * width))
                used = min(self.get_string_width(text), 0.6 * width) + 1.5
                self.line(left + used, top + height - 0.8, left + width - gap, top + height - 0.8)
                if value:
                    self.type(9)
                    self.set_xy(left + used, top + height - 5)
                    self.cell(width - gap - used, 5, self.clipped(value, width - gap - used))
            self.set_y(top + height)
        self.type(10)
        self.ln(1.5)

    def clipped(self, text: str, width: float, *, middle: bool = False) -> str:
        """Shorten a text until it fits."""
        text = " ".join(text.split())
        if self.get_string_width(text) <= width:
            return text
        low, high = 0, len(text)
        while low < high:
            most = (low + high + 1) // 2
            fits = self.get_string_width(_shortened(text, most, middle)) <= width
            low, high = (most, high) if fits else (low, most - 1)
        return _shortened(text, low, middle)


def _shortened(text: str, length: int, middle: bool) -> str:
    last = length // 2 if middle else 0
    return text[:length - last] + "…" + (text[-last:] if last else "")


def new_page(paper: str, title: str, kind: str) -> Page:
    """Begin a document."""
    if paper not in PAPERS:
        raise ValueError(f"received the paper {paper!r}, expected {' or '.join(PAPERS)}, choose one of them")
    page = Page(paper, title, kind)
    page.add_page()
    return page


def to_bytes(page: Page) -> bytes:
    """Finish a document."""
    return bytes(page.output())
