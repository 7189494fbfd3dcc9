"""A plan of the floor to scale: inlet end below, left edge at the left."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from .page import FAINT, Page

Box = tuple[float, float, float, float]  # middle, width and height [mm]
_WALL = 0.4  # [mm] between a wall and what is written beside it


class PlanView:
    """Where the floor lies on a page."""

    def __init__(self, page: Page, box: tuple[float, float, float, float], size: tuple[float, float]) -> None:
        left, top, width, height = box
        self.page, self.size, self.room = page, size, (left, left + width)
        self.scale = min(width / size[0], height / size[1])  # [mm/m]
        self.left = left + (width - self.scale * size[0]) / 2
        self.bottom = top + self.scale * size[1]

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Find a place on the page."""
        return self.left + self.scale * x, self.bottom - self.scale * y

    def frame(self) -> None:
        """Draw the walls."""
        x, y = self.at(0.0, self.size[1])
        self.page.set_line_width(0.5)
        self.page.set_draw_color(0)
        self.page.rect(x, y, self.scale * self.size[0], self.scale * self.size[1])
        self.page.set_line_width(0.2)

    def lines(self, lines: Sequence[tuple[str, float, Sequence[float]]], *, names: bool = True) -> None:
        """Draw lines with their heads as small marks."""
        page = self.page
        for number, (name, across, places) in enumerate(lines):
            if not len(places):
                continue
            page.set_draw_color(150)
            page.line(*self.at(across, 0.0), *self.at(across, max(places)))
            page.set_draw_color(90)
            for along in places:
                x, y = self.at(across, along)
                page.line(x - 0.7, y, x + 0.7, y)
            if names:
                page.type(6.5, grey=FAINT)
                x, y = self.at(across, 0.0)
                half = self._half_label(x, [other for _, other, heads in lines if len(heads) and other != across])
                page.set_xy(x - half, y + 0.8 + 3 * (number % 2))
                page.cell(2 * half, 3, page.clipped(name, 2 * half - 2, middle=True), align="C")
        page.set_draw_color(0)
        page.type(10)

    def _half_label(self, x: float, others: Sequence[float]) -> float:
        """Half the room for a line's name [mm]: to the next line, whose name stands a step lower, and to the edge."""
        edge = min(x - self.room[0], self.room[1] - x) + 6
        return max(min(40.0, edge, *(abs(self.at(other, 0.0)[0] - x) for other in others)), 15.0)

    def marks(self, texts: Sequence[tuple[float, float, str]], *, size: float = 6.5, ring: float = 0.0,
              bold: bool = False) -> None:
        """Write a short text at places, in a ring or not."""
        page = self.page
        page.set_line_width(0.25)
        page.set_fill_color(255)
        for across, along, text in texts:
            x, y = self.at(across, along)
            if ring:
                page.circle(x, y, ring, style="DF")
            page.type(size, bold=bold)
            wide = page.get_string_width(text) + 2
            page.set_xy(x - wide / 2, y - size * 0.18)
            page.cell(wide, size * 0.36, text, align="C")
        page.set_line_width(0.2)
        page.type(10)

    def values(self, texts: Sequence[tuple[float, float, str]], *, size: float = 5.2,
               taken: Sequence[tuple[float, float, float]] = ()) -> list[tuple[float, float] | None]:
        """Write numbers on a painted plan, each on white and within the walls, so that every one can be read."""
        # A number whose place is taken moves up or down by its own height; where that gives no room to all, the type is
        # made smaller, and what then has none is a dot.
        page = self.page
        rings = [(*self.at(across, along), 2 * radius, 2 * radius) for across, along, radius in taken]
        tried = []
        for smaller in (size, 0.9 * size, 0.8 * size):
            page.type(smaller)
            wanted = [self._inside((*self.at(across, along), page.get_string_width(text) + 0.3, 0.34 * smaller))
                      for across, along, text in texts]
            tried.append((smaller, _placed(wanted, rings, self._inside)))
            if None not in tried[-1][1]:
                break
        chosen, boxes = min(tried, key=lambda one: one[1].count(None))
        page.type(chosen)
        page.set_fill_color(255)
        for box in boxes:
            if box:
                page.rect(box[0] - box[2] / 2, box[1] - box[3] / 2, box[2], box[3], style="F")
        page.set_fill_color(0)
        for (across, along, text), box in zip(texts, boxes, strict=True):
            if box is None:
                page.circle(*self.at(across, along), 0.4, style="F")
                continue
            page.set_xy(box[0] - box[2] / 2 - 1, box[1] - box[3] / 2)
            page.cell(box[2] + 2, box[3], text, align="C")
        page.set_fill_color(255)
        page.type(10)
        return [box[:2] if box else None for box in boxes]

    def _inside(self, box: Box) -> Box:
        """A box moved until it lies within the walls [mm]."""
        (left, top), (right, low) = self.at(0.0, self.size[1]), self.at(self.size[0], 0.0)
        x, y, wide, high = box
        x = min(max(x, left + wide / 2 + _WALL), right - wide / 2 - _WALL)
        return x, min(max(y, top + high / 2 + _WALL), low - high / 2 - _WALL), wide, high

    def cells(self, x: np.ndarray, y: np.ndarray, part: np.ndarray, limit: float) -> None:
        """Paint depth in greys, drier ground paler, and draw the edge of dry ground."""
        page, dx, dy = self.page, x[1] - x[0], y[1] - y[0]
        wide, high = self.scale * dx, self.scale * dy
        shade = np.clip(255 - 75 * np.nan_to_num(part), 120, 255).astype(int) // 6 * 6
        for row in range(len(y)):
            start = 0
            for column in range(1, len(x) + 1):
                # Like cells beside each other are one piece.
                if column < len(x) and shade[row, column] == shade[row, start] and (
                        np.isnan(part[row, column]) == np.isnan(part[row, start])):
                    continue
                if not np.isnan(part[row, start]):
                    left, top = self.at(x[start] - dx / 2, y[row] + dy / 2)
                    page.set_fill_color(int(shade[row, start]))
                    page.rect(left, top, wide * (column - start) + 0.02, high + 0.02, style="F")
                start = column
        self._edges(x, y, np.nan_to_num(part, nan=9.0) < limit)

    def _edges(self, x: np.ndarray, y: np.ndarray, dry: np.ndarray) -> None:
        page, dx, dy = self.page, x[1] - x[0], y[1] - y[0]
        page.set_line_width(0.5)
        padded = np.pad(dry, 1)
        for row, column in np.argwhere(padded[1:, 1:-1] != padded[:-1, 1:-1]):
            left, level = x[column] - dx / 2, y[0] - dy / 2 + row * dy
            page.line(*self.at(left, level), *self.at(left + dx, level))
        for row, column in np.argwhere(padded[1:-1, 1:] != padded[1:-1, :-1]):
            across, low = x[0] - dx / 2 + column * dx, y[row] - dy / 2
            page.line(*self.at(across, low), *self.at(across, low + dy))
        page.set_line_width(0.2)
        page.set_fill_color(255)


def _placed(wanted: Sequence[Box], taken: Sequence[Box], inside: Callable[[Box], Box]) -> list[Box | None]:
    """Boxes (x, y, width, height) moved up or down until none touches another; None where there is no room."""
    full, found = list(taken), list[Box | None]()
    for x, y, wide, high in wanted:
        tried = [inside((x, y + step * high, wide, high)) for step in (0.0, 1.0, -1.0)]
        box = next((box for box in tried if not any(_touch(box, other) for other in full)), None)
        found.append(box)
        full += [box] if box else []
    return found


def _touch(one: Box, two: Box) -> bool:
    slack = 1e-6
    return bool(abs(one[0] - two[0]) < (one[2] + two[2]) / 2 - slack
                and abs(one[1] - two[1]) < (one[3] + two[3]) / 2 - slack)
