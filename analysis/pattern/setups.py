"""Set-ups: other ways in which a test may have been, each a small change of heads or readings, with its prior.

Every kind of set-up yields its candidates around the scene of the record as it stands. A place or factor that is sought
is charged for its freedom by its prior.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from . import fit, model

UNUSUAL = -1.0        # log prior that anything is not as the record says, beside how many ways there are
PLACE_SD = 0.3        # [m] of a place that is sought
SOUGHT = -1.5         # log prior for a place that is sought: the width of what fits / `PLACE_SD`, about
DRIFT_SD = 0.4        # [m]
BEYOND = 0.6          # [m] a neighbour's line hangs beyond the wall
LEVEL_SD = 0.25       # [1] of the flow of heads of another kind
WIDE_SD = 0.3         # of the logarithm of their throw / that of the others
PATTERN_SD = 0.4      # of their rate / that of the others, at each ring
RINGS = (0.0, 0.25, 0.5, 0.75)  # of their throw, between which a pattern of their own is straight
RAIN_SD = 0.5         # [1] of the mean reading
DRIP_WIDTH = 0.15     # [m] of the strip that a drip line wets
NEAR_WALL = 1.0       # [m] from a side wall within which a half circle is likely
SIDES = (0.4, 0.5, 0.6)  # of the floor's width, from which cans may be of another size
SIZE_SD = 0.3         # of the logarithm of what they catch / what the others would
ANYWHERE = -1.0       # log density of a reading that tells nothing, about that of a standard normal
LEAST_ROWS = 3


@dataclass(frozen=True)
class Setup:
    """One other way in which the test may have been.

    Attributes
    ----------
    scene : model.Scene
        The test seen so.
    log_prior : float [1]
        Of it.
    at : tuple of float
        Where or how much, as its kind has it; empty where there is nothing to tell.
    order : array (n,) of int [1] or None
        For each can the number of the reading that belongs there; None where readings stand where they should.
    radius : float or None [m]
        Throw radius of the data sheet, as this set-up takes it.
    guests : int [1]
        Heads at the end of the scene's list that are not this zone's.
    on_ground : callable or None
        From places (p, 2) [m] to the scene's `extra` there, (p, e) [1]; None where readings alone depart.
    """

    scene: model.Scene
    log_prior: float
    at: tuple[float, ...] = ()
    order: np.ndarray | None = None
    radius: float | None = None
    guests: int = 0
    on_ground: Callable[[np.ndarray], np.ndarray] | None = None


@dataclass(frozen=True)
class AsRecorded:
    """What the candidates are made from.

    Attributes
    ----------
    scene : model.Scene
        The record as it stands.
    radius : float or None [m]
        Throw radius of the data sheet.
    row, column : array (n,) of int [1]
        Of each can, from 1; rows of 0 for free points.
    width, length : float [m]
        Of the floor.
    """

    scene: model.Scene
    radius: float | None
    row: np.ndarray
    column: np.ndarray
    width: float
    length: float

    @property
    def lines(self) -> int:
        """How many lines there are."""
        return int(self.scene.line_of.max()) + 1

    def moved(self, move: np.ndarray, log_prior: float, at: tuple[float, ...]) -> Setup:
        """The same test with heads elsewhere.

        Parameters
        ----------
        move : array (m, 2) or (2,) [m]
            Of each head, or of all.
        log_prior : float [1]
            Of the set-up.
        at : tuple of float
            As `Setup.at`.

        Returns
        -------
        Setup
        """
        return Setup(replace(self.scene, heads=self.scene.heads + move), log_prior, at, radius=self.radius)


def _sought(off: float, sd: float = PLACE_SD) -> float:
    return UNUSUAL + SOUGHT - 0.5 * (off / sd) ** 2


def _line_places(test: AsRecorded) -> Iterator[Setup]:
    """One line hangs beside its place; at: line, metres to the right."""
    for line in range(test.lines):
        for off in (-0.4, -0.2, 0.2, 0.4):
            yield _line_place(test, line, off)


def _line_place(test: AsRecorded, line: float, off: float) -> Setup:
    """One line so far to the right."""
    move = np.outer(test.scene.line_of == int(line), [off, 0.0])
    return test.moved(move, _sought(off) - np.log(test.lines), (float(line), float(off)))


def _first_heads(test: AsRecorded) -> Iterator[Setup]:
    """All heads hang further along; at: metres."""
    for off in (-0.3, -0.15, 0.15, 0.3):
        yield _first_head(test, off)


def _first_head(test: AsRecorded, off: float) -> Setup:
    """All heads so far along."""
    return test.moved(np.array([0.0, off]), _sought(off), (float(off),))


def _drifts(test: AsRecorded) -> Iterator[Setup]:
    """All water falls beside its heads; at: metres to the right, metres along."""
    for size in (0.25, 0.5, 0.8):
        for turn in np.arange(8) * np.pi / 4:
            yield _drift(test, size * np.cos(turn), size * np.sin(turn))


def _drift(test: AsRecorded, right: float, along: float) -> Setup:
    """All water so far beside its heads."""
    return test.moved(np.array([right, along]), _sought(float(np.hypot(right, along)), DRIFT_SD) - 1.0,
                      (float(right), float(along)))


def _two_kinds(test: AsRecorded) -> Iterator[Setup]:
    """One line has heads of another kind; at: line, their throw / that of the others."""
    if test.lines < 2:
        return
    stretch = test.scene.stretch
    for line in range(test.lines):
        if stretch is not None and (stretch[test.scene.line_of == line] != 1.0).any():
            continue  # the record has them as another kind already
        for wide in (0.7, 0.85, 1.2, 1.4):
            yield _two_kind(test, line, wide)


def _two_kind(test: AsRecorded, line: float, wide: float) -> Setup:
    """The heads of one line throw so much wider, in a pattern and with a flow of their own."""
    on = test.scene.line_of == int(line)
    root = np.column_stack([test.scene.trend_root, LEVEL_SD * on])
    own = _own_pattern(test, test.scene.heads[on], wide)
    scene = replace(test.scene, stretch=_wider(test.scene, on, wide), trend_root=root, extra=own(test.scene.cans))
    prior = UNUSUAL + SOUGHT - 0.5 * (np.log(wide) / WIDE_SD) ** 2 - np.log(test.lines)
    return Setup(scene, prior, (float(line), float(wide)), radius=test.radius, on_ground=own)


def _own_pattern(test: AsRecorded, heads: np.ndarray, wide: float) -> Callable[[np.ndarray], np.ndarray]:
    """Ways in which the profile of some heads may differ from that of the others."""
    throw = wide * (test.radius or fit.USUAL_THROW)
    # rate of one head over its circle, were the mean of all ground 1
    level = test.width * test.length / len(test.scene.heads) / (np.pi * throw ** 2)

    def on_ground(places: np.ndarray) -> np.ndarray:
        apart = np.hypot(*(places[:, None, :] - heads[None, :, :]).transpose(2, 0, 1)) / throw
        return np.column_stack([PATTERN_SD * level * np.clip(1 - np.abs(apart - at) / RINGS[1], 0, None).sum(axis=1)
                                for at in RINGS])
    return on_ground


def _wider(scene: model.Scene, on: np.ndarray, wide: float) -> np.ndarray:
    """Throw of each head / that of the profile, where some throw so much farther than is known of them."""
    return np.where(on, wide, 1.0) * (1.0 if scene.stretch is None else scene.stretch)


def _heights(test: AsRecorded) -> Iterator[Setup]:
    """Every second head throws less far; at: throw / that of the others, 0 where it begins with the first head."""
    number = np.concatenate([np.arange(int(count)) for count in np.bincount(test.scene.line_of)])
    for wide in (0.75, 0.87):
        for odd in (0, 1):
            scene = replace(test.scene, stretch=_wider(test.scene, number % 2 == odd, wide))
            yield Setup(scene, UNUSUAL + SOUGHT - np.log(4), (wide, float(odd)), radius=test.radius)


def _part_circles(test: AsRecorded) -> Iterator[Setup]:
    """Lines beside a side wall throw half circles into the floor."""
    if test.scene.facing is not None and not np.isnan(test.scene.facing).all():
        return
    x = test.scene.heads[:, 0]
    facing = np.where(x < NEAR_WALL, 0.0, np.where(x > test.width - NEAR_WALL, np.pi, np.nan))
    if not np.isnan(facing).all():
        yield Setup(replace(test.scene, facing=facing, arc=None), 2 * UNUSUAL, radius=test.radius)


def _outside_water(test: AsRecorded) -> Iterator[Setup]:
    """A neighbour's line wets the floor from beyond a side wall; at: its x."""
    scene = test.scene
    by_x = sorted(range(test.lines), key=lambda line: scene.heads[scene.line_of == line, 0].mean())
    for near, x in ((by_x[0], -BEYOND), (by_x[-1], test.width + BEYOND)):
        on = np.flatnonzero(scene.line_of == near)
        along = scene.heads[on, 1]
        heads = np.vstack([scene.heads, np.column_stack([np.full(len(along), x), along])])
        line_of = np.concatenate([scene.line_of, np.full(len(along), test.lines)])
        root = model.trend_columns(heads, line_of)
        kinds = scene.trend_root[:, 3 * test.lines:]  # freedom of the kinds of heads
        root = np.column_stack([root, np.vstack([kinds, np.zeros((len(on), kinds.shape[1]))])])
        more = {name: np.concatenate([values, np.full(len(on), np.nan) if name == "facing" else values[on]])
                for name in ("stretch", "strength", "arc", "facing") if (values := getattr(scene, name)) is not None}
        if "arc" in more:
            more["arc"][len(scene.heads):] = 2 * np.pi
        yield Setup(replace(scene, heads=heads, line_of=line_of, trend_root=root, **more),
                    UNUSUAL - np.log(2), (x,), radius=test.radius, guests=len(along))


