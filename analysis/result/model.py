"""The result of an assessment, as dataclasses."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ..cans.catch import Catch
from ..cans.surface import Surface
from ..pattern.floor import Figure
from ..pattern.whole_floor import WholeFloor

if TYPE_CHECKING:
    from ..causes.finding import Cause, Unevenness
    from ..changes.fixes.search import Fix
    from ..changes.fixes.supplies import OtherTap
    from ..changes.recheck import Recheck
    from ..watering.schedule import Watering


@dataclass(frozen=True)
class RecordHeading:
    """Which test it is; None for what the record does not say.

    Attributes
    ----------
    id, title, date, site, zone, tunnel, member, purpose : str or None
        As in the record's `[test]`; the date as year-month-day.
    """

    id: str | None
    title: str
    date: str | None
    site: str | None
    zone: str | None
    tunnel: str | None
    member: str | None
    purpose: str | None


@dataclass(frozen=True)
class CatchSummary:
    """What the cans caught.

    Attributes
    ----------
    cans, used, set_aside, missing : int
        All cans; those of the figures; those set aside; those without a reading.
    mean_mm, lowest_mm, highest_mm : float [mm]
        After the evaporation correction.
    rate_mm_h : float [mm/h]
        Mean depth over the time that water ran.
    evaporation_mm : float or None [mm]
        Depth added to every can that held water; None without control cans.
    caught_fraction : float or None [1]
        Water over the floor / water that was sent; None where unknown.
    """

    cans: int
    used: int
    set_aside: int
    missing: int
    mean_mm: float
    lowest_mm: float
    highest_mm: float
    rate_mm_h: float
    evaporation_mm: float | None
    caught_fraction: float | None


@dataclass(frozen=True)
class Uncorrected:
    """The figures before the evaporation correction.

    Attributes
    ----------
    cu, du_low_quarter : float [%]
        As in `AtTheCans`.
    mean_mm : float [mm]
        Mean depth as read.
    """

    cu: float
    du_low_quarter: float
    mean_mm: float


@dataclass(frozen=True)
class AtTheCans:
    """The figures of the cans themselves, as the standards define them; every index is an attribute too.

    Attributes
    ----------
    values : dict of str to float or None [unit of the index]
        An entry for each of `cans.index_table.INDICES`; None where an index is infinite.
    uncorrected : Uncorrected or None
        The figures before the evaporation correction; None without one.
    """

    values: Mapping[str, float | None] = field(metadata={"json": "each"})
    uncorrected: Uncorrected | None

    @property
    def cu(self) -> float:
        """Christiansen's coefficient of uniformity [%]."""
        return self._number("cu")

    @property
    def du_low_quarter(self) -> float:
        """Low-quarter distribution uniformity [%]."""
        return self._number("du_low_quarter")

    def _number(self, key: str) -> float:
        value = self.values[key]
        return math.nan if value is None else value

    def __getattr__(self, key: str) -> float | None:
        if key.startswith("_") or key == "values":  # asked for while a copy is made, before there are values
            raise AttributeError(key)
        try:
            return self.values[key]
        except KeyError:
            raise AttributeError(f"received the index {key!r}, expected one of {', '.join(self.values)}, correct "
                                 "it") from None


@dataclass(frozen=True)
class WholeFloorFigures:
    """The estimate for all the ground.

    Attributes
    ----------
    how : str
        ``heads``: from the pattern of the heads; ``cans only``: from a field over the cans, and wide.
    confidence : float [1]
        Of the intervals.
    cu, du_low_quarter : Figure [%]
        Over the floor, or its beds.
    mean_mm : Figure [mm]
        Mean depth.
    scheduling_coefficient : Figure [1]
        Mean / mean of the driest square of 5 % of the ground.
    """

    how: str
    confidence: float
    cu: Figure
    du_low_quarter: Figure
    mean_mm: Figure
    scheduling_coefficient: Figure


@dataclass(frozen=True)
class HeadFound:
    """One head.

    Attributes
    ----------
    line : str
        Its line.
    number : int
        Counted from the inlet end wall.
    x_m, y_m : float [m]
        Where it hangs.
    output, low, high : float [1]
        Its flow / the smooth trend of its line there, with the 90 % interval that the cans allow.
    trend : float [1]
        That trend / the mean of all heads.
    suspect : bool
        Whether it is the likeliest of one suspected fault.
    or_ : list of int
        Numbers of heads of the same line that it cannot be told from; ``or`` in the JSON.
    """

    line: str
    number: int
    x_m: float
    y_m: float
    output: float
    low: float
    high: float
    trend: float
    suspect: bool
    or_: list[int]


@dataclass(frozen=True)
class ProfileFound:
    """The heads' radial profile.

    Attributes
    ----------
    radius_m : list of float [m]
        From the head.
    rate_mm_h, low, high : list of float [mm/h]
        Rate of a head of output 1, with its 90 % band.
    """

    radius_m: list[float]
    rate_mm_h: list[float]
    low: list[float]
    high: list[float]


