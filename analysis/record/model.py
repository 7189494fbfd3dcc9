"""The record: one uniformity test of one zone, as a person types or sends it.

The model says for every key what it is (`description`), which type it has and which sizes
stop a record (`within`) or only raise a doubt (`usual`). Checks that need several keys live in
`rules.py`, the file format in `record_file.py`. Quantities are SI inside (`units.py`).
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

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
    Feed,
    FloorLength,
    FloorWidth,
    Gauge,
    HeadFlowRate,
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
    Rise,
    RootDepth,
    RunTime,
    Short,
    Spacing,
    Stagger,
    SystemFlow,
    Tare,
    Usual,
    WaterTemperature,
    Weights,
    Wetted,
    Whole,
    WindSpeed,
    WorkingPressure,
)

FORMAT = 1
MOST_LINES = 60
MOST_HEADS = 3000
MOST_CANS = 2000
MOST_ITEMS = 200


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


def _key(description: str, default: Any = None, **more: Any) -> Any:
    return Field(default, description=description, **more)


def _must(description: str, **more: Any) -> Any:
    return Field(description=description, **more)


class AboutTest(_Section):
    """Who tested what, when and why."""

    title: Annotated[str, Field(min_length=1, max_length=200)] = _must("the title of this test, in quotes")
    id: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,59}$")] | None = _key(
        "a short id of letters, digits, dots and dashes; made by the tool"
    )
    date: Day | None = _key("the day of the test, such as 2027-03-18, without quotes")
    site: Short | None = _key("the farm or garden, in quotes")
    zone: Short | None = _key("the zone that was run, in quotes")
    tunnel: Short | None = _key("the tunnel, the same at every test of it, in quotes")
    member: Short | None = _key("whose tunnel it is, for a cooperative, in quotes")
    purpose: Literal["commissioning", "diagnosis", "recheck", "survey"] | None = _key("what the test is for")
    rechecks: Short | None = _key("the id of the test that this one follows up, in quotes")
    by: Short | None = _key("who made the test, in quotes")
    notes: Long | None = _key("anything worth keeping, in quotes")


class Bed(_Section):
    """A strip of cropped ground."""

    from_: Place = _must('x of the bed\'s left edge, such as "0.4 m"', alias="from")
    to: Place = _must('x of the bed\'s right edge, such as "1.3 m"')
    start: Place | None = _key("y where the bed begins; the inlet end wall if left out")
    end: Place | None = _key("y where the bed ends; the far end wall if left out")


class Floor(_Section):
    """The ground under the zone."""

    width: FloorWidth = _must(
        'the width of the floor, across the lines, such as "7.6 m"'
    )
    length: FloorLength = _must(
        'the length of the floor, along the lines, such as "22 m"'
    )
    beds: list[Bed] | None = _key("the cropped ground, if it is not the whole floor", max_length=MOST_ITEMS)
    hangs_at: list[Place] | None = _key("x of the places where a line could be carried", max_length=MOST_ITEMS)


class Target(_Section):
    """What installer and owner agreed."""

    du_low_quarter: Annotated[Percent, Usual(1, 100, ())] | None = _key("the agreed DUlq in percent, a number")
    figure: Literal["at the cans", "whole floor"] | None = _key("which figure the target is for")


class HeadKind(_Section):
    """The keys of a head, in `[heads]` or overridden in a line's own table."""

    label: Short | None = _key("which head it is, free text in quotes")
    flow: HeadFlowRate | None = _key('the nominal flow of one head, such as "40 L/h"')
    at: WorkingPressure | None = _key('the pressure at the head for that flow, such as "200 kPa"')
    exponent: Annotated[Number, Usual(0.0, 1.2, WATER_PARTS)] | None = _key(
        "x in q = k p^x, a number; 0.5 for an orifice"
    )
    wetted_diameter: Wetted | None = _key('the diameter that one head wets, such as "5.5 m"')
    opens_at: Gauge | None = _key("below this pressure a closed head does not start")
    closes_at: Gauge | None = _key("below this pressure an open head stops")
    regulated: bool | None = _key("true where the head holds its flow constant")
    installed: Day | None = _key("the day the heads were hung, such as 2025-04-01")


class Heads(HeadKind):
    """The head used in the zone."""

    height: Height | None = _key('the height of the head above the floor, such as "2.1 m"')


class Line(HeadKind):
    """A line of heads along y."""

    name: Name = _must("the name of the line, in quotes, without colon or comma")
    x: Place = _must('how far the line runs from the left edge, such as "1.9 m"')
    first: Place | None = _key('y of the first head, such as "1.0 m"')
    spacing: Spacing | None = _key("the distance from head to head")
    count: Annotated[Whole, Field(ge=1, le=1000)] | None = _key("the number of heads on the line, 1 to 1000")
    heads_at: list[Place] | None = _key("y of every head, where they are uneven", min_length=1, max_length=1000)
    height: Height | None = _key('the height of the tube above the floor, such as "2.3 m"')
    pipe: Bore | None = _key('the inside diameter of the tube, such as "20.9 mm"')
    fed_from: Literal["near", "far", "middle"] | None = _key("where water enters the line")
    rise: Rise | None = _key(
        "how much the far end stands above the inlet end; below zero where it falls"
    )
    feed: Feed | None = _key(
        'the tube from the tee to the line, such as "6.5 m"'
    )
    ran: RunTime | None = _key("how long this line ran, where lines ran for different times")