def _rain(test: AsRecorded) -> Iterator[Setup]:
    """Water fell everywhere alike beside that of the heads."""
    extra = np.full((len(test.scene.reading), 1), RAIN_SD)
    yield Setup(replace(test.scene, extra=extra), UNUSUAL, radius=test.radius,
                on_ground=lambda places: np.full((len(places), 1), RAIN_SD))


def _drip_lines(test: AsRecorded) -> Iterator[Setup]:
    """A narrow strip along the floor got water of its own; at: its x."""
    across = np.arange(0.3, test.width - 0.2, 0.3)
    for x in across:
        extra = _strip(test.scene.cans, x)
        if (extra > 0.3).sum() >= LEAST_ROWS + 1:
            yield Setup(replace(test.scene, extra=extra), UNUSUAL + SOUGHT - np.log(len(across)), (float(x),),
                        radius=test.radius, on_ground=lambda places, x=x: _strip(places, x))


def _strip(places: np.ndarray, x: float) -> np.ndarray:
    return np.exp(-0.5 * ((places[:, :1] - x) / DRIP_WIDTH) ** 2)


def _wetted_radius(test: AsRecorded) -> Iterator[Setup]:
    """The data sheet's figure is a radius and was taken for a diameter."""
    if test.radius:
        yield Setup(test.scene, UNUSUAL, radius=2 * test.radius)


