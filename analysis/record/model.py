"""The record: one uniformity test of one zone, as a person types or sends it.

The model says for every key what it is (`description`), which type it has and which sizes
stop a record (`within`) or only raise a doubt (`usual`). Checks that need several keys live in
`rules.py`, the file format in `record_file.py`. Quantities are SI inside (`units.py`).
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from .head_keys import Heads, Line, OtherHeads
from .said_keys import Checked, Corrected
from .section import Section, key, must
from .types import (
    WATER_PARTS,
    Bore,
    BucketTime,
    BucketVolume,
    CaughtTime,
    CaughtVolume,
    DailyUse,
    Day,
    EvaporationTime,
    Exposure,
    FloorLength,
    FloorWidth,
    Gauge,
    Height,
    HoseLength,
    Long,
    MeteredVolume,
    Name,
    Number,
    Opening,
    OpeningArea,
    Percent,
    Place,
    PlacedWithin,
    Reading,
    RootDepth,
    RunTime,
    Short,
    Stagger,
    SystemFlow,
    Tare,
    Usual,
    WaterTemperature,
    Weights,
    Whole,
    WindSpeed,
    WorkingPressure,
)

FORMAT = 1
MOST_LINES = 60
MOST_HEADS = 3000
MOST_CANS = 2000
MOST_ITEMS = 200


class AboutTest(Section):
    """Who tested what, when and why."""

    title: Annotated[str, Field(min_length=1, max_length=200)] = must("the title of this test, in quotes")
    id: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,59}$")] | None = key(
        "a short id of letters, digits, dots and dashes; made by the tool"
    )
    date: Day | None = key("the day of the test, such as 2027-03-18, without quotes")
    site: Short | None = key("the farm or garden, in quotes")
    zone: Short | None = key("the zone that was run, in quotes")
    tunnel: Short | None = key("the tunnel, the same at every test of it, in quotes")
    member: Short | None = key("whose tunnel it is, for a cooperative, in quotes")
    purpose: Literal["commissioning", "diagnosis", "recheck", "survey"] | None = key("what the test is for")
    rechecks: Short | None = key("the id of the test that this one follows up, in quotes")
    by: Short | None = key("who made the test, in quotes")
    notes: Long | None = key("anything worth keeping, in quotes")


class Bed(Section):
    """A strip of cropped ground."""

    from_: Place = must('x of the bed\'s left edge, such as "0.4 m"', alias="from")
    to: Place = must('x of the bed\'s right edge, such as "1.3 m"')
    start: Place | None = key("y where the bed begins; the inlet end wall if left out")
    end: Place | None = key("y where the bed ends; the far end wall if left out")


class Floor(Section):
    """The ground under the zone."""

    width: FloorWidth = must(
        'the width of the floor, across the lines, such as "7.6 m"'
    )
    length: FloorLength = must(
        'the length of the floor, along the lines, such as "22 m"'
    )
    beds: list[Bed] | None = key("the cropped ground, if it is not the whole floor", max_length=MOST_ITEMS)
    hangs_at: list[Place] | None = key("x of the places where a line could be carried", max_length=MOST_ITEMS)


class Target(Section):
    """What installer and owner agreed."""

    du_low_quarter: Annotated[Percent, Usual(1, 100, ())] | None = key("the agreed DUlq in percent, a number")
    figure: Literal["at the cans", "whole floor"] | None = key("which figure the target is for")


class CanRow(Section):
    """A row of cans of its own length."""

    y: Place = must('y of the row, such as "13 m"')
    x: list[Place] = must("x of each can of the row", min_length=1, max_length=500)
    catch: list[Reading] = must("the reading of each can of the row", min_length=1, max_length=500)


class CanPoint(Section):
    """A can anywhere."""

    x: Place = must('x of the can, such as "1 m"')
    y: Place = must('y of the can, such as "2 m"')
    catch: Reading = must("the reading of the can, a number or nan")


class SetAside(Section):
    """A can that is kept in the record and left out of the figures."""

    row: Annotated[Whole, Field(ge=1)] | None = key("the row of the can, counted from 1")
    column: Annotated[Whole, Field(ge=1)] | None = key("the column of the can in its row, counted from 1")
    point: Annotated[Whole, Field(ge=1)] | None = key("the number of the free point, counted from 1")
    why: Annotated[str, Field(min_length=1, max_length=200)] = must("why the can is set aside, in quotes")


class Evaporation(Section):
    """Control cans standing outside the spray."""

    start: Reading = must("what every control can held at the start, in the unit of the readings")
    end: list[Reading] = must("what each control can held at the end", min_length=1, max_length=50)
    time: EvaporationTime = must('the time between the two, such as "45 min"')


class Cans(Section):
    """The cans, where they stood and what they caught."""

    reads: Literal["volume", "depth", "weight"] = must("what was read from the cans")
    unit: Literal["mL", "L", "fl oz", "mm", "cm", "in", "g"] = must("the unit of the readings")
    opening: Opening | None = key(
        'the inside diameter of a can\'s opening, such as "84 mm"'
    )
    opening_area: OpeningArea | None = key(
        'the area of a can\'s opening, such as "55 cm2"'
    )
    tare: Tare | None = key('the weight of the empty can, such as "12 g"')
    placed_within: PlacedWithin | None = key(
        'how well the cans stand where they should, such as "5 cm"'
    )
    across: list[Place] | None = key("x of each column", min_length=1, max_length=500)
    along: list[Place] | None = key("y of each row", min_length=1, max_length=500)
    stagger: Stagger | None = key(
        "odd rows this far to the left, even rows to the right"
    )
    grid: list[Annotated[list[Reading], Field(max_length=500)]] | None = key(
        "the readings, one row for each place in `along`", min_length=1, max_length=500
    )
    rows: list[CanRow] | None = key("rows of different length, instead of a grid", min_length=1, max_length=500)
    points: list[CanPoint] | None = key("cans anywhere, instead of a grid", min_length=1, max_length=MOST_CANS)
    weights: Weights | None = key(
        'the ground that each can stands for: "equal", "nearest area", or numbers in the shape of the readings'
    )
    set_aside: list[SetAside] | None = key("cans left out of the figures, each with its reason", max_length=MOST_CANS)
    exposed: Exposure | None = key(
        "how long water stood in the cans, start to reading, on average"
    )
    evaporation: Evaporation | None = key("the control cans")


class Run(Section):
    """How the zone was run."""

    duration: RunTime = must('how long the zone ran, such as "30 min"')
    lines: Literal["together", "in turn"] | None = key("whether the lines ran together or in turn")
    wind: WindSpeed | None = key('the wind at the floor, such as "0.3 m/s"')
    sides: Literal["closed", "part open", "open"] | None = key("whether the sides were open")
    water: WaterTemperature | None = key("the temperature of the water")
    metered: MeteredVolume | None = key("the water meter's volume over the run")


class Pressure(Section):
    """A gauge reading while running."""

    at: Literal["supply", "filter inlet", "filter outlet", "regulator inlet", "regulator outlet", "line"] = must(
        "where the gauge was read"
    )
    value: Gauge = must('the gauge reading, such as "196 kPa"')
    line: Name | None = key("the line, for a reading on a line")
    head: Annotated[Whole, Field(ge=1)] | None = key(
        "the head that the gauge stood beside, counted from the inlet end"
    )
    height: Height | None = key("the height of the gauge above the floor")


class HeadFlow(Section):
    """A bottle held under one head."""

    line: Name = must("the name of the line")
    head: Annotated[Whole, Field(ge=1)] = must("the head, counted from the inlet end wall")
    volume: CaughtVolume = must(
        'what was caught, such as "410 mL"'
    )
    time: CaughtTime = must(
        'for how long, such as "60 s"'
    )


class Bucket(Section):
    """A timed bucket with the pressure held meanwhile."""

    pressure: Gauge = must('the pressure held meanwhile, such as "330 kPa"')
    volume: BucketVolume = must('the bucket, such as "20 L"')
    time: BucketTime = must(
        'how long it took, such as "26 s"'
    )


class Hose(Section):
    """A hose or tube in the chain of the supply."""

    length: HoseLength = must('such as "15 m"')
    inside: Bore = must('the inside diameter, such as "19 mm"')


class Valve(Section):
    """The loss of the valves and small fittings before the filter."""

    loss: Gauge = must('the pressure they take when open, such as "5 kPa"')
    at: SystemFlow = must('the flow for that loss, such as "1.5 m3/h"')


class Filter(Section):
    """The filter's loss."""

    clean_loss: Gauge = must('the loss of the clean filter, such as "10 kPa"')
    at: SystemFlow = must('the flow for that loss, such as "1.0 m3/h"')
    loaded: Annotated[Number, Usual(1, 50, WATER_PARTS)] | None = key("its loss now in times the clean loss, a number")