@dataclass(frozen=True)
class DrySpotFound:
    """A dry spot in the result; see `dry_spots.DrySpot`.

    Attributes
    ----------
    where : str
        In words.
    x_m, y_m : float [m]
        Middle.
    area_m2 : float [m2]
        Area.
    depth_mm : float [mm]
        Mean depth.
    of_mean : float [1]
        Mean depth / mean of the ground.
    kind : str
        ``spot`` or ``strip``.
    beyond_the_cans : bool
        Whether most of it lies beyond the cans.
    map : str
        ``pattern`` or ``surface``: which map it was found on.
    interval : (low, high) or None [1]
        90 % interval of `of_mean`, where the map is the pattern's; not part of the JSON.
    """

    where: str
    x_m: float
    y_m: float
    area_m2: float
    depth_mm: float
    of_mean: float
    kind: str
    beyond_the_cans: bool
    map: str
    interval: tuple[float, float] | None = field(default=None, metadata={"json": False})


@dataclass(frozen=True)
class PatchFound:
    """A patch in the result; see `patches.PatchAnswer`.

    Attributes
    ----------
    note : str
        What was seen there.
    answer : str
        ``drier``, ``wetter``, ``alike`` or ``cannot tell``.
    of_mean, elsewhere_of_mean : float or None [1]
        Depth there and elsewhere / mean.
    chance : float or None [1]
        That the answer is true; with ``cannot tell`` that of the likeliest of the others.
    says : str
        One sentence with the interval.
    """

    note: str
    answer: str
    of_mean: float | None
    elsewhere_of_mean: float | None
    chance: float | None
    says: str


@dataclass(frozen=True)
class NotDone:
    """A part of the result that is closed.

    Attributes
    ----------
    part : str
        The top-level key, or ``rechecks``.
    needs : list of str
        Keys of the record that would open it; empty where it is not built yet.
    """

    part: str
    needs: list[str]


@dataclass(frozen=True)
class RivalFound:
    """Another explanation of the readings.

    Attributes
    ----------
    kind : str
        A short name for programs.
    of : str
        ``record`` for a slip, ``tunnel`` for what is true and not recorded.
    says : str
        What would be so.
    evidence : float [1]
        Gain in natural log over the record as it stands.
    change : dict of str to str, or None
        Keys of the record with the texts that they would have.
    du_low_quarter : Figure or None [%]
        Of the whole floor if it is so; None where it was not worked out.
    check_next : str
        What to look at.
    """

    kind: str
    of: str
    says: str
    evidence: float
    change: dict[str, str] | None
    du_low_quarter: Figure | None
    check_next: str


@dataclass(frozen=True)
class FitFound:
    """How well the record explains the readings.

    Attributes
    ----------
    grade : str
        ``good``, ``rough`` or ``poor``.
    says : str
        In a sentence or two.
    residual_percent : float [%]
        Root mean square of readings less model, of their mean.
    rivals : list of RivalFound
        Those that count, best first.
    """

    grade: str
    says: str
    residual_percent: float
    rivals: list[RivalFound]


@dataclass(frozen=True)
class Result:
    """Everything that an assessment says about one test.

    Attributes
    ----------
    record : RecordHeading
        Which test.
    catch : CatchSummary
        What the cans caught.
    at_the_cans : AtTheCans
        The figures of the cans.
    dry_spots : list of DrySpotFound
        Driest first.
    patches : list of PatchFound
        In the record's order.
    not_done : list of NotDone
        Parts that are closed.
    cautions : list of str
        Whole sentences.
    floor : WholeFloor or None
        The estimate on its map; not in the JSON.
    whole_floor : WholeFloorFigures or None
        The estimate for all the ground.
    heads : list of HeadFound
        In the record's order; empty without heads.
    profile : ProfileFound or None
        None without heads.
    watering : Watering or None
        How long to run; None without the crop's daily use.
    causes : list of Cause
        Strongest first; hypotheses.
    unevenness : Unevenness or None
        How much of it is spacing, pressure, single heads and readings; None without heads.
    fixes : list of Fix
        What is at fault mended, then cheapest first.
    supplies : list of OtherTap
        The working point on each other supply of the record.
    recheck : Recheck or None
        The test held against the one that it follows up; None where there is none at hand.
    fit : FitFound or None
        How well the record explains the readings; None where rivals were not weighed.
    cans : Catch
        The cans one by one; not in the JSON.
    surface : Surface
        The depth map; not in the JSON.
    """

    record: RecordHeading
    catch: CatchSummary
    at_the_cans: AtTheCans
    dry_spots: list[DrySpotFound]
    patches: list[PatchFound]
    not_done: list[NotDone]
    cautions: list[str]
    cans: Catch = field(repr=False)
    surface: Surface = field(repr=False)
    floor: WholeFloor | None = field(default=None, repr=False)
    whole_floor: WholeFloorFigures | None = None
    heads: list[HeadFound] = field(default_factory=list)
    profile: ProfileFound | None = None
    causes: list[Cause] = field(default_factory=list)
    unevenness: Unevenness | None = None
    fixes: list[Fix] = field(default_factory=list)
    supplies: list[OtherTap] = field(default_factory=list)
    watering: Watering | None = None
    recheck: Recheck | None = None
    fit: FitFound | None = None