def _can_sizes(test: AsRecorded) -> Iterator[Setup]:
    """Cans on the right catch more or less than those on the left; at: from which x, how many times as much."""
    for part in SIDES:
        for more in (0.7, 0.82, 1 / 0.82, 1 / 0.7):
            yield _can_size(test, part * test.width, more)


def _can_size(test: AsRecorded, x: float, more: float) -> Setup:
    """Cans right of a place catch so many times what the others would."""
    right = test.scene.cans[:, 0] > x
    reading = np.where(right, test.scene.reading / more, test.scene.reading)
    # a reading that is made smaller has a larger density, which is no merit of the explanation
    prior = (2 * UNUSUAL + SOUGHT - 0.5 * (np.log(more) / SIZE_SD) ** 2 - np.log(len(SIDES))
             - float(right.sum() * np.log(more)))
    return Setup(replace(test.scene, reading=reading), prior, (float(x), float(more)), radius=test.radius)


def _not_read(test: AsRecorded) -> Iterator[Setup]:
    """A whole row or column of zeros was not read; at: 0 for a row or 1 for a column, and its number."""
    dry = test.scene.reading <= 0
    for way, number_of in enumerate((test.row, test.column)):
        for number in np.unique(number_of[dry]):
            gone = number_of == number
            if number > 0 and dry[gone].all() and gone.sum() >= LEAST_ROWS and not dry.all():
                scene = replace(test.scene, cans=test.scene.cans[~gone], reading=test.scene.reading[~gone])
                yield Setup(scene, 2 * UNUSUAL + float(gone.sum()) * ANYWHERE, (float(way), float(number)),
                            radius=test.radius)