class CanRow(_Section):
    """A row of cans of its own length."""

    y: Place = _must('y of the row, such as "13 m"')
    x: list[Place] = _must("x of each can of the row", min_length=1, max_length=500)
    catch: list[Reading] = _must("the reading of each can of the row", min_length=1, max_length=500)


class CanPoint(_Section):
    """A can anywhere."""

    x: Place = _must('x of the can, such as "1 m"')
    y: Place = _must('y of the can, such as "2 m"')
    catch: Reading = _must("the reading of the can, a number or nan")


class SetAside(_Section):
    """A can that is kept in the record and left out of the figures."""

    row: Annotated[Whole, Field(ge=1)] | None = _key("the row of the can, counted from 1")
    column: Annotated[Whole, Field(ge=1)] | None = _key("the column of the can in its row, counted from 1")
    point: Annotated[Whole, Field(ge=1)] | None = _key("the number of the free point, counted from 1")
    why: Annotated[str, Field(min_length=1, max_length=200)] = _must("why the can is set aside, in quotes")


class Evaporation(_Section):
    """Control cans standing outside the spray."""

    start: Reading = _must("what every control can held at the start, in the unit of the readings")
    end: list[Reading] = _must("what each control can held at the end", min_length=1, max_length=50)
    time: EvaporationTime = _must('the time between the two, such as "45 min"')


class Cans(_Section):
    """The cans, where they stood and what they caught."""

    reads: Literal["volume", "depth", "weight"] = _must("what was read from the cans")
    unit: Literal["mL", "L", "fl oz", "mm", "cm", "in", "g"] = _must("the unit of the readings")
    opening: Opening | None = _key(
        'the inside diameter of a can\'s opening, such as "84 mm"'
    )
    opening_area: OpeningArea | None = _key(
        'the area of a can\'s opening, such as "55 cm2"'
    )
    tare: Tare | None = _key('the weight of the empty can, such as "12 g"')
    placed_within: PlacedWithin | None = _key(
        'how well the cans stand where they should, such as "5 cm"'
    )
    across: list[Place] | None = _key("x of each column", min_length=1, max_length=500)
    along: list[Place] | None = _key("y of each row", min_length=1, max_length=500)
    stagger: Stagger | None = _key(
        "odd rows this far to the left, even rows to the right"
    )
    grid: list[Annotated[list[Reading], Field(max_length=500)]] | None = _key(
        "the readings, one row for each place in `along`", min_length=1, max_length=500
    )
    rows: list[CanRow] | None = _key("rows of different length, instead of a grid", min_length=1, max_length=500)
    points: list[CanPoint] | None = _key("cans anywhere, instead of a grid", min_length=1, max_length=MOST_CANS)
    weights: Weights | None = _key(
        'the ground that each can stands for: "equal", "nearest area", or numbers in the shape of the readings'
    )
    set_aside: list[SetAside] | None = _key("cans left out of the figures, each with its reason", max_length=MOST_CANS)
    exposed: Exposure | None = _key(
        "how long water stood in the cans, start to reading, on average"
    )
    evaporation: Evaporation | None = _key("the control cans")


class Run(_Section):
    """How the zone was run."""

    duration: RunTime = _must('how long the zone ran, such as "30 min"')
    lines: Literal["together", "in turn"] | None = _key("whether the lines ran together or in turn")
    wind: WindSpeed | None = _key('the wind at the floor, such as "0.3 m/s"')
    sides: Literal["closed", "part open", "open"] | None = _key("whether the sides were open")
    water: WaterTemperature | None = _key("the temperature of the water")
    metered: MeteredVolume | None = _key("the water meter's volume over the run")


class Pressure(_Section):
    """A gauge reading while running."""

    at: Literal["supply", "filter inlet", "filter outlet", "regulator inlet", "regulator outlet", "line"] = _must(
        "where the gauge was read"
    )
    value: Gauge = _must('the gauge reading, such as "196 kPa"')
    line: Name | None = _key("the line, for a reading on a line")
    head: Annotated[Whole, Field(ge=1)] | None = _key(
        "the head that the gauge stood beside, counted from the inlet end"
    )
    height: Height | None = _key("the height of the gauge above the floor")


class HeadFlow(_Section):
    """A bottle held under one head."""

    line: Name = _must("the name of the line")
    head: Annotated[Whole, Field(ge=1)] = _must("the head, counted from the inlet end wall")
    volume: CaughtVolume = _must(
        'what was caught, such as "410 mL"'
    )
    time: CaughtTime = _must(
        'for how long, such as "60 s"'
    )