class Regulator(Section):
    """The pressure regulator."""

    set: WorkingPressure = must('the pressure it is set to, such as "200 kPa"')
    least_flow: SystemFlow | None = key('the least flow at which it holds, such as "150 L/h"')
    most_flow: SystemFlow | None = key('the largest flow at which it holds, such as "2700 L/h"')
    droop: Gauge | None = key('how much its pressure falls from no flow to `most_flow`, such as "15 kPa"')


class Supply(Section):
    """Where the water comes from."""

    kind: Literal["mains", "pump", "pump with tank", "gravity"] | None = key("the kind of supply")
    static: Gauge | None = key('the pressure with nothing running, such as "400 kPa"')
    cut_in: Gauge | None = key("the pressure at which the pump of a tank starts")
    cut_out: Gauge | None = key("the pressure at which the pump of a tank stops")
    flowing: list[Bucket] | None = key("timed buckets", max_length=20)
    hose: Hose | None = key("the hose")
    couplings: Annotated[Whole, Field(ge=0, le=100)] | None = key("how many couplings the hose has, both ends counted")
    valve: Valve | None = key("valves and small fittings between hose and filter")
    filter: Filter | None = key("the filter")
    regulator: Regulator | None = key("the regulator")
    manifold: Hose | None = key("the tube from the regulator to the tee")
    riser: Hose | None = key("the tube up to the lines, before the tee")
    height: Height | None = key("the height of the regulator above the floor")