def _rows_reversed(test: AsRecorded) -> Iterator[Setup]:
    """The first row that was written is the last on the floor."""
    yield from _ordered(test, lambda table: table[::-1])


def _columns_mirrored(test: AsRecorded) -> Iterator[Setup]:
    """The first can of each row stands on the right."""
    yield from _ordered(test, lambda table: table[:, ::-1])


def _walk_not_undone(test: AsRecorded) -> Iterator[Setup]:
    """Readings stand in walking order, up one row and back the next."""
    def turned(table):
        table = table.copy()
        table[1::2] = table[1::2, ::-1]
        return table
    yield from _ordered(test, turned)


def _shifted_by_one(test: AsRecorded) -> Iterator[Setup]:
    """Every reading stands one can too far; at: by how many."""
    for by in (1, -1):
        yield from _ordered(test, lambda table, by=by: np.roll(table.ravel(), by).reshape(table.shape), (float(-by),))


def _ordered(test: AsRecorded, change, at: tuple[float, ...] = ()) -> Iterator[Setup]:
    """Readings in another order, where cans stand in rows of one length and all were used."""
    rows, counts = np.unique(test.row, return_counts=True)
    if rows[0] < 1 or len(rows) < LEAST_ROWS or len(set(counts.tolist())) > 1 or counts[0] < 2:
        return
    order = change(np.arange(len(test.row)).reshape(len(rows), counts[0])).ravel()
    yield Setup(replace(test.scene, reading=test.scene.reading[order]), 2 * UNUSUAL, at, order=order,
                radius=test.radius)


@dataclass(frozen=True)
class Kind:
    """A kind of rival: one entry.

    Attributes
    ----------
    kind : str
        Its short name.
    of : str
        ``record`` for a slip that can be corrected, ``tunnel`` for what is true and not recorded.
    candidates : callable
        From the test to its set-ups.
    seek : callable or None
        From a test and a place (`Setup.at`) to the set-up there, for places that are sought further.
    sought : int [1]
        The last so many numbers of `Setup.at` are the sought ones.
    adds : bool
        Whether it says that there was more water, in the scene's `extra`.
    """

    kind: str
    of: str
    candidates: Callable[[AsRecorded], Iterator[Setup]]
    seek: Callable[..., Setup] | None = None
    sought: int = 0
    adds: bool = False


KINDS = (
    Kind("line place", "record", _line_places, _line_place, 1),
    Kind("first head", "record", _first_heads, _first_head, 1),
    Kind("wetted radius", "record", _wetted_radius),
    Kind("rows reversed", "record", _rows_reversed),
    Kind("columns mirrored", "record", _columns_mirrored),
    Kind("walk not undone", "record", _walk_not_undone),
    Kind("shifted by one", "record", _shifted_by_one),
    Kind("two can sizes", "record", _can_sizes, _can_size, 1),
    Kind("missing as 0", "record", _not_read),
    Kind("drift", "tunnel", _drifts, _drift, 2),
    Kind("two kinds", "tunnel", _two_kinds, _two_kind, 1),
    Kind("heights", "tunnel", _heights),
    Kind("part circles", "tunnel", _part_circles),
    Kind("outside water", "tunnel", _outside_water),
    Kind("rain", "tunnel", _rain, adds=True),
    Kind("drip line", "tunnel", _drip_lines, adds=True),
)