class Bucket(_Section):
    """A timed bucket with the pressure held meanwhile."""

    pressure: Gauge = _must('the pressure held meanwhile, such as "330 kPa"')
    volume: BucketVolume = _must('the bucket, such as "20 L"')
    time: BucketTime = _must(
        'how long it took, such as "26 s"'
    )


class Hose(_Section):
    """A hose or tube in the chain of the supply."""

    length: HoseLength = _must('such as "15 m"')
    inside: Bore = _must('the inside diameter, such as "19 mm"')


class Valve(_Section):
    """The loss of the valves and small fittings before the filter."""

    loss: Gauge = _must('the pressure they take when open, such as "5 kPa"')
    at: SystemFlow = _must('the flow for that loss, such as "1.5 m3/h"')


class Filter(_Section):
    """The filter's loss."""

    clean_loss: Gauge = _must('the loss of the clean filter, such as "10 kPa"')
    at: SystemFlow = _must('the flow for that loss, such as "1.0 m3/h"')
    loaded: Annotated[Number, Usual(1, 50, WATER_PARTS)] | None = _key("its loss now in times the clean loss, a number")


class Regulator(_Section):
    """The pressure regulator."""

    set: WorkingPressure = _must('the pressure it is set to, such as "200 kPa"')
    least_flow: SystemFlow | None = _key('the least flow at which it holds, such as "150 L/h"')
    most_flow: SystemFlow | None = _key('the largest flow at which it holds, such as "2700 L/h"')
    droop: Gauge | None = _key('how much its pressure falls from no flow to `most_flow`, such as "15 kPa"')


class Supply(_Section):
    """Where the water comes from."""

    kind: Literal["mains", "pump", "pump with tank", "gravity"] | None = _key("the kind of supply")
    static: Gauge | None = _key('the pressure with nothing running, such as "400 kPa"')
    cut_in: Gauge | None = _key("the pressure at which the pump of a tank starts")
    cut_out: Gauge | None = _key("the pressure at which the pump of a tank stops")
    flowing: list[Bucket] | None = _key("timed buckets", max_length=20)
    hose: Hose | None = _key("the hose")
    couplings: Annotated[Whole, Field(ge=0, le=100)] | None = _key("how many couplings the hose has, both ends counted")
    valve: Valve | None = _key("valves and small fittings between hose and filter")
    filter: Filter | None = _key("the filter")
    regulator: Regulator | None = _key("the regulator")
    manifold: Hose | None = _key("the tube from the regulator to the tee")
    riser: Hose | None = _key("the tube up to the lines, before the tee")
    height: Height | None = _key("the height of the regulator above the floor")


class OtherSupply(Supply):
    """Another tap for a tunnel that moves."""

    name: Name = _must("the name of the tap, in quotes")


class Care(_Section):
    """When things were last looked after."""

    filter_cleaned: Day | None = _key("a date such as 2027-03-01")
    lines_flushed: Day | None = _key("a date such as 2027-03-18")
    heads_checked: Day | None = _key("a date such as 2027-03-18")


class Crop(_Section):
    """What grows there, for the watering plan."""

    kind: Short | None = _key("the crop, in quotes")
    daily_use: DailyUse | None = _key(
        'the water the crop uses in a day, such as "4 mm"'
    )
    soil: Short | None = _key('the soil, in quotes, such as "loam"')
    root_depth: RootDepth | None = _key(
        'the depth of the roots, such as "250 mm"'
    )


class Patch(_Section):
    """Where the crop looks poor."""

    x: list[Place] = _must('from and to across, such as ["0 m", "1.5 m"]', min_length=2, max_length=2)
    y: list[Place] = _must('from and to along, such as ["15 m", "22 m"]', min_length=2, max_length=2)
    note: Short | None = _key("what is seen there, in quotes")


class Record(BaseModel):
    """One uniformity test of one zone; build it with `record_file.read_record` or `checks.build`."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    record: int = _must("the version of the format: 1")
    test: AboutTest = _must("the table [test] with at least a title")
    floor: Floor = _must("the table [floor] with width and length")
    target: Target | None = _key("the table [target]")
    heads: Heads | None = _key("the table [heads]")
    lines: list[Line] | None = _key("the tables [[lines]]", max_length=MOST_LINES)
    cans: Cans = _must("the table [cans] with places and readings")
    run: Run = _must("the table [run] with at least a duration")
    pressures: list[Pressure] | None = _key("the tables [[pressures]]", max_length=MOST_ITEMS)
    head_flows: list[HeadFlow] | None = _key("the tables [[head_flows]]", max_length=MOST_HEADS)
    supply: Supply | None = _key("the table [supply]")
    other_supplies: list[OtherSupply] | None = _key("the tables [[other_supplies]]", max_length=20)
    care: Care | None = _key("the table [care]")
    crop: Crop | None = _key("the table [crop]")
    patches: list[Patch] | None = _key("the tables [[patches]]", max_length=MOST_ITEMS)


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
