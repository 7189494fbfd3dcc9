"""The keys of heads and lines."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from .section import Section, key, must
from .types import (
    WATER_PARTS,
    Arc,
    Bore,
    Day,
    Direction,
    Feed,
    Gauge,
    HeadFlowRate,
    Height,
    Name,
    Number,
    Place,
    Rise,
    RunTime,
    Short,
    Spacing,
    Usual,
    Wetted,
    Whole,
    WorkingPressure,
)


class HeadKind(Section):
    """The keys of a head, in `[heads]` or overridden in a line's own table."""

    label: Short | None = key("which head it is, free text in quotes")
    flow: HeadFlowRate | None = key('the nominal flow of one head, such as "40 L/h"')
    at: WorkingPressure | None = key('the pressure at the head for that flow, such as "200 kPa"')
    exponent: Annotated[Number, Usual(0.0, 1.2, WATER_PARTS)] | None = key(
        "x in q = k p^x, a number; 0.5 for an orifice"
    )
    wetted_diameter: Wetted | None = key('the diameter that one head wets, such as "5.5 m"')
    opens_at: Gauge | None = key("below this pressure a closed head does not start")
    closes_at: Gauge | None = key("below this pressure an open head stops")
    regulated: bool | None = key("true where the head holds its flow constant")
    installed: Day | None = key("the day the heads were hung, such as 2025-04-01")
    arc: Arc | None = key('the part of a circle that a head throws, such as "180 deg"; a full circle if left out')
    faces: Direction | None = key(
        'where the middle of the arc points: "left", "right", "inlet", "far" or an angle from x towards y, such as '
        '"45 deg"')


class Heads(HeadKind):
    """The head used in the zone."""

    height: Height | None = key('the height of the head above the floor, such as "2.1 m"')


class Line(HeadKind):
    """A line of heads along y."""

    name: Name = must("the name of the line, in quotes, without colon or comma")
    x: Place = must('how far the line runs from the left edge, such as "1.9 m"')
    first: Place | None = key('y of the first head, such as "1.0 m"')
    spacing: Spacing | None = key("the distance from head to head")
    count: Annotated[Whole, Field(ge=1, le=1000)] | None = key("the number of heads on the line, 1 to 1000")
    heads_at: list[Place] | None = key("y of every head, where they are uneven", min_length=1, max_length=1000)
    height: Height | None = key('the height of the tube above the floor, such as "2.3 m"')
    pipe: Bore | None = key('the inside diameter of the tube, such as "20.9 mm"')
    fed_from: Literal["near", "far", "middle"] | None = key("where water enters the line")
    rise: Rise | None = key(
        "how much the far end stands above the inlet end; below zero where it falls"
    )
    feed: Feed | None = key(
        'the tube from the tee to the line, such as "6.5 m"'
    )
    ran: RunTime | None = key("how long this line ran, where lines ran for different times")


class OtherHeads(Heads):
    """Single heads that are unlike those of their line."""

    line: Name = must("the name of the line")
    heads: list[Annotated[Whole, Field(ge=1)]] = must(
        "the heads, counted from the inlet end wall, such as [1, 27]", min_length=1, max_length=1000)