class OtherSupply(Supply):
    """Another tap for a tunnel that moves."""

    name: Name = must("the name of the tap, in quotes")


class Care(Section):
    """When things were last looked after."""

    filter_cleaned: Day | None = key("a date such as 2027-03-01")
    lines_flushed: Day | None = key("a date such as 2027-03-18")
    heads_checked: Day | None = key("a date such as 2027-03-18")


class Crop(Section):
    """What grows there, for the watering plan."""

    kind: Short | None = key("the crop, in quotes")
    daily_use: DailyUse | None = key(
        'the water the crop uses in a day, such as "4 mm"'
    )
    soil: Short | None = key('the soil, in quotes, such as "loam"')
    root_depth: RootDepth | None = key(
        'the depth of the roots, such as "250 mm"'
    )
    may_use: Annotated[Number, Usual(0.1, 0.8, ("watering",))] | None = key(
        "the part of the held water that it may use before the next watering, a number"
    )


class Patch(Section):
    """Where the crop looks poor."""

    x: list[Place] = must('from and to across, such as ["0 m", "1.5 m"]', min_length=2, max_length=2)
    y: list[Place] = must('from and to along, such as ["15 m", "22 m"]', min_length=2, max_length=2)
    note: Short | None = key("what is seen there, in quotes")


class Record(BaseModel):
    """One uniformity test of one zone; build it with `record_file.read_record` or `checks.build`."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    record: int = must("the version of the format: 1")
    test: AboutTest = must("the table [test] with at least a title")
    floor: Floor = must("the table [floor] with width and length")
    target: Target | None = key("the table [target]")
    heads: Heads | None = key("the table [heads]")
    lines: list[Line] | None = key("the tables [[lines]]", max_length=MOST_LINES)
    other_heads: list[OtherHeads] | None = key("the tables [[other_heads]]", max_length=MOST_ITEMS)
    cans: Cans = must("the table [cans] with places and readings")
    run: Run = must("the table [run] with at least a duration")
    pressures: list[Pressure] | None = key("the tables [[pressures]]", max_length=MOST_ITEMS)
    head_flows: list[HeadFlow] | None = key("the tables [[head_flows]]", max_length=MOST_HEADS)
    supply: Supply | None = key("the table [supply]")
    other_supplies: list[OtherSupply] | None = key("the tables [[other_supplies]]", max_length=20)
    care: Care | None = key("the table [care]")
    crop: Crop | None = key("the table [crop]")
    patches: list[Patch] | None = key("the tables [[patches]]", max_length=MOST_ITEMS)
    checked: list[Checked] | None = key("the tables [[checked]]", max_length=MOST_ITEMS)
    corrected: list[Corrected] | None = key("the tables [[corrected]]", max_length=MOST_ITEMS)


def to_plain(record: Record) -> dict[str, Any]:
    """Turn a record into plain TOML values.

    Parameters
    ----------
    record : Record
        Any record.

    Returns
    -------
    dict
        Nested dictionaries and lists; quantities as the text that was entered; keys that were not
        given are left out.
    """
    return record.model_dump(by_alias=True, exclude_none=True)
